"""What if the spring is put in place: between seats, on a shim, under a corner of a vehicle."""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import streamlit as st

from mechanics.corner import Corner, hanging, sag
from mechanics.install import Placed, at_rest, between_seats, shim
from mechanics.uncertainty import Quantity
from ui.answer import SEED, Answer
from ui.drafting.of_answer import form_of
from ui.drafting.rows import Row, rows
from ui.drafting.wire import Form
from ui.figures import value_text
from ui.quantities import scaled
from ui.screens.entries import force, length, number
from ui.screens.plan import WIDE_PT, show_sheet
from ui.screens.result import before_after, warn
from ui.units import Units
from ui.words import CORNER_LABELS, SEAT_LABELS


def ask_seats(answer: Answer, seen: tuple[str, str], units: Units) -> None:
    """Draw the fields of two seats, and the forces between them."""
    with st.container(horizontal=True, vertical_alignment="bottom"):
        rest = length("Seats apart at rest", "seat_rest", units, 0.5)
        pressed = length("Fully moved in", "seat_in", units, 0.5)
    if rest is None or pressed is None:
        return
    free = at_rest(answer.draws, _rng())
    placed = between_seats(answer.draws, (rest, pressed), _rng())
    seats = {_typed("at rest", rest, units): rest, _typed("moved in", pressed, units): pressed}
    _draw(form_of(answer, seen), seats, units)
    before_after(free.quantities, placed.quantities, SEAT_LABELS, units, ("free", "between them"))
    warn(placed.cautions)


def ask_shim(answer: Answer, seen: tuple[str, str], units: Units) -> None:
    """Draw the fields of a shim or a collar, and the preload before and after."""
    with st.container(horizontal=True, vertical_alignment="bottom"):
        seat = length("Seats apart now", "shim_seat", units, 0.5)
        thick = length("Shim, or collar moved in", "shim_mm", units, 0.5)
    if seat is None or thick is None:
        return
    before, after = shim(answer.draws, seat, thick, _rng())
    less = seat - thick
    seats = {_typed("now", seat, units): seat, _typed("after", less, units): less}
    _draw(form_of(answer, seen), seats, units)
    labels = {name: label for name, label in SEAT_LABELS.items() if name != "force_N"}
    before_after(before.quantities, after.quantities, labels, units)
    warn((*after.cautions, *before.cautions))


def ask_sag(answer: Answer, seen: tuple[str, str], units: Units) -> None:
    """Draw the fields of a corner, and where it settles."""
    corner = ask_corner(units)
    if corner is None:
        return
    before, after = hanging(answer.draws, corner), sag(answer.draws, corner, _rng())
    settled = after.quantities["spring_length_mm"]
    # No more digits of where it settles than its band allows.
    loaded = f"loaded: {value_text(units.length_of(settled))} {units.length}"
    seats = {_typed("hanging", corner.droop_length_mm, units): corner.droop_length_mm}
    _draw(form_of(answer, seen), seats | {loaded: settled.value}, units)
    show_corner(before, after, units, ("hanging", "loaded"))
    warn((*after.cautions, *before.cautions))


def ask_corner(units: Units) -> Corner | None:
    """Draw the fields of a vehicle's corner; None until they suffice."""
    with st.container(horizontal=True, vertical_alignment="bottom"):
        load = force("Load at the wheel", "corner_load", units)
        lever = number("Wheel travel for each of spring", "corner_lever", 0.05, "%.2f", 1.0)
    with st.container(horizontal=True, vertical_alignment="bottom"):
        droop = length("Seats apart, wheel hanging", "corner_droop", units, 0.5)
        bump = length("Seats apart, pressed in", "corner_bump", units, 0.5)
    if load is None or lever is None or droop is None or bump is None:
        return None
    return Corner(load, lever, droop, bump)


def show_corner(before: Placed, after: Placed, units: Units, heads: tuple[str, str]) -> None:
    """Draw a corner's quantities before and after."""
    told = [_with_percent(placed.quantities) for placed in (before, after)]
    before_after(told[0], told[1], CORNER_LABELS, units, heads)


def _with_percent(quantities: Mapping[str, Quantity]) -> dict[str, Quantity]:
    told = dict(quantities)
    told["sag_percent"] = scaled(told.pop("sag_share"), 100.0)
    return told


def _typed(words: str, length_mm: float, units: Units) -> str:
    return f"{words}: {length_mm / units.mm:.4g} {units.length}"


def _draw(form: Form, states: dict[str, float], units: Units) -> None:
    """Draw the spring free, then between its seats at each distance [mm]; loose, it stays long."""
    # How the coils of a pressed cone lie on each other is not drawn.
    if form.small_end_ratio < 1.0:
        return
    drawn = [
        Row(words, (replace(form, length_mm=min(form.length_mm, seat)),), seat)
        for words, seat in states.items()
    ]
    free = Row(_typed("free", form.length_mm, units), (form,))
    said = "The spring free and between its seats, to scale"
    show_sheet(rows([free, *drawn], said, WIDE_PT))


def _rng() -> np.random.Generator:
    return np.random.default_rng(SEED)
