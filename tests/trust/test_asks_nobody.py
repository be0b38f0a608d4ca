"""Nobody outside is asked for anything: the sockets of the server and the browser's requests."""

import os
import subprocess
import sys

import pytest
from websockets.exceptions import InvalidStatus

from tests.trust.test_strangers import ask, called
from tests.ui.browsing import needs_browser, served
from ui.collection.store import URL_VARIABLE
from ui.gate import HOSTS_VARIABLE

#: Names of this machine; a server that listens on all of it asks for the address of that.
HERE = ("127.0.0.1", "localhost", "None", "::1", "0.0.0.0")

WATCH = """
import sys
def watch(event, arguments, where={where!r}):
    if event in ("socket.connect", "socket.sendto", "socket.getaddrinfo", "socket.gethostbyname"):
        with open(where, "a") as file:
            print(event, *(a for a in arguments if not hasattr(a, "fileno")), file=file)
sys.addaudithook(watch)
"""


@pytest.fixture
def told(tmp_path, monkeypatch):
    """The file in which each program started from here writes whom its sockets ask."""
    told = tmp_path / "sockets"
    told.touch()
    (tmp_path / "sitecustomize.py").write_text(WATCH.format(where=str(told)))
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    monkeypatch.setenv(URL_VARIABLE, f"sqlite:///{tmp_path / 'springs.sqlite'}")
    yield told
    # The watch itself works: what a program asks is written down.
    code = "import socket; socket.socket(2, 2).connect(('192.0.2.1', 9))"
    subprocess.run([sys.executable, "-c", code], check=False, env=dict(os.environ), timeout=60)
    assert "192.0.2.1" in told.read_text()


def outside(told):
    """Return what was asked of anybody but this machine."""
    lines = told.read_text().splitlines()
    return [line for line in lines if not any(name in line for name in HERE)]


@needs_browser
def test_a_whole_flow_asks_nobody_outside(browser, told):
    """The server's sockets by Python's audit events, the browser's requests by the browser."""
    with served() as address:
        page = browser.new_page(viewport={"width": 390, "height": 844})
        asked = []
        page.on("request", lambda request: asked.append(request.url))
        page.on("websocket", lambda socket: asked.append(socket.url.replace("ws:", "http:")))
        page.goto(address)
        page.get_by_role("button", name="Try it with the sample photo").click()
        page.get_by_test_id("stMetricValue").wait_for(timeout=60_000)
        page.get_by_role("tab", name="Limits").click()
        page.get_by_role("tab", name="Keep").click()
        page.get_by_label("Name", exact=True).fill("Quay 7 front")
        page.get_by_role("button", name="Keep it in the collection").click()
        page.get_by_text("Kept:").wait_for(timeout=60_000)
        page.goto(f"{address}/?by=Collection")
        page.get_by_role("button", name="Quay 7 front").first.wait_for(timeout=60_000)
        page.close()
    assert len(asked) > 10
    assert [url for url in asked if not url.startswith((address, "data:", "blob:"))] == []
    assert outside(told) == []


def test_a_club_s_server_and_foreign_pages_make_it_ask_nobody_either(told, monkeypatch):
    monkeypatch.setenv(HOSTS_VARIABLE, "springs.club.example")
    with served("--address", "0.0.0.0") as address:
        assert ask(address, Host="springs.club.example")[0] == 200
        with called(address, "https://springs.club.example"):
            pass
        for origin in ("http://reef.example", "null", "http://[", "http://127.0.0.1.reef.example"):
            with pytest.raises(InvalidStatus) as refused:
                called(address, "https://springs.club.example", origin)
            assert refused.value.response.status_code == 403
            for path in ("/", "/_stcore/host-config"):
                host = "springs.club.example"
                assert ask(address, path, Host=host, Origin=origin)[0] == 403
    assert outside(told) == []
