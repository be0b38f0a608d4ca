"""The choice of units; it stands in the address, and the next visit begins with it."""

from contextlib import suppress

import streamlit as st

from mechanics.units import RATE_UNITS
from ui.collection.trouble import CollectionError
from ui.screens.keep import collection
from ui.units import LENGTH_UNITS, Units


def choose_units() -> Units:
    """Draw the choice of units of rate and length."""
    with st.container(horizontal=True, gap="small"):
        rate = _choose("Unit of rate", list(RATE_UNITS), "unit")
        length = _choose("Unit of length", list(LENGTH_UNITS), "lengths")
    return Units(rate, length)


def length_unit() -> str:
    """Return the unit of length that is chosen, before its control is drawn."""
    now = st.session_state.get("lengths") or st.query_params.get("lengths")
    return str(now) if now in LENGTH_UNITS else remembered("lengths", list(LENGTH_UNITS))


def remembered(key: str, options: list[str]) -> str:
    """Return what was chosen at the last visit, the first option where nothing was."""
    try:
        before = collection().setting(key)
    except CollectionError:
        # Where the collection matters, it is told; numbers can be read without it.
        return options[0]
    return before if before in options else options[0]


def _remember(key: str) -> None:
    with suppress(CollectionError):
        collection().remember(key, st.session_state[key])


def _choose(label: str, options: list[str], key: str) -> str:
    default = remembered(key, options)
    chosen: str | None = st.segmented_control(
        label,
        options,
        default=default,
        required=True,
        key=key,
        bind="query-params",
        label_visibility="collapsed",
        width="content",
        on_change=lambda: _remember(key),
    )
    # An address cut short names no unit.
    return chosen or default
