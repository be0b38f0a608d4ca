"""Fit a helix's tube to the outline of the wire, through the camera, by robust least squares."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from vision.camera import Camera, DoubtedCamera
from vision.helix import NAMES, Helix, turns_of
from vision.helix_moves import moves_of_line
from vision.touching import Touch, Traced, across, seen, sight_lines, touch

Array = NDArray[np.float64]

#: Step in a cause of the camera's doubt [standard uncertainties].
_SHIFT = 1e-2
#: Weight of one point of the outline against what is known before: neighbours err together.
HEED = 0.05
#: Points whose slopes are multiplied at once.
BLOCK = 256


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


def turn_seen(helix: Helix, camera: Camera, outline_px: Array) -> Array:
    """Return the turn of the wire nearest to each point of an outline (N, 2) [px]."""
    return turn_touched(helix, touch(helix, camera, outline_px))


def turn_touched(helix: Helix, there: Touch) -> Array:
    """Return the turn of the wire (N,) at which lines of sight touch it."""
    turn, j, t = turns_of(helix), there.segment, there.place
    return np.asarray(turn[j] + t * (turn[j + 1] - turn[j]))


def residuals(helix: Helix, camera: Camera, outline: Array | Traced) -> Array:
    """Return how far outside the tube each point of an outline (N, 2) lies, (N,) [px]."""
    return touch(helix, camera, outline).residual_px


def slopes_of(
    helix: Helix,
    camera: DoubtedCamera,
    shifts: Array,
    outline: Array | Traced,
    there: Touch | None = None,
) -> tuple[Array, Array]:
    """Return the residuals (N,) and their slopes (N, 16 + K) on values and shifts [px].

    Where the tube is touched, through the camera at those shifts, may be given if it is known.
    """
    here = camera.at(shifts)
    traced = outline if isinstance(outline, Traced) else Traced.of(outline)
    touched = touch(helix, here, traced) if there is None else there
    r, j, t, point = touched.residual_px, touched.segment, touched.place, touched.point_mm
    beside = across(point, touched.sight)
    gap = np.linalg.norm(beside, axis=1) + 1e-9
    px = here.focal_px / point[:, 2]
    toward = (beside * (px / gap)[:, None]) @ here.rotation
    moves = moves_of_line(helix)
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
        other = camera.at(moved)
        spot = seen(other, world)
        wide = np.linalg.norm(across(spot, sight_lines(other, traced.points_px)), axis=1)
        after = (wide - 0.5 * helix.wire_mm) * other.focal_px / spot[:, 2] - traced.beyond_px
        out[:, len(NAMES) + k] = (after - r) / _SHIFT
    return r, out


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
    points = outline if isinstance(outline, Traced) else Traced.of(outline)
    start = np.zeros(camera.causes) if shifts is None else shifts
    task = _Task.of(camera, points, prior, softness_px)
    state, damping = np.concatenate([helix.values, start]), 1e-3
    r, slopes = task.linear(helix, start)
    least = task.cost(r, state)
    for _ in range(steps):
        normal, pull = task.normal_and_pull(r, slopes, state)
        gain = 0.0
        for _ in range(6):
            trial = state - np.linalg.solve(normal + damping * np.diag(np.diag(normal)), pull)
            moved = replace(helix, values=trial[: len(NAMES)])
            there = touch(moved, camera.at(trial[len(NAMES) :]), points)
            if (now := task.cost(there.residual_px / points.spread_px, trial)) < least:
                gain, least, state, helix = least - now, now, trial, moved
                damping = max(damping / 5, 1e-7)
                break
            damping *= 5
        if gain == 0.0:
            break
        r, slopes = task.linear(helix, state[len(NAMES) :], there)
        if gain < 1e-4 * least:
            break
    found = state[len(NAMES) :]
    r_px = r * points.spread_px
    rms_px = float(1.4826 * np.median(np.abs(r_px)))
    return Fit(helix, camera.at(found), found, task.covariance(r, slopes), rms_px, r_px)


@dataclass(frozen=True, slots=True)
class _Task:
    """What is minimised over values and shifts: residuals, robustly, and what was known before."""

    camera: DoubtedCamera
    points: Traced
    softness: float
    mean: Array
    tight: Array

    @staticmethod
    def of(camera: DoubtedCamera, points: Traced, prior: Prior, softness: float) -> "_Task":
        mean = np.concatenate([prior.mean, np.zeros(camera.causes)])
        tight = np.concatenate([prior.sigma, np.ones(camera.causes)]) ** -2
        return _Task(camera, points, softness, mean, tight)

    def cost(self, r: Array, state: Array) -> float:
        robust = float(np.sum(self.softness**2 * np.log1p((r / self.softness) ** 2)))
        return HEED * robust + float(np.sum((state - self.mean) ** 2 * self.tight))

    def linear(
        self, helix: Helix, shifts: Array, there: Touch | None = None
    ) -> tuple[Array, Array]:
        """Return residuals (N,) and their slopes (N, 16 + K), of the points' own spreads."""
        r, slopes = slopes_of(helix, self.camera, shifts, self.points, there)
        return r / self.points.spread_px, slopes / self.points.spread_px[:, None]

    def weight(self, r: Array) -> Array:
        return np.asarray(HEED / (1.0 + (r / self.softness) ** 2))

    def normal_and_pull(self, r: Array, slopes: Array, state: Array) -> tuple[Array, Array]:
        """Return the normal matrix (16 + K, 16 + K) and the right side (16 + K,) of a step."""
        weighed = self._weighed(slopes, np.column_stack([slopes, r]), r)
        normal, pull = weighed[:, :-1], weighed[:, -1]
        return normal + np.diag(self.tight), pull + (state - self.mean) * self.tight

    def _weighed(self, slopes: Array, other: Array, r: Array) -> Array:
        """Return the sum over the points of slopes times others, each by its weight.

        In blocks: for larger products BLAS wakes threads, which takes longer than the product.
        """
        by_weight = self.weight(r)[:, None] * other
        blocks = (slice(k, k + BLOCK) for k in range(0, len(slopes), BLOCK))
        empty = np.zeros((slopes.shape[1], other.shape[1]))
        return sum((slopes[k].T @ by_weight[k] for k in blocks), empty)

    def covariance(self, r: Array, slopes: Array) -> Array:
        """Return the covariance (16 + K, 16 + K), the spread that is seen taken for the true."""
        spread = float(1.4826 * np.median(np.abs(r)))
        weighed = self._weighed(slopes, slopes, r)
        return np.asarray(np.linalg.inv(weighed / max(spread, 0.05) ** 2 + np.diag(self.tight)))
