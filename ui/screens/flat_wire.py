"""Rectangular wire on the page: one control, and the wire's two sides."""

import streamlit as st

from ui.screens.entries import length
from ui.units import Units

_FLAT = "flat"


def say_flat() -> bool:
    """Draw the one control for rectangular wire, and return whether it is."""
    return st.checkbox("The wire is flat (rectangular)", key=_FLAT, bind="query-params")


def enter_sides(units: Units, seen_mm: float | None = None) -> tuple[float | None, float | None]:
    """Draw the fields of the wire's sides, across and along the axis [mm].

    Parameters
    ----------
    units : Units
        To type in.
    seen_mm : float, optional
        What a photo shows of the side along the axis [mm].
    """
    hint = None if seen_mm is None else f"as seen: {seen_mm / units.mm:.3g}"
    with st.container(horizontal=True, vertical_alignment="bottom"):
        radial = length("Side across the axis", "side_across", units, 0.05, "%.3f")
        axial = length("Side along the axis", "side_along", units, 0.05, "%.3f", hint=hint)
    return radial, axial
