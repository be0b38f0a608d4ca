"""Correct what was seen: one control for each thing that a person may know better."""

import streamlit as st

from mechanics.ends import Ends
from ui.correcting import HANDS, KINDS, Correction
from ui.screens.entries import length, number
from ui.units import Units
from vision.measure import Measurement

#: Names in the address of what belongs to one photo only.
NAMES = (
    *("is_kind", "is_hand", "is_ends", "is_turns", "is_small_end", "is_small_end_in"),
    *("flat", "side_across", "side_across_in", "side_along", "side_along_in"),
)


def correct(seen: Measurement, units: Units) -> Correction:
    """Draw what was seen with a control for each part of it; an empty one believes the photo."""
    ends, turns = str(seen.geometry.ends), float(seen.geometry.values[2])
    st.markdown(f"Seen: **{seen.kind}** spring, hand **{seen.hand}**, ends **{ends}**.")
    with st.expander("Correct what was seen"):
        kind = _pick("Kind", KINDS, seen.kind, "is_kind")
        small_end = None
        if (kind or seen.kind) == "conical":
            small_end = length("Small end, outside", "is_small_end", units, 0.1, hint="as seen")
        hand = _pick("Hand", HANDS, seen.hand, "is_hand")
        named = _pick("Ends", [str(one) for one in Ends], ends, "is_ends")
        counted = number("Total coils", "is_turns", 0.25, "%.2f", hint=f"as seen: {turns:.2f}")
    return Correction(kind, hand, Ends(named) if named else None, counted, small_end)


def forget_corrections() -> None:
    """Drop the corrections: another photo was chosen."""
    for name in NAMES:
        st.query_params.pop(name, None)
        st.session_state.pop(name, None)


def _pick(label: str, options: tuple[str, ...] | list[str], seen: str, key: str) -> str | None:
    chosen: str | None = st.selectbox(
        label,
        options,
        index=None,
        placeholder=f"as seen: {seen}",
        key=key,
        bind="query-params",
    )
    return chosen
