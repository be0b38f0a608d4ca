"""The photo page without a browser: corrections, marks and what follows from them."""

import re
from dataclasses import replace
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

import ui.measuring
import ui.screens.improve
from ui.correcting import Correction, corrected, parse_points
from vision.marks import Marks
from vision.scale import _which_coin

APP = Path(__file__).parents[2] / "ui" / "app.py"


@pytest.fixture
def shown(empty_collection, sight, photo):
    page = AppTest.from_file(str(APP), default_timeout=60).run()
    page.get("file_uploader")[0].set_value(("spring.jpg", photo.read_bytes(), "image/jpeg"))
    page.run()
    assert not page.exception
    return page


def rate(page):
    return float(page.metric[0].value.split()[0])


def text(page):
    return "\n".join(m.value for m in page.markdown)


def test_what_was_seen_is_told_and_believed_until_it_is_corrected(shown):
    assert "Seen: **compression** spring, hand **right**, ends **closed**" in text(shown)
    assert shown.selectbox(key="is_kind").value is None
    assert shown.number_input(key="is_turns").value is None


def test_a_coin_that_is_not_named_is_asked_for_by_the_words_of_the_page(
    empty_collection, monkeypatch, photo
):
    monkeypatch.setattr(ui.measuring, "measure", lambda *_: _which_coin())
    page = AppTest.from_file(str(APP), default_timeout=60).run()
    page.get("file_uploader")[0].set_value(("spring.jpg", photo.read_bytes(), "image/jpeg"))
    said = page.run().error[0].value
    assert "“What lies beside it”" in said
    assert "coin:" not in said
    labels = [box.label for box in page.selectbox]
    assert "What lies beside it" in labels
    page.selectbox(key="reference").set_value("coin").run()
    assert {"Currency", "Value"} <= {box.label for box in page.selectbox}


def test_ends_and_kind_move_the_rate(shown):
    before = rate(shown)
    shown.selectbox(key="is_ends").set_value("open").run()
    assert rate(shown) == pytest.approx(before * 7.25 / 9.25, rel=0.03)
    shown.selectbox(key="is_ends").set_value(None).run()
    shown.selectbox(key="is_kind").set_value("conical").run()
    shown.number_input(key="is_small_end").set_value(9.0).run()
    assert not shown.exception
    assert rate(shown) > 1.2 * before


def test_an_impossible_correction_is_one_plain_sentence(shown):
    shown.selectbox(key="is_kind").set_value("conical").run()
    shown.number_input(key="is_small_end").set_value(30.0).run()
    assert not shown.exception
    assert "must be the smaller one" in shown.error[0].value


def test_what_to_measure_next_knows_of_the_photo_in_hand(
    empty_collection, sight, photo, monkeypatch
):
    asked = []
    rank = ui.screens.improve.rank_readings

    def noted(draws, taken):
        asked.append([reading.name for reading in taken])
        return rank(draws, taken=taken)

    monkeypatch.setattr(ui.screens.improve, "rank_readings", noted)
    page = AppTest.from_file(str(APP), default_timeout=60).run()
    page.get("file_uploader")[0].set_value(("spring.jpg", photo.read_bytes(), "image/jpeg"))
    page.run()
    assert asked[-1] == ["photo"]


def test_a_cone_that_is_a_cylinder_takes_the_middle_s_diameter(seen):
    cone = replace(seen.geometry, small_end_ratio=0.9, u_small_end_ratio=0.01)
    found = corrected(cone, Correction(kind="compression"))
    assert found.small_end_ratio == 1.0
    assert found.values[1] == pytest.approx(0.95 * cone.values[1])
    assert found.covariance[1, 1] == pytest.approx(0.95**2 * cone.covariance[1, 1])


def test_marks_reach_the_measurement(shown, monkeypatch, measurement):
    given = []

    def measure(photo, reference="auto", marks=None):
        given.append(marks)
        return measurement

    monkeypatch.setattr(ui.measuring, "measure", measure)
    shown.segmented_control(key="mark").set_value("The spring").run()
    shown.text_input(key="spring_at_typed").set_value("300, 300; 700, 310").run()
    assert not shown.exception
    assert given[-1] == Marks(spring_px=((300.0, 300.0), (700.0, 310.0)))
    shown.text_input(key="spring_at_typed").set_value("milk").run()
    assert "is no point" in shown.error[0].value


def test_half_of_the_marks_are_none_yet(shown, monkeypatch, measurement):
    given = []

    def measure(photo, reference="auto", marks=None):
        given.append(marks)
        return measurement

    monkeypatch.setattr(ui.measuring, "measure", measure)
    shown.segmented_control(key="mark").set_value("The reference").run()
    shown.text_input(key="reference_at_typed").set_value("300, 300; 700, 310").run()
    assert not any(marks.reference_px for marks in given)
    shown.segmented_control(key="mark_as").set_value("A known distance").run()
    shown.number_input(key="apart_typed").set_value(50.0).run()
    assert not shown.exception
    assert given[-1] == Marks((), ((300.0, 300.0), (700.0, 310.0)), 50.0)


def test_a_known_distance_is_typed_in_the_unit_that_is_chosen(shown):
    shown.segmented_control(key="mark").set_value("The reference").run()
    shown.segmented_control(key="mark_as").set_value("A known distance").run()
    shown.number_input(key="apart_typed").set_value(50.8).run()
    shown.segmented_control(key="lengths").set_value("in").run()
    assert shown.number_input(key="apart_typed").label == "Their distance, in"
    assert shown.number_input(key="apart_typed").value == pytest.approx(2.0)
    shown.number_input(key="apart_typed").set_value(1.0).run()
    assert not shown.exception
    assert shown.query_params["apart_mm"] == "25.4"


def test_one_s_own_reading_as_the_scale_is_read_in_inches_too(shown):
    shown.selectbox(key="reference").set_value("self").run()
    assert not shown.metric  # without the reading there are proportions only
    shown.number_input(key="own_mm").set_value(14.2).run()
    in_mm = shown.metric[0].value
    shown.segmented_control(key="own_unit").set_value("in").run()
    assert shown.number_input(key="own_mm_in").label == "Reading, in"
    shown.number_input(key="own_mm_in").set_value(14.2 / 25.4).run()
    assert not shown.exception
    assert shown.metric[0].value == in_mm


def test_the_hint_names_every_thing_that_may_lie_there(empty_collection):
    page = AppTest.from_file(str(APP), default_timeout=60).run()
    for what in ("card", "coin", "ruler", "printed sheet of marks"):
        assert what in page.info[0].value


def test_typed_points_are_read_in_any_spacing():
    assert parse_points(" 1,2;3 4 ; 5.5 , 6") == ((1, 2), (3, 4), (5.5, 6))
    with pytest.raises(ValueError, match=re.escape("'7' is no point")):
        parse_points("1,2; 7")
