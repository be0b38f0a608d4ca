"""How far a spring may go: its load curve and its limits."""

import math

import numpy as np
import streamlit as st

from mechanics.curve import load_curve
from mechanics.ends import Ends
from mechanics.limits import Limits, find_limits
from ui.answer import SEED, Answer
from ui.charts import load_chart
from ui.screens.result import table, warn
from ui.units import Units
from ui.words import LIMIT_LABELS, plain


def show_limits(answer: Answer, units: Units) -> None:
    """Draw the load curve with its band, and what ends the travel."""
    if answer.draws.ends is Ends.HOOKS or "free_length_mm" not in answer.told:
        return
    st.subheader("How far it may go", anchor=False)
    try:
        limits = find_limits(answer.draws, np.random.default_rng(SEED))
        curve = load_curve(answer.draws)
    except ValueError as problem:
        st.info(plain(str(problem)))
        return
    theme = st.context.theme.type or "light"
    usable = limits.quantities["usable_deflection_mm"].value
    load = units.load
    st.altair_chart(
        load_chart(curve, usable, load, theme),
        alt=f"Force against travel: {curve.force_N[-1] / load.newton:.3g} {load.force} when "
        f"solid, after {curve.deflection_mm[-1] / load.mm:.3g} {load.travel}",
    )
    st.caption("Shaded: 95 % band. Usable travel keeps clear of solid, set and buckling.")
    _tell(limits, units)


def _tell(limits: Limits, units: Units) -> None:
    # A limit at infinity is never met: the spring is solid before.
    quantities = units.told(limits.quantities)
    met = [
        (label, quantities[name])
        for name, label in LIMIT_LABELS.items()
        if math.isfinite(quantities[name].high)
    ]
    table(met, units.length)
    warn(limits.cautions)
