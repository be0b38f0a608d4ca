"""How far a spring may go: its load curve and its limits, or those of its hooks."""

import math
from collections.abc import Callable, Mapping

import numpy as np
import streamlit as st

from mechanics.coils import Runs
from mechanics.curve import load_curve
from mechanics.ends import Ends
from mechanics.extension import describe_extension, pulled
from mechanics.limits import Limits, find_limits, load_at
from mechanics.load import Seating
from mechanics.uncertainty import Quantity
from ui.answer import SEED, Answer
from ui.charts import load_chart
from ui.correcting import parse_runs
from ui.screens.entries import length
from ui.screens.result import table, warn
from ui.units import Units
from ui.words import EXTENSION_LABELS, LIMIT_LABELS, LOAD_LABELS, plain

_TENSION = "Initial tension is what is usual, not read: measure the force at which the coils part."
_PULLED = "Pull it only as far as it is used, eyes covered: a hook that slips or breaks flies."


def show_limits(answer: Answer, units: Units) -> None:
    """Draw the load curve with its band, and what ends the travel."""
    st.subheader("How far it may go", anchor=False)
    try:
        if answer.draws.ends is Ends.HOOKS:
            _show_extension(answer, units)
        elif "free_length_mm" not in answer.told:
            st.caption("Type its free length, and its travel and limits stand here.")
        else:
            _show_compression(answer, units)
    except ValueError as problem:
        st.info(plain(str(problem)))


def _show_compression(answer: Answer, units: Units) -> None:
    place = st.container()
    with st.expander("How it is seated, and whether its pitch changes"):
        seating, runs = _ask_more(answer)
    limits = find_limits(answer.draws, _rng(), seating, runs)
    with place:
        _draw_curve(answer, limits, runs, units)
        _tell(limits.quantities, LIMIT_LABELS, units)
        warn(limits.cautions)
        _ask_load("Force at a travel of", units, lambda s: load_at(answer.draws, s, _rng(), runs))


def _ask_more(answer: Answer) -> tuple[Seating, Runs]:
    """Draw the choice of the seats and the entry of stretches of another pitch."""
    names = [str(one) for one in Seating]
    seated = st.selectbox("Seats", names, key="seating", bind="query-params")
    if bool((answer.draws.small_end_ratio < 1.0).any()):
        return Seating(seated), ()
    typed = st.text_input(
        "Working turns and pitch of each stretch, mm",
        key="runs",
        bind="query-params",
        placeholder="3 turns/2.0 mm, then 4/5.0: 3/2.0, 4/5.0",
    )
    return Seating(seated), parse_runs(typed or "")


def _draw_curve(answer: Answer, limits: Limits, runs: Runs, units: Units) -> None:
    curve = load_curve(answer.draws, runs=runs)
    theme = st.context.theme.type or "light"
    told, load = limits.quantities, units.load
    # Where it may begin to take a set, not where it does in half of all springs.
    ends = {"usable": told["usable_deflection_mm"].value, "set": told["set_deflection_mm"].low}
    st.altair_chart(
        load_chart(curve, ends, load, theme),
        alt=f"Force against travel: {curve.force_N[-1] / load.newton:.3g} {load.force} when "
        f"solid, after {curve.deflection_mm[-1] / load.mm:.3g} {load.travel}",
    )
    st.caption(
        "Shaded: 95 % band. Usable travel keeps clear of solid, set and buckling; from “set” on it "
        "may stay shorter."
    )


def _show_extension(answer: Answer, units: Units) -> None:
    """Draw what hooks and body of an extension spring bear."""
    found = describe_extension(answer.draws, _rng())
    told = {name: getattr(found, name) for name in EXTENSION_LABELS}
    _tell(told, EXTENSION_LABELS, units)
    weaker = "hooks" if found.hook_share > 0.5 else "body"
    st.markdown(f"Its **{weaker}** would give first.")
    _ask_load("Force when pulled by", units, lambda s: pulled(answer.draws, s, _rng()))
    warn((_TENSION, _PULLED))


def _ask_load(label: str, units: Units, find: Callable[[float], Mapping[str, Quantity]]) -> None:
    """Draw the field of a travel, and what the spring does there."""
    travel = length(label, "at_travel", units, 0.5)
    if travel is not None:
        _tell(find(travel), LOAD_LABELS, units)


def _tell(quantities: Mapping[str, Quantity], labels: Mapping[str, str], units: Units) -> None:
    # A limit at infinity is never met: the spring is solid before.
    shown = units.shown(quantities)
    met = [
        (units.named(label), shown[name])
        for name, label in labels.items()
        if name in shown and math.isfinite(shown[name].high)
    ]
    table(met, head="")


def _rng() -> np.random.Generator:
    return np.random.default_rng(SEED)
