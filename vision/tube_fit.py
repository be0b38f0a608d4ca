"""Fit a helix's tube to the outline of the wire, through the camera, by robust least squares.

A tube of round wire is a row of balls; a line of sight touches its outline where its least
distance to the centre line equals the wire's radius. That is exact for any camera, and where
strands cross, the nearest of them is the one that is seen.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from vision.camera import Camera
from vision.helix import NAMES, Helix, centre_line, turns_of

Array = NDArray[np.float64]

_STEPS = np.array(
    [0.01, 0.01, 1e-4, 1e-4, 1e-3, 1e-4, 1e-3, 1e-3, 1e-4, 1e-3, 1e-3, 1e-3, 1e-3, 1e-3, 1e-3]
)


@dataclass(frozen=True, slots=True)
class Prior:
    """What is known before looking: a Gaussian for each of a helix's values."""

    mean: Array
    sigma: Array


@dataclass(frozen=True, slots=True)
class Fit:
    """A fitted helix.

    Attributes
    ----------
    helix : Helix
        The best one.
    covariance : ndarray, shape (15, 15)
        Of its values, from the outline's noise.
    rms_px : float
        Spread of the outline about it, robustly [px].
    residual_px : ndarray, shape (N,)
        Of each point of the outline: positive outside the tube [px].
    """

    helix: Helix
    covariance: Array
    rms_px: float
    residual_px: Array


def sight_lines(camera: Camera, points_px: Array) -> Array:
    """Return unit lines of sight (N, 3) in camera axes, of pixels (N, 2)."""
    rays = np.column_stack(
        [(points_px - camera.centre_px) / camera.focal_px, np.ones(len(points_px))]
    )
    return np.asarray(rays / np.linalg.norm(rays, axis=1)[:, None])


def seen(camera: Camera, points_mm: Array) -> Array:
    """Return world points (N, 3) in camera axes [mm]."""
    return np.asarray(points_mm @ camera.rotation.T + camera.translation_mm)


def nearest(
    line: Array, flat: Array, sight: Array, flat_sight: Array
) -> tuple[NDArray[np.intp], Array]:
    """Return segment index (N,) and place on it (N,) nearest each line of sight."""
    _, k = cKDTree(flat).query(flat_sight)
    best = np.full(len(sight), np.inf)
    where = np.zeros(len(sight), dtype=np.intp)
    place = np.zeros(len(sight))
    for shift in (-1, 0):
        j = np.clip(k + shift, 0, len(line) - 2)
        a, b = line[j], line[j + 1]
        # Both ends seen across the line of sight; nearest point of the segment to the origin.
        a = a - np.einsum("ij,ij->i", a, sight)[:, None] * sight
        b = b - np.einsum("ij,ij->i", b, sight)[:, None] * sight
        edge = b - a
        t = np.clip(
            -np.einsum("ij,ij->i", a, edge) / (np.einsum("ij,ij->i", edge, edge) + 1e-12), 0, 1
        )
        gap = np.linalg.norm(a + t[:, None] * edge, axis=1)
        better = gap < best
        best[better], where[better], place[better] = gap[better], j[better], t[better]
    return where, place


def _flat(points: Array) -> Array:
    return np.asarray(points[:, :2] / points[:, 2:])


def turn_seen(helix: Helix, camera: Camera, outline_px: Array) -> Array:
    """Return the turn of the wire nearest to each point of an outline (N, 2) [px]."""
    sight = sight_lines(camera, outline_px)
    turn = turns_of(helix)
    line = seen(camera, centre_line(helix, turn))
    j, t = nearest(line, _flat(line), sight, _flat(sight))
    return np.asarray(turn[j] + t * (turn[j + 1] - turn[j]))


def residuals(
    helix: Helix, camera: Camera, sight: Array, jacobian: bool
) -> tuple[Array, Array | None]:
    """Return distances outside the tube (N,) [px] and, if asked, their slopes (N, 15)."""
    line = seen(camera, centre_line(helix))
    j, t = nearest(line, _flat(line), sight, _flat(sight))
    point = line[j] + t[:, None] * (line[j + 1] - line[j])
    across = point - np.einsum("ij,ij->i", point, sight)[:, None] * sight
    gap = np.linalg.norm(across, axis=1) + 1e-9
    px = camera.focal_px / point[:, 2]
    r = (gap - 0.5 * helix.wire_mm) * px
    if not jacobian:
        return np.asarray(r), None
    toward = across / gap[:, None]
    share = np.linspace(0.0, 1.0, len(line))
    slopes = np.empty((len(r), len(NAMES)))
    for k, step in enumerate(_STEPS):
        values = helix.values.copy()
        values[k] += step
        moved = replace(helix, values=values)
        turn = values[6] + share * (values[7] - values[6])
        other = seen(camera, centre_line(moved, turn))
        change = (other[j] + t[:, None] * (other[j + 1] - other[j]) - point) / step
        slopes[:, k] = np.einsum("ij,ij->i", toward, change) * px
    slopes[:, NAMES.index("log_wire")] -= 0.5 * helix.wire_mm * px
    return np.asarray(r), slopes


def fit(
    helix: Helix,
    camera: Camera,
    outline_px: Array,
    prior: Prior,
    softness_px: float = 1.0,
    steps: int = 25,
) -> Fit:
    """Return the helix whose tube best touches the outline.

    Parameters
    ----------
    helix : Helix
        Where to start: right to within a quarter of the pitch.
    camera : Camera
        Through which the outline (N, 2) [px] was seen.
    outline_px : ndarray, shape (N, 2)
        Points on the boundary of the wire.
    prior : Prior
        What is known before.
    softness_px : float
        Residual at which a point's pull starts to fade [px].
    """
    sight = sight_lines(camera, outline_px)
    damping = 1e-3
    r, slopes = residuals(helix, camera, sight, True)
    cost = _cost(r, helix, prior, softness_px)
    for _ in range(steps):
        assert slopes is not None
        weight = 1.0 / (1.0 + (r / softness_px) ** 2)
        normal = slopes.T @ (weight[:, None] * slopes) + np.diag(prior.sigma**-2)
        pull = slopes.T @ (weight * r) + (helix.values - prior.mean) / prior.sigma**2
        moved = False
        for _ in range(6):
            step = np.linalg.solve(normal + damping * np.diag(np.diag(normal)), -pull)
            trial = replace(helix, values=helix.values + step)
            new, _ = residuals(trial, camera, sight, False)
            new_cost = _cost(new, trial, prior, softness_px)
            if new_cost < cost:
                gain, helix, cost, moved = cost - new_cost, trial, new_cost, True
                damping = max(damping / 5, 1e-7)
                break
            damping *= 5
        if not moved:
            break
        r, slopes = residuals(helix, camera, sight, True)
        if gain < 1e-5 * cost:
            break
    assert slopes is not None
    weight = 1.0 / (1.0 + (r / softness_px) ** 2)
    spread = float(1.4826 * np.median(np.abs(r)))
    normal = slopes.T @ (weight[:, None] * slopes) / max(spread, 0.05) ** 2 + np.diag(
        prior.sigma**-2
    )
    return Fit(helix, np.asarray(np.linalg.inv(normal)), spread, r)


def _cost(r: Array, helix: Helix, prior: Prior, softness: float) -> float:
    robust = float(np.sum(softness**2 * np.log1p((r / softness) ** 2)))
    return robust + float(np.sum(((helix.values - prior.mean) / prior.sigma) ** 2))
