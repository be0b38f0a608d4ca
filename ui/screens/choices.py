"""Choices that both ways share; each is kept in the address, so that a reload keeps it."""

import streamlit as st

from mechanics.materials import MATERIALS
from ui.own_scale import READABLE
from ui.screens.sheet import choose_sheet
from ui.words import reference_label
from vision.reference import SHEET, kinds


def choose_material() -> str:
    """Draw the choice of material; its spread goes into the band."""
    names = [material.name for material in MATERIALS]
    chosen: str = st.selectbox(
        "Material",
        names,
        index=names.index("unknown steel"),
        key="material",
        bind="query-params",
        help="If you do not know: unknown steel covers carbon steel and stainless.",
    )
    return chosen


def choose_reference() -> str:
    """Draw the choice of what lies beside the spring, and return its command-line name."""
    plain = [kind for kind in kinds() if not kind.startswith("coin:")]
    chosen: str = st.selectbox(
        "What lies beside it",
        ["auto", plain[0], "coin", *plain[1:], "self", "none"],
        format_func=reference_label,
        key="reference",
        bind="query-params",
    )
    if chosen == "coin":
        return _coin()
    if chosen == SHEET.kind:
        return choose_sheet()
    return _own_reading() if chosen == "self" else chosen


def _coin() -> str:
    """Draw the choice of a coin by currency and value."""
    coins: dict[str, list[str]] = {}
    for kind in kinds():
        if kind.startswith("coin:"):
            currency, value = kind.removeprefix("coin:").split("-", 1)
            coins.setdefault(currency, []).append(value)
    with st.container(horizontal=True):
        currency = st.selectbox("Currency", list(coins), key="currency", bind="query-params")
        value = st.selectbox(
            "Value", coins[currency][::-1], key=f"coin_{currency}", bind="query-params"
        )
    return f"coin:{currency}-{value}"


def _own_reading() -> str:
    """Draw the entry of the owner's own reading; without one there is no scale."""
    # Only who measured by hand waits for the units, and the collection that knows the last one.
    from ui.screens.entries import length, pick
    from ui.screens.units import length_unit
    from ui.units import LENGTH_UNITS, Units

    what = pick("What you read", list(READABLE), "own", hidden=False)
    with st.container(horizontal=True, vertical_alignment="bottom"):
        unit = st.segmented_control(
            "Unit of the reading",
            list(LENGTH_UNITS),
            default=length_unit(),
            required=True,
            key="own_unit",
            bind="query-params",
            label_visibility="collapsed",
        )
        value = length("Reading", "own_mm", Units(length=unit or "mm"), 0.1)
    return f"self:{what}={value:.6g}" if value else "none"
