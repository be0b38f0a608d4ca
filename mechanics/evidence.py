"""Everything known about one spring, reconciled into one posterior.

The unknowns are the wire, the coil, the turns that work and those that do not, the free length,
shear modulus, density, the formula's own error, the coat and the wire in the ends. They start from
what coil springs are like (wide), and every reading narrows them at once; nothing is overwritten.
An unknown alloy is a mixture: each family has its own posterior, weighted by how well it explains
the readings.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from mechanics.draws import SpringDraws, with_formula_spread
from mechanics.ends import Ends, end_rule, solid_length
from mechanics.inference import Peak, find_peak, importance_sample, linearise, resample
from mechanics.materials import Family, Material
from mechanics.readings import COAT_MM, WIDTH, Coat
from mechanics.slips import Reading
from mechanics.tools import with_common_part
from mechanics.uncertainty import Quantity

Array = NDArray[np.float64]

#: Unknowns, in the order of the scores.
UNKNOWNS = (
    "wire",
    "coil",
    "turns",
    "dead turns",
    "free length",
    "shear modulus",
    "density",
    "formula",
    "coat",
    "wire in the ends",
    "small end",
)
#: A cone's small end over its large end before it is read, and its spread [-]: a judgement.
CONE = (0.6, 0.25)
#: Side across over side along the axis of rectangular wire before it is read: middle and log
#: spread, so 0.4 to 2.7: a judgement.
_SIDES = (0.0, 0.5)
#: What coil springs are like before anything is read: middle and log spread. Judgements, so wide
#: that one ordinary reading outweighs them: wire 0.1 to 13 mm, index 3.9 to 21, 1.9 to 43 turns,
#: and a free length of 1.2 to 7 times solid.
_WIRE = (math.log(1.2), 1.2)
_INDEX_ABOVE_TWO = (math.log(6.0), 0.6)
_TURNS = (math.log(9.0), 0.8)
#: A spring has at least this many working turns [-].
_LEAST_ACTIVE = 0.5
_GAP = (math.log(1.2), 0.8)
_HOOKED = 0.25
#: Below this posterior weight a component is not sampled.
_NEGLIGIBLE = 3e-3
#: Relative spread of the rate beyond which it is not known at all.
_UNKNOWN_RATE = 0.5


@dataclass(frozen=True, slots=True)
class Case:
    """What is stated about a spring, not read.

    Attributes
    ----------
    material : Material
        Wire material, or a mixture.
    ends : Ends
        Kind of ends.
    coat : Coat
        What covers the wire.
    small_end_ratio, u_small_end_ratio : float
        Small end over large end and its standard uncertainty before it is read [-]: 1 and 0 for a
        cylinder, `CONE` for a cone.
    rectangular : bool
        Whether the wire is rectangular; the side across its axis is an unknown more then.
    """

    material: Material
    ends: Ends = Ends.UNKNOWN
    coat: Coat = Coat.BARE
    small_end_ratio: float = 1.0
    u_small_end_ratio: float = 0.0
    rectangular: bool = False

    @property
    def unknowns(self) -> int:
        """How many scores stand for the spring."""
        return len(UNKNOWNS) + self.rectangular

    def springs(self, z: Array, place: int) -> SpringDraws:
        """Return the springs that scores stand for, of the family at a place.

        Parameters
        ----------
        z : ndarray, shape (m, 11 or more)
            Scores, in the order of `UNKNOWNS` [-], then of rectangular wire that of its side
            across the axis; what follows are errors of tools.
        place : int
            Of the family within the material.
        """
        rule, family, m = end_rule(self.ends), self.material.families[place], len(z)
        d = np.exp(_WIRE[0] + _WIRE[1] * z[:, 0])
        wide = d * np.exp(_SIDES[0] + _SIDES[1] * z[:, len(UNKNOWNS)]) if self.rectangular else d
        D = wide * (2.0 + np.exp(_INDEX_ABOVE_TWO[0] + _INDEX_ABOVE_TWO[1] * z[:, 1]))
        n_t = np.exp(_TURNS[0] + _TURNS[1] * z[:, 2])
        dead = np.minimum(rule.dead_coils + rule.u_dead_coils * z[:, 3], n_t - 0.2)
        coat, u_coat = COAT_MM[self.coat]
        draws = SpringDraws(
            d,
            D,
            n_t,
            dead,
            self._free_length(d, D, n_t, z[:, 4]),
            # In the log, so that no score gives a modulus below nothing.
            1000.0 * _lognormal(family.shear_modulus_GPa, family.u_shear_modulus_GPa, z[:, 5]),
            _lognormal(family.density_g_cm3, family.u_density_g_cm3, z[:, 6]),
            np.ones(m),
            np.clip(self.small_end_ratio + self.u_small_end_ratio * z[:, 10], 0.05, 1.0),
            np.maximum(coat + u_coat * z[:, 8], 0.0),
            rule.wire_turns + rule.u_wire_turns * z[:, 9],
            np.full(m, place, dtype=np.intp),
            self.material,
            self.ends,
            wide if self.rectangular else None,
        )
        return with_formula_spread(draws, z[:, 7])

    def _free_length(self, d: Array, D: Array, n_t: Array, score: Array) -> Array:
        if self.ends is Ends.HOOKS:
            return np.asarray(((n_t + 1.0) * d + 2.0 * (D - d)) * np.exp(_HOOKED * score))
        solid = np.asarray(solid_length(d, n_t, self.ends))
        return np.asarray(solid * (1.0 + np.exp(_GAP[0] + _GAP[1] * score)))


def case_of(
    readings: Sequence[Reading], material: Material, ends: Ends, coat: Coat = Coat.BARE
) -> Case:
    """Return what is stated about a spring, its form by what is read of it.

    It is a cone where a reading tells its small end, of rectangular wire where one tells the
    wire's side across the axis.

    Parameters
    ----------
    readings : sequence of Reading
        Evidence.
    material, ends, coat
        As in `Case`.
    """
    cone = any(one.thing == "small end" or one.values.size == 5 for one in readings)
    flat = any(one.thing == WIDTH for one in readings)
    if flat and (cone or ends is Ends.HOOKS):
        raise ValueError("wire_width_mm: cones and hooks are reckoned for round wire only")
    return Case(material, ends, coat, *(CONE if cone else (1.0, 0.0)), rectangular=flat)


def _lognormal(middle: float, u: float, score: Array) -> Array:
    return np.asarray(middle * np.exp(u / middle * score))


@dataclass(frozen=True, slots=True)
class Component:
    """The posterior of one family of wire under one understanding of the readings.

    Attributes
    ----------
    case : Case
        What is stated.
    readings : tuple of Reading
        As understood.
    apart : tuple of Reading
        The same with what tools have in common told apart.
    place : int
        Family within the case's material.
    peak : Peak
        Of the posterior.
    log_weight : float
        Log of its probability, up to one constant for the same readings [-].
    """

    case: Case
    readings: tuple[Reading, ...]
    apart: tuple[Reading, ...]
    place: int
    peak: Peak
    log_weight: float

    @property
    def family(self) -> Family:
        """The family of wire."""
        return self.case.material.families[self.place]

    def residuals(self, z: Array) -> Array:
        """Return whitened residuals of all readings, shape (m, k) [-]."""
        return _residuals(self.apart, self.case, self.place, z)

    def log_rate(self) -> tuple[float, float]:
        """Return log of the rate at the peak and its standard uncertainty, to first order."""

        def ln_rate(z: Array) -> Array:
            return np.log(self.case.springs(z, self.place).rate_N_per_mm)[:, None]

        value, slope = linearise(ln_rate, self.peak.z)
        return float(value[0]), float((slope @ self.peak.covariance @ slope.T)[0, 0]) ** 0.5


def _residuals(readings: Sequence[Reading], case: Case, place: int, z: Array) -> Array:
    springs = case.springs(z, place)
    errors = z[:, case.unknowns :]
    parts = [reading.residuals(springs, errors) for reading in readings]
    # The one thing certain of a spring: some of it works. A steep slope below half a turn.
    barrier = np.maximum(_LEAST_ACTIVE - springs.active_coils, 0.0) / 0.05
    return np.concatenate([*parts, barrier[:, None]], axis=1)


def solve(readings: Sequence[Reading], case: Case) -> tuple[Component, ...]:
    """Return one component for each family of the case's material.

    Parameters
    ----------
    readings : sequence of Reading
        Evidence, as understood.
    case : Case
        What is stated.
    """
    found = []
    apart, errors = with_common_part(readings)
    for place, family in enumerate(case.material.families):
        start = np.zeros(case.unknowns + errors)

        def residuals(z: Array, place: int = place) -> Array:
            return _residuals(apart, case, place, z)

        peak = find_peak(residuals, start)
        log_weight = peak.log_evidence + math.log(family.weight)
        for reading in apart:
            log_weight += reading.log_density_scale
            if reading.family_chance is not None:
                log_weight += math.log(max(reading.family_chance(family), 1e-12))
        found.append(Component(case, tuple(readings), apart, place, peak, log_weight))
    return tuple(found)


def weights(components: Sequence[Component]) -> Array:
    """Return the probabilities of components, shape (n,), adding up to one."""
    log = np.array([one.log_weight for one in components])
    share = np.exp(log - log.max())
    return np.asarray(share / share.sum())


@dataclass(frozen=True, slots=True)
class Mixture:
    """Draws of the posterior, with what they rest on.

    Attributes
    ----------
    draws : SpringDraws
        Equally likely springs.
    rate_N_per_mm : Quantity
        [N/mm].
    family_odds : mapping of str to float
        Probability of each family of wire [-].
    effective : float
        Smallest effective share of the draws over the main components [-].
    """

    draws: SpringDraws
    rate_N_per_mm: Quantity
    family_odds: Mapping[str, float]
    effective: float


def draw_posterior(components: Sequence[Component], rng: np.random.Generator, size: int) -> Mixture:
    """Return draws of a mixture of components by importance sampling.

    Parameters
    ----------
    components : sequence of Component
        With comparable weights.
    rng : numpy.random.Generator
        Source of the draws.
    size : int
        Draws [-].
    """
    share = weights(components)
    kept = [(c, w) for c, w in zip(components, share, strict=True) if w > _NEGLIGIBLE]
    total = sum(w for _, w in kept)
    families: dict[Family, float] = {}
    for component, weight in kept:
        bare = replace(component.family, weight=1.0)
        families[bare] = families.get(bare, 0.0) + weight / total
    mixed = tuple(replace(family, weight=weight) for family, weight in families.items())
    material = replace(kept[0][0].case.material, families=mixed)
    parts, effective = [], 1.0
    for component, weight in kept:
        count = max(round(size * weight / total), 1)
        asked = max(2 * count, 1000)
        sample = importance_sample(component.residuals, component.peak, asked, rng)
        if weight > 0.05:
            effective = min(effective, sample.effective / asked)
        part = component.case.springs(resample(sample, count, rng), component.place)
        place = list(families).index(replace(component.family, weight=1.0))
        parts.append(replace(part, family=np.full(count, place, dtype=np.intp), material=material))
    draws = _join(parts)
    odds = {family.name: float(weight) for family, weight in families.items()}
    rate = Quantity.from_draws(draws.rate_N_per_mm)
    return Mixture(draws, rate, MappingProxyType(odds), effective)


def _join(parts: Sequence[SpringDraws]) -> SpringDraws:
    joined: dict[str, Any] = {
        f.name: np.concatenate([getattr(part, f.name) for part in parts])
        for f in fields(SpringDraws)
        if isinstance(getattr(parts[0], f.name), np.ndarray)
    }
    return replace(parts[0], **joined)


def require_known_rate(components: Sequence[Component]) -> None:
    """Refuse evidence that leaves the rate open.

    Raises
    ------
    ValueError
        Naming what nothing tells yet.
    """
    best = max(components, key=lambda one: one.log_weight)
    if best.log_rate()[1] < _UNKNOWN_RATE:
        return
    spread = np.sqrt(np.diag(best.peak.covariance))
    asked = {
        "wire": "wire_diameter_mm",
        "coil": "outside or inside diameter",
        "turns": "total_coils",
    }
    missing = [asked[name] for name, u in zip(UNKNOWNS[:3], spread[:3], strict=True) if u > 0.3]
    raise ValueError(
        "not enough is known for a rate; nothing tells yet: " + ", ".join(missing or ["the ends"])
    )
