"""Rectangular wire on the page, by caliper and from a photo: against the tables of the section."""

import math

import numpy as np
import pytest

from mechanics.ends import Ends
from mechanics.materials import find_material
from tests.ui.test_page import page, text
from tests.ui.test_photo_page import shown
from ui.flat_wire import FlatReadings, flat_told, seen_as_flat

__all__ = ["page", "shown"]

MUSIC = find_material("music wire")


def test_a_square_section_by_the_handbook_s_torsion_constant():
    """Timoshenko and Goodier, table of rectangular bars: J = 0.1406 a^4 for a square."""
    told = flat_told(FlatReadings((2.0, 0.0), (2.0, 0.0), (16.0, 0.0), (9.0, 0.0)), MUSIC)
    G = 1000.0 * MUSIC.shear_modulus_GPa
    n = told["active_coils"].value
    expected = 4.0 * G * 0.1406 * 2.0**4 / (math.pi * 16.0**3 * n)
    assert told["rate_N_per_mm"].value == pytest.approx(expected, rel=1e-3)
    assert told["outer_diameter_mm"].value == pytest.approx(18.0)


def test_a_photo_keeps_its_outline_and_gives_the_side_that_it_sees(seen):
    read = seen_as_flat(seen.geometry, 1.8, None)
    assert read.axial_mm[0] == 1.2
    assert read.mean_mm[0] == pytest.approx(13.2 - 1.8)
    assert read.ends is Ends.CLOSED
    typed = seen_as_flat(seen.geometry, 1.8, 1.25)
    assert typed.axial_mm == (1.25, 0.03)
    rates = [flat_told(one, MUSIC)["rate_N_per_mm"].value for one in (read, typed)]
    assert rates[1] > rates[0]
    assert np.isfinite(rates).all()


def enter(page):
    page.checkbox(key="flat").check().run()
    for key, value in {
        "side_across": 3.0,
        "side_along": 2.0,
        "diameter": 19.0,
        "coils": 9.0,
    }.items():
        page.number_input(key=key).set_value(value)
    return page.run()


def test_the_caliper_page_has_one_control_for_it(page):
    enter(page)
    assert not page.exception
    assert page.metric[0].label == "Rate"
    said = text(page)
    assert "Wire across the axis | 3.00" in said
    assert "Solid length" in said
    told = flat_told(
        FlatReadings((3.0, 0.03), (2.0, 0.03), (16.0, 0.06), (9.0, 0.1), Ends.UNKNOWN),
        find_material("unknown steel"),
    )
    shown = float(page.metric[0].value.split()[0])
    assert shown == pytest.approx(told["rate_N_per_mm"].value, rel=0.02)


def test_an_impossible_side_is_one_sentence_and_loses_nothing(page):
    enter(page)
    page.number_input(key="side_across").set_value(18.0).run()
    assert not page.exception
    assert len(page.error) == 1
    assert page.number_input(key="coils").value == 9.0


def test_the_photo_page_asks_for_the_side_that_no_photo_shows(shown):
    round_ = shown.metric[0].value
    shown.checkbox(key="flat").check().run()
    assert not shown.exception
    assert any("side across the axis" in i.value for i in shown.info)
    shown.number_input(key="side_across").set_value(1.8).run()
    assert not shown.exception
    assert shown.metric[0].value != round_
    assert "Wire across the axis | 1.80" in text(shown)
    shown.checkbox(key="flat").uncheck().run()
    assert shown.metric[0].value == round_
