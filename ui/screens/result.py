"""The answer: rate and band first, then dimensions, then where the uncertainty comes from."""

from collections.abc import Iterable, Mapping, Sequence

import streamlit as st

from mechanics.uncertainty import Quantity
from ui.answer import Answer
from ui.charts import band_chart, budget_chart
from ui.figures import band_text, value_text
from ui.quantities import relabelled
from ui.units import Units
from ui.words import DIMENSION_LABELS, PROPORTION_LABELS, plain


def show_rate(answer: Answer, units: Units) -> None:
    """Draw the rate with its band."""
    rate = units.rate_of(answer.told["rate_N_per_mm"])
    st.metric("Rate", f"{value_text(rate)} {units.rate}")
    st.markdown(f"95 % band: **{band_text(rate)} {units.rate}**")


def show_dimensions(answer: Answer, units: Units) -> None:
    """Draw each dimension with its band."""
    st.subheader("Dimensions", anchor=False)
    table(relabelled(units.told(answer.told), DIMENSION_LABELS), units.length)


def show_proportions(kind: str, hand: str, told: Mapping[str, Quantity]) -> None:
    """Draw what a photo tells without a scale."""
    st.subheader("Proportions only", anchor=False)
    st.markdown(f"Seen: **{kind}** spring, hand **{hand}**. Without a scale there is no rate.")
    table(relabelled(told, PROPORTION_LABELS), head="")


def show_budget(answer: Answer) -> None:
    """Draw where the uncertainty of the rate comes from, and what would lessen it."""
    st.subheader("Where the uncertainty comes from", anchor=False)
    st.caption("How far each cause alone would move the rate, at 95 %.")
    budget = answer.rate.budget
    summary = ", ".join(f"{part.cause} {196 * part.u_relative:.1f} %" for part in budget)
    theme = st.context.theme.type or "light"
    st.altair_chart(budget_chart(budget, theme), alt=f"Uncertainty by cause: {summary}")


def table(rows: Sequence[tuple[str, Quantity]], head: str) -> None:
    """Draw quantities with their bands, one a row; `head` names the unit of the lengths."""
    lines = [f"| {label} | {value_text(q)} | {band_text(q)} |" for label, q in rows]
    st.markdown("\n".join([f"| {head} | value | 95 % band |", "|---|---|---|", *lines]))


def rate_bars(rates: Mapping[str, Quantity], units: Units, alt: str) -> None:
    """Draw rates [N/mm] with their bands, one below the other; `alt` says what they show."""
    shown = {name: units.rate_of(q) for name, q in rates.items()}
    theme = st.context.theme.type or "light"
    st.altair_chart(band_chart(shown, units.rate, theme), alt=alt)


def warn(cautions: Iterable[str]) -> None:
    """Draw cautions in one box, each once."""
    lines = [f"- {plain(caution)}" for caution in dict.fromkeys(cautions)]
    if lines:
        st.warning("\n".join(lines))


def before_after(
    before: Mapping[str, Quantity],
    after: Mapping[str, Quantity],
    labels: Mapping[str, str],
    units: Units,
    heads: tuple[str, str] = ("now", "after"),
) -> None:
    """Draw quantities before and after a change, each with its band below it.

    Parameters
    ----------
    before, after : mapping of str to Quantity
        By their names with units, in mm and N.
    labels : mapping of str to str
        Which to draw, in order, and what they are called.
    units : Units
        To read in.
    heads : tuple of str
        Above the two columns.
    """
    told = [units.shown(side) for side in (before, after)]
    lines = [
        f"| {units.named(label)} | {_cell(told[0][name])} | {_cell(told[1][name])} |"
        for name, label in labels.items()
        if name in told[0] and name in told[1]
    ]
    head = [f"| 95 % bands | {heads[0]} | {heads[1]} |", "|---|---|---|"]
    # Line breaks only: nothing that a person typed goes into this table.
    st.markdown("\n".join([*head, *lines]), unsafe_allow_html=True)


def _cell(q: Quantity) -> str:
    if q.u <= 1e-9 * abs(q.value):
        return f"**{q.value:.4g}**"
    return f"**{value_text(q)}**<br>{band_text(q)}"
