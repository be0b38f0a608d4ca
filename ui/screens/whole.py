"""The whole answer in its order: rate first, then how to improve it, then everything else."""

from collections.abc import Sequence

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from mechanics.slips import Reading
from ui.answer import Answer
from ui.screens.decide import decide
from ui.screens.improve import improve
from ui.screens.limits import show_limits
from ui.screens.result import show_budget, show_dimensions, show_rate


def show_answer(
    answer: Answer, base: Sequence[Reading], unit: str, top: DeltaGenerator | None = None
) -> Answer:
    """Draw an answer, improved by whatever further readings the person adds, and return it.

    Parameters
    ----------
    answer : Answer
        From the photo or the caliper alone.
    base : sequence of Reading
        What it rests on, as evidence.
    unit : str
        Unit of rate.
    top : DeltaGenerator, optional
        Where the rate is to stand; here, if left out.
    """
    top = top or st.container()
    dimensions = st.container()
    show_budget(answer)
    better = improve(answer, base, unit)
    with top:
        show_rate(better, unit)
    with dimensions:
        show_dimensions(better)
    show_limits(better, unit)
    decide(better, unit)
    return better
