"""Strangers: who has no key, who asks for too much, who writes what a page or a table would run."""

import csv
import http.client
import io
import re
import socket
from contextlib import ExitStack, contextmanager
from html import unescape
from pathlib import Path
from urllib.parse import urlencode, urlsplit

import pypdfium2
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image
from streamlit.testing.v1 import AppTest
from websockets.exceptions import InvalidStatus
from websockets.sync.client import connect

from tests.trust.fuzzing import fuzz
from tests.trust.phones import Phone
from tests.trust.pictures import encoded, heic, with_exif
from tests.ui.browsing import served
from tests.ui.collection.springs import made
from ui.collection.exchange import from_csv, to_csv
from ui.collection.store import Collection, usual_url
from ui.door import MOST_TRIES
from ui.gate import COOKIE, HOSTS_VARIABLE, KEY_VARIABLE

APP = str(Path(__file__).parents[2] / "ui" / "app.py")
KEY = "tide-417 ä"


@contextmanager
def locked(key=KEY):
    with ExitStack() as server:
        with pytest.MonkeyPatch.context() as patch:
            patch.setenv(KEY_VARIABLE, key)
            address = server.enter_context(served())
        yield address


@pytest.fixture(scope="module")
def address():
    with locked() as address:
        yield address


def ask(address, path="/", method="GET", body=None, **headers):
    """Return status, headers and body of one raw request: nothing tidies its path."""
    parts = urlsplit(address)
    connection = http.client.HTTPConnection(parts.hostname, parts.port, timeout=30)
    sent = {name.replace("_", "-"): value for name, value in headers.items()}
    connection.request(method, path, body, sent)
    answer = connection.getresponse()
    out = answer.status, answer.headers, answer.read()
    connection.close()
    return out


def cookie_of(address, key=KEY):
    status, headers, _ = ask(address, "/?" + urlencode({"key": key}))
    assert status == 200
    return headers["set-cookie"].split(";")[0]


PATHS = [
    "/",
    "/index.html",
    "/_stcore/host-config",
    "/_stcore/stream",
    "/_stcore/upload_file/0417/1",
    "/media/0417.jpg",
    "/static/js/index.js",
    "/component/streamlit_image_coordinates.streamlit_image_coordinates/index.html",
    "/?by=Collection&spring=0417",
]


@pytest.mark.parametrize("path", PATHS)
def test_without_the_key_nothing_is_answered(address, path):
    for wrong in ({}, {"Cookie": f"{COOKIE}=ebb"}, {"Cookie": f"{COOKIE}={KEY.split()[0]}"}):
        status, headers, body = ask(address, path, **wrong)
        assert status == 403
        assert b"Open the page by its whole address" in body
        assert "set-cookie" not in headers


def test_without_the_key_no_session_is_opened_and_no_photo_taken(address):
    with pytest.raises(InvalidStatus) as refused:
        connect(address.replace("http", "ws") + "/_stcore/stream", subprotocols=["streamlit"])
    assert refused.value.response.status_code == 403
    status, _, _ = ask(address, "/_stcore/upload_file/0417/1", "PUT", b"x" * 1000)
    assert status == 403


def test_with_the_key_all_is_answered_and_a_cookie_goes_on(address):
    cookie = cookie_of(address)
    assert KEY.split("-")[0] not in cookie
    for path in ("/", "/_stcore/host-config"):
        assert ask(address, path, Cookie=cookie)[0] == 200
    with connect(
        address.replace("http", "ws") + "/_stcore/stream",
        subprotocols=["streamlit"],
        additional_headers={"Cookie": cookie},
    ):
        pass


@fuzz(0.2)
@given(st.text(st.characters(exclude_categories=("Cs",)), max_size=20))
def test_what_the_form_keeps_of_an_address_is_escaped(address, text):
    query = urlencode({"spring": text, 'x"><script>': "1"})
    status, _, body = ask(address, "/?" + query)
    assert status == 403
    told = body.decode()
    assert "<script" not in told
    (kept,) = re.findall(r'name="spring" value="([^"]*)"', told)
    assert unescape(kept).replace("\r", "\n") == text.replace("\r", "\n")


def test_guessing_is_slowed_down():
    with locked("ebb-0417") as address:
        answers = [ask(address, f"/?key=guess{k}")[0] for k in range(MOST_TRIES + 2)]
        assert answers[:MOST_TRIES] == [403] * MOST_TRIES
        assert answers[MOST_TRIES:] == [429, 429]
        # Even the right one waits then, or guessing would go on.
        status, _, body = ask(address, "/?key=ebb-0417")
        assert status == 429
        assert b"wait a minute" in body


