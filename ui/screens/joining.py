"""What if another spring comes into play: swapped in, on top, inside, or as a mate."""

import math
from dataclasses import dataclass, replace

import numpy as np
import streamlit as st

from mechanics.corner import swap
from mechanics.draws import SpringDraws
from mechanics.ends import Ends
from mechanics.install import Pair, in_line, nested, share_load
from mechanics.pairs import compare
from mechanics.uncertainty import Quantity
from ui.answer import SEED, Answer
from ui.collection.record import Spring
from ui.drafting.of_answer import form_of, form_of_kept
from ui.drafting.rows import Row, rows
from ui.drafting.wire import Form
from ui.figures import band_text, value_text
from ui.kept import apart, draws_of_kept
from ui.quantities import scaled
from ui.screens.entries import force, number
from ui.screens.keep import chance_text, collection
from ui.screens.placing import ask_corner, show_corner
from ui.screens.plan import WIDE_PT, show_sheet
from ui.screens.result import rate_bars, table, warn
from ui.units import Units
from ui.words import literal

#: Kept springs, nearest in rate, that are looked at as mates.
MOST_MATES = 5
_ALIKE = "another one like it"


@dataclass(frozen=True, slots=True)
class Other:
    """The other spring: its name, its draws, its shape."""

    name: str
    draws: SpringDraws
    form: Form


def ask_swap(answer: Answer, seen: tuple[str, str], units: Units) -> None:
    """Draw the choice of another spring and a corner, and what the swap does."""
    other = _ask_other(answer, seen, alike=False)
    if other is None:
        return
    corner = ask_corner(units)
    if corner is None:
        return
    out = swap(answer.draws, other.draws, corner, _rng())
    st.markdown(_collar_words(units.length_of(out.collar_mm), units.length))
    ratio = out.rate_ratio
    st.markdown(f"Its rate there: **{value_text(ratio)} times** the old ({band_text(ratio)}).")
    _rate_chart({"This one": answer.draws, other.name: other.draws}, units)
    show_corner(out.before, out.after, units, ("now", "swapped"))
    warn((*out.after.cautions, *out.before.cautions))


def _collar_words(move: Quantity, unit: str) -> str:
    """Return how to move the collar for the same ride height; in presses the spring more."""
    if move.low < 0.0 < move.high:
        away, more = (
            value_text(replace(move, value=-move.low)),
            value_text(replace(move, value=move.high)),
        )
        return (
            "For the same ride height leave the collar about where it is: it may need to move "
            f"**{away} {unit} out** to **{more} {unit} in**."
        )
    way = "in" if move.value > 0.0 else "out"
    near, far = sorted((abs(move.low), abs(move.high)))
    size = Quantity(abs(move.value), move.u, near, far)
    return (
        f"For the same ride height move the collar **{value_text(size)} {unit} {way}** "
        f"({band_text(size)})."
    )


def ask_in_line(answer: Answer, seen: tuple[str, str], units: Units) -> None:
    """Draw the choice of another spring, and the two one on top of the other."""
    other = _ask_other(answer, seen)
    if other is None:
        return
    pair = in_line(answer.draws, other.draws, _rng())
    own = form_of(answer, seen)
    together = Row("in line", (own, other.form))
    said = "The spring alone and with the other one in line, to scale"
    show_sheet(rows([Row("now", (own,)), together], said, WIDE_PT))
    _show_pair(pair, other.name, units)
    _tell_change(pair, units, ("Rate once one is solid, {rate}", "Solid at, {force}"), "Solid")
    warn(pair.cautions)


def ask_nested(answer: Answer, seen: tuple[str, str], units: Units) -> None:
    """Draw the choice of another spring, and the two on the same seats."""
    other = _ask_other(answer, seen)
    if other is None:
        return
    load = force("Load on both (may stay empty)", "nested_load", units)
    pair = nested(answer.draws, other.draws)
    _show_pair(pair, other.name, units)
    # Equally long, they bear together from the start.
    if pair.change_mm.value > 0.0:
        words = ("Rate until both bear, {rate}", "Both bear from, {force}")
        _tell_change(pair, units, words, "Both bear")
    if load is not None:
        _tell_share(answer, other, load, units)
    warn(pair.cautions)


