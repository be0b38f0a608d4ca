"""The answer: rate and band first, then dimensions, then where the uncertainty comes from."""

import streamlit as st

from mechanics.estimate import RateEstimate
from mechanics.units import RATE_UNITS
from ui.charts import budget_chart
from ui.figures import band_text, value_text
from ui.quantities import Quantity, relabelled
from ui.words import DIMENSION_LABELS, how_to_lessen


def choose_unit() -> str:
    """Draw the choice of unit, kept in the address so that a reload keeps it."""
    chosen: str = st.segmented_control(
        "Unit of rate",
        list(RATE_UNITS),
        default="N/mm",
        required=True,
        key="unit",
        bind="query-params",
        label_visibility="collapsed",
    )
    return chosen


def show_rate(told: dict[str, Quantity]) -> None:
    """Draw the rate in the chosen unit with its band."""
    place = st.container()
    unit = choose_unit()
    rate = told["rate_N_per_mm"].scaled(1.0 / RATE_UNITS[unit])
    with place:
        st.metric("Rate", f"{value_text(rate)} {unit}")
        st.markdown(f"95 % band: **{band_text(rate)} {unit}**")


def show_dimensions(told: dict[str, Quantity]) -> None:
    """Draw each dimension with its band."""
    st.subheader("Dimensions", anchor=False)
    rows = [
        f"| {label} | {value_text(q)} | {band_text(q)} |"
        for label, q in relabelled(told, DIMENSION_LABELS)
    ]
    st.markdown("\n".join(["| | value | 95 % band |", "|---|---|---|", *rows]))


def show_budget(rate: RateEstimate) -> None:
    """Draw where the uncertainty of the rate comes from, and what would lessen it."""
    st.subheader("Where the uncertainty comes from", anchor=False)
    st.caption("How far each cause alone would move the rate, at 95 %.")
    summary = ", ".join(f"{part.cause} {196 * part.u_relative:.1f} %" for part in rate.budget)
    theme = st.context.theme.type or "light"
    st.altair_chart(budget_chart(rate.budget, theme), alt=f"Uncertainty by cause: {summary}")
    advice = how_to_lessen(rate.budget[0].cause)
    if advice:
        st.markdown(f"**Best next step.** {advice}")