def test_a_key_ends_with_the_page_that_had_it():
    with locked("first") as address:
        cookie = cookie_of(address, "first")
        assert ask(address, Cookie=cookie)[0] == 200
    with locked("second") as address:
        assert ask(address, Cookie=cookie)[0] == 403
        assert ask(address, "/?key=first")[0] == 403


def test_another_site_s_page_gets_nothing(address):
    cookie = cookie_of(address)
    for origin in ("http://reef.example", "null", "http://127.0.0.1.reef.example"):
        with pytest.raises(InvalidStatus):
            connect(
                address.replace("http", "ws") + "/_stcore/stream",
                subprotocols=["streamlit"],
                additional_headers={"Cookie": cookie},
                origin=origin,
            )
        status, headers, _ = ask(address, "/_stcore/host-config", Cookie=cookie, Origin=origin)
        assert status == 403
        assert "access-control-allow-origin" not in headers
    assert ask(address, "/_stcore/host-config", Cookie=cookie, Origin=address)[0] == 200
    full = ask(address, "/?" + urlencode({"key": KEY}))[1]["set-cookie"]
    assert "HttpOnly" in full
    assert "SameSite=Lax" in full


def called(address, name, origin=None):
    """Open a session at this address, called by another name, from a page of it or an origin."""
    line = socket.create_connection(urlsplit(address).netloc.split(":"))
    uri = f"ws://{urlsplit(name).netloc}/_stcore/stream"
    return connect(uri, sock=line, subprotocols=["streamlit"], origin=origin or name)


def test_a_name_that_points_here_is_not_believed():
    """A site whose name is made to point at this machine is of its own origin (DNS rebinding)."""
    with served() as address:
        assert ask(address)[0] == 200
        with pytest.raises(InvalidStatus) as refused:
            called(address, "http://reef.example:8710")
        assert refused.value.response.status_code == 403
        for host in ("reef.example:8710", "[", "127.0.0.1.reef.example", ""):
            assert ask(address, Host=host)[0] in (400, 403)


def test_behind_a_proxy_the_page_answers_to_the_names_it_is_told(monkeypatch):
    monkeypatch.setenv(HOSTS_VARIABLE, "springs.club.example,springs")
    with served() as address:
        for host in ("springs.club.example", "springs"):
            assert ask(address, Host=host)[0] == 200
        assert ask(address, Host="reef.example")[0] == 403
        with called(address, "https://springs.club.example"):
            pass


def test_what_browsers_are_told_to_keep_to(address):
    _, headers, _ = ask(address, Cookie=cookie_of(address))
    policy = headers["content-security-policy"]
    assert "default-src 'self' data: blob:" in policy
    assert "frame-ancestors 'self'" in policy
    assert headers["referrer-policy"] == "same-origin"
    odd = ask(address, Host="x; script-src *", Cookie=cookie_of(address))
    assert odd[0] in (400, 403) or "script-src *" not in odd[1]["content-security-policy"]


TRICKS = [
    "/../../../../etc/passwd",
    "/..%2f..%2f..%2fetc/passwd",
    "/static/..%5c..%5c/etc/passwd",
    "/%2e%2e/%2e%2e/etc/passwd",
    "//etc/passwd",
    "/media/../../etc/passwd",
    "/component/streamlit_image_coordinates.streamlit_image_coordinates/../../../../etc/passwd",
    "/_stcore/upload_file/../../etc/passwd",
]


@pytest.mark.parametrize("path", TRICKS)
def test_no_path_leads_out_of_the_page(address, path):
    _, _, body = ask(address, path, Cookie=cookie_of(address))
    assert b"root:" not in body


NASTY = [
    "=1+1",
    "+1",
    "-2+3",
    "@SUM(A1)",
    "\t=1",
    "\r=1",
    "'quoted'",
    '=HYPERLINK("http://reef.example")',
    "\uff1d1+1",
    "<img src=http://reef.example/x.png>",
    "<script>alert(1)</script>",
    "[here](http://reef.example)",
    "![](http://reef.example/x.png)",
    "<para><font size=99>x</font></para>",
    "../../etc/passwd",
]
FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")


@pytest.mark.parametrize("nasty", NASTY)
def test_no_cell_of_a_csv_is_a_formula_and_all_comes_back(nasty):
    """Characters that begin a formula: OWASP, CSV injection."""
    spring = made(nasty, tags=(nasty,), place=nasty, notes=nasty, evidence=(nasty,))
    text = to_csv([spring])
    assert from_csv(text) == [spring]
    for row in csv.DictReader(io.StringIO(text, newline="")):
        for name, cell in row.items():
            if not re.fullmatch(r"-?[\d.]+(e[-+]?\d+)?", cell):
                assert not cell.startswith(FORMULA), name


