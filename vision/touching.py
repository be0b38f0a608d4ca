"""Where lines of sight touch the tube of a helix.

A tube of round wire is a row of balls; a line of sight touches its outline where its least
distance to the centre line equals the wire's radius. That is exact for any camera, and where
strands cross, the nearest of them is the one that is seen.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from vision.camera import Camera
from vision.helix import Helix, centre_line, turns_of

Array = NDArray[np.float64]

#: How many segments to either side of a point's own turn are looked at.
_ABOUT = 3


def sight_lines(camera: Camera, points_px: Array) -> Array:
    """Return unit lines of sight (N, 3) in camera axes, of pixels (N, 2)."""
    rays = camera.rays(points_px)
    return np.asarray(rays / np.linalg.norm(rays, axis=1)[:, None])


def seen(camera: Camera, points_mm: Array) -> Array:
    """Return world points (N, 3) in camera axes [mm]."""
    return np.asarray(points_mm @ camera.rotation.T + camera.translation_mm)


@dataclass(frozen=True, slots=True)
class Traced:
    """Points on the boundary of the wire.

    Attributes
    ----------
    points_px : ndarray, shape (N, 2)
        Where they lie [px].
    turn : ndarray, shape (N,)
        Turn of the wire that each belongs to; not a number where the nearest is meant.
    spread_px : ndarray, shape (N,)
        Standard deviation of each across the boundary [px].
    beyond_px : ndarray, shape (N,)
        How far outside the wire each is known to lie [px].
    """

    points_px: Array
    turn: Array
    spread_px: Array
    beyond_px: Array

    @staticmethod
    def of(points_px: Array, beyond_px: float = 0.0) -> "Traced":
        """Return points that may belong to any turn, each to a pixel."""
        count = len(points_px)
        beyond = np.full(count, beyond_px)
        return Traced(points_px, np.full(count, np.nan), np.ones(count), beyond)

    def and_(self, other: "Traced") -> "Traced":
        """Return these points and others."""
        return Traced(
            np.vstack([self.points_px, other.points_px]),
            np.concatenate([self.turn, other.turn]),
            np.concatenate([self.spread_px, other.spread_px]),
            np.concatenate([self.beyond_px, other.beyond_px]),
        )


@dataclass(frozen=True, slots=True)
class Touch:
    """Where lines of sight come nearest the centre line of a tube.

    Attributes
    ----------
    residual_px : ndarray, shape (N,)
        How far outside the tube each passes [px].
    segment : ndarray of int, shape (N,)
        The segment of the sampled centre line that is nearest.
    place : ndarray, shape (N,)
        How far along that segment, 0 to 1.
    sight : ndarray, shape (N, 3)
        The lines of sight, in camera axes.
    point_mm : ndarray, shape (N, 3)
        The nearest points, in camera axes [mm].
    """

    residual_px: Array
    segment: NDArray[np.intp]
    place: Array
    sight: Array
    point_mm: Array


def touch(helix: Helix, camera: Camera, outline: Array | Traced) -> Touch:
    """Return where the lines of sight of an outline (N, 2) come nearest the wire's middle."""
    traced = outline if isinstance(outline, Traced) else Traced.of(outline)
    sight = sight_lines(camera, traced.points_px)
    turns = turns_of(helix)
    line = seen(camera, centre_line(helix, turns))
    near = None
    if not np.isnan(traced.turn).all():
        near = np.searchsorted(turns, traced.turn).astype(np.intp)
        near[np.isnan(traced.turn)] = -1
    j, t = nearest(line, _flat(line), sight, _flat(sight), near)
    point = line[j] + t[:, None] * (line[j + 1] - line[j])
    gap = np.linalg.norm(across(point, sight), axis=1) + 1e-9
    r = (gap - 0.5 * helix.wire_mm) * camera.focal_px / point[:, 2] - traced.beyond_px
    return Touch(r, j, t, sight, point)


def nearest(
    line: Array, flat: Array, sight: Array, flat_sight: Array, near: NDArray[np.intp] | None = None
) -> tuple[NDArray[np.intp], Array]:
    """Return segment index (N,) and place on it (N,) nearest each line of sight.

    Among all segments, or among those about `near` (N,) where it is given and not negative.
    """
    about = np.array([-1, 0])
    if near is None or (near < 0).any():
        _, k = cKDTree(flat).query(flat_sight)
    else:
        k = near
    if near is not None:
        k = np.where(near < 0, k, near)
        about = np.arange(-_ABOUT, _ABOUT)
    j = np.clip(k[:, None] + about, 0, len(line) - 2)
    # A segment from a on by e, seen across the line of sight s: (a - (a s) s + t (e - (e s) s))².
    a, e = line[:-1].T, np.diff(line, axis=0).T
    a_s, e_s = (sum(of[k][j] * sight[:, k, None] for k in range(3)) for of in (a, e))
    a_a = (a * a).sum(axis=0)[j] - a_s * a_s
    a_e = (a * e).sum(axis=0)[j] - a_s * e_s
    e_e = (e * e).sum(axis=0)[j] - e_s * e_s
    t = np.clip(-a_e / (e_e + 1e-12), 0.0, 1.0)
    best = np.argmin(a_a + t * (2.0 * a_e + t * e_e), axis=1)[:, None]
    where, place = (np.take_along_axis(of, best, axis=1)[:, 0] for of in (j, t))
    return where, place


def _flat(points: Array) -> Array:
    return np.asarray(points[:, :2] / points[:, 2:])


def across(point: Array, sight: Array) -> Array:
    """Return the parts of points (N, 3) that stand square to lines of sight (N, 3)."""
    return np.asarray(point - np.einsum("ij,ij->i", point, sight)[:, None] * sight)
