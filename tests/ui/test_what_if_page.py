"""The page's what-ifs without a browser: each with before and after, bands and its cautions."""

import re

import numpy as np
import pytest

from mechanics.materials import find_material
from tests.ui.test_page import enter, page, text
from ui.answer import answer_of_readings
from ui.caliper import Readings
from ui.collection.record import spring_of
from ui.kept import draws_of_kept
from ui.screens.keep import collection

__all__ = ["page"]

QUAY = Readings(1.3, 13.3, 14.0, 47.0)


@pytest.fixture
def told(page):
    """Choose a what-if for a kept rear spring at hand, and return its text."""

    def ask(way, other=None, kind=None, **numbers):
        if kind is not None:
            page.segmented_control(key="kind").set_value(kind).run()
            page.number_input(key="small_end").set_value(8.0)
        page.number_input(key="length").set_value(45.0)
        enter(page)
        page.pills(key="whatif").set_value(way).run()
        if other is not None:
            page.selectbox(key="other").set_value(other).run()
        for key, value in numbers.items():
            page.number_input(key=key).set_value(value)
        if numbers:
            page.run()
        assert not page.exception
        return text(page)

    return ask


@pytest.fixture
def kept():
    answer = answer_of_readings(QUAY, find_material("music wire"))
    spring = spring_of(answer, "Quay 7 rear")
    collection().keep(spring)
    return draws_of_kept(spring)


def row(told, label):
    """Return value and band before and after of one line of the table."""
    number = r"\*\*(-?[\d.]+)\*\*(?:<br>(-?[\d.]+) to (-?[\d.]+))?"
    found = re.search(rf"\| {re.escape(label)} \| {number} \| {number} \|", told)
    assert found, told
    values = [None if v is None else float(v) for v in found.groups()]
    return values[:3], values[3:]


CORNER = {"corner_load": 6.0, "corner_lever": 1.5, "corner_droop": 44.0, "corner_bump": 25.0}


def test_a_shim_adds_preload_within_its_band(page, told):
    before, after = row(told("Shim", shim_seat=40.0, shim_mm=3.0), "Preload, N")
    rate = float(page.metric[0].value.split()[0])
    assert after[0] - before[0] == pytest.approx(3.0 * rate, abs=0.15)
    assert before[1] < before[0] < before[2]
    assert any("guided, with eye protection" in w.value for w in page.warning)


def test_a_corner_sags_by_statics_and_says_whose_work_it_is(page, told):
    said = told("Sag", **CORNER)
    rate = float(page.metric[0].value.split()[0])
    assert row(said, "Force on the spring, N")[1][0] == pytest.approx(9.0)
    hanging, loaded = row(said, "Sag at the wheel, mm")
    assert hanging[0] == 0.0
    assert loaded[0] == pytest.approx(1.5 * (9.0 / rate - 1.0), abs=0.3)
    assert any("licensed" in w.value for w in page.warning)


def test_in_inches_and_pounds_it_is_the_same_corner(page, told):
    metric = row(told("Sag", **CORNER), "Sag at the wheel, mm")[1]
    page.segmented_control(key="lengths").set_value("in").run()
    page.segmented_control(key="unit").set_value("lb/in").run()
    for key, value in {"wire": 1.2, "diameter": 13.2, "length": 45.0}.items():
        page.number_input(key=f"{key}_in").set_value(value / 25.4)
    page.run()
    page.number_input(key="corner_load_lb").set_value(6.0 / 4.4482216)
    page.number_input(key="corner_droop_in").set_value(44.0 / 25.4)
    page.number_input(key="corner_bump_in").set_value(25.0 / 25.4)
    page.run()
    assert not page.exception
    inches = row(text(page), "Sag at the wheel, in")[1]
    assert inches[0] == pytest.approx(metric[0] / 25.4, rel=0.03)
    assert inches[2] == pytest.approx(metric[2] / 25.4, rel=0.03)


