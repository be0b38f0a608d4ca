"""Which spring of many is this one? Odds from all dimensions and the rate, and "none of these".

Everything is compared in logarithms, where errors of scale add. A candidate's likelihood is the
chance of the difference under the errors of both; that of "none of these" is the density of
springs at large, so that a poor best match does not win for want of a better one.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from mechanics.rectangular import torsion_constant
from ui.collection.record import Spring

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class AtLarge:
    """Springs of the trade at large, in logarithms: a judgement, no source.

    Attributes
    ----------
    middle, spread : ndarray, shape (5,)
        Of wire [mm], index, turns, length over turns of touching wire, and rate over what wire
        and coil give at the usual modulus.
    to_shape : ndarray, shape (5, 5)
        From logarithms of (d, D, n, L, R) to those five; its determinant is 1.
    shift : float
        Added to the last: the formula's constant with the usual modulus.
    """

    middle: Array
    spread: Array
    to_shape: Array
    shift: float


def _at_large(middle: list[float], spread: list[float], rate: list[int], per: float) -> AtLarge:
    rows = [[1, 0, 0, 0, 0], [-1, 1, 0, 0, 0], [0, 0, 1, 0, 0], [-1, 0, -1, 1, 0], rate]
    return AtLarge(np.log(middle), np.array(spread), np.array(rows, float), -math.log(per))


#: Pressed or pulled: G d^4 / (8 D^3 n) at 80 GPa.
_STRAIGHT = _at_large(
    [1.2, 8.0, 9.0, 2.6, 1.1], [0.6, 0.35, 0.5, 0.4, 0.25], [-4, 3, 1, 0, 1], 80_000.0 / 8.0
)
#: Wound up: E d^4 / (10.8 D n) a turn at 206 GPa, in degrees; legs bend too, coils touch.
_TURNING = _at_large(
    [1.2, 8.0, 5.0, 1.2, 0.95],
    [0.6, 0.35, 0.6, 0.15, 0.2],
    [-4, 1, 1, 0, 1],
    206_000.0 / 10.8 / 360.0,
)
#: Two readings of one spring differ at least by this: what no band holds (a judgement) [-].
_LEAST_U = 0.002
#: Odds below which two candidates are called one [-].
TWIN_ODDS = 3.0
#: Chance that hand or kind was told wrong or noted wrong (a judgement) [-].
_MISREAD = 0.03


@dataclass(frozen=True, slots=True)
class Match:
    """One candidate, or several that cannot be told apart.

    Attributes
    ----------
    keys : tuple of str
        The candidates; more than one where they are twins.
    chance : float
        That it is one of them [-].
    """

    keys: tuple[str, ...]
    chance: float


@dataclass(frozen=True, slots=True)
class Matches:
    """The candidates that matter, likeliest first, and the chance that it is none of all."""

    matches: tuple[Match, ...]
    none_of_these: float


def match(
    spring: Spring, candidates: Mapping[str, Spring], prior_none: float = 0.5, least: float = 0.01
) -> Matches:
    """Return which candidate a spring is likely to be.

    Parameters
    ----------
    spring : Spring
        As measured.
    candidates : mapping of str to Spring
        By their keys.
    prior_none : float
        Chance, before looking, that it is none of them [-].
    least : float
        Candidates with less chance are left out [-].
    """
    if not candidates:
        return Matches((), 1.0)
    keys = list(candidates)
    share = np.log((1.0 - prior_none) / len(keys))
    scores = np.array([share + _log_likelihood(spring, candidates[key]) for key in keys])
    none = np.log(prior_none) + _log_at_large(spring)
    top = max(float(scores.max()), none)
    weights, other = np.exp(scores - top), float(np.exp(none - top))
    chances = weights / (weights.sum() + other)
    groups = _twins(spring, [keys[k] for k in np.argsort(-chances)], candidates)
    chance = dict(zip(keys, chances, strict=True))
    found = [Match(group, float(sum(chance[key] for key in group))) for group in groups]
    kept = tuple(sorted((m for m in found if m.chance >= least), key=lambda m: -m.chance))
    return Matches(kept, float(other / (weights.sum() + other)))


def _log_likelihood(spring: Spring, other: Spring) -> float:
    if spring.is_torsion != other.is_torsion:
        return -math.inf  # their rates are not of one kind
    x, u = _logarithms(spring)
    y, v = _logarithms(other)
    return _log_normal(x - y, u + v) + _log_words(spring, other) + _log_across(spring, other)


def _log_at_large(spring: Spring) -> float:
    x, u = _logarithms(spring)
    if spring.is_flat:
        # Springs at large are of round wire: that of the same rate, coil and turns stands for it.
        constant = float(torsion_constant(spring.wire_mm, spring.wire_width_mm))
        x[0] = 0.25 * math.log(32.0 * constant / math.pi)
    usual = _TURNING if spring.is_torsion else _STRAIGHT
    shape = usual.to_shape @ x
    shape[4] += usual.shift
    # Half of all springs at large would have the hand that this one has.
    spread = np.diag(usual.spread**2) + usual.to_shape @ u @ usual.to_shape.T
    return _log_normal(shape - usual.middle, spread) + math.log(0.5)


def _log_words(one: Spring, other: Spring) -> float:
    total = 0.0
    for a, b in ((one.hand, other.hand), (one.kind, other.kind)):
        if "unknown" in (a, b):
            total += np.log(0.5)
        else:
            total += np.log(1.0 - _MISREAD if a == b else _MISREAD)
    return float(total)


def _log_across(one: Spring, other: Spring) -> float:
    """Return what the sides across the axis say; a round wire is as wide as it is high."""
    if not (one.is_flat or other.is_flat):
        return 0.0
    if one.is_flat != other.is_flat:
        return math.log(_MISREAD)
    a, b = one.wire_width_mm, other.wire_width_mm
    u = math.hypot(one.u_wire_width_mm / a, other.u_wire_width_mm / b, _LEAST_U)
    apart = np.array([math.log(a / b)])
    # Against sides at large, which spread by half of themselves (a judgement).
    wide = np.array([[u**2 + 0.5**2]])
    return _log_normal(apart, np.array([[u**2]])) - _log_normal(np.zeros(1), wide)


def _logarithms(spring: Spring) -> tuple[Array, Array]:
    """Return logarithms of the values, shape (5,), and their covariance (5, 5)."""
    values = np.array(spring.values)
    relative = np.array(spring.covariance) / np.outer(values, values)
    return np.log(values), relative + _LEAST_U**2 * np.eye(len(values))


def _log_normal(difference: Array, covariance: Array) -> float:
    _, log_det = np.linalg.slogdet(2.0 * np.pi * covariance)
    squared = float(difference @ np.linalg.solve(covariance, difference))
    return -0.5 * (squared + float(log_det))


def _twins(
    spring: Spring, order: Sequence[str], candidates: Mapping[str, Spring]
) -> list[tuple[str, ...]]:
    """Group candidates that the measured spring's errors cannot tell apart, likeliest first."""
    groups: list[list[str]] = []
    for key in order:
        for group in groups:
            if _alike(spring, candidates[group[0]], candidates[key]):
                group.append(key)
                break
        else:
            groups.append([key])
    return [tuple(group) for group in groups]


def _alike(spring: Spring, one: Spring, other: Spring) -> bool:
    """Tell whether noise, not the springs, would decide between two candidates."""
    if _log_words(spring, one) != _log_words(spring, other):
        return False
    if abs(_log_across(spring, one) - _log_across(spring, other)) > math.log(TWIN_ODDS):
        return False
    x, u = _logarithms(one)
    y, v = _logarithms(other)
    covariance = _logarithms(spring)[1] + (u + v) / 2.0
    apart = float((x - y) @ np.linalg.solve(covariance, x - y))
    # If the measured one is the first, the mean of the log-odds against the second is half of it.
    return apart / 2.0 < math.log(TWIN_ODDS)
