"""The way without a photo: caliper readings in, answer out. Entries live in the address."""

import streamlit as st

from mechanics.ends import Ends
from mechanics.materials import find_material
from ui.answer import answer_of_readings
from ui.caliper import U_SIDE_MM, Across, Count, Readings
from ui.collection.record import spring_of
from ui.evidence import evidence_of
from ui.report import Subject
from ui.screens.choices import choose_material
from ui.screens.entries import length, number, pick
from ui.screens.flat_wire import enter_sides, say_flat
from ui.screens.keep import keep
from ui.screens.report import offer_report
from ui.screens.torsion import enter_legs, show_torsion
from ui.screens.units import choose_units
from ui.screens.whole import show_answer, steps
from ui.torsion import TorsionReadings
from ui.units import Units
from ui.words import plain

_TORSION = Subject("Torsion spring", "torsion", "unknown", ("caliper",))
_KINDS = ["compression", "conical", "extension", "torsion"]


def by_caliper() -> None:
    """Draw the entries, and the answer as soon as they suffice."""
    with st.container(key="left"):
        units = choose_units()
        kind = pick("Kind of spring", _KINDS, "kind")
        readings = _enter(kind, units, kind == "compression" and say_flat())
        legs = enter_legs(units) if kind == "torsion" else (0.0, 0.0)
        material = choose_material()
    if readings is None:
        st.info("Type the wire, one diameter and the turns: the rate appears here.")
        return
    if kind == "torsion":
        show_torsion(_torsion(readings, legs), material, units, _TORSION)
        return
    try:
        answer = answer_of_readings(readings, find_material(material))
    except ValueError as problem:
        st.error(plain(str(problem)))
        return
    places, evidence = [st.container(), *steps()], evidence_of(readings)
    better, added = show_answer(answer, evidence, units, (kind, "unknown"), places)
    rests_on = tuple(dict.fromkeys((*(reading.name for reading in evidence), *added)))
    with places[-1]:
        keep(spring_of(better, "this one", kind=kind, evidence=rests_on), units)
        offer_report(better, Subject("Coil spring", kind, "unknown", rests_on), units)


def _enter(kind: str, units: Units, flat: bool) -> Readings | None:
    """Draw the entries; None until they suffice."""
    across, free, small_end = None, None, None
    if flat:
        across, wire = enter_sides(units)
    with st.container(horizontal=True, vertical_alignment="bottom"):
        if not flat:
            wire = length("Wire diameter", "wire", units, 0.01, "%.3f")
        if kind != "torsion":
            free = length("Free length (if read)", "length", units, 0.5)
    with st.container(horizontal=True, vertical_alignment="bottom"):
        diameter = length("Coil diameter", "diameter", units, 0.1)
        which = Across(pick("Which diameter", [str(a) for a in Across], "across"))
    if kind == "conical":
        small_end = length("The same at the small end", "small_end", units, 0.1)
    with st.container(horizontal=True, vertical_alignment="bottom"):
        coils = number("Coils", "coils", 0.25, "%.2f")
        plain_turns = kind in ("torsion", "extension")
        count = Count.TOTAL if plain_turns else Count(pick("Which coils", list(Count), "count"))
    ends = Ends.HOOKS if kind == "extension" else Ends.OPEN
    if kind not in ("torsion", "extension"):
        ends = _ends()
    doubts = _doubts(units)
    if wire is None or diameter is None or coils is None or (flat and across is None):
        return None
    if flat:
        doubts = (U_SIDE_MM, *doubts[1:])
    return Readings(
        wire, diameter, coils, free, which, count, ends, *doubts, small_end, width_mm=across
    )


def _ends() -> Ends:
    kinds = [str(one) for one in Ends if one is not Ends.HOOKS]
    chosen: str = st.selectbox(
        "Ends", kinds, index=kinds.index(str(Ends.UNKNOWN)), key="ends", bind="query-params"
    )
    return Ends(chosen)


def _doubts(units: Units) -> tuple[float, float, float, float]:
    usual = Readings(1.0, 10.0, 5.0)
    with st.expander("How sure each reading is"):
        st.caption("Standard uncertainty: two times in three the reading is off by less.")
        return (
            length("Wire", "u_wire", units, 0.005, "%.3f", usual.u_wire_mm) or 0.0,
            length("Diameter", "u_diameter", units, 0.01, "%.3f", usual.u_diameter_mm) or 0.0,
            number("Coils", "u_coils", 0.05, "%.2f", usual.u_coils) or 0.0,
            length("Free length", "u_length", units, 0.05, "%.2f", usual.u_free_length_mm) or 0.0,
        )


def _torsion(readings: Readings, legs: tuple[float, float]) -> TorsionReadings:
    wire, coils = (readings.wire_mm, readings.u_wire_mm), (readings.coils, readings.u_coils)
    return TorsionReadings(wire, (readings.mean_mm, readings.u_mean_mm), coils, legs)
