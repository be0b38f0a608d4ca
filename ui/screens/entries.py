"""Fields for numbers; each stands in the address, so that a reload keeps it."""

import streamlit as st

from ui.units import Units

#: Step and form of a field in inches: thousandths, as calipers show them.
_INCH_STEP, _INCH_FORM = 0.005, "%.4f"


def number(
    label: str,
    key: str,
    step: float,
    form: str | None = None,
    value: float | None = None,
    hint: str | None = None,
) -> float | None:
    """Draw a field for a number, and return it; None where it is empty or 0."""
    entered: float | None = st.number_input(
        label, 0.0, 10_000.0, value, step, form, key, bind="query-params", placeholder=hint
    )
    return entered or None


def length(
    label: str,
    key: str,
    units: Units,
    step_mm: float,
    form: str = "%.2f",
    value_mm: float | None = None,
    hint: str | None = None,
) -> float | None:
    """Draw a field for a length in the chosen unit, and return it in mm.

    Fields in inches have names of their own: a number typed in one unit is never read in another.
    """
    if units.length == "mm":
        return number(f"{label}, mm", key, step_mm, form, value_mm, hint)
    value = None if value_mm is None else round(value_mm / units.mm, 4)
    step = min(_INCH_STEP, step_mm)
    typed = number(f"{label}, {units.length}", f"{key}_in", step, _INCH_FORM, value, hint)
    return None if typed is None else typed * units.mm


def force(label: str, key: str, units: Units) -> float | None:
    """Draw a field for a force in the unit that goes with the rate's, and return it in N.

    Each unit has a field of its own, as with lengths.
    """
    load = units.load
    named = key if load.force == "N" else f"{key}_{load.force}"
    typed = number(f"{label}, {load.force}", named, 1.0, "%.4g")
    return None if typed is None else typed * load.newton


def pick(label: str, options: list[str], key: str, hidden: bool = True) -> str:
    """Draw a choice of a few, the first one to begin with."""
    chosen: str | None = st.segmented_control(
        label,
        options,
        default=options[0],
        required=True,
        key=key,
        bind="query-params",
        label_visibility="collapsed" if hidden else "visible",
    )
    # An address cut short names nothing.
    return chosen or options[0]
