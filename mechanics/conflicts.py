"""Readings that contradict the rest are named with the likely slip, never averaged in silently.

Every reading is compared with what the others expect of it. If one stands out, each usual slip of
each suspect is tried as a hypothesis; their posterior odds decide. Where a slip is as good as
certain the reading is mended or set aside; where it is not, the band covers the possibilities.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from mechanics.evidence import (
    Case,
    Component,
    Mixture,
    draw_posterior,
    require_known_rate,
    solve,
    weights,
)
from mechanics.inference import linearise
from mechanics.materials import MATERIALS, Material
from mechanics.slips import Reading, Slip

Array = NDArray[np.float64]

#: Chance of so large a difference below which a reading is questioned, and below which it is a
#: suspect once another is.
_QUESTIONED = 0.005
_SUSPECT = 0.05
#: Odds that any one reading, or the material's name, is a slip. A judgement, no source.
_SLIP_ODDS = 0.05
#: Posterior odds beyond which a slip is taken as found.
_FOUND = 0.90
_MOST_SLIPS = 3
#: Other alloys tried, by how common they are among small springs (a judgement, no source).
_ALLOYS = {
    "music wire": 0.6,
    "302 stainless": 0.6,
    "phosphor bronze": 0.2,
    "spring brass": 0.12,
    "beryllium copper": 0.08,
}


@dataclass(frozen=True, slots=True)
class Conflict:
    """A reading that does not agree with the rest.

    Attributes
    ----------
    reading : str
        Which.
    deviation : float
        Difference from what the rest expects, in standard uncertainties of that difference [-].
    slip : str
        The likeliest explanation.
    chance : float
        Its probability [-].
    outcome : str
        What became of the reading: mended, set aside, kept, or left open.
    sentence : str
        All of it in plain words.
    """

    reading: str
    deviation: float
    slip: str
    chance: float
    outcome: str
    sentence: str


@dataclass(frozen=True, slots=True)
class Posterior:
    """What all evidence together says.

    Attributes
    ----------
    mixture : Mixture
        Draws, rate and odds of the families.
    conflicts : tuple of Conflict
        Readings that contradict the rest, none if all agree.
    components : tuple of Component
        Parts of the posterior, best first.
    """

    mixture: Mixture
    conflicts: tuple[Conflict, ...]
    components: tuple[Component, ...]


@dataclass(frozen=True, slots=True)
class _Hypothesis:
    """One understanding of the evidence: which reading slipped, and how (None: nothing did)."""

    slipped: int | None
    slip: str
    mends: bool
    log_odds: float
    readings: tuple[Reading, ...]
    case: Case


def reconcile(
    readings: Sequence[Reading], case: Case, rng: np.random.Generator, size: int = 20_000
) -> Posterior:
    """Return one posterior from all readings, with those that contradict the rest named.

    Parameters
    ----------
    readings : sequence of Reading
        Evidence in any order.
    case : Case
        What is stated.
    rng : numpy.random.Generator
        Source of the draws.
    size : int
        Draws [-].

    Raises
    ------
    ValueError
        If there are no readings or the rate stays open; the message names what is missing.
    """
    if not readings:
        raise ValueError("readings are empty: give at least the wire, a diameter and the turns")
    now, conflicts = tuple(readings), []
    components = solve(now, case)
    for _ in range(_MOST_SLIPS):
        if not _questioned(components):
            break
        tried = [(h, solve(h.readings, h.case)) for h in _hypotheses(components)]
        chances = _chances(tried)
        best = int(np.argmax(chances))
        found = _decide(components, tried, chances)
        conflicts += found
        hypothesis = tried[best][0]
        if hypothesis.slip and chances[best] > _FOUND:
            now, case = _resolved(now, hypothesis)
            components = solve(now, case)
            continue
        components = _open(now, tried, chances)
        break
    try:
        require_known_rate(components)
    except ValueError as open_rate:
        said = " ".join(one.sentence for one in conflicts)
        raise ValueError(f"{said} {open_rate}".strip()) from None
    order = sorted(components, key=lambda one: -one.log_weight)
    return Posterior(draw_posterior(order, rng, size), tuple(conflicts), tuple(order))


def deviations(component: Component) -> tuple[Array, Array]:
    """Return each reading's distance from what the others expect, and the chance of so much.

    The others' expectation follows from the leverage h of each reading at the peak: a residual
    r seen with the reading in is r/(1 - h) without it, and its u is 1/sqrt(1 - h).

    Parameters
    ----------
    component : Component
        With its readings.

    Returns
    -------
    distance, chance : ndarray, shape (readings,)
        In standard uncertainties of the difference [-], and chi-squared's tail [-].
    """
    r, J = linearise(component.residuals, component.peak.z)
    distance, chance, at = [], [], 0
    for reading in component.readings:
        k = reading.values.size
        if k == 0:
            family = component.family
            likely = reading.family_chance(family) if reading.family_chance else 1.0
            distance.append(float(stats.norm.isf(0.5 * likely)))
            chance.append(likely)
            continue
        mine = slice(at, at + k)
        left = np.eye(k) - J[mine] @ component.peak.covariance @ J[mine].T
        chi2 = float(r[mine] @ np.linalg.solve(left + 1e-9 * np.eye(k), r[mine]))
        distance.append(chi2**0.5)
        chance.append(float(stats.chi2.sf(chi2, k)))
        at += k
    return np.array(distance), np.array(chance)


def _questioned(components: Sequence[Component]) -> bool:
    """Return whether any reading stands out under every likely family."""
    share = weights(components)
    pooled = sum(w * deviations(c)[1] for c, w in zip(components, share, strict=True) if w > 1e-3)
    return bool(np.any(pooled < _QUESTIONED * np.array(_widths(components[0]))))


def _widths(component: Component) -> list[float]:
    # A magnet's verdict has no spread: it is questioned where its chance is below one in twenty.
    return [1.0 if one.values.size else 10.0 for one in component.readings]


def _hypotheses(components: Sequence[Component]) -> list[_Hypothesis]:
    best = max(components, key=lambda one: one.log_weight)
    now, case = best.readings, best.case
    _, chance = deviations(best)
    out = [_Hypothesis(None, "", False, 0.0, now, case)]
    for i, reading in enumerate(now):
        if chance[i] > _SUSPECT or not reading.slips:
            continue
        odds = math.log(_SLIP_ODDS / len(reading.slips))
        for slip in reading.slips:
            understood = (*now[:i], reading.with_slip(slip), *now[i + 1 :])
            out.append(_Hypothesis(i, slip.name, slip.mends, odds, understood, case))
    others = _other_alloys(case.material)
    common = sum(_ALLOYS[one.name] for one in others)
    for material in others:
        odds = math.log(_SLIP_ODDS * _ALLOYS[material.name] / common)
        named = f"the wire is {material.name}, or one like it"
        out.append(_Hypothesis(None, named, True, odds, now, replace(case, material=material)))
    return out


def _other_alloys(material: Material) -> list[Material]:
    mine = [family.shear_modulus_GPa for family in material.families]
    singles = [one for one in MATERIALS if one.name in _ALLOYS]
    return [
        one for one in singles if all(abs(one.shear_modulus_GPa / G - 1.0) > 0.05 for G in mine)
    ]


_Tried = Sequence[tuple[_Hypothesis, tuple[Component, ...]]]


def _chances(tried: _Tried) -> Array:
    log = []
    for hypothesis, components in tried:
        values = np.array([one.log_weight for one in components])
        log.append(hypothesis.log_odds + float(np.logaddexp.reduce(values)))
    share = np.exp(np.array(log) - max(log))
    return np.asarray(share / share.sum())


def _resolved(now: tuple[Reading, ...], found: _Hypothesis) -> tuple[tuple[Reading, ...], Case]:
    """Return the evidence once a slip counts as found: mended, or without the reading."""
    if found.slipped is None or found.mends:
        return found.readings, found.case
    i = found.slipped
    return (*now[:i], *now[i + 1 :]), found.case


def _open(now: tuple[Reading, ...], tried: _Tried, chances: Array) -> tuple[Component, ...]:
    """Return the components of every understanding that stays possible, weighted by its odds."""
    out: list[Component] = []
    for (hypothesis, _), chance in zip(tried, chances, strict=True):
        if chance < 0.01:
            continue
        components = solve(*_resolved(now, hypothesis))
        share = weights(components)
        out += [
            replace(c, log_weight=math.log(chance) + math.log(max(w, 1e-300)))
            for c, w in zip(components, share, strict=True)
        ]
    return tuple(out)


def _decide(components: Sequence[Component], tried: _Tried, chances: Array) -> list[Conflict]:
    """Return what to say: each reading whose slip is possible, or else the one that stands out."""
    best = max(components, key=lambda one: one.log_weight)
    distance, chance = deviations(best)
    groups: dict[int | None, list[int]] = {}
    for k, (hypothesis, _) in enumerate(tried):
        if hypothesis.slip:
            groups.setdefault(hypothesis.slipped, []).append(k)
    said = []
    for slipped, members in groups.items():
        total = float(chances[members].sum())
        if total < 0.10:
            continue
        top = max(members, key=lambda k: chances[k])
        hypothesis = tried[top][0]
        found = chances[top] > _FOUND
        outcome = "left open"
        if found:
            outcome = "mended" if hypothesis.mends else "set aside"
        if slipped is None:
            said.append(_alloy_conflict(best.case, hypothesis, float(chances[top]), found))
        else:
            reading = best.readings[slipped]
            said.append(
                _conflict(
                    reading, float(distance[slipped]), hypothesis, float(chances[top]), outcome
                )
            )
    if not said:
        i = int(np.argmin(chance))
        kept = _Hypothesis(i, "no usual slip explains it", False, 0.0, (), best.case)
        said.append(
            _conflict(best.readings[i], float(distance[i]), kept, float(chances[0]), "kept")
        )
    return said


_ACTIONS = {
    "mended": "it was used as that",
    "set aside": "it was not used",
    "left open": "the band covers both; read it again",
    "kept": "it was kept; read it again",
}


def _conflict(
    reading: Reading, distance: float, found: _Hypothesis, chance: float, outcome: str
) -> Conflict:
    shown = ", ".join(f"{value:.4g}" for value in reading.values)
    sentence = (
        f"{reading.name.capitalize()} ({shown} {reading.unit}) contradicts the rest by "
        f"{distance:.1f} standard uncertainties. Likely slip: {found.slip} "
        f"(chance {min(chance, 0.99):.0%}); {_ACTIONS[outcome]}."
    )
    return Conflict(reading.name, distance, found.slip, chance, outcome, sentence)


def _alloy_conflict(case: Case, found: _Hypothesis, chance: float, sure: bool) -> Conflict:
    outcome = "mended" if sure else "left open"
    sentence = (
        f"The readings do not go with {case.material.name}. Likely slip: {found.slip} "
        f"(chance {min(chance, 0.99):.0%}); {_ACTIONS[outcome]}."
    )
    return Conflict("material", math.nan, found.slip, chance, outcome, sentence)


__all__ = ["Conflict", "Posterior", "Slip", "deviations", "reconcile"]
