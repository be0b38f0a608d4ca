"""Coins: a round rim of known diameter at a known height, the side wall seen below it.

Seen at a slant, the outline of a coin is not one ellipse. It is the common outline of the upper rim
and of the foot; the wall between them makes up for nearly all of the foreshortening up to 12
degrees. So the outline gives the scale, and hardly the tilt; rings within the upper face, which
have no wall, give the tilt's size, and how they sit in the outline gives its direction.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vision._cv import sample
from vision.camera import Camera
from vision.photo import Photo
from vision.reference import Reference
from vision.references.circles import Ring, rims, rings_within
from vision.references.finding import Finding
from vision.references.pose import Problem, Solution, Unknown, solve
from vision.references.view import View, view_of

Array = NDArray[np.float64]

# How far from level a phone is held by hand, per axis (common practice, no source).
U_TILT = float(np.sin(np.radians(7.0)))
POINTS, INDEPENDENT = 72, 8.0
# Rounded rims, side light and wear pull the edge of a coin more than that of a card.
U_RIM_PX, U_RING_PX = 0.4, 0.7
U_CONCENTRIC_MM, U_ROUND_PX, U_THICKNESS_MM = 0.06, 0.5, 0.1
U_SPIN = 0.01  # about the normal: means nothing, but must not be left free [rad]
SURE = 0.97  # share of one pose above which the other is left aside
LEAST_SEEN = 0.65  # part of the way round
# Which metal is the more golden, from memory: the middle (1) or the border (-1).
TWO_METALS = {"coin:EUR-2": 1, "coin:EUR-1": -1, "coin:GBP-2": -1, "coin:CAD-2": 1}
LEAST_GOLDEN = 6.0
SEED = 7  # for trial points only: the same photo gives the same answer


def coins(photo: Photo) -> list[Ring]:
    """Return the rims of everything coin-like in a photo, the clearest first."""
    return find_rims(view_of(photo))


def find_rims(view: View) -> list[Ring]:
    """Return the rims of everything coin-like in a photo, the clearest first."""
    found = rims(view, np.random.default_rng(SEED))
    return [r for r in found if r.seen > LEAST_SEEN]


def choose(view: View, found: list[Ring], reference: Reference) -> list[Ring]:
    """Return those of several rims that have the coin's look, or all where none has.

    Only coins of two metals have a look of their own: which of them is the more golden.
    """
    golden = TWO_METALS.get(reference.kind)
    if golden is None or len(found) < 2:
        return found
    alike = [r for r in found if golden * _more_golden(view, r) > LEAST_GOLDEN]
    return alike or found


def _more_golden(view: View, rim: Ring) -> float:
    """Return how much yellower the middle of a coin is than its border, b* of L*a*b*."""
    outline = rim.outline(90) - rim.middle
    inner, outer = (
        float(
            np.median(
                [
                    sample(view.small, (rim.middle + part * outline + 0.5) * view.factor - 0.5)[
                        :, 2
                    ]
                    for part in parts
                ]
            )
        )
        for parts in ((0.2, 0.3, 0.4, 0.5), (0.82, 0.86, 0.9))
    )
    return inner - outer


def explained(view: View, rim: Ring, reference: Reference) -> Finding:
    """Return the camera that explains a coin.

    Parameters
    ----------
    view : View
        The photo.
    rim : Ring
        Its outer rim.
    reference : Reference
        Which coin it is.
    """
    level = _level_camera(rim, reference, view.rgb.shape, view.focal_px)
    task = _problem(rim, rings_within(view.rgb, rim), reference, LEVEL)
    first = solve(task, level, view.focal)
    solutions = [first, solve(task, _mirrored(first.camera), view.focal)]
    held = _weighed(solutions)
    if held is None:
        solution = min(solutions, key=lambda s: s.chi2)
    else:
        solution = solve(_problem(rim, (), reference, held), level, view.focal)
    return Finding(reference, solution, rim.outline(), rim.rms_px, rim.seen)


@dataclass(frozen=True, slots=True)
class _Held:
    """How the camera is held: the table's normal across the line of sight, and its covariance."""

    normal: Array
    cov: Array


LEVEL = _Held(np.zeros(2), np.eye(2) * U_TILT**2)


def _weighed(solutions: list[Solution]) -> _Held | None:
    """Return the mean of solutions that cannot be told apart, or None where one is much better.

    A circle seen at a slant has two poses, mirrored about the line of sight.
    """
    weights = np.exp(
        -0.5 * (np.array([s.chi2 for s in solutions]) - min(s.chi2 for s in solutions))
    )
    normals = np.array([s.camera.rotation[:2, 2] for s in solutions])
    best = int(np.argmax(weights))
    # Starts that ended in one place are one solution.
    distinct = [best]
    for k in np.argsort(-weights):
        if all(np.linalg.norm(normals[k] - normals[d]) > 0.02 for d in distinct):
            distinct.append(int(k))
    share = weights[distinct] / weights[distinct].sum()
    if share[0] > SURE:
        return None
    mean = share @ normals[distinct]
    off = normals[distinct] - mean
    within = sum(w * _normal_cov(solutions[d]) for w, d in zip(share, distinct, strict=True))
    return _Held(mean, np.asarray((off.T * share) @ off + within))


def _normal_cov(solution: Solution) -> Array:
    base = solution.camera.rotation[:2, 2]
    rows = np.vstack([m for _, m in solution.moves])
    off = np.array([solution.moved(1e-3 * r).rotation[:2, 2] - base for r in rows]) / 1e-3
    return np.asarray(off.T @ off)


