"""Readings that are no single dimension: a bench's rate, a photo's geometry, a magnet's pull."""

from enum import StrEnum

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import block_diag

from mechanics.bench import BenchFit
from mechanics.draws import SpringDraws
from mechanics.geometry import SpringGeometry
from mechanics.materials import Family
from mechanics.readings import coated
from mechanics.slips import Predict, Reading, Slip, column, scalar
from mechanics.units import MM_PER_INCH, NEWTON_PER_KGF, NEWTON_PER_LBF

Array = NDArray[np.float64]

#: Share of a photo's variance that other photos of the spring have as well: the wire edge's bias,
#: the reference's own size, the lens. A judgement, no source.
PHOTO_SHARED = 0.5


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
        return column(lambda s: s.rate_N_per_mm * factor)

    slips = (
        Slip("force in grams, not newtons", times(1000.0 / NEWTON_PER_KGF)),
        Slip("force in kilograms, not newtons", times(1.0 / NEWTON_PER_KGF)),
        Slip("force in pounds, not newtons", times(1.0 / NEWTON_PER_LBF)),
        Slip("deflection in inches, not millimetres", times(MM_PER_INCH)),
    )
    value, u = fit.rate_N_per_mm, fit.u_N_per_mm
    return scalar(name, "N/mm", value, u, lambda s: s.rate_N_per_mm, slips, "bench rate")


def photo_reading(geometry: SpringGeometry, name: str = "photo") -> Reading:
    """Return what a photo measured: wire over its coat, mean diameter, turns, free length.

    A cone's photo measures its small end over its large end as well.

    Parameters
    ----------
    geometry : SpringGeometry
        Dimensions with covariance.
    name : str
        What to call it, such as "second photo".
    """
    values, cov = geometry.values, geometry.covariance
    cone = geometry.small_end_ratio < 1.0
    if cone:
        values = np.append(values, geometry.small_end_ratio)
        cov = block_diag(cov, [[geometry.u_small_end_ratio**2]])

    def predict(s: SpringDraws) -> Array:
        # A photo takes all wire for round: it sees the outline, and the wire's side along the axis.
        mean = s.outside_diameter_mm - s.wire_diameter_mm
        columns = (coated(s), mean, s.total_coils, s.free_length_mm)
        return np.stack([*columns, s.small_end_ratio] if cone else columns, axis=1)

    def turned(by: float) -> Predict:
        return lambda s: predict(s) + by * (np.arange(values.size) == 2)

    # A floor on each variance: a covariance with exact values has no inverse.
    cov = cov + np.diag((1e-4 * values) ** 2)
    scale = values * np.array([1.0, 1.0, 0.0, 1.0, 0.0])[: values.size]
    wire = np.zeros(cov.shape)
    wire[0, 0] = (0.15 * values[0]) ** 2
    slips = (
        Slip("its scale is wrong", predict, 1.0, np.outer(0.15 * scale, 0.15 * scale), True),
        Slip("its wire edge is wrong", predict, 1.0, wire, True),
        Slip("one turn missed", turned(-1.0)),
        Slip("one turn counted twice", turned(1.0)),
    )
    return Reading(name, "mm", values, cov, predict, slips, None, "photo", PHOTO_SHARED)


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
