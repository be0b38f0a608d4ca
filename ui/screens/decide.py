"""Decide: what happens if the spring is cut, stretched or put between seats."""

import numpy as np
import streamlit as st

from mechanics.ends import Ends
from mechanics.install import between_seats
from mechanics.units import RATE_UNITS
from mechanics.whatif import Change, cut, plan_cut, stretch
from ui.answer import SEED, Answer
from ui.charts import band_chart
from ui.figures import band_text, value_text
from ui.load_units import LOAD_UNITS
from ui.quantities import relabelled, scaled
from ui.screens.result import table
from ui.words import CHANGE_LABELS, plain

_WAYS = ("Cut it", "Stretch it", "Put it between seats")


def decide(answer: Answer, unit: str) -> None:
    """Draw the choice of what to do with the spring, and what would come of it."""
    known = "free_length_mm" in answer.told and answer.draws.ends is not Ends.HOOKS
    if not known or answer.geometry.small_end_ratio < 1.0:
        return
    st.subheader("What if", anchor=False)
    way = st.segmented_control(
        "What to do with it", _WAYS, key="whatif", bind="query-params", label_visibility="collapsed"
    )
    try:
        if way == _WAYS[0]:
            _cut(answer, unit)
        elif way == _WAYS[1]:
            _stretch(answer, unit)
        elif way == _WAYS[2]:
            _seats(answer, unit)
    except ValueError as problem:
        st.error(plain(str(problem)))


def _cut(answer: Answer, unit: str) -> None:
    rng = np.random.default_rng(SEED)
    with st.container(horizontal=True):
        turns = _number("Turns cut off", "cut_turns", 0.25)
        wanted = _number(f"or rate wanted, {unit}", "cut_rate", 0.1)
    if turns is not None:
        _show_change(cut(answer.draws, turns, rng), unit)
        return
    if wanted is None:
        return
    plan = plan_cut(answer.draws, wanted * RATE_UNITS[unit], rng)
    exact = plan.exact_turns
    st.markdown(f"Turns to cut off for that: **{value_text(exact)}** ({band_text(exact)}).")
    if plan.reason:
        st.warning(plain(plan.reason))
    if plan.change is not None:
        st.markdown(f"Cut **{plan.safe_turns:g}** at first, then measure again:")
        _show_change(plan.change, unit)


def _stretch(answer: Answer, unit: str) -> None:
    longer = _number("Longer by, mm (what stays)", "stretch_mm", 0.5)
    if longer is not None:
        _show_change(stretch(answer.draws, longer, np.random.default_rng(SEED)), unit)


def _seats(answer: Answer, unit: str) -> None:
    with st.container(horizontal=True):
        rest = _number("Seats apart at rest, mm", "seat_rest", 0.5)
        pressed = _number("Fully moved in, mm", "seat_in", 0.5)
    if rest is None or pressed is None:
        return
    placed = between_seats(answer.draws, (rest, pressed), np.random.default_rng(SEED))
    units, told = LOAD_UNITS[unit], placed.quantities
    table(
        [
            (f"Preload, {units.force}", scaled(told["preload_N"], 1.0 / units.newton)),
            (f"Force moved in, {units.force}", scaled(told["force_N"], 1.0 / units.newton)),
            ("Preload travel, mm", told["preload_deflection_mm"]),
            ("Room to solid, mm", told["room_to_solid_mm"]),
        ],
        head="",
    )
    for caution in placed.cautions:
        st.warning(caution)


def _show_change(change: Change, unit: str) -> None:
    rates = {"Now": change.before["rate_N_per_mm"], "After": change.after["rate_N_per_mm"]}
    ratio = change.ratio
    st.markdown(
        f"Rate after: **{value_text(ratio)} times** today's ({band_text(ratio)}), "
        "whatever today's is."
    )
    theme = st.context.theme.type or "light"
    st.altair_chart(
        band_chart(rates, unit, theme),
        alt=f"Rate now and after: {value_text(ratio)} times",
    )
    after = dict(relabelled(change.after, CHANGE_LABELS))
    lines = [
        f"| {label} | {value_text(q)} | {value_text(after[label])} |"
        for label, q in relabelled(change.before, CHANGE_LABELS)
    ]
    st.markdown("\n".join(["| mm | now | after |", "|---|---|---|", *lines]))
    for caution in change.cautions:
        st.warning(caution)


def _number(label: str, key: str, step: float) -> float | None:
    entered: float | None = st.number_input(
        label, 0.0, 10_000.0, None, step, key=key, bind="query-params"
    )
    return entered or None
