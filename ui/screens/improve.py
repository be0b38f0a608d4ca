"""Improve the answer: add what else is known, one reading at a time."""

from collections.abc import Sequence

import streamlit as st

from mechanics.next_reading import rank_readings
from mechanics.readings import Coat, Pull, magnet_reading, rate_reading
from mechanics.slips import Reading
from ui.answer import Answer
from ui.evidence import KINDS, improved, load_test, pressed_coils
from ui.load_units import LOAD_UNITS
from ui.screens.entries import length, number
from ui.screens.result import rate_bars
from ui.units import Units
from ui.words import plain

_PRESSED, _MAGNET, _LOAD = "Coils pressed together", "Magnet", "Load test"


def improve(answer: Answer, base: Sequence[Reading], units: Units) -> Answer:
    """Draw the choice of further readings, and return the answer that they give.

    Parameters
    ----------
    answer : Answer
        So far.
    base : sequence of Reading
        What it rests on.
    units : Units
        To read in.
    """
    st.subheader("Improve it", anchor=False)
    _suggest(answer, base)
    labels = [kind.label for kind in KINDS.values()] + [_PRESSED, _MAGNET, _LOAD]
    chosen = st.pills(
        "What else can you tell?",
        labels,
        selection_mode="multi",
        key="more",
        bind="query-params",
    )
    if not chosen:
        return answer
    coat = Coat(
        st.selectbox("On the wire", [str(c) for c in Coat], key="coat", bind="query-params")
    )
    try:
        more = _readings(chosen, units)
        if not more:
            return answer
        better = improved(answer, base, more, coat)
    except ValueError as problem:
        st.error(plain(str(problem)))
        return answer
    _compare(answer, better, units)
    return better


def added() -> list[str]:
    """Return the labels of the readings that were added."""
    return list(st.session_state.get("more") or [])


def _suggest(answer: Answer, taken: Sequence[Reading]) -> None:
    """Draw the readings that would help most, with what each can be expected to bring."""
    best = rank_readings(answer.draws, taken=taken)[:3]
    lines = [f"- **{one.name}**: ±{one.now:.0%} → ±{one.after:.0%}, {one.how}" for one in best]
    st.markdown("What would narrow the band most:\n\n" + "\n".join(lines))


def _readings(chosen: Sequence[str], units: Units) -> list[Reading]:
    out = []
    for key, kind in KINDS.items():
        if kind.label in chosen:
            name, _, unit = kind.entry.partition(", ")
            in_mm = unit == "mm"
            value = (
                length(name, f"add_{key}", units, kind.step, "%.3f")
                if in_mm
                else number(kind.entry, f"add_{key}", kind.step)
            )
            if value is not None:
                out.append(kind.build(value, kind.u))
    if _PRESSED in chosen:
        with st.container(horizontal=True):
            over = length("Length over them", "add_pressed", units, 0.1)
            coils = number("Coils", "add_pressed_coils", 1.0)
        if over is not None and coils is not None:
            out.append(pressed_coils(over, round(coils)))
    if _MAGNET in chosen:
        pulls = [str(pull) for pull in Pull]
        pull = st.segmented_control(
            "The magnet's pull", pulls, key="add_magnet", bind="query-params"
        )
        if pull:
            out.append(magnet_reading(Pull(pull)))
    if _LOAD in chosen:
        out += _load_test()
    return out


def _load_test() -> list[Reading]:
    """Draw a few pairs of travel and force; the travel may be counted from any preload."""
    st.caption(
        "Press the spring to a few lengths and read the force. Guide it on a rod, keep your face "
        "away, and stop before the coils touch."
    )
    by = st.segmented_control(
        "Force in",
        ["N", "gf", "kgf", "lb"],
        default="gf",
        required=True,
        key="add_force_in",
        bind="query-params",
    )
    newton = {units.force: units.newton for units in LOAD_UNITS.values()}[by]
    empty: list[dict[str, float | None]] = [{"travel": None, "force": None}] * 3
    rows = st.data_editor(
        empty,
        column_config={
            "travel": st.column_config.NumberColumn("Travel, mm", min_value=0.0),
            "force": st.column_config.NumberColumn(f"Force, {by}", min_value=0.0),
        },
        num_rows="dynamic",
        key="add_load",
        hide_index=True,
    )
    pairs = [
        (float(row["travel"] or 0.0), float(row["force"] or 0.0))
        for row in rows
        if row.get("travel") is not None and row.get("force") is not None
    ]
    if len(pairs) < 2:
        return []
    travel, force = zip(*pairs, strict=True)
    fit = load_test(travel, [f * newton for f in force])
    for note in fit.notes:
        st.caption(note)
    return [rate_reading(fit, "load test")]


def _compare(before: Answer, after: Answer, units: Units) -> None:
    for note in after.notes:
        st.warning(note)
    rates = {"Before": before.told["rate_N_per_mm"], "With it": after.told["rate_N_per_mm"]}
    width = {name: (q.high - q.low) / (2.0 * q.value) for name, q in rates.items()}
    went = f"±{width['Before']:.0%} to ±{width['With it']:.0%}"
    rate_bars(rates, units, f"Rate's band before and after: {went}")
    st.caption(f"The band went from {went}.")
