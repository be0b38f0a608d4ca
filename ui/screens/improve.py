"""Improve the answer: add what else is known, one reading at a time."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import streamlit as st

from mechanics.bench import Gauge
from mechanics.ends import Ends
from mechanics.next_reading import rank_readings
from mechanics.readings import Coat
from mechanics.slips import Reading
from mechanics.whole_readings import Pull, magnet_reading, photo_reading, rate_reading
from ui.answer import Answer
from ui.evidence import KINDS, Kind, improved, kinds_of, load_test, pressed_coils
from ui.load_units import LOAD_UNITS
from ui.screens.entries import length, number, pick
from ui.screens.result import rate_bars
from ui.units import Units
from ui.words import plain

if TYPE_CHECKING:
    from ui.joined import Photos

_PRESSED, _MAGNET, _LOAD = "Coils pressed together", "Magnet", "Load test"
_PHOTO = "Another photo"
_OFF = "Off by about"


@dataclass(frozen=True, slots=True)
class Before:
    """What an answer from photos rests on.

    Attributes
    ----------
    photos : Photos
        All that are there.
    alone : Answer or None
        What the first of them says alone, where the answer is that of several.
    """

    photos: "Photos"
    alone: Answer | None


def improve(
    answer: Answer, base: Sequence[Reading], units: Units, before: Before | None = None
) -> tuple[Answer, tuple[str, ...]]:
    """Draw the choice of further readings; return the answer that they give, and their labels.

    Parameters
    ----------
    answer : Answer
        So far.
    base : sequence of Reading
        What it rests on.
    units : Units
        To read in.
    before : Before or None
        The photos that the answer rests on; None where it rests on none.
    """
    st.subheader("Improve it", anchor=False)
    advice = st.container()
    labels = [kind.label for kind in _kinds(answer).values()] + [_PRESSED, _MAGNET, _LOAD, _PHOTO]
    chosen = st.pills(
        "What else can you tell?",
        labels,
        selection_mode="multi",
        key="more",
        bind="query-params",
    )
    better, more = answer, _ask(chosen, answer, units)
    fused = before is not None and before.alone is not None
    if _PHOTO in chosen or (before is not None and before.photos.further):
        more += _further(before, units)
    readings = [reading for _, reading in more]
    if more:
        # Whoever measured paint has none on a bare wire.
        painted = KINDS["paint"].label in chosen
        coats = [str(c) for c in Coat if not (painted and c is Coat.BARE)]
        coat = Coat(st.selectbox("On the wire", coats, key="coat", bind="query-params"))
        try:
            better = improved(answer, base, readings, coat)
        except ValueError as problem:
            st.error(plain(str(problem)))
            readings, more = [], []
    with advice:
        _suggest(better, [*base, *readings, *_of_each(before)])
    if more or fused:
        _compare((before and before.alone) or answer, better, units)
    return better, tuple(label for label, _ in more) + ((_PHOTO,) if fused else ())


def _further(before: Before | None, units: Units) -> list[tuple[str, Reading]]:
    """Draw further photos; return what they read where the answer rests on none yet."""
    # Who improves by caliper alone waits for no seeing.
    from ui.screens.another_photo import ask_photos, photos_of_it

    photos = photos_of_it(None, "auto") if before is None else before.photos
    ask_photos(photos, units)
    if before is not None or photos.seen is None:
        return []
    return [(_PHOTO, photo_reading(photos.seen.geometry))]


def _of_each(before: Before | None) -> list[Reading]:
    """Return a reading for each photo beyond the first, that one more may promise less."""
    measured = () if before is None else before.photos.measured
    return [photo_reading(seen.geometry) for _, seen in measured[1:]]


def _suggest(answer: Answer, taken: Sequence[Reading]) -> None:
    """Draw the readings that would help most, with what each can be expected to bring."""
    best = rank_readings(answer.draws, taken=taken)[:3]
    lines = [
        f"- **{one.name}**: {_either_way(one.now)} → {_either_way(one.after)}, {one.how}, "
        f"some {one.minutes:g} min"
        for one in best
    ]
    st.markdown("What would narrow the band most:\n\n" + "\n".join(lines))


def _ask(chosen: Sequence[str], answer: Answer, units: Units) -> list[tuple[str, Reading]]:
    """Draw the fields of what was chosen, and return what was typed, each with its label."""
    try:
        return _readings(chosen, answer, units)
    except ValueError as problem:
        st.error(plain(str(problem)))
        return []


def _readings(chosen: Sequence[str], answer: Answer, units: Units) -> list[tuple[str, Reading]]:
    out: list[tuple[str, Reading]] = []
    for key, kind in _kinds(answer).items():
        if kind.label in chosen:
            out += [(kind.label, one) for one in _one(key, kind, units)]
    if _PRESSED in chosen:
        with st.container(horizontal=True, vertical_alignment="bottom"):
            over = length("Length over them", "add_pressed", units, 0.1)
            coils = number("Coils", "add_pressed_coils", 1.0)
        if over is not None and coils is not None:
            out.append((_PRESSED, pressed_coils(over, round(coils))))
    if _MAGNET in chosen:
        pulls = [str(pull) for pull in Pull]
        pull = st.segmented_control(
            "The magnet's pull", pulls, key="add_magnet", bind="query-params"
        )
        if pull:
            out.append((_MAGNET, magnet_reading(Pull(pull))))
    if _LOAD in chosen:
        out += [(_LOAD, one) for one in _load_test(answer, units)]
    return out


def _one(key: str, kind: Kind, units: Units) -> list[Reading]:
    """Draw the fields of one reading and of how far it may be off; none until it is typed."""
    name, _, unit = kind.entry.partition(", ")
    # A scale's last digit, a caliper's: steps that a person can mean.
    form = f"%.{max(2, -math.floor(math.log10(kind.u)))}f"
    with st.container(horizontal=True, vertical_alignment="bottom"):
        if unit == "mm":
            value = length(name, f"add_{key}", units, kind.step, "%.3f")
            u = length(_OFF, f"off_{key}", units, kind.u, form, kind.u)
        else:
            value = number(kind.entry, f"add_{key}", kind.step)
            u = number(
                f"{_OFF}, {unit}" if unit == "g" else _OFF, f"off_{key}", kind.u, form, kind.u
            )
    return [] if value is None else [kind.build(value, u or kind.u)]


def _kinds(answer: Answer) -> Mapping[str, Kind]:
    return kinds_of("wire_width_mm" in answer.told)


def _load_test(answer: Answer, units: Units) -> list[Reading]:
    """Draw a few pairs of travel and force; the travel may be counted from any preload."""
    st.caption(
        "Press the spring to a few lengths and read the force. Guide it on a rod, keep your face "
        "away, and stop before the coils touch."
    )
    by = pick("Force in", ["gf", "N", "kgf", "lb"], "add_force_in", hidden=False)
    newton = {one.force: one.newton for one in LOAD_UNITS.values()}[by]
    empty: list[dict[str, float | None]] = [{"travel": None, "force": None}] * 3
    rows = st.data_editor(
        empty,
        column_config={
            "travel": st.column_config.NumberColumn(f"Travel, {units.length}", min_value=0.0),
            "force": st.column_config.NumberColumn(f"Force, {by}", min_value=0.0),
        },
        num_rows="dynamic",
        key=f"add_load_{units.length}",
        hide_index=True,
    )
    gauge, to_solid = _gauge(by, newton), _to_solid(answer)
    pairs = [
        (float(row["travel"] or 0.0) * units.mm, float(row["force"] or 0.0) * newton)
        for row in rows
        if row.get("travel") is not None and row.get("force") is not None
    ]
    if len(pairs) < 2:
        return []
    travel, force = zip(*pairs, strict=True)
    fit = load_test(travel, force, gauge, to_solid)
    for note in fit.notes:
        st.caption(note)
    return [rate_reading(fit, "load test")]


def _gauge(by: str, newton: float) -> Gauge:
    """Draw what the gauge can show; the usual one where that stays empty."""
    with st.container(horizontal=True, vertical_alignment="bottom"):
        step = number(f"Its smallest step, {by}", f"gauge_step_{by}", 1.0, "%.4g")
        limit = number(f"Its upper limit, {by}", f"gauge_limit_{by}", 1.0, "%.4g")
    usual = Gauge()
    return Gauge(
        usual.force_step_N if step is None else step * newton,
        upper_limit_N=None if limit is None else limit * newton,
    )


def _to_solid(answer: Answer) -> float | None:
    """Draw whether the travel counts from free; if so return that to solid, None if not [mm]."""
    told = answer.told
    if answer.draws.ends is Ends.HOOKS or "free_length_mm" not in told:
        return None
    if not st.checkbox(
        "Travel counted from its free length", key="add_load_free", bind="query-params"
    ):
        return None
    return max(told["free_length_mm"].value - told["solid_length_mm"].value, 0.0) or None


def _compare(before: Answer, after: Answer, units: Units) -> None:
    for note in after.notes:
        st.warning(note)
    rates = {"Before": before.told["rate_N_per_mm"], "With it": after.told["rate_N_per_mm"]}
    width = {name: (q.high - q.low) / (2.0 * q.value) for name, q in rates.items()}
    went = f"{_either_way(width['Before'])} to {_either_way(width['With it'])}"
    rate_bars(rates, units, f"Rate's band before and after: {went}")
    st.caption(f"The band went from {went}.")


def _either_way(share: float) -> str:
    """Return a half-width [-] in percent, in one piece where lines are broken."""
    return f"±{100.0 * share:.0f}\N{NO-BREAK SPACE}%"
