"""Fit a helix's tube to the outline of the wire, through the camera, by robust least squares.

A tube of round wire is a row of balls; a line of sight touches its outline where its least
distance to the centre line equals the wire's radius. That is exact for any camera, and where
strands cross, the nearest of them is the one that is seen.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from vision.camera import Camera, DoubtedCamera
from vision.helix import NAMES, End, Helix, centre_line, turns_of

Array = NDArray[np.float64]

_STEPS = np.array(
    [0.01, 0.01, 1e-4, 1e-4, 1e-3, 1e-4, 1e-3, 1e-3, 1e-4, 1e-3, 1e-3, 1e-3, 1e-3, 1e-3, 1e-3, 1e-3]
)
#: Step in a cause of the camera's doubt [standard uncertainties].
_SHIFT = 1e-2
#: How many segments to either side of a point's own turn are looked at.
_ABOUT = 3
#: Weight of one point of the outline against what is known before: neighbours err together.
HEED = 0.05


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
    camera : Camera
        The one through which it is seen best, within its doubts.
    shifts : ndarray, shape (K,)
        How far each of the camera's causes of doubt is off [standard uncertainties].
    covariance : ndarray, shape (16 + K, 16 + K)
        Of the helix's values and of those shifts.
    rms_px : float
        Spread of the outline about it, robustly [px].
    residual_px : ndarray, shape (N,)
        Of each point of the outline: positive outside the tube [px].
    """

    helix: Helix
    camera: Camera
    shifts: Array
    covariance: Array
    rms_px: float
    residual_px: Array


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


def nearest(
    line: Array, flat: Array, sight: Array, flat_sight: Array, near: NDArray[np.intp] | None = None
) -> tuple[NDArray[np.intp], Array]:
    """Return segment index (N,) and place on it (N,) nearest each line of sight.

    Among all segments, or among those about `near` (N,) where it is given and not negative.
    """
    shifts = [-1, 0]
    if near is None or (near < 0).any():
        _, k = cKDTree(flat).query(flat_sight)
    else:
        k = near
    if near is not None:
        k = np.where(near < 0, k, near)
        shifts = list(range(-_ABOUT, _ABOUT))
    best = np.full(len(sight), np.inf)
    where = np.zeros(len(sight), dtype=np.intp)
    place = np.zeros(len(sight))
    for shift in shifts:
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


def residuals(helix: Helix, camera: Camera, outline: Array | Traced) -> Array:
    """Return how far outside the tube each point of an outline (N, 2) lies, (N,) [px]."""
    return _touch(helix, camera, outline).residual_px


def slopes_of(
    helix: Helix,
    camera: DoubtedCamera,
    shifts: Array,
    outline: Array | Traced,
    touch: "Touch | None" = None,
) -> tuple[Array, Array]:
    """Return the residuals (N,) and their slopes (N, 16 + K) on values and shifts [px].

    Where the tube is touched, through the camera at those shifts, may be given if it is known.
    """
    here = camera.at(shifts)
    traced = outline if isinstance(outline, Traced) else Traced.of(outline)
    touched = _touch(helix, here, traced) if touch is None else touch
    r, j, t, point = touched.residual_px, touched.segment, touched.place, touched.point_mm
    across = _across(point, touched.sight)
    gap = np.linalg.norm(across, axis=1) + 1e-9
    px = here.focal_px / point[:, 2]
    toward = (across * (px / gap)[:, None]) @ here.rotation
    moves = _moves_of_line(helix)
    out = np.empty((len(r), len(NAMES) + len(shifts)))
    for axis in range(3):
        here_and_next = moves[axis, j], moves[axis, j + 1]
        move = here_and_next[0] + t[:, None] * (here_and_next[1] - here_and_next[0])
        move *= toward[:, axis, None]
        out[:, : len(NAMES)] = move if axis == 0 else out[:, : len(NAMES)] + move
    out[:, NAMES.index("log_wire")] -= 0.5 * helix.wire_mm * px
    world = (point - here.translation_mm) @ here.rotation
    for k in range(len(shifts)):
        moved = shifts.copy()
        moved[k] += _SHIFT
        there = camera.at(moved)
        spot = seen(there, world)
        wide = np.linalg.norm(_across(spot, sight_lines(there, traced.points_px)), axis=1)
        after = (wide - 0.5 * helix.wire_mm) * there.focal_px / spot[:, 2] - traced.beyond_px
        out[:, len(NAMES) + k] = (after - r) / _SHIFT
    return r, out