def test_reports_and_labels_print_words_as_they_are():
    from datetime import date

    from mechanics.materials import find_material
    from ui.answer import answer_of_readings
    from ui.caliper import Readings
    from ui.labels import Label, labels_pdf
    from ui.report import Subject, report_pdf
    from ui.units import Units

    answer = answer_of_readings(Readings(1.2, 13.2, 9.0), find_material("music wire"))
    for nasty in NASTY[9:]:
        subject = Subject(nasty, "compression", "right", (nasty,), (nasty,))
        report = report_pdf(answer, subject, Units("N/mm", "mm"), date(2026, 11, 25))
        label = labels_pdf([Label(nasty, (nasty,), "http://127.0.0.1")], (100.0, 50.0))
        for data, least in ((report, 3), (label, 2)):
            page = pypdfium2.PdfDocument(data)[0]
            words = page.get_textpage().get_text_bounded().replace("\r\n", " ")
            assert words.count(nasty) >= least, (nasty, words)
            assert b"/URI" not in data


def test_words_are_shown_as_they_are_and_load_nothing(browser, own_database):
    collection = Collection(own_database)
    keys = [
        collection.keep(made(n, place=n, notes=n, tags=(n.replace(",", ""),), evidence=(n,)))
        for n in NASTY[9:]
    ]
    collection.close()
    with served() as address:
        page = browser.new_page(viewport={"width": 390, "height": 844})
        asked = []
        page.on("request", lambda request: asked.append(request.url))
        page.on("dialog", lambda dialog: pytest.fail("a script ran"))
        for key, nasty in zip(keys, NASTY[9:], strict=True):
            page.goto(f"{address}/?by=Collection&spring={key}")
            title = page.get_by_role("heading", level=3).first
            title.wait_for()
            assert title.inner_text().strip() == nasty
        page.goto(f"{address}/?by=Collection")
        page.get_by_role("button", name="reef").first.wait_for()
        bad = "![](http://reef.example/y.png) <img src=http://reef.example/z.png>.json"
        page.locator('input[type="file"]').last.set_input_files(
            {"name": bad, "mimeType": "application/json", "buffer": b"{"}
        )
        page.get_by_role("alert").get_by_text("was not read").wait_for()
        page.close()
        assert [url for url in asked if not url.startswith((address, "data:", "blob:"))] == []
    collection = Collection(own_database)
    for key in keys:
        collection.delete(key)
    collection.close()


def kept_photos(url):
    from sqlalchemy import create_engine, text

    engine = create_engine(url)
    with engine.connect() as connection:
        rows = connection.execute(text("select photo, drawing from picture")).all()
    engine.dispose()
    return rows


@pytest.mark.parametrize("form", ["JPEG", "HEIC"])
def test_what_is_kept_of_a_photo_tells_no_place_and_no_camera(form, sight, photo, empty_collection):
    """The tags of the sample are the camera's and GPS's (CIPA DC-008)."""
    image = Image.open(photo)
    exif = with_exif()
    data = encoded(image, "JPEG", exif=exif) if form == "JPEG" else heic(image, exif)
    assert b"Quay 7" in data
    page = AppTest.from_file(APP, default_timeout=60).run()
    page.get("file_uploader")[0].set_value(("spring.jpg", data, "image/jpeg"))
    page.run()
    next(t for t in page.text_input if t.label == "Name").set_value("with a photo")
    next(b for b in page.button if b.label.startswith("Keep it")).click().run()
    assert not page.exception
    for stored, drawing in kept_photos(usual_url()):
        for picture in (stored, drawing):
            assert b"Quay 7" not in picture
            assert b"Harbour" not in picture
            left = Image.open(io.BytesIO(picture)).getexif()
            assert set(left) <= {0x8769}
            assert set(left.get_ifd(0x8769)) <= {0xA405}
            assert not left.get_ifd(0x8825)
        # What a later measurement needs of the camera stays: its focal length.
        assert Image.open(io.BytesIO(stored)).getexif().get_ifd(0x8769)[0xA405] == 26


def test_more_than_the_limit_is_not_taken(address):
    phone = Phone(address, cookie_of(address))
    assert phone.upload(bytes(1_000_000))[0] == 204
    assert phone.upload(bytes(60_000_000))[0] == 413
    phone.close()
