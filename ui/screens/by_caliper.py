"""The way without a photo: caliper readings in, answer out. Entries live in the address."""

import streamlit as st

from mechanics.ends import Ends
from mechanics.materials import find_material
from ui.answer import answer_of_readings
from ui.caliper import Across, Count, Readings
from ui.evidence import evidence_of
from ui.report import Subject
from ui.screens.choices import choose_material
from ui.screens.improve import added
from ui.screens.keep import keep
from ui.screens.report import offer_report
from ui.screens.result import choose_unit
from ui.screens.whole import show_answer
from ui.words import plain


def by_caliper() -> None:
    """Draw the entries, and the answer as soon as they suffice."""
    readings = _enter()
    material = choose_material()
    if readings is None:
        st.info("Type the wire, one diameter and the turns: the rate appears here.")
        return
    try:
        answer = answer_of_readings(readings, find_material(material))
    except ValueError as problem:
        st.error(plain(str(problem)))
        return
    top = st.container()
    evidence, unit = evidence_of(readings), choose_unit()
    better = show_answer(answer, evidence, unit, top)
    kind = "extension" if readings.ends is Ends.HOOKS else "compression"
    rests_on = (*(reading.name for reading in evidence), *added())
    offer_report(better, Subject("Coil spring", kind, "unknown", rests_on), unit)
    keep(better, (kind, "unknown"), rests_on, unit)


def _enter() -> Readings | None:
    st.subheader("Type what your caliper says", anchor=False)
    wire = _number("Wire diameter, mm", "wire", "%.3f", 0.01)
    with st.container(horizontal=True, vertical_alignment="bottom"):
        diameter = _number("Coil diameter, mm", "diameter", "%.2f", 0.1)
        across = Across(_pick("Which diameter", [str(a) for a in Across], "across"))
    with st.container(horizontal=True, vertical_alignment="bottom"):
        coils = _number("Coils", "coils", "%.2f", 0.25)
        count = Count(_pick("Which coils", [str(c) for c in Count], "count"))
    ends: str = st.selectbox(
        "Ends",
        [str(kind) for kind in Ends],
        index=list(Ends).index(Ends.UNKNOWN),
        key="ends",
        bind="query-params",
    )
    length = _number("Free length, mm (may stay empty)", "length", "%.1f", 0.5)
    doubts = _doubts()
    if wire is None or diameter is None or coils is None:
        return None
    return Readings(wire, diameter, coils, length, across, count, Ends(ends), *doubts)


def _doubts() -> tuple[float, float, float, float]:
    usual = Readings(1.0, 10.0, 5.0)
    with st.expander("How sure each reading is"):
        st.caption("Standard uncertainty: two times in three the reading is off by less.")
        return (
            _number("Wire, mm", "u_wire", "%.3f", 0.005, usual.u_wire_mm) or 0.0,
            _number("Diameter, mm", "u_diameter", "%.3f", 0.01, usual.u_diameter_mm) or 0.0,
            _number("Coils", "u_coils", "%.2f", 0.05, usual.u_coils) or 0.0,
            _number("Free length, mm", "u_length", "%.2f", 0.05, usual.u_free_length_mm) or 0.0,
        )


def _number(
    label: str, key: str, form: str, step: float, value: float | None = None
) -> float | None:
    entered: float | None = st.number_input(
        label, 0.0, 10_000.0, value, step, form, key=key, bind="query-params"
    )
    return entered


def _pick(label: str, options: list[str], key: str) -> str:
    chosen: str = st.segmented_control(
        label,
        options,
        default=options[0],
        required=True,
        key=key,
        bind="query-params",
        label_visibility="collapsed",
    )
    return chosen
