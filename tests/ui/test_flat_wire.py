"""Rectangular wire on the page, by caliper and from a photo: the same steps as round wire."""

import math
from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from mechanics.ends import Ends
from mechanics.materials import find_material
from mechanics.not_round import ASK
from tests.ui.test_improve_page import more, went
from tests.ui.test_page import page, text
from tests.ui.test_photo_page import shown
from ui.answer import answer_of, answer_of_readings
from ui.caliper import Across, Readings, without_doubt
from ui.collection.exchange import from_csv, from_json, to_csv, to_json
from ui.collection.matching import match
from ui.collection.record import Spring, fit_to_keep, spring_of
from ui.drafting.of_answer import form_of, form_of_kept
from ui.flat_wire import seen_as_flat
from ui.kept import draws_of_kept
from ui.report import METHOD_FLAT, Subject, contents_of, report_pdf
from ui.screens.keep import collection
from ui.telling import dimensions_told
from ui.units import Units

__all__ = ["page", "shown"]

MUSIC = find_material("music wire")
#: A die spring: 3 across, 2 along, outside 19.
DIE = Readings(2.0, 19.0, 9.0, 40.0, ends=Ends.CLOSED, width_mm=3.0, u_wire_mm=0.03)


def answer(readings=DIE, material=MUSIC):
    return answer_of_readings(readings, material)


def kept(name="Press, blue", readings=DIE):
    return spring_of(answer(readings), name)


def test_a_square_section_by_the_handbook_s_torsion_constant():
    """Timoshenko and Goodier, table of rectangular bars: J = 0.1406 a^4 for a square.

    A coil of index 8 is 0.49 % stiffer than the straight bar, by elasticity.
    """
    square = without_doubt(Readings(2.0, 16.0, 9.0, across=Across.MEAN, width_mm=2.0))
    told = answer(square).told
    G = 1000.0 * MUSIC.shear_modulus_GPa
    n = told["active_coils"].value
    straight = 4.0 * G * 0.1406 * 2.0**4 / (math.pi * 16.0**3 * n)
    assert told["rate_N_per_mm"].value == pytest.approx(1.0049 * straight, rel=1e-3)
    assert told["outer_diameter_mm"].value == pytest.approx(18.0)
    assert "wire_diameter_mm" not in told
    assert "bergstraesser_factor" not in told


def test_an_outside_diameter_goes_to_the_mean_by_the_side_across():
    told = answer().told
    assert told["mean_diameter_mm"].value == pytest.approx(16.0)
    assert told["inner_diameter_mm"].value == pytest.approx(13.0)
    # Read outside, the mean's error holds that of the side: the outside's own is what was read.
    assert told["outer_diameter_mm"].u == pytest.approx(0.05, rel=0.03)
    assert told["mean_diameter_mm"].u == pytest.approx(math.hypot(0.05, 0.03), rel=0.03)


def test_the_budget_tells_the_sides_apart():
    parts = {part.cause: part.u_relative for part in answer().rate.budget}
    assert parts["wire along the axis"] > parts["wire across the axis"] > 0.0
    total = sum(math.copysign(u**2, u) for u in parts.values()) ** 0.5
    rate = answer().told["rate_N_per_mm"]
    assert total == pytest.approx(rate.u / rate.value, rel=0.15)


def test_a_photo_keeps_its_outline_and_gives_the_side_that_it_sees(seen):
    flat, base = seen_as_flat(seen.geometry, 1.8, None)
    assert flat.values[0] == 1.2
    assert flat.values[1] == pytest.approx(13.2 - 1.8)
    assert flat.ends is Ends.CLOSED
    assert [one.name for one in base] == ["photo", "wire across the axis"]
    typed, base = seen_as_flat(seen.geometry, 1.8, 1.25)
    assert (typed.values[0], typed.covariance[0, 0]) == (1.25, 0.03**2)
    assert len(base) == 3
    rates = [answer_of(one, MUSIC).told["rate_N_per_mm"].value for one in (flat, typed)]
    assert rates[1] > rates[0]
    assert np.isfinite(rates).all()


def enter(page):
    page.checkbox(key="flat").check().run()
    for key, value in {
        "side_across": 3.0,
        "side_along": 2.0,
        "diameter": 19.0,
        "coils": 9.0,
        "length": 40.0,
    }.items():
        page.number_input(key=key).set_value(value)
    return page.run()


def test_the_caliper_page_has_one_control_for_it_and_all_steps(page):
    enter(page)
    assert not page.exception
    assert page.metric[0].label == "Rate"
    said = text(page)
    assert "Wire across the axis | 3.00" in said
    assert "Solid length" in said
    assert "Stress when solid" in said
    assert "Buckles from" not in said  # this one is solid before
    # What is not known of flat wire is said, not guessed.
    assert "Gap to keep" not in said
    assert any("no rule is known here" in w.value for w in page.warning)
    told = answer(replace(DIE, ends=Ends.UNKNOWN), find_material("unknown steel")).told
    shown = float(page.metric[0].value.split()[0])
    assert shown == pytest.approx(told["rate_N_per_mm"].value, rel=0.02)