def _level_camera(
    rim: Ring, reference: Reference, shape: tuple[int, ...], focal_px: float
) -> Camera:
    """Return the camera that looks straight down on the coin's rim."""
    centre = (np.array(shape[1::-1]) - 1.0) / 2.0
    far = focal_px * reference.size_mm[0] / 2.0 / rim.radius_px
    place = np.append((rim.middle - centre) / focal_px, 1.0) * far
    turn = np.diag([1.0, -1.0, -1.0])
    return Camera(focal_px, centre, turn, place + np.array([0.0, 0.0, reference.thickness_mm]))


def _mirrored(camera: Camera) -> Camera:
    """Return the camera that sees a circle about the world's origin nearly the same.

    The table's normal is mirrored at the line of sight, or tilted where it lies along it.
    """
    sight = camera.translation_mm / np.linalg.norm(camera.translation_mm)
    normal = camera.rotation[:, 2]
    other = 2.0 * (normal @ sight) * sight - normal
    if np.linalg.norm(other - normal) < 0.1:
        other = normal + np.array([0.15, 0.1, 0.0])
    third = other / np.linalg.norm(other)
    first = camera.rotation[:, 0] - (camera.rotation[:, 0] @ third) * third
    first /= np.linalg.norm(first)
    turn = np.column_stack([first, np.cross(third, first), third])
    return Camera(camera.focal_px, camera.centre_px, turn, camera.translation_mm)


@dataclass(frozen=True, slots=True)
class _Seen:
    """Points of one round outline with their outward normals, and their uncertainty [px]."""

    points: Array
    normals: Array
    u_px: float

    def off(self, reach: Array, oval: Array) -> Array:
        """Return the rows of a predicted reach [px], the outline being somewhat oval by itself."""
        cos, sin = self.normals.T
        own = oval[0] * (cos**2 - sin**2) + oval[1] * 2.0 * cos * sin
        return np.asarray(((self.points * self.normals).sum(axis=1) - reach - own) / self.u_px)


def _seen(ring: Ring, u_px: float) -> _Seen:
    points = ring.points[:: max(1, len(ring.points) // POINTS)]
    angle = np.arctan2(*(points - ring.centre).T[::-1])
    cos, sin = np.cos(angle), np.sin(angle)
    slope = np.column_stack([-sin, cos, -2 * np.sin(2 * angle), 2 * np.cos(2 * angle)])
    across = slope @ ring.shape[1:]
    radius = np.linalg.norm(points - ring.centre, axis=1)
    normals = np.column_stack([radius * cos + across * sin, radius * sin - across * cos])
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    independent = np.sqrt(max(len(points) / INDEPENDENT, 1.0))
    return _Seen(points, normals, float(np.hypot(ring.rms_px, u_px) * independent))


def _problem(rim: Ring, within: tuple[Ring, ...], reference: Reference, held: _Held) -> Problem:
    """Return the rows of the rim, of the rings within it, and of how the phone is held."""
    mm_per_px = reference.size_mm[0] / 2.0 / rim.radius_px
    outer, inner = _seen(rim, U_RIM_PX), [_seen(r, U_RING_PX) for r in within]
    unknowns = [
        Unknown("coin size", reference.size_mm[0], reference.u_mm),
        Unknown("thickness", reference.thickness_mm, U_THICKNESS_MM),
        *[Unknown("edges", 0.0, U_ROUND_PX)] * 2,
    ]
    for ring in within:
        unknowns.append(Unknown("rings", ring.radius_px * mm_per_px, 2.0))
        unknowns += [Unknown("rings", 0.0, U_CONCENTRIC_MM)] * 2
        unknowns += [Unknown("rings", 0.0, U_ROUND_PX)] * 2
    whiten = np.linalg.inv(np.linalg.cholesky(held.cov))

    def residuals(camera: Camera, values: Array) -> Array:
        size, height = values[0] / 2.0, values[1]
        top = _reach(camera, outer.normals, (0.0, 0.0, height), size)
        foot = _reach(camera, outer.normals, (0.0, 0.0, 0.0), size)
        rows = [outer.off(np.maximum(top, foot), values[2:4])]
        for ring, v in zip(inner, values[4:].reshape(-1, 5), strict=True):
            reach = _reach(camera, ring.normals, (v[1], v[2], height), v[0])
            rows.append(ring.off(reach, v[3:]))
        turn = camera.rotation
        rows += [whiten @ (turn[:2, 2] - held.normal), np.array([turn[0, 1] / U_SPIN])]
        return np.concatenate(rows)

    causes = ["edges"] * len(outer.points) + ["rings"] * sum(len(r.points) for r in inner)
    return Problem(residuals, tuple(unknowns), (*causes, "tilt", "tilt", "tilt"))


def _reach(
    camera: Camera, normals: Array, middle: tuple[float, float, float], radius: float
) -> Array:
    """Return how far a circle parallel to the table reaches along normals (N, 2) [px].

    The circle's image is the conic whose dual is H diag(r², r², -1) Hᵀ, with H the map of its plane
    to the picture; a line with normal n at distance h touches it where (n, -h) lies on the dual.
    """
    turn = camera.rotation
    plane = np.column_stack(
        [turn[:, 0], turn[:, 1], turn @ np.array(middle) + camera.translation_mm]
    )
    inner = np.diag([camera.focal_px, camera.focal_px, 1.0])
    inner[:2, 2] = camera.centre_px
    image = inner @ plane
    dual = image @ np.diag([radius**2, radius**2, -1.0]) @ image.T
    a = ((normals @ dual[:2, :2]) * normals).sum(axis=1)
    b, c = normals @ dual[:2, 2], dual[2, 2]
    return np.asarray((b - np.sqrt(np.maximum(b * b - a * c, 0.0))) / c)
