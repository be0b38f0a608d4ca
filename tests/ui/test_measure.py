"""Photos from end to end around the seeing itself, whose answer is given here."""

import json
from pathlib import Path

import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest
from typer.testing import CliRunner

pytest.importorskip("vision.measure")

import ui.measuring
from mechanics.ends import Ends
from ui.cli import app
from ui.correcting import Correction, corrected
from ui.measuring import parse_reference
from vision.refusal import Refusal

APP = Path(__file__).parents[2] / "ui" / "app.py"
NO_SCALE = Refusal("no-reference", "scale", "Nothing of known size.", "Lay a card beside it.")


def run(*arguments):
    return CliRunner().invoke(app, ["measure", *map(str, arguments)])


def test_one_line_a_photo_in_order_and_nothing_else(sight, photo, tmp_path):
    other = tmp_path / "other.jpg"
    other.write_bytes(photo.read_bytes())
    done = run(photo, other, "--json", "--reference", "card")
    assert done.exit_code == 0
    told = [json.loads(line) for line in done.stdout.splitlines()]
    assert [one["photo"] for one in told] == [str(photo), str(other)]
    assert {one["status"] for one in told} == {"measured"}
    assert sight == ["card", "card"]


@pytest.mark.parametrize("content", [b"", b"not a picture", b"\xff\xd8\xff\xe0 cut short"])
def test_a_bad_file_is_refused_and_the_rest_is_measured(sight, photo, tmp_path, content):
    bad = tmp_path / "bad.jpg"
    bad.write_bytes(content)
    empty = tmp_path / "empty"
    empty.mkdir()
    done = run(bad, empty, photo, "--json")
    assert done.exit_code == 3
    told = [json.loads(line) for line in done.stdout.splitlines()]
    assert [one["status"] for one in told] == ["refused", "refused", "measured"]
    for refused in told[:2]:
        assert set(refused) == {"photo", "status", "reason", "stage", "message", "try"}


def test_a_reading_of_ones_own_is_the_scale(sight, photo):
    done = run(photo, "--json", "--reference", "self:outside=26.4", "--u", "0.05")
    told = json.loads(done.stdout)
    assert done.exit_code == 0
    assert sight == ["none"]
    assert told["status"] == "measured"
    assert told["reference"] == {"kind": "self:outside=26.4", "u_mm": 0.05}
    assert told["geometry"]["outer_diameter_mm"]["value"] == pytest.approx(26.4)
    assert told["geometry"]["outer_diameter_mm"]["u"] == pytest.approx(0.05, rel=0.05)
    assert told["geometry"]["wire_diameter_mm"]["value"] == pytest.approx(2.4)


def test_without_a_scale_there_are_proportions(sight, photo):
    done = run(photo, "--json", "--reference", "none")
    assert done.exit_code == 0
    assert json.loads(done.stdout)["status"] == "proportions"
    assert "Spring index" in run(photo, "--reference", "none").stdout


@pytest.mark.parametrize(
    "call", [["--reference", "brick"], ["--reference", "self:"], ["--material", "cheese"]]
)
def test_a_wrong_call_measures_nothing_and_exits_2(sight, photo, call):
    done = run(photo, *call)
    assert done.exit_code == 2
    assert done.stdout == ""
    assert sight == []


def test_people_read_what_is_seen_and_what_to_beware_of(sight, photo):
    done = run(photo)
    assert "compression spring, hand right, ends closed" in done.stdout
    assert "Rate, N/mm" in done.stdout
    assert "! The photo was taken well off the vertical" in done.stdout


def test_known_references_are_understood():
    assert parse_reference("card", 0.03).to_find == "card"
    assert parse_reference("self:wire=1.2", 0.01).to_find == "none"
    with pytest.raises(ValueError, match="no reference is called 'brick'"):
        parse_reference("brick", 0.03)


def test_a_count_by_hand_replaces_the_turns_seen(seen):
    better = corrected(seen.geometry, Correction(ends=Ends.OPEN, total_coils=9.5))
    assert better.values[2] == 9.5
    assert better.ends is Ends.OPEN
    assert better.covariance[2, 2] == pytest.approx((0.125 / 3**0.5) ** 2)
    assert better.values[[0, 1, 3]] == pytest.approx(seen.geometry.values[[0, 1, 3]])


@pytest.fixture
def page():
    st.cache_resource.clear()  # or the photo of the test before would be remembered
    return AppTest.from_file(str(APP), default_timeout=60).run()


def give(page, photo):
    page.get("file_uploader")[0].set_value((photo.name, photo.read_bytes(), "image/jpeg"))
    return page.run()


def text(page):
    return "\n".join(m.value for m in page.markdown)


def test_a_photo_gives_drawing_rate_and_flags(sight, page, photo):
    give(page, photo)
    assert not page.exception
    assert len(page.image) == 2  # the photo with what was seen, and the plan
    assert page.metric[0].value.endswith("N/mm")
    assert "well off the vertical" in page.warning[0].value
    assert "Seen: **compression** spring" in text(page)


def test_a_second_look_at_the_same_photo_costs_nothing(sight, page, photo):
    give(page, photo)
    page.segmented_control(key="unit").set_value("gf/mm").run()
    page.selectbox(key="material").set_value("music wire").run()
    assert page.metric[0].value.endswith("gf/mm")
    assert sight == ["auto"]


def test_correcting_the_ends_moves_the_rate(sight, page, photo):
    give(page, photo)
    before = float(page.metric[0].value.split()[0])
    ends = next(box for box in page.selectbox if box.label == "Ends")
    ends.set_value("open").run()
    # Of 9.25 turns 7.25 worked with closed ends, all of them with open ones.
    assert float(page.metric[0].value.split()[0]) / before == pytest.approx(7.25 / 9.25, rel=0.05)


def test_a_photo_without_a_scale_is_refused_with_its_drawing(monkeypatch, sight, page, photo):
    unscaled = ui.measuring.measure
    monkeypatch.setattr(
        ui.measuring,
        "measure",
        lambda p, r="auto", marks=None: unscaled(p, r) if r == "none" else NO_SCALE,
    )
    give(page, photo)
    assert not page.exception
    assert "Lay a card beside it." in page.error[0].value
    assert len(page.image) == 1
    assert "Spring index" in text(page)
    assert not page.metric


def test_a_photo_in_which_nothing_was_seen_is_shown_itself(monkeypatch, page, photo):
    no = Refusal("no-spring", "view", "No spring.", "Lay it on its side.")
    monkeypatch.setattr(ui.measuring, "measure", lambda p, r="auto", marks=None: no)
    give(page, photo)
    assert not page.exception
    assert "Lay it on its side." in page.error[0].value
    assert len(page.image) == 1


def test_a_file_that_is_no_picture_is_one_plain_sentence(page):
    page.get("file_uploader")[0].set_value(("notes.jpg", b"milk, eggs", "image/jpeg"))
    page.run()
    assert not page.exception
    assert "not a picture" in page.error[0].value
