"""Slants of the table, all of them at once: a lattice, each weighed by its likelihood."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

# How far from level a phone is held by hand, per axis (common practice, no source).
U_TILT = float(np.sin(np.radians(7.0)))


@dataclass(frozen=True, slots=True)
class Weighed:
    """A slant by its mean and covariance.

    Attributes
    ----------
    normal : ndarray, shape (2,)
        The table's normal across the camera's axis [-].
    cov : ndarray, shape (2, 2)
        Its covariance.
    weights : ndarray, shape (..., T)
        Of the slants of the lattice, together one.
    """

    normal: Array
    cov: Array
    weights: Array


def axes_of(normals: Array) -> tuple[Array, Array, Array]:
    """Return the table's axes in camera axes, (T, 3) each, of normals across the view (T, 2)."""
    third = np.column_stack([normals, -np.sqrt(1.0 - (normals**2).sum(axis=1))])
    first = np.array([1.0, 0.0, 0.0]) - normals[:, :1] * third
    first /= np.linalg.norm(first, axis=1, keepdims=True)
    return first, np.cross(third, first), third


def lattice(middle: Array, reach: float, step: float) -> Array:
    """Return slants (T, 2) on a lattice about one, none too steep."""
    ticks = np.arange(-reach, reach + 0.5 * step, step)
    points = np.stack(np.meshgrid(ticks, ticks), axis=-1).reshape(-1, 2)
    points = points[np.linalg.norm(points, axis=1) < 1.01 * reach] + middle
    return np.asarray(points[np.linalg.norm(points, axis=1) < 0.6])


def lattice_along(middle: Array, cov: Array, reach: float = 3.0, count: int = 13) -> Array:
    """Return slants (T, 2) as far about one as its covariance goes, none too steep."""
    sizes, ways = np.linalg.eigh(cov)
    ticks = np.linspace(-reach, reach, count)
    steps = np.stack(np.meshgrid(ticks, ticks), axis=-1).reshape(-1, 2)
    points = middle + (steps * np.sqrt(sizes)) @ ways.T
    kept = points[np.linalg.norm(points, axis=1) < 0.6]
    return np.asarray(kept if len(kept) else middle[None])


def weighed(normals: Array, chi2: Array) -> Weighed:
    """Return mean and covariance of slants (T, 2) by their misfit (..., T) and how phones are held.

    Of several rows, each is another way to explain what was seen.
    """
    # A few photos are taken from well aside, so the prior has wide tails (Student's, 3 degrees of
    # freedom in two dimensions).
    chi2 = chi2 + 5.0 * np.log1p((normals**2).sum(axis=1) / (3.0 * U_TILT**2))
    weights = np.exp(-0.5 * (chi2 - chi2.min()))
    weights /= weights.sum()
    share = weights.reshape(-1, len(normals)).sum(axis=0)
    mean = share @ normals
    off = normals - mean
    return Weighed(mean, np.asarray((off.T * share) @ off + 1e-6 * np.eye(2)), weights)