def _tell_share(answer: Answer, other: Other, load: float, units: Units) -> None:
    """Draw how nested springs share a load [N]."""
    shared = share_load(answer.draws, other.draws, load)
    names = ("This one bears, {force}", "The other bears, {force}")
    ways = ("This one is pressed, {length}", "The other is pressed, {length}")
    forces = [
        (n, scaled(q, 1.0 / units.load.newton)) for n, q in zip(names, shared[:2], strict=True)
    ]
    lengths = [(n, units.length_of(q)) for n, q in zip(ways, shared[2:], strict=True)]
    table([(units.named(n), q) for n, q in (*forces, *lengths)], head="")


def ask_pair(answer: Answer, seen: tuple[str, str], units: Units) -> None:
    """Tell which kept springs are likely to make a pair with this one."""
    within = number("Rates alike within, %", "pair_within", 1.0, "%.0f", 5.0) or 5.0
    same = st.checkbox("Wound from one wire", key="pair_same", bind="query-params")
    kept = _nearest(answer)
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


def _ask_other(answer: Answer, seen: tuple[str, str], alike: bool = True) -> Other | None:
    """Draw the choice of the other spring among those that go between seats."""
    kept: dict[str, Spring] = {}
    for spring in _nearest(answer):
        if spring.ends != Ends.HOOKS:
            name, count = spring.name, 2
            while name in kept:
                name, count = f"{spring.name} ({count})", count + 1
            kept[name] = spring
    options = ([_ALIKE] if alike else []) + list(kept)
    if not options:
        st.info("Nothing is kept yet to swap it for: keep another spring first.")
        return None
    chosen = st.selectbox("The other spring", options, key="other", bind="query-params")
    if chosen == _ALIKE or chosen not in kept:
        # One more of the kind shares all that is doubtful about it.
        return Other("Other", answer.draws, form_of(answer, seen)) if alike else None
    spring = kept[chosen]
    return Other(chosen, apart(draws_of_kept(spring)), form_of_kept(spring))


def _nearest(answer: Answer) -> list[Spring]:
    """Return the kept springs that are not wound up, nearest in rate first."""
    rate = answer.told["rate_N_per_mm"].value
    springs = [one.spring for one in collection().find() if not one.spring.is_torsion]
    return sorted(springs, key=lambda spring: abs(math.log(spring.rate / rate)))


def _show_pair(pair: Pair, name: str, units: Units) -> None:
    """Draw the rate of both together beside that of each."""
    rates = {"This one": pair.alone[0], name: pair.alone[1], "Together": pair.rate_N_per_mm}
    together = units.rate_of(pair.rate_N_per_mm)
    st.markdown(f"Together: **{value_text(together)} {units.rate}** ({band_text(together)}).")
    rate_bars(rates, units, f"Rates of this spring, of {name} and of both together")


def _tell_change(pair: Pair, units: Units, words: tuple[str, str], when: str) -> None:
    """Draw where one rate gives way to the other."""
    after = f"{when} after, {units.length}"
    told = [
        (units.named(words[0]), units.rate_of(pair.later_rate_N_per_mm)),
        (units.named(words[1]), scaled(pair.change_N, 1.0 / units.load.newton)),
        (after, units.length_of(pair.change_mm)),
    ]
    table(told, head="")


def _rate_chart(springs: dict[str, SpringDraws], units: Units) -> None:
    rates = {name: Quantity.from_draws(one.rate_N_per_mm) for name, one in springs.items()}
    rate_bars(rates, units, "Rates: " + ", ".join(rates))


def _rng() -> np.random.Generator:
    return np.random.default_rng(SEED)
