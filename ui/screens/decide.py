"""Decide: one choice of what to do with the spring, then before and after with its cautions."""

from collections.abc import Callable
from types import MappingProxyType

import streamlit as st

from mechanics.ends import Ends
from ui.answer import Answer
from ui.screens.changes import ask_cut, ask_stretch
from ui.screens.joining import ask_in_line, ask_nested, ask_pair, ask_swap
from ui.screens.placing import ask_sag, ask_seats, ask_shim
from ui.units import Units
from ui.words import plain

Ask = Callable[[Answer, tuple[str, str], Units], None]

_PAIR = "Pair"
#: What may be done, and what it means.
_WAYS = MappingProxyType(
    {
        "Cut": ("Turns cut off one end: stiffer and shorter.", ask_cut),
        "Stretch": ("Pulled longer for good: the same rate, more preload.", ask_stretch),
        "Seats": ("Installed between two seats.", ask_seats),
        "Shim": ("A shim under it, or its collar moved in.", ask_shim),
        "Sag": ("Under one corner of a vehicle: sag and ride height.", ask_sag),
        "Swap": ("Another spring at the same ride height.", ask_swap),
        "In line": ("Another spring on top of it: softer together.", ask_in_line),
        "Nested": ("Another spring inside it or beside it: stiffer together.", ask_nested),
        _PAIR: ("Which kept spring is its mate?", ask_pair),
    }
)


def decide(answer: Answer, seen: tuple[str, str], units: Units) -> None:
    """Draw the choice of what to do with the spring, and what would come of it.

    Parameters
    ----------
    answer : Answer
        After all evidence.
    seen : tuple of str
        Kind and hand.
    units : Units
        To read in.
    """
    st.subheader("What if", anchor=False)
    ways = _ways_of(answer)
    way = st.pills(
        "What to do with it", ways, key="whatif", bind="query-params", label_visibility="collapsed"
    )
    if len(ways) == 1 and answer.draws.ends is not Ends.HOOKS:
        st.caption("Type its free length, and you can try cuts, shims and other springs here.")
    # An address cut short names nothing.
    if way not in ways:
        return
    meaning, ask = _WAYS[way]
    st.caption(meaning)
    try:
        ask(answer, seen, units)
    except ValueError as problem:
        st.error(plain(str(problem)))


def _ways_of(answer: Answer) -> list[str]:
    """Return what can be done: an extension spring does not go between seats."""
    if answer.draws.ends is Ends.HOOKS or "free_length_mm" not in answer.told:
        return [_PAIR]
    return list(_WAYS)