@pytest.mark.parametrize(
    ("way", "numbers"),
    [
        ("Cut", {"cut_turns": 2.0}),
        ("Stretch", {"stretch_mm": 3.0}),
        ("Seats", {"seat_rest": 38.0, "seat_in": 32.0}),
        ("Shim", {"shim_seat": 38.0, "shim_mm": 2.0}),
        ("Sag", {"corner_load": 50.0, "corner_droop": 39.0, "corner_bump": 26.0}),
        ("In line", {}),
        ("Nested", {}),
    ],
)
def test_every_what_if_takes_flat_wire(page, way, numbers):
    enter(page)
    page.pills(key="whatif").set_value(way).run()
    for key, value in numbers.items():
        page.number_input(key=key).set_value(value)
    if numbers:
        page.run()
    assert not page.exception
    assert not page.error
    assert page.warning


def test_further_readings_of_both_sides_sharpen_it(page):
    enter(page)
    more(page, "Wire across", "Wire along, micrometer")
    page.number_input(key="add_across").set_value(3.0)
    page.number_input(key="add_micrometer").set_value(2.0).run()
    assert not page.exception
    assert not any(ASK in w.value for w in page.warning)
    before, after = went(page)
    assert after < before


def test_round_wire_has_no_side_across_to_read(page):
    page.number_input(key="wire").set_value(1.2)
    page.number_input(key="diameter").set_value(13.2)
    page.number_input(key="coils").set_value(14.0).run()
    group = next(group for group in page.get("button_group") if group.key == "more")
    assert "Wire across" not in group.options


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
    assert "Stress when solid" in text(shown)
    shown.checkbox(key="flat").uncheck().run()
    assert shown.metric[0].value == round_


@pytest.mark.parametrize(("read", "asks"), [(1.8, True), (0.8, True), (1.21, False)])
def test_a_caliper_that_contradicts_the_photo_s_wire_asks_whether_it_is_flat(shown, read, asks):
    more(shown, "Wire, caliper")
    shown.number_input(key="add_caliper").set_value(read).run()
    assert not shown.exception
    assert any(ASK in w.value for w in shown.warning) is asks


def test_kept_and_taken_up_again_it_is_the_same_spring():
    spring = fit_to_keep(kept())
    assert (spring.wire_mm, spring.wire_width_mm) == (2.0, 3.0)
    assert spring.outside_mm == pytest.approx(19.0)
    for back in (from_json(to_json([spring])), from_csv(to_csv([spring]))):
        assert back == [spring]
    draws = draws_of_kept(spring)
    assert np.median(draws.wire_width_mm) == pytest.approx(3.0, abs=2e-3)
    assert np.median(draws.rate_N_per_mm) == pytest.approx(spring.rate, rel=5e-3)
    assert draws.rate_N_per_mm.std() == pytest.approx(spring.u("rate_N_per_mm"), rel=0.05)
    told = dimensions_told(spring)
    assert told["wire_height_mm"].value == pytest.approx(2.0)
    assert told["outer_diameter_mm"].value == pytest.approx(19.0)


def test_files_of_before_have_no_such_columns():
    spring = kept(readings=replace(DIE, width_mm=None))
    lines = to_csv([spring]).splitlines()
    old = "\r\n".join(",".join(line.split(",")[:-2]) for line in lines)
    assert from_csv(old + "\r\n") == [spring]
    assert "wire_width_mm" not in spring.as_dict()


@pytest.mark.parametrize(
    "more",
    [
        {"wire_width_mm": -1.0},
        {"wire_width_mm": float("nan")},
        {"kind": "conical"},
        {"ends": "hooks"},
    ],
)
def test_what_no_flat_spring_is_is_refused(more):
    plain = kept().as_dict() | more
    with pytest.raises(ValueError, match=r"rectangular|side across"):
        Spring.from_dict(plain)


def test_a_kept_flat_spring_is_told_from_a_wider_and_from_a_round_one():
    measured = kept("in hand")
    wider = kept("wider", replace(DIE, width_mm=3.3, diameter_mm=19.3))
    round_ = spring_of(answer(Readings(2.0, 19.0, 9.0, 40.0, ends=Ends.CLOSED)), "round")
    found = match(measured, {"same": kept(), "wider": wider, "round": round_})
    assert found.matches[0].keys == ("same",)
    assert found.matches[0].chance > 0.9
    assert found.none_of_these < 0.1


def test_the_page_keeps_it_and_lists_both_sides(page):
    enter(page)
    names = [one.label for one in page.text_input]
    page.text_input[names.index("Name")].set_value("Press, blue")
    next(b for b in page.button if b.label == "Keep it in the collection").click().run()
    assert not page.exception
    (one,) = collection().find()
    assert one.spring.wire_width_mm == pytest.approx(3.0)
    page.segmented_control(key="by").set_value("Collection").run()
    assert "wire 2.000 by 3.000" in page.button(key=f"open-{one.id}").label
    page.button(key=f"open-{one.id}").click().run()
    assert not page.exception
    assert "Wire across the axis | 3.00" in text(page)


def test_its_drawing_and_its_report_show_both_sides():
    form = form_of(answer(), ("compression", "right"))
    assert form.outside_mm == pytest.approx(19.0)
    assert form.beside.outside_mm == pytest.approx(19.0)
    assert form.endwise.wire_mm == pytest.approx(3.0)
    assert form_of_kept(kept()).width_mm == pytest.approx(3.0)
    subject = Subject("Press, blue", "compression", "right", ("caliper",))
    contents = contents_of(answer(), subject, Units())
    assert contents.method == METHOD_FLAT
    labels = [label for label, _ in contents.rows]
    assert labels[:2] == ["Wire across the axis", "Wire along the axis"]
    assert report_pdf(answer(), subject, Units(), date(2026, 1, 2)).startswith(b"%PDF")
