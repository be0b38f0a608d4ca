"""The camera that explains what was seen of a reference, and the causes of doubt about it.

Every row of the least-squares problem is one independent input in units of its own standard
uncertainty: a piece of the reference's edge, the reference's size, the focal length. With J the
rows at the solution and A = JᵀJ, the input of row r moves the solution by A⁻¹ Jᵣᵀ, and the sum of
the outer products of these moves over all rows is A⁻¹, the covariance. So the covariance falls
apart by cause exactly.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from vision.camera import Camera

Array = NDArray[np.float64]

FULL_FRAME_DIAGONAL_MM = 43.2666  # 36 x 24 mm
USUAL_35MM, U_USUAL = 26.0, 0.12  # common practice, no source: main cameras of phones, 23 to 29 mm
# An integer in EXIF (uniform, half a unit), and one camera in several that follows the width.
U_INTEGER_MM, U_CONVENTION = 0.29, 0.012
# Phones straighten their pictures to a per cent or so at the border (a judgement; coins in two
# photographs by one phone tell of 0.035 and 0.043).
U_LENS = 0.02
NUMBERS = 8  # turn, shift, focal length, bend of the lens


@dataclass(frozen=True, slots=True)
class Unknown:
    """A quantity that is known beforehand, though not exactly.

    Attributes
    ----------
    cause : str
        Its name among the causes of doubt.
    value : float
        Best value.
    u : float
        Standard uncertainty, same unit.
    """

    cause: str
    value: float
    u: float


@dataclass(frozen=True, slots=True)
class Problem:
    """What is to be explained.

    Attributes
    ----------
    residuals : callable
        (camera, unknowns) to rows in units of their standard uncertainty.
    unknowns : tuple of Unknown
        Sizes, thickness and the like, with their priors.
    causes : tuple of str
        For each row, the cause of its doubt.
    u_lens : float
        How far the lens may bend lines, before the rows tell it [-].
    lens : float
        How far something else tells that it does [-].
    """

    residuals: Callable[[Camera, Array], Array]
    unknowns: tuple[Unknown, ...]
    causes: tuple[str, ...]
    u_lens: float = U_LENS
    lens: float = 0.0


@dataclass(frozen=True, slots=True)
class Solution:
    """The best camera and, by cause, the moves of its eight numbers at one standard uncertainty."""

    camera: Camera
    values: Array
    chi2: float
    moves: tuple[tuple[str, Array], ...]

    def moved(self, move: Array) -> Camera:
        """Return the camera after a move (8,)."""
        return _moved(self.camera, move)

    def widened(self, factor: float) -> "Solution":
        """Return the same with the moves by the edges made larger, where they fit badly."""
        moves = tuple((c, m * factor if c == "edges" else m) for c, m in self.moves)
        return replace(self, moves=moves)


def focal_prior(shape: tuple[int, ...], focal_35mm: float | None) -> Unknown:
    """Return the logarithm of the focal length in pixels, from EXIF or from what phones have."""
    diagonal = float(np.hypot(shape[0], shape[1]))
    if focal_35mm is None:
        return Unknown("focal length", float(np.log(USUAL_35MM / 43.2666 * diagonal)), U_USUAL)
    u = float(np.hypot(U_INTEGER_MM / focal_35mm, U_CONVENTION))
    return Unknown("focal length", float(np.log(focal_35mm / FULL_FRAME_DIAGONAL_MM * diagonal)), u)


def solve(problem: Problem, start: Camera, focal: Unknown, rounds: int = 12) -> Solution:
    """Return the most likely camera by damped Gauss-Newton steps.

    Parameters
    ----------
    problem : Problem
        Rows and unknowns.
    start : Camera
        A camera near the answer.
    focal : Unknown
        Logarithm of the focal length [px].
    rounds : int
        At most so many steps.
    """
    best = np.array([u.value for u in problem.unknowns])

    def rows(camera: Camera, values: Array) -> Array:
        bend = (camera.lens - problem.lens) / problem.u_lens
        priors = [(np.log(camera.focal_px) - focal.value) / focal.u, bend]
        priors += [(v - u.value) / u.u for v, u in zip(values, problem.unknowns, strict=True)]
        return np.concatenate([problem.residuals(camera, values), priors])

    camera, damping = start, 1e-6
    now = rows(camera, best)
    for _ in range(rounds):
        jacobian = _jacobian(rows, camera, best, problem.unknowns, now)
        normal = jacobian.T @ jacobian
        damped = normal + damping * np.diag(np.diag(normal))
        step: Array = -np.asarray(np.linalg.lstsq(damped, jacobian.T @ now, rcond=None)[0])
        tried = _moved(camera, step[:NUMBERS])
        after = rows(tried, best + step[NUMBERS:])
        if after @ after < now @ now:
            gain = now @ now - after @ after
            camera, best, now, damping = tried, best + step[NUMBERS:], after, damping * 0.2
            if gain < 1e-7 * (1.0 + now @ now):
                break
        else:
            damping *= 20.0
            if damping > 1e6:
                break
    jacobian = _jacobian(rows, camera, best, problem.unknowns, now)
    return Solution(camera, best, float(now @ now), _by_cause(jacobian, problem))


def _by_cause(jacobian: Array, problem: Problem) -> tuple[tuple[str, Array], ...]:
    spread = np.linalg.pinv(jacobian.T @ jacobian, rcond=1e-14) @ jacobian.T
    causes = [*problem.causes, "focal length", "lens", *(u.cause for u in problem.unknowns)]
    moves: dict[str, list[int]] = {}
    for row, cause in enumerate(causes):
        moves.setdefault(cause, []).append(row)
    return tuple((cause, spread[:NUMBERS, at].T) for cause, at in moves.items())


def _moved(camera: Camera, move: Array) -> Camera:
    """Turn [rad], shift (as a part of the distance), stretch and bend a camera by (8,)."""
    turn = turned(move[:3])
    far = float(np.linalg.norm(camera.translation_mm))
    return Camera(
        camera.focal_px * float(np.exp(np.clip(move[6], -0.5, 0.5))),
        camera.centre_px,
        turn @ camera.rotation,
        camera.translation_mm + far * move[3:6],
        camera.lens + float(move[7]),
    )


def turned(vector: Array) -> Array:
    """Return the rotation (3, 3) about a vector by its length [rad] (Rodrigues)."""
    x, y, z = vector
    cross = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    angle = float(np.linalg.norm(vector))
    if angle < 1e-12:
        return np.asarray(np.eye(3) + cross)
    first, second = np.sin(angle) / angle, (1.0 - np.cos(angle)) / angle**2
    return np.asarray(np.eye(3) + first * cross + second * (cross @ cross))


def _jacobian(
    rows: Callable[[Camera, Array], Array],
    camera: Camera,
    values: Array,
    unknowns: Sequence[Unknown],
    now: Array,
) -> Array:
    step = 1e-6
    columns = [(rows(_moved(camera, step * e), values) - now) / step for e in np.eye(NUMBERS)]
    for k, unknown in enumerate(unknowns):
        moved = values.copy()
        moved[k] += 1e-3 * unknown.u
        columns.append((rows(camera, moved) - now) / (1e-3 * unknown.u))
    return np.column_stack(columns)


def variants(solution: Solution, around_px: Array, least: float = 3e-5) -> list[tuple[str, Camera]]:
    """Return cameras, each at one standard uncertainty of one independent cause.

    Parameters
    ----------
    solution : Solution
        What `solve` found.
    around_px : ndarray, shape (N, 2)
        Pixels of the region that matters.
    least : float
        Moves that change no length there by more than this part are left out [-].

    Notes
    -----
    A cause that moves the camera in several ways gives several variants: the principal ones, by
    their effect on lengths, in place of one for each row.
    """
    effects = np.column_stack(
        [_log_lengths(solution.moved(1e-5 * e), around_px) for e in np.eye(NUMBERS)]
    )
    effects = (effects - _log_lengths(solution.camera, around_px)[:, None]) / 1e-5
    found = []
    for cause, moves in solution.moves:
        mix, sizes, _ = np.linalg.svd(moves @ effects.T, full_matrices=False)
        rms, parts = sizes / np.sqrt(len(effects)), np.asarray(mix.T @ moves, np.float64)
        found += [(cause, solution.moved(parts[k])) for k in range(len(rms)) if rms[k] > least]
    return found


def _log_lengths(camera: Camera, around_px: Array) -> Array:
    """Return logarithms of short lengths along x and y, on the table and 15 mm above it."""
    lengths = []
    for height in (0.0, 15.0):
        here = camera.at_height(around_px, height)
        for way in ([20.0, 0.0], [0.0, 20.0]):
            there = camera.at_height(around_px + np.array(way), height)
            lengths.append(np.log(np.linalg.norm(there - here, axis=1)))
    return np.concatenate(lengths)