def test_a_kept_spring_is_swapped_in_at_the_same_ride_height(page, kept, told):
    said = told("Swap", **CORNER)
    lengths = row(said, "Spring's length, mm")
    move = re.search(r"move the collar \*\*([\d.]+) mm (in|out)\*\* \(([\d.]+) to ([\d.]+)\)", said)
    assert float(move[3]) < float(move[1]) < float(move[4])
    way = {"in": 1.0, "out": -1.0}[move[2]]
    assert lengths[1][0] + way * float(move[1]) == pytest.approx(lengths[0][0], abs=0.3)
    ratio = float(re.search(r"rate there: \*\*([\d.]+) times", said)[1])
    own = float(page.metric[0].value.split()[0])
    assert ratio == pytest.approx(np.median(kept.rate_N_per_mm) / own, rel=0.03)


def test_swapped_for_its_own_twin_the_collar_stays(page, told):
    answer = answer_of_readings(Readings(1.2, 13.2, 14.0, 45.0), find_material("music wire"))
    collection().keep(spring_of(answer, "Quay 7 front"))
    said = told("Swap", **CORNER)
    assert re.search(r"may need to move \*\*[\d.]+ mm out\*\* to \*\*[\d.]+ mm in\*\*", said)


def test_without_a_kept_spring_a_swap_says_what_to_do(page, told):
    told("Swap")
    assert any("keep another spring first" in i.value for i in page.info)


def test_another_like_it_in_line_halves_the_rate(page, told):
    said = told("In line", "another one like it")
    rate = float(page.metric[0].value.split()[0])
    together = float(re.search(r"Together: \*\*([\d.]+) N/mm", said)[1])
    assert together == pytest.approx(rate / 2.0, abs=0.01)
    assert any("guide ring" in w.value for w in page.warning)


def test_nested_with_a_kept_one_they_share_the_load(page, kept, told):
    said = told("Nested", "Quay 7 rear", nested_load=10.0)
    own = float(page.metric[0].value.split()[0])
    together = float(re.search(r"Together: \*\*([\d.]+) N/mm", said)[1])
    assert together == pytest.approx(own + np.median(kept.rate_N_per_mm), rel=0.02)
    bears = [
        float(re.search(rf"\| {who} bears, N \| ([\d.]+)", said)[1])
        for who in ("This one", "The other")
    ]
    assert sum(bears) == pytest.approx(10.0, abs=0.2)
    assert any("fit in each other" in w.value for w in page.warning)


@pytest.mark.parametrize(
    ("way", "numbers"),
    [
        ("Seats", {"seat_rest": 40.0, "seat_in": 30.0}),
        ("Shim", {"shim_seat": 40.0, "shim_mm": 3.0}),
        ("Sag", CORNER),
        ("In line", {}),
    ],
)
def test_a_cone_is_placed_coil_by_coil(page, told, way, numbers):
    told(way, kind="conical", **numbers)
    assert not page.error
    assert any("close one after another" in w.value for w in page.warning)


def test_why_a_cone_is_not_stretched_is_one_sentence(page, told):
    told("Stretch", kind="conical", stretch_mm=3.0)
    assert len(page.error) == 1
    assert page.error[0].value.startswith("This spring tapers: ")
    assert "largest turns give first" in page.error[0].value


def test_a_cone_is_cut_at_either_end(page, told):
    told("Cut", kind="conical", cut_turns=2.0)
    assert not page.error
    at_small = row(text(page), "Rate, N/mm")[1][0]
    page.checkbox(key="cut_large").check().run()
    assert row(text(page), "Rate, N/mm")[1][0] > at_small


def test_a_cone_is_nested_with_what_it_may_not_clear_said(page, told, kept):
    told("Nested", other="Quay 7 rear", kind="conical", nested_load=10.0)
    assert not page.error
    assert any("not reckoned" in w.value for w in page.warning)


def test_without_a_free_length_only_the_mate_is_sought(page):
    enter(page)
    assert page.pills(key="whatif").options == ["Pair"]
    assert any("Type its free length" in c.value for c in page.caption)


def test_a_cut_for_a_rate_is_told_in_whole_turns_too(page, told):
    said = told("Cut", cut_rate=2.2)
    assert re.search(r"Cut \*\*[\d.]+\*\* at first \(\*\*\d+\*\* in whole turns\)", said)
