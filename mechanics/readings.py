"""What a person can find out about a spring, each reading with its uncertainty and its usual slips.

A reading predicts itself from drawn springs, so one set of formulas serves every kind. Its slips
are the mistakes that people make with it: each predicts what would then have been read.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from mechanics.bench import BenchFit
from mechanics.check import require_dimension, require_not_negative, require_positive
from mechanics.draws import SpringDraws
from mechanics.geometry import SpringGeometry
from mechanics.materials import Family
from mechanics.units import MM_PER_INCH, NEWTON_PER_KGF, NEWTON_PER_LBF

Array = NDArray[np.float64]
#: Drawn springs (m) to what would be read, shape (m, k).
Predict = Callable[[SpringDraws], Array]

#: Grams in an ounce, by definition.
GRAM_PER_OUNCE = 28.349523125


class Coat(StrEnum):
    """What covers the wire."""

    BARE = "bare"
    PLATED = "plated"
    PAINTED = "painted"
    POWDER = "powder coated"


#: Thickness and standard uncertainty [mm] (common practice, no source).
COAT_MM = {
    Coat.BARE: (0.0, 0.0005),
    Coat.PLATED: (0.008, 0.004),
    Coat.PAINTED: (0.04, 0.02),
    Coat.POWDER: (0.08, 0.03),
}


@dataclass(frozen=True, slots=True)
class Slip:
    """A mistake that would explain a reading.

    Attributes
    ----------
    name : str
        In plain words.
    predict : callable
        What would then have been read.
    u_factor : float
        How much wider the reading is under it [-].
    extra_cov : ndarray or None, shape (k, k)
        Covariance that comes on top [unit of the reading, squared].
    mends : bool
        Whether the reading is as good as any once the slip is undone; else it tells nothing.
    """

    name: str
    predict: Predict
    u_factor: float = 1.0
    extra_cov: Array | None = None
    mends: bool = True


@dataclass(frozen=True, slots=True)
class Reading:
    """One piece of evidence.

    Attributes
    ----------
    name : str
        What was read, as a person would say it.
    unit : str
        Of its values.
    values : ndarray, shape (k,)
        What was read [unit].
    covariance : ndarray, shape (k, k)
        [unit squared].
    predict : callable
        What a drawn spring would read.
    slips : tuple of Slip
        Mistakes that people make with it.
    family_chance : callable or None
        Chance of the reading for a family of wire [-], for tests that only tell families apart.
    shared : float
        Share of its variance that all readings of its kind have in common [-]: it does not
        average away.
    """

    name: str
    unit: str
    values: Array
    covariance: Array
    predict: Predict
    slips: tuple[Slip, ...] = field(default=())
    family_chance: Callable[[Family], float] | None = None
    shared: float = 0.0
    _whitening: Array = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        # Asked for hundreds of times while a peak is sought, so factored once.
        inverse = np.zeros((0, 0))
        if self.values.size:
            inverse = np.asarray(np.linalg.inv(np.linalg.cholesky(self.covariance)))
        object.__setattr__(self, "_whitening", inverse)

    def residuals(self, draws: SpringDraws) -> Array:
        """Return whitened residuals of drawn springs, shape (m, k) [-]."""
        if self.values.size == 0:
            return np.zeros((draws.size, 0))
        return (self.predict(draws) - self.values) @ self._whitening.T

    @property
    def log_density_scale(self) -> float:
        """Log of the normalising factor that whitening drops [-]."""
        if self.values.size == 0:
            return 0.0
        return -0.5 * float(np.linalg.slogdet(self.covariance)[1])

    def with_slip(self, slip: Slip) -> "Reading":
        """Return the reading as it would be understood under a slip."""
        covariance = self.covariance * slip.u_factor**2
        if slip.extra_cov is not None:
            covariance = covariance + slip.extra_cov
        return replace(self, covariance=covariance, predict=slip.predict, slips=())


def _column(predict: Callable[[SpringDraws], Array]) -> Predict:
    return lambda draws: predict(draws)[:, None]


def _scalar(
    name: str,
    unit: str,
    value: float,
    u: float,
    predict: Callable[[SpringDraws], Array],
    slips: tuple[Slip, ...] = (),
) -> Reading:
    _require_readable(name, unit, value, u)
    other = Slip("misread for a reason that cannot be told", _column(predict), 10.0, None, False)
    # Nothing to do with this spring: as likely anywhere near its own size.
    blunder = Slip(
        "far off for a reason that cannot be told",
        lambda s: np.full((s.size, 1), value),
        10.0,
        np.array([[(1.5 * value) ** 2]]),
        False,
    )
    array = np.array([value], dtype=np.float64)
    slips = (*slips, other, blunder)
    return Reading(name, unit, array, np.array([[u**2]]), _column(predict), slips)


#: What can be read at all, with room for a wrong unit, by the unit of the reading.
_READABLE = {"mm": (1e-3, 1e5), "g": (1e-4, 1e5), "turns": (0.5, 1e3), "N/mm": (1e-7, 1e7)}
#: No hand reads finer than this share of a reading.
_FINEST = 1e-6


def _require_readable(name: str, unit: str, value: float, u: float) -> None:
    field = name.replace(" ", "_")
    require_positive(**{field: value, f"u_{field}": u})
    low, high = _READABLE[unit]
    if not low <= value <= high:
        raise ValueError(f"{field} ({value:g} {unit}) is outside {low:g} to {high:g} {unit}")
    if not _FINEST * value <= u <= 100.0 * value:
        raise ValueError(f"u_{field} ({u:g} {unit}) does not go with a reading of {value:g} {unit}")


def _digits(predict: Callable[[SpringDraws], Array], value: float) -> tuple[Slip, Slip]:
    """Return the slips of a decimal point in the wrong place."""
    return (
        _unit("a digit too many", predict, 10.0, value),
        _unit("a digit too few", predict, 0.1, value),
    )


def _unit(name: str, predict: Callable[[SpringDraws], Array], factor: float, value: float) -> Slip:
    """Return the slip of reading a factor of what is meant: its stated u is in the unit meant.

    Whoever wrote the wrong unit may have written its u in it as well: three parts in a thousand
    of the reading are the least.
    """
    # A product, since a power of a wild reading overflows before it can be refused.
    least = np.array([[0.003 * value * 0.003 * value]])
    return Slip(name, _column(lambda s: predict(s) * factor), factor, least)


def _inch(predict: Callable[[SpringDraws], Array], value: float) -> Slip:
    return _unit("read in inches", predict, 1.0 / MM_PER_INCH, value)


def _coated(s: SpringDraws) -> Array:
    return s.wire_diameter_mm + 2.0 * s.coat_mm


def wire_reading(value_mm: float, u_mm: float = 0.02, name: str = "wire") -> Reading:
    """Return a reading of the wire over whatever covers it.

    Parameters
    ----------
    value_mm, u_mm : float
        Reading and standard uncertainty: caliper in the hand 0.02, micrometer 0.004 [mm].
    name : str
        What to call it, such as "wire, micrometer".
    """
    paint = Slip(
        "taken over paint or plating",
        _column(lambda s: s.wire_diameter_mm + 0.10),
        1.0,
        np.array([[0.05**2]]),
        False,
    )
    slips = (_inch(_coated, value_mm), paint, *_digits(_coated, value_mm))
    return _scalar(name, "mm", value_mm, u_mm, _coated, slips)


def outside_reading(value_mm: float, u_mm: float = 0.05) -> Reading:
    """Return a reading of the outside diameter (large end of a cone).

    Parameters
    ----------
    value_mm, u_mm : float
        Reading and standard uncertainty [mm].
    """

    def predict(s: SpringDraws) -> Array:
        return s.mean_diameter_mm + _coated(s)

    slips = (
        Slip("the inside diameter", _column(lambda s: s.mean_diameter_mm - _coated(s))),
        Slip("the mean diameter", _column(lambda s: s.mean_diameter_mm)),
        _inch(predict, value_mm),
        *_digits(predict, value_mm),
    )
    return _scalar("outside diameter", "mm", value_mm, u_mm, predict, slips)


def inside_reading(value_mm: float, u_mm: float = 0.06) -> Reading:
    """Return a reading of the inside diameter.

    Parameters
    ----------
    value_mm, u_mm : float
        Reading and standard uncertainty [mm].
    """

    def predict(s: SpringDraws) -> Array:
        return s.mean_diameter_mm - _coated(s)

    slips = (
        Slip("the outside diameter", _column(lambda s: s.mean_diameter_mm + _coated(s))),
        _inch(predict, value_mm),
        *_digits(predict, value_mm),
    )
    return _scalar("inside diameter", "mm", value_mm, u_mm, predict, slips)


def touching_reading(value_mm: float, coils: float, u_mm: float = 0.05) -> Reading:
    """Return a reading of the length over coils pressed together: the wire, averaged.

    Parameters
    ----------
    value_mm, u_mm : float
        Length over them and standard uncertainty [mm].
    coils : float
        How many touch, a whole number [-].
    """
    require_positive(touching_coils=coils)
    if coils != round(coils) or coils > 1000.0:
        raise ValueError(f"touching_coils must be a whole number up to 1000, not {coils:g}")
    slips = (
        Slip("one coil fewer than counted", _column(lambda s: (coils - 1) * _coated(s))),
        Slip("one coil more than counted", _column(lambda s: (coils + 1) * _coated(s))),
    )
    name = f"length over {coils:g} coils"
    return _scalar(name, "mm", value_mm, u_mm, lambda s: coils * _coated(s), slips)


def free_length_reading(value_mm: float, u_mm: float = 0.2) -> Reading:
    """Return a reading of the free length.

    Parameters
    ----------
    value_mm, u_mm : float
        Reading and standard uncertainty [mm].
    """
    require_dimension("free_length_mm", value_mm)

    def predict(s: SpringDraws) -> Array:
        return s.free_length_mm

    slips = (
        Slip("taken with the spring pressed solid", _column(lambda s: s.solid_length_mm)),
        _inch(predict, value_mm),
    )
    return _scalar("free length", "mm", value_mm, u_mm, predict, slips)


def count_reading(turns: float, u: float = 0.1) -> Reading:
    """Return a count of all turns, from tip to tip of the wire.

    Parameters
    ----------
    turns, u : float
        Turns and standard uncertainty [-].
    """
    require_dimension("total_coils", turns)
    slips = (
        Slip("one turn missed", _column(lambda s: s.total_coils - 1.0)),
        Slip("one turn counted twice", _column(lambda s: s.total_coils + 1.0)),
        Slip("only the working turns counted", _column(lambda s: s.active_coils)),
    )
    return _scalar("count of turns", "turns", turns, u, lambda s: s.total_coils, slips)


def active_reading(turns: float, u: float = 0.2) -> Reading:
    """Return a count of the working turns only.

    Parameters
    ----------
    turns, u : float
        Turns and standard uncertainty [-].
    """
    require_dimension("total_coils", turns)
    slips = (
        Slip("all turns counted", _column(lambda s: s.total_coils)),
        Slip("one turn missed", _column(lambda s: s.active_coils - 1.0)),
    )
    return _scalar("count of working turns", "turns", turns, u, lambda s: s.active_coils, slips)


def weight_reading(value_g: float, u_g: float = 0.05) -> Reading:
    """Return a weight.

    Parameters
    ----------
    value_g, u_g : float
        Reading and standard uncertainty: pocket scale 0.01 to 0.1, kitchen scale 1 [g].
    """

    def predict(s: SpringDraws) -> Array:
        return s.mass_g

    slips = (
        _unit("read in ounces", predict, 1.0 / GRAM_PER_OUNCE, value_g),
        *_digits(predict, value_g),
    )
    return _scalar("weight", "g", value_g, u_g, predict, slips)


def coat_reading(value_mm: float, u_mm: float = 0.01) -> Reading:
    """Return the thickness of paint or plating on one side of the wire.

    Parameters
    ----------
    value_mm, u_mm : float
        Reading and standard uncertainty [mm].
    """
    require_not_negative(coat_thickness_mm=value_mm)
    _require_readable("coat thickness", "mm", value_mm + u_mm, u_mm)
    both = Slip("both sides together", _column(lambda s: 2.0 * s.coat_mm))
    return Reading(
        "coat thickness",
        "mm",
        np.array([value_mm], dtype=np.float64),
        np.array([[u_mm**2]]),
        _column(lambda s: s.coat_mm),
        (both,),
    )


def rate_reading(fit: BenchFit, name: str = "bench rate") -> Reading:
    """Return a rate from the bench.

    Parameters
    ----------
    fit : BenchFit
        The line through its points.
    name : str
        What to call it.
    """

    def times(factor: float) -> Predict:
        return _column(lambda s: s.rate_N_per_mm * factor)

    slips = (
        Slip("force in grams, not newtons", times(1000.0 / NEWTON_PER_KGF)),
        Slip("force in kilograms, not newtons", times(1.0 / NEWTON_PER_KGF)),
        Slip("force in pounds, not newtons", times(1.0 / NEWTON_PER_LBF)),
        Slip("deflection in inches, not millimetres", times(MM_PER_INCH)),
    )
    value, u = fit.rate_N_per_mm, fit.u_N_per_mm
    return _scalar(name, "N/mm", value, u, lambda s: s.rate_N_per_mm, slips)


def photo_reading(geometry: SpringGeometry, name: str = "photo") -> Reading:
    """Return what a photo measured: wire over its coat, mean diameter, turns, free length.

    Parameters
    ----------
    geometry : SpringGeometry
        Dimensions with covariance.
    name : str
        What to call it, such as "second photo".
    """

    def predict(s: SpringDraws) -> Array:
        columns = (_coated(s), s.mean_diameter_mm, s.total_coils, s.free_length_mm)
        return np.stack(columns, axis=1)

    def turned(by: float) -> Predict:
        return lambda s: predict(s) + np.array([0.0, 0.0, by, 0.0])

    # A floor on each variance: a covariance with exact values has no inverse.
    floor = np.diag((1e-4 * geometry.values) ** 2)
    scale = geometry.values * np.array([1.0, 1.0, 0.0, 1.0])
    wire = np.zeros((4, 4))
    wire[0, 0] = (0.15 * geometry.values[0]) ** 2
    slips = (
        Slip("its scale is wrong", predict, 1.0, np.outer(0.15 * scale, 0.15 * scale), True),
        Slip("its wire edge is wrong", predict, 1.0, wire, True),
        Slip("one turn missed", turned(-1.0)),
        Slip("one turn counted twice", turned(1.0)),
    )
    cov = geometry.covariance + floor
    return Reading(name, "mm", geometry.values, cov, predict, slips, None, PHOTO_SHARED)


#: Share of a photo's variance that other photos of the spring have as well: the wire edge's bias,
#: the reference's own size, the lens. A judgement, no source.
PHOTO_SHARED = 0.5


def with_common_part(readings: Sequence[Reading]) -> tuple[Reading, ...]:
    """Return the readings so that what those of a kind have in common does not average away.

    Of k readings that share a part s of their variance the mean keeps (1 + (k - 1) s)/k of it;
    each widened by 1 + (k - 1) s, they can be taken as independent.

    Parameters
    ----------
    readings : sequence of Reading
        Of one spring.
    """
    k = sum(reading.shared > 0.0 for reading in readings)
    return tuple(
        replace(one, covariance=one.covariance * (1.0 + (k - 1) * one.shared))
        if one.shared > 0.0
        else one
        for one in readings
    )


class Pull(StrEnum):
    """What a magnet does."""

    STRONG = "strong"
    WEAK = "weak"
    NONE = "none"


def magnet_reading(pull: Pull) -> Reading:
    """Return a magnet test: only "none" excludes carbon steel; drawn stainless may be pulled.

    Parameters
    ----------
    pull : Pull
        What the magnet does [-].

    Notes
    -----
    A family's chance of a strong pull is `Family.attracted`. Of the rest of stainless, weak is as
    likely as none; carbon steel is never weak but for a slip, copper alloys never but for one.
    """

    def chance(family: Family) -> float:
        strong = family.attracted
        rest = 1.0 - strong
        austenitic = 0.05 < strong < 0.95
        weak = 0.5 * rest if austenitic else 0.3 * rest
        return {Pull.STRONG: strong, Pull.WEAK: weak, Pull.NONE: rest - weak}[pull]

    empty = np.zeros(0)
    return Reading(
        f"magnet ({pull.value})",
        "",
        empty,
        np.zeros((0, 0)),
        lambda s: np.zeros((s.size, 0)),
        (),
        chance,
    )
