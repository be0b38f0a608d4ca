"""The step that tells how far a spring may go: compression, cone, progressive, extension."""

import re

import pytest

from tests.ui.test_page import enter, page, text
from ui.correcting import parse_runs

__all__ = ["page"]


def numbers(page, label):
    found = re.search(rf"\| {re.escape(label)} \| ([\d.]+) \| ([\d.]+) to ([\d.]+) \|", text(page))
    assert found, text(page)
    return tuple(float(v) for v in found.groups())


@pytest.fixture
def spring(page):
    enter(page)
    return page.number_input(key="length").set_value(45.0).run()


def test_every_limit_has_its_band_and_unit(spring):
    for label in (
        "Usable travel, mm",
        "Travel to solid, mm",
        "Gap to keep to solid, mm",
        "Force when solid, N",
        "Stress when solid, MPa",
        "Allowable stress, MPa",
        "Energy when solid, mJ",
        "Surges at, Hz",
        "Mass, g",
    ):
        value, low, high = numbers(spring, label)
        assert low <= value <= high, label


def test_the_force_at_a_travel_is_the_rate_times_it(spring):
    spring.number_input(key="at_travel").set_value(10.0).run()
    assert not spring.exception
    rate = float(spring.metric[0].value.split()[0])
    force, low, high = numbers(spring, "Force there, N")
    assert force == pytest.approx(10.0 * rate, rel=0.02)
    assert low < force < high
    assert numbers(spring, "Energy stored, mJ")[0] == pytest.approx(5.0 * force, rel=0.02)
    spring.number_input(key="at_travel").set_value(40.0).run()
    assert any("to solid" in i.value for i in spring.info)


def test_seats_that_hinge_let_it_buckle_sooner(spring):
    assert "Buckles from" not in text(spring)
    spring.selectbox(key="seating").set_value("one end held, one free").run()
    assert not spring.exception
    assert numbers(spring, "Buckles from, mm")[0] < numbers(spring, "Travel to solid, mm")[0]


def test_a_progressive_spring_by_its_stretches(spring):
    """Half of the turns wound closer close first: the force when solid rises."""
    even = numbers(spring, "Force when solid, N")[0]
    spring.text_input(key="runs").set_value("6/2.0, 6/5.0").run()
    assert not spring.exception
    assert numbers(spring, "Force when solid, N")[0] > 1.2 * even
    spring.text_input(key="runs").set_value("6/milk").run()
    assert any("is no stretch" in i.value for i in spring.info)
    assert spring.number_input(key="coils").value == 14.0


def test_an_extension_spring_tells_its_hooks_and_what_is_usual_of_its_tension(page):
    page.segmented_control(key="kind").set_value("extension").run()
    enter(page)
    page.number_input(key="at_travel").set_value(10.0).run()
    assert not page.exception
    tension = numbers(page, "Initial tension, N")
    assert tension[1] < tension[0] < tension[2]
    rate = float(page.metric[0].value.split()[0])
    force = numbers(page, "Force there, N")[0]
    assert force == pytest.approx(tension[0] + 10.0 * rate, rel=0.03)
    assert numbers(page, "Bending stress of the hook, MPa")[0] > 0.0
    assert any("what is usual, not read" in w.value for w in page.warning)


def test_without_a_free_length_it_says_what_is_missing(page):
    enter(page)
    assert any("its travel and limits stand here" in c.value for c in page.caption)


def test_stretches_are_read_in_any_spacing():
    assert parse_runs(" 3/2 ,4 / 5.5,") == ((3.0, 2.0), (4.0, 5.5))
    with pytest.raises(ValueError, match="no stretch"):
        parse_runs("3")
