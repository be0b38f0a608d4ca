"""Are two springs a match: the chance that their rates differ by less than so much.

Springs of one wire share their shear modulus whatever it is, so most of its doubt cancels between
them. Draws of two separate posteriors are paired and weighted by how well their moduli agree.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from mechanics.check import require_positive
from mechanics.draws import SpringDraws
from mechanics.materials import MATERIALS
from mechanics.uncertainty import Quantity

Array = NDArray[np.float64]

#: Spread of the modulus within one coil of wire, relative: a judgement, no source.
_SAME_WIRE_U = 0.003
_PAIRINGS = 40


@dataclass(frozen=True, slots=True)
class Match:
    """How alike two springs are.

    Attributes
    ----------
    within_percent : float
        Difference of rate that counts as alike [%].
    chance : float
        That they differ by less [-].
    ratio : Quantity
        Second rate over first [-].
    sentence : str
        In plain words.
    """

    within_percent: float
    chance: float
    ratio: Quantity
    sentence: str


def compare(
    first: SpringDraws,
    second: SpringDraws,
    within_percent: float,
    rng: np.random.Generator,
    same_wire: bool = False,
) -> Match:
    """Return the chance that two springs' rates differ by less than a percentage.

    Parameters
    ----------
    first, second : SpringDraws
        Each from its own evidence: photo, caliper, bench, or all.
    within_percent : float
        Difference of rate that counts as alike [%].
    rng : numpy.random.Generator
        Source of the pairing.
    same_wire : bool
        Both are wound from one wire: a set, or two of one bag [-].

    Raises
    ------
    ValueError
        If the percentage is not positive, or same wire is claimed for different materials.
    """
    require_positive(within_percent=within_percent)
    log_ratio = _log_ratios(first, second, rng, same_wire)
    ratio = Quantity.from_draws(np.exp(log_ratio))
    limit = np.log1p(within_percent / 100.0)
    chance = float(np.mean(np.abs(log_ratio) <= limit))
    word = "likely" if chance > 0.8 else "unlikely" if chance < 0.2 else "open"
    # Adding zero turns a negative nought into a plain one.
    middle, low, high = (round(x - 1.0, 3) + 0.0 for x in (ratio.value, ratio.low, ratio.high))
    sentence = (
        f"A match within {within_percent:g} % is {word}: chance {chance:.0%}, the second is "
        f"{middle:+.1%} ({low:+.1%} to {high:+.1%}) stiffer."
    )
    return Match(within_percent, chance, ratio, sentence)


def _log_ratios(
    first: SpringDraws, second: SpringDraws, rng: np.random.Generator, same_wire: bool
) -> Array:
    size = min(first.size, second.size)
    log = [np.log(s.rate_N_per_mm) for s in (first, second)]
    if not same_wire:
        a = rng.permutation(first.size)[:size]
        b = rng.permutation(second.size)[:size]
        return np.asarray(log[1][b] - log[0][a])
    a, b, weight = pair_draws(first, second, rng)
    edges = np.cumsum(weight)
    chosen = np.searchsorted(edges, edges[-1] * (np.arange(size) + rng.random()) / size)
    chosen = np.minimum(chosen, edges.size - 1)
    return np.asarray(log[1][b][chosen] - log[0][a][chosen])


def pair_draws(
    first: SpringDraws, second: SpringDraws, rng: np.random.Generator
) -> tuple[NDArray[np.intp], NDArray[np.intp], Array]:
    """Return pairs of draws of two springs of one wire, with weights that add up to one.

    Parameters
    ----------
    first, second : SpringDraws
        Each from its own evidence.
    rng : numpy.random.Generator
        Source of the pairing.

    Raises
    ------
    ValueError
        If the two cannot be of one wire.
    """
    size = min(first.size, second.size)
    names = [np.array([f.name for f in s.material.families])[s.family] for s in (first, second)]
    log_G = [np.log(s.shear_modulus_MPa) for s in (first, second)]
    a = np.concatenate([rng.permutation(first.size)[:size] for _ in range(_PAIRINGS)])
    b = np.concatenate([rng.permutation(second.size)[:size] for _ in range(_PAIRINGS)])
    apart = (log_G[1][b] - log_G[0][a]) / (2.0**0.5 * _SAME_WIRE_U)
    weight = np.exp(-0.5 * apart**2) / _prior(first, log_G[0][a], a)
    weight = np.where(names[0][a] == names[1][b], weight, 0.0)
    total = float(weight.sum())
    if total <= 0.0:
        raise ValueError("same_wire cannot hold: the two springs' materials do not agree")
    return a, b, weight / total


def _prior(first: SpringDraws, log_G: Array, at: NDArray[np.intp]) -> Array:
    """Return the density that one common modulus would otherwise count twice, shape of `log_G`."""
    families = first.material.families
    middle = np.array([f.shear_modulus_GPa for f in families])[first.family[at]]
    u = np.array([f.u_shear_modulus_GPa / f.shear_modulus_GPa for f in families])[first.family[at]]
    u = np.maximum(u, 1e-6)
    score = (log_G - np.log(1000.0 * middle)) / u
    # The family's own odds before any reading also count once, not twice.
    before = {
        f.name: f.weight for m in MATERIALS if m.name == first.material.name for f in m.families
    }
    odds = np.array([before.get(f.name, f.weight) for f in families])[first.family[at]]
    return np.asarray(np.exp(-0.5 * np.minimum(score**2, 40.0)) / u * odds)
