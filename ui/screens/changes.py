"""What if the spring itself is changed: turns cut off, or pulled longer for good."""

from dataclasses import replace

import numpy as np
import streamlit as st

from mechanics.curve import is_cone
from mechanics.stretch import stretch
from mechanics.units import RATE_UNITS
from mechanics.whatif import Change, cut, plan_cut
from ui.answer import SEED, Answer
from ui.drafting.of_answer import form_of
from ui.drafting.rows import Row, rows
from ui.figures import band_text, value_text
from ui.screens.entries import force, length, number
from ui.screens.plan import WIDE_PT, show_sheet
from ui.screens.result import before_after, rate_bars, warn
from ui.units import Units
from ui.words import CHANGE_LABELS, plain


def ask_cut(answer: Answer, seen: tuple[str, str], units: Units) -> None:
    """Draw the fields of a cut, by turns or for a rate, and what it does."""
    with st.container(horizontal=True):
        turns = number("Turns cut off", "cut_turns", 0.25)
        wanted = number(f"or rate wanted, {units.rate}", "cut_rate", 0.1)
    large = is_cone(answer.draws) and st.checkbox(
        "Cut at its large end", key="cut_large", bind="query-params"
    )
    if turns is not None:
        _show(answer, seen, cut(answer.draws, turns, _rng(), large), units)
        return
    if wanted is None:
        return
    load = force("It must bear without going solid (may stay empty)", "cut_load", units)
    rate = wanted * RATE_UNITS[units.rate]
    plan = plan_cut(answer.draws, rate, _rng(), load or 0.0, large)
    exact = plan.exact_turns
    st.markdown(f"Turns to cut off for that: **{value_text(exact)}** ({band_text(exact)}).")
    if plan.reason:
        st.warning(plain(plan.reason))
    if plan.change is not None:
        whole = "" if plan.whole_turns is None else f" (**{plan.whole_turns}** in whole turns)"
        st.markdown(f"Cut **{plan.safe_turns:g}** at first{whole}, then measure again:")
        _show(answer, seen, plan.change, units)


def ask_stretch(answer: Answer, seen: tuple[str, str], units: Units) -> None:
    """Draw the fields of a stretch, and what it does."""
    with st.container(horizontal=True):
        longer = length("Longer by (what stays)", "stretch_mm", units, 0.5)
        seat = length("Seats apart at rest (may stay empty)", "stretch_seat", units, 0.5)
    if longer is not None:
        _show(answer, seen, stretch(answer.draws, longer, _rng(), seat), units)


def _rng() -> np.random.Generator:
    return np.random.default_rng(SEED)


def _show(answer: Answer, seen: tuple[str, str], change: Change, units: Units) -> None:
    ratio = change.ratio
    st.markdown(
        f"Rate after: **{value_text(ratio)} times** today's ({band_text(ratio)}), "
        "whatever today's is."
    )
    rates = {"Now": change.before["rate_N_per_mm"], "After": change.after["rate_N_per_mm"]}
    rate_bars(rates, units, f"Rate now and after: {value_text(ratio)} times")
    now = form_of(answer, seen)
    length_mm, coils = (change.after[name].value for name in ("free_length_mm", "total_coils"))
    after = replace(
        now,
        length_mm=length_mm,
        coils=coils,
        ends=change.spring.ends,
        mean_mm=float(np.median(change.spring.mean_diameter_mm)),
        small_end_ratio=float(np.median(change.spring.small_end_ratio)),
    )
    said = f"The spring now and {change.title}, to scale"
    show_sheet(rows([Row("now", (now,)), Row("after", (after,))], said, WIDE_PT))
    labels = {**CHANGE_LABELS, "preload_N": "Preload on its seats, {force}"}
    before_after(change.before, change.after, labels, units)
    warn(change.cautions)
