"""The page without a browser: what appears, in which order, and what a wrong entry does."""

import re
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from ui.words import CAUTIONS

APP = Path(__file__).parents[2] / "ui" / "app.py"


@pytest.fixture
def page():
    page = AppTest.from_file(str(APP), default_timeout=60)
    page.query_params["by"] = "Caliper"
    return page.run()


def enter(page, wire=1.2, diameter=13.2, coils=14.0):
    page.number_input(key="wire").set_value(wire)
    page.number_input(key="diameter").set_value(diameter)
    page.number_input(key="coils").set_value(coils)
    return page.run()


def text(page):
    return "\n".join(m.value for m in page.markdown)


def test_opens_without_an_answer_and_with_the_cautions(page):
    assert not page.exception
    assert not page.metric
    assert all(caution in text(page) for caution in CAUTIONS)


def test_readings_give_the_rate_its_band_and_the_budget(page):
    enter(page)
    assert not page.exception
    assert page.metric[0].label == "Rate"
    assert page.metric[0].value.endswith(" N/mm")
    assert "95 % band:" in text(page)
    assert re.search(r"Wire diameter \| 1\.200 \| 1\.16\d to 1\.2[34]\d", text(page))
    assert re.search(r"Force at two deflections\*\*: ±\d+% → ±\d+%", text(page))


def test_the_unit_changes_the_number(page):
    enter(page)
    newton = float(page.metric[0].value.split()[0])
    page.segmented_control(key="unit").set_value("gf/mm").run()
    number, unit = page.metric[0].value.split()
    assert unit == "gf/mm"
    assert float(number) == pytest.approx(101.97 * newton, rel=0.02)


def test_material_moves_the_rate(page):
    enter(page)
    steel = float(page.metric[0].value.split()[0])
    page.selectbox(key="material").set_value("phosphor bronze").run()
    bronze = float(page.metric[0].value.split()[0])
    assert bronze / steel == pytest.approx(41.4 / 78.48, rel=0.02)


def test_an_impossible_reading_is_one_plain_sentence_and_loses_nothing(page):
    enter(page, wire=7.0)
    assert not page.exception
    assert "does not fit" in page.error[0].value
    assert page.number_input(key="coils").value == 14.0


def test_a_weight_shrinks_the_band_and_says_by_how_much(page):
    enter(page)
    before = page.metric[0].value
    next(group for group in page.get("button_group") if group.key == "more").set_value(["Weight"])
    page.run()
    page.number_input(key="add_weight").set_value(4.7).run()
    assert not page.exception
    assert page.metric[0].value != before
    went = re.search(r"from ±(\d+)% to ±(\d+)%", "\n".join(c.value for c in page.caption))
    assert int(went[2]) < int(went[1])


def test_a_cut_is_shown_before_and_after_with_its_cautions(page):
    enter(page)
    page.number_input(key="length").set_value(45.0)
    page.selectbox(key="ends").set_value("closed")
    page.run()
    page.segmented_control(key="whatif").set_value("Cut it").run()
    page.number_input(key="cut_turns").set_value(2.0).run()
    assert not page.exception
    ratio = float(re.search(r"Rate after: \*\*([\d.]+) times", text(page))[1])
    # One closed end goes with the first turn: 12 working turns become 11.
    assert ratio == pytest.approx(12 / 11, rel=0.01)
    assert any("cannot be undone" in warning.value for warning in page.warning)


def test_seats_give_forces(page):
    enter(page)
    page.number_input(key="length").set_value(45.0).run()
    page.segmented_control(key="whatif").set_value("Put it between seats").run()
    page.number_input(key="seat_rest").set_value(40.0)
    page.number_input(key="seat_in").set_value(30.0).run()
    assert not page.exception
    assert "Preload, N" in text(page)
