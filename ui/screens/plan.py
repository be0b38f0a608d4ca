"""The spring drawn to scale, in two views with its dimensions."""

import streamlit as st

from ui.answer import Answer
from ui.drafting.of_answer import plan_of
from ui.drafting.sheet import Sheet, svg
from ui.units import Units

#: A phone's column [pt].
WIDE_PT = 358.0


def show_plan(answer: Answer, seen: tuple[str, str], units: Units) -> None:
    """Draw the spring of an answer; `seen` is its kind and hand."""
    show_sheet(plan_of(answer, seen, units, WIDE_PT))


def show_sheet(sheet: Sheet) -> None:
    """Draw a sheet; it says in words what it shows."""
    theme = st.context.theme.type or "light"
    st.image(svg(sheet, theme), width="stretch", alt=sheet.title)
