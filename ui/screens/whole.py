"""The whole answer in its order: rate first, then how to improve it, then everything else."""

from collections.abc import Sequence

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from mechanics.slips import Reading
from ui.answer import Answer
from ui.screens.decide import decide
from ui.screens.improve import improve
from ui.screens.limits import show_limits
from ui.screens.plan import show_plan
from ui.screens.result import show_budget, show_dimensions, show_rate
from ui.units import Units


def show_answer(
    answer: Answer,
    base: Sequence[Reading],
    units: Units,
    seen: tuple[str, str],
    top: DeltaGenerator | None = None,
) -> Answer:
    """Draw an answer, improved by whatever further readings the person adds, and return it.

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
    top : DeltaGenerator, optional
        Where the rate is to stand; here, if left out.
    """
    top = top or st.container()
    dimensions = st.container()
    show_budget(answer)
    better = improve(answer, base, units)
    with top:
        show_rate(better, units)
    with dimensions:
        show_dimensions(better, units)
        show_plan(better, seen, units)
    show_limits(better, units)
    decide(better, seen, units)
    return better
