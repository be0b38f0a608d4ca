"""The whole answer: rate first, then its steps, one at a time so that each fits a phone."""

from collections.abc import Sequence

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from mechanics.slips import Reading
from ui.answer import Answer
from ui.screens.decide import decide
from ui.screens.improve import Before, improve
from ui.screens.limits import show_limits
from ui.screens.plan import show_plan
from ui.screens.result import show_budget, show_dimensions, show_rate
from ui.units import Units

#: What follows the rate, in the order in which it is wanted.
STEPS = ("Spring", "Improve", "Limits", "What if", "Keep")


def steps() -> list[DeltaGenerator]:
    """Draw the choice of the step, kept in the address, and return the places of all of them."""
    return list(st.tabs(STEPS, key="step", bind="query-params"))


def show_answer(
    answer: Answer,
    base: Sequence[Reading],
    units: Units,
    seen: tuple[str, str],
    places: Sequence[DeltaGenerator],
    before: Before | None = None,
) -> tuple[Answer, tuple[str, ...]]:
    """Draw an answer, improved by further readings; return it and what those are.

    Parameters
    ----------
    answer : Answer
        From the photo or the caliper alone.
    base : sequence of Reading
        What it rests on, as evidence.
    units : Units
        To read in.
    seen : tuple of str
        Kind and hand.
    places : sequence of DeltaGenerator
        Where the rate is to stand, then the places of the steps.
    before : Before or None
        The photos that the answer rests on; None where it rests on none.
    """
    top, spring, more, limits, what_if = places[:5]
    with more:
        better, added = improve(answer, base, units, before)
    with top:
        show_rate(better, units)
    with spring:
        show_dimensions(better, units)
        show_plan(better, seen, units)
        show_budget(answer)
    with limits:
        show_limits(better, units)
    with what_if:
        decide(better, seen, units)
    return better, added
