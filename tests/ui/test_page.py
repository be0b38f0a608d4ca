"""The page without a browser: what appears, in which order, and what a wrong entry does."""

import re
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from mechanics.materials import find_material
from ui.answer import answer_of_readings
from ui.caliper import Readings
from ui.collection.record import spring_of
from ui.screens.keep import collection
from ui.words import CAUTIONS

APP = Path(__file__).parents[2] / "ui" / "app.py"


@pytest.fixture
def page(empty_collection):
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
    assert re.search(r"Force at two deflections\*\*: ±\d+\s% → ±\d+\s%", text(page))


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
    went = re.search(r"from ±(\d+)\s% to ±(\d+)\s%", "\n".join(c.value for c in page.caption))
    assert int(went[2]) < int(went[1])


def test_a_cut_is_shown_before_and_after_with_its_cautions(page):
    enter(page)
    page.number_input(key="length").set_value(45.0)
    page.selectbox(key="ends").set_value("closed")
    page.run()
    page.pills(key="whatif").set_value("Cut").run()
    page.number_input(key="cut_turns").set_value(2.0).run()
    assert not page.exception
    ratio = float(re.search(r"Rate after: \*\*([\d.]+) times", text(page))[1])
    # One closed end goes with the first turn: 12 working turns become 11.
    assert ratio == pytest.approx(12 / 11, rel=0.01)
    assert any("cannot be undone" in warning.value for warning in page.warning)


def test_seats_give_forces(page):
    enter(page)
    page.number_input(key="length").set_value(45.0).run()
    page.pills(key="whatif").set_value("Seats").run()
    page.number_input(key="seat_rest").set_value(40.0)
    page.number_input(key="seat_in").set_value(30.0).run()
    assert not page.exception
    assert "Preload, N" in text(page)


def test_the_units_are_remembered_at_the_next_visit(page):
    page.segmented_control(key="unit").set_value("lb/in").run()
    page.segmented_control(key="lengths").set_value("in").run()
    again = AppTest.from_file(str(APP), default_timeout=60)
    again.query_params["by"] = "Caliper"
    again.run()
    assert again.segmented_control(key="unit").value == "lb/in"
    assert again.number_input(key="wire_in").label == "Wire diameter, in"


def test_inches_in_are_the_same_spring(page):
    enter(page, 1.27, 12.7, 10.0)
    metric = float(page.metric[0].value.split()[0])
    page.segmented_control(key="lengths").set_value("in").run()
    page.number_input(key="wire_in").set_value(0.05)
    page.number_input(key="diameter_in").set_value(0.5)
    page.run()
    assert not page.exception
    assert float(page.metric[0].value.split()[0]) == metric
    assert re.search(r"Wire diameter \| 0\.050\d* \| 0\.048\d* to 0\.051\d*", text(page))
    assert "| in | value | 95 % band |" in text(page)


def test_a_torsion_spring_has_an_angular_rate(page):
    """Jindal, Machine Design, example 8-9 (wire 2.5 mm on a 14.5 mm coil, legs of 20 mm)."""
    page.segmented_control(key="kind").set_value("torsion").run()
    enter(page, 2.5, 17.0, 4.25)
    page.number_input(key="leg_1").set_value(20.0)
    page.number_input(key="leg_2").set_value(20.0).run()
    page.selectbox(key="material").set_value("music wire").run()
    page.number_input(key="wound").set_value(90.0).run()
    assert not page.exception
    assert re.search(r"Active coils, legs counted \| 4\.54", text(page))
    low, high = re.search(r"A turn: \*\*\d+ N·mm\*\* \((\d+) to (\d+)\)", text(page)).groups()
    # E d^4 / (10.8 D n) with friction, as the book has it, lies in the band.
    book = 206_000 * 2.5**4 / (10.8 * 14.5 * 4.543)
    assert int(low) < book < int(high)
    assert any("swings back" in warning.value for warning in page.warning)


def test_a_cone_by_its_two_ends(page):
    enter(page, 1.5, 20.0, 8.0)
    cylinder = float(page.metric[0].value.split()[0])
    page.segmented_control(key="kind").set_value("conical").run()
    page.number_input(key="small_end").set_value(11.5).run()
    assert not page.exception
    assert float(page.metric[0].value.split()[0]) > 1.5 * cylinder


def test_the_likelier_mate_stands_first(page):
    own = collection()
    for name, wire in (("Quay 7 rear", 1.3), ("Quay 7 front", 1.2)):
        answer = answer_of_readings(Readings(wire, 13.2, 14.0, 45.0), find_material("music wire"))
        own.keep(spring_of(answer, name))
    enter(page)
    page.number_input(key="length").set_value(45.0).run()
    page.pills(key="whatif").set_value("Pair").run()
    assert not page.exception
    told = text(page)
    assert "differ by less than 5 %" in told
    assert told.index("Quay 7 front: its rate") < told.index("Quay 7 rear: its rate")


@pytest.mark.parametrize(
    "query",
    [
        {"ends": "hooks"},
        {"unit": "stone/mile"},
        {"kind": "leaf"},
        {"wire": "milk"},
        {"lengths": ""},
    ],
    ids=str,
)
def test_an_address_with_a_strange_value_opens_the_page(empty_collection, query):
    page = AppTest.from_file(str(APP), default_timeout=60)
    for name, value in ({"by": "Caliper"} | query).items():
        page.query_params[name] = value
    page.run()
    assert not page.exception
    enter(page)
    assert page.metric[0].label == "Rate"
