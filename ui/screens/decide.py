"""Decide: what if the spring is cut, stretched or put between seats; and which is its mate."""

import math

import numpy as np
import streamlit as st

from mechanics.ends import Ends
from mechanics.install import between_seats
from mechanics.pairs import compare
from mechanics.units import RATE_UNITS
from mechanics.whatif import Change, cut, plan_cut, stretch
from ui.answer import SEED, Answer
from ui.charts import band_chart
from ui.figures import band_text, value_text
from ui.kept import draws_of_kept
from ui.quantities import relabelled, scaled
from ui.screens.entries import length, number
from ui.screens.keep import chance_text, collection
from ui.screens.result import table
from ui.units import Units
from ui.words import CHANGE_LABELS, literal, plain

#: Kept springs, nearest in rate, that are looked at as mates.
MOST_MATES = 5
_WAYS = ("Cut it", "Stretch it", "Put it between seats", "Pair it")


def decide(answer: Answer, units: Units) -> None:
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
            _cut(answer, units)
        elif way == _WAYS[1]:
            _stretch(answer, units)
        elif way == _WAYS[2]:
            _seats(answer, units)
        elif way == _WAYS[3]:
            _pair(answer)
    except ValueError as problem:
        st.error(plain(str(problem)))


def _cut(answer: Answer, units: Units) -> None:
    rng = np.random.default_rng(SEED)
    with st.container(horizontal=True):
        turns = number("Turns cut off", "cut_turns", 0.25)
        wanted = number(f"or rate wanted, {units.rate}", "cut_rate", 0.1)
    if turns is not None:
        _show_change(cut(answer.draws, turns, rng), units)
        return
    if wanted is None:
        return
    plan = plan_cut(answer.draws, wanted * RATE_UNITS[units.rate], rng)
    exact = plan.exact_turns
    st.markdown(f"Turns to cut off for that: **{value_text(exact)}** ({band_text(exact)}).")
    if plan.reason:
        st.warning(plain(plan.reason))
    if plan.change is not None:
        st.markdown(f"Cut **{plan.safe_turns:g}** at first, then measure again:")
        _show_change(plan.change, units)


def _stretch(answer: Answer, units: Units) -> None:
    longer = length("Longer by (what stays)", "stretch_mm", units, 0.5)
    if longer is not None:
        _show_change(stretch(answer.draws, longer, np.random.default_rng(SEED)), units)


def _seats(answer: Answer, units: Units) -> None:
    with st.container(horizontal=True):
        rest = length("Seats apart at rest", "seat_rest", units, 0.5)
        pressed = length("Fully moved in", "seat_in", units, 0.5)
    if rest is None or pressed is None:
        return
    placed = between_seats(answer.draws, (rest, pressed), np.random.default_rng(SEED))
    load, told = units.load, units.told(placed.quantities)
    table(
        [
            (f"Preload, {load.force}", scaled(told["preload_N"], 1.0 / load.newton)),
            (f"Force moved in, {load.force}", scaled(told["force_N"], 1.0 / load.newton)),
            (f"Preload travel, {units.length}", told["preload_deflection_mm"]),
            (f"Room to solid, {units.length}", told["room_to_solid_mm"]),
        ],
        head="",
    )
    for caution in placed.cautions:
        st.warning(caution)


def _pair(answer: Answer) -> None:
    """Tell which kept springs are likely to make a pair with this one."""
    within = number("Rates alike within, %", "pair_within", 1.0, "%.0f", 5.0) or 5.0
    same = st.checkbox("Wound from one wire", key="pair_same", bind="query-params")
    rate = answer.told["rate_N_per_mm"].value
    kept = sorted(
        (one.spring for one in collection().find()),
        key=lambda spring: abs(math.log(spring.rate_N_per_mm / rate)),
    )
    if not kept:
        st.info("Nothing is kept yet: keep the first spring, then measure the second.")
        return
    pairs = [
        (spring, compare(answer.draws, draws_of_kept(spring), within, _rng(), same))
        for spring in kept[:MOST_MATES]
    ]
    pairs.sort(key=lambda pair: -pair[1].chance)
    lines = [
        f"- **{chance_text(one.chance)}** {literal(spring.name)}: its rate is "
        f"{value_text(one.ratio)} times this one's ({band_text(one.ratio)})"
        for spring, one in pairs
    ]
    st.markdown(f"Chance that the rates differ by less than {within:g} %:\n\n" + "\n".join(lines))


def _rng() -> np.random.Generator:
    return np.random.default_rng(SEED)


def _show_change(change: Change, units: Units) -> None:
    rates = {"Now": change.before["rate_N_per_mm"], "After": change.after["rate_N_per_mm"]}
    ratio = change.ratio
    st.markdown(
        f"Rate after: **{value_text(ratio)} times** today's ({band_text(ratio)}), "
        "whatever today's is."
    )
    theme = st.context.theme.type or "light"
    st.altair_chart(
        band_chart(rates, units.rate, theme),
        alt=f"Rate now and after: {value_text(ratio)} times",
    )
    after = dict(relabelled(units.told(change.after), CHANGE_LABELS))
    lines = [
        f"| {label} | {value_text(q)} | {value_text(after[label])} |"
        for label, q in relabelled(units.told(change.before), CHANGE_LABELS)
    ]
    st.markdown("\n".join([f"| {units.length} | now | after |", "|---|---|---|", *lines]))
    for caution in change.cautions:
        st.warning(caution)
