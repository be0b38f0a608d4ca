"""The whole answer in its order: rate first, then how to improve it, then everything else."""

from collections.abc import Sequence

import streamlit as st

from mechanics.readings import Reading
from ui.answer import Answer
from ui.screens.decide import decide
from ui.screens.improve import improve
from ui.screens.limits import show_limits
from ui.screens.result import choose_unit, show_budget, show_dimensions, show_rate


def show_answer(answer: Answer, base: Sequence[Reading]) -> None:
    """Draw an answer, improved by whatever further readings the person adds.

    Parameters
    ----------
    answer : Answer
        From the photo or the caliper alone.
    base : sequence of Reading
        What it rests on, as evidence.
    """
    top = st.container()
    unit = choose_unit()
    dimensions, budget = st.container(), st.container()
    with budget:
        show_budget(answer)
    better = improve(answer, base, unit)
    with top:
        show_rate(better, unit)
    with dimensions:
        show_dimensions(better)
    show_limits(better, unit)
    decide(better, unit)