def _moves_of_line(helix: Helix) -> Array:
    """Return how the sampled centre line moves with each value, (3, L, 16) [mm per unit].

    Values that do nothing, as those of dead turns at an open end, are not drawn.
    """
    turn = turns_of(helix)
    line = centre_line(helix, turn)
    share = np.linspace(0.0, 1.0, len(turn))
    out = np.zeros((3, len(turn), len(NAMES)))
    for k, (name, step) in enumerate(zip(NAMES, _STEPS, strict=True)):
        if name in _idle(helix):
            continue
        values = helix.values.copy()
        values[k] += step
        along = values[6] + share * (values[7] - values[6])
        out[:, :, k] = (centre_line(replace(helix, values=values), along) - line).T / step
    return out


def _idle(helix: Helix) -> set[str]:
    """Return the values that do nothing to an open end."""
    sides = zip(("start", "stop"), helix.ends, strict=True)
    open_ends = [side for side, end in sides if end is End.OPEN]
    return {f"{what}_{side}" for side in open_ends for what in ("log_pitch", "dead")}


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


def _touch(helix: Helix, camera: Camera, outline: Array | Traced) -> Touch:
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
    gap = np.linalg.norm(_across(point, sight), axis=1) + 1e-9
    r = (gap - 0.5 * helix.wire_mm) * camera.focal_px / point[:, 2] - traced.beyond_px
    return Touch(r, j, t, sight, point)


def _across(point: Array, sight: Array) -> Array:
    return np.asarray(point - np.einsum("ij,ij->i", point, sight)[:, None] * sight)


def fit(
    helix: Helix,
    camera: DoubtedCamera,
    outline: Array | Traced,
    prior: Prior,
    softness_px: float = 1.0,
    steps: int = 25,
    shifts: Array | None = None,
) -> Fit:
    """Return the helix whose tube best touches the outline.

    Parameters
    ----------
    helix : Helix
        Where to start: right to within a quarter of the pitch.
    camera : DoubtedCamera
        Through which the outline (N, 2) [px] was seen; it moves within its doubts.
    outline : ndarray, shape (N, 2), or Traced
        Points on the boundary of the wire [px].
    prior : Prior
        What is known before.
    softness_px : float
        Residual at which a point's pull starts to fade [px; of the points' own spreads].
    shifts : ndarray, shape (K,), or None
        Where to start in the camera's doubts; at the best camera if None.
    """
    count = len(NAMES)
    points = outline if isinstance(outline, Traced) else Traced.of(outline)
    start = np.zeros(camera.causes) if shifts is None else shifts
    state = np.concatenate([helix.values, start])
    mean = np.concatenate([prior.mean, np.zeros(len(start))])
    tight = np.concatenate([prior.sigma, np.ones(len(start))]) ** -2

    def cost(r: Array, at: Array) -> float:
        robust = float(np.sum(softness_px**2 * np.log1p((r / softness_px) ** 2)))
        return HEED * robust + float(np.sum((at - mean) ** 2 * tight))

    def linear(at: Array, touch: Touch | None = None) -> tuple[Array, Array]:
        r, slopes = slopes_of(helix, camera, at, points, touch)
        return r / points.spread_px, slopes / points.spread_px[:, None]

    damping = 1e-3
    r, slopes = linear(start)
    least = cost(r, state)
    for _ in range(steps):
        weight = HEED / (1.0 + (r / softness_px) ** 2)
        normal = slopes.T @ (weight[:, None] * slopes) + np.diag(tight)
        pull = slopes.T @ (weight * r) + (state - mean) * tight
        gain = 0.0
        for _ in range(6):
            trial = state - np.linalg.solve(normal + damping * np.diag(np.diag(normal)), pull)
            moved = replace(helix, values=trial[:count])
            touch = _touch(moved, camera.at(trial[count:]), points)
            if (now := cost(touch.residual_px / points.spread_px, trial)) < least:
                gain, least, state, helix = least - now, now, trial, moved
                damping = max(damping / 5, 1e-7)
                break
            damping *= 5
        if gain == 0.0:
            break
        r, slopes = linear(state[count:], touch)
        if gain < 1e-4 * least:
            break
    weight = HEED / (1.0 + (r / softness_px) ** 2)
    spread = float(1.4826 * np.median(np.abs(r)))
    normal = slopes.T @ (weight[:, None] * slopes) / max(spread, 0.05) ** 2 + np.diag(tight)
    covariance = np.asarray(np.linalg.inv(normal))
    r_px = r * points.spread_px
    rms_px = float(1.4826 * np.median(np.abs(r_px)))
    return Fit(helix, camera.at(state[count:]), state[count:], covariance, rms_px, r_px)
