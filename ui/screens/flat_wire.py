"""A spring of rectangular wire on the page: its two sides, then its rate."""

import streamlit as st

from mechanics.materials import find_material
from ui.figures import band_text, value_text
from ui.flat_wire import FlatReadings, flat_told
from ui.quantities import relabelled
from ui.screens.entries import length
from ui.screens.result import table
from ui.units import Units
from ui.words import FLAT_LABELS, plain

_FLAT = "flat"


def enter_sides(units: Units, hint: str | None = None) -> tuple[float | None, float | None]:
    """Draw the fields of the wire's sides, across and along the axis [mm]."""
    with st.container(horizontal=True, vertical_alignment="bottom"):
        radial = length("Side across the axis", "side_across", units, 0.05, "%.3f")
        axial = length("Side along the axis", "side_along", units, 0.05, "%.3f", hint=hint)
    return radial, axial


def flat_chosen() -> bool:
    """Tell whether the wire is said to be rectangular, before the control is drawn."""
    return bool(st.session_state.get(_FLAT, st.query_params.get(_FLAT) == "true"))


def enter_flat(units: Units, seen_mm: float) -> tuple[float | None, float | None] | None:
    """Draw the one control for rectangular wire, and return its sides [mm]; None for round wire.

    Parameters
    ----------
    units : Units
        To type in.
    seen_mm : float
        What the photo shows of the wire [mm].
    """
    if not st.checkbox("The wire is rectangular", key=_FLAT, bind="query-params"):
        return None
    return enter_sides(units, f"as seen: {seen_mm / units.mm:.3g}")


def show_flat(readings: FlatReadings, material: str, units: Units) -> None:
    """Draw what is told of a spring of rectangular wire."""
    try:
        told = flat_told(readings, find_material(material))
    except ValueError as problem:
        st.error(plain(str(problem)))
        return
    rate = units.rate_of(told["rate_N_per_mm"])
    st.metric("Rate", f"{value_text(rate)} {units.rate}")
    st.markdown(f"95 % band: **{band_text(rate)} {units.rate}**")
    table(relabelled(units.told(told), FLAT_LABELS), units.length)
    st.caption("Limits, what-ifs and the collection are for round wire.")
