"""The table's slant from squares printed on it: a cutting mat, squared paper, tiles.

Lines that lie on the table in two directions at right angles do so at one slant only: at any other
they would not. So every straight edge of the photo is laid on the table at many slants; where most
of them then run in one direction or square to it, that is the slant.
"""

import numpy as np
from numpy.typing import NDArray

from vision._cv import enlarge_points, lab, reduced, segments
from vision.references.lattice import axes_of, lattice
from vision.references.slant import Told
from vision.references.view import View

Array = NDArray[np.float64]

#: Longer side of the copy in which edges are sought, the shortest and how many of them, and what
#: one counts at most [px].
SIDE_PX, SHORTEST_PX, MOST, LONGEST_PX, GAIN = 1200, 30.0, 500, 150.0, 5.0
#: Slants that are tried, wide to narrow: how far about the best, in which steps, and into how many
#: directions a right angle is divided there.
LATTICES = ((0.5, 0.03, 90), (0.04, 0.008, 180), (0.016, 0.003, 360))
#: How far an edge may be off its direction: by its ends [px], and in any case [rad].
U_ENDS_PX, U_WAY, REACH = 0.7, 0.004, 3.0
#: Which share of all edges lies along the squares, and what they measure together in each of both
#: directions [px] and at least in number: fewer may be any corner's. Which share of them lies in
#: the lesser direction at least: of squares nearly half, across the ribs of a cloth a twentieth.
LEAST_SHARE, LEAST_LENGTH, LEAST_MANY, LEAST_LESSER = 0.8, 1100.0, 60, 0.2
#: So many edges are off together, being parts of one line. Mats and lenses are not as true as the
#: second, and what is told no better than the third is left [sine of the slant].
ALIKE, U_SQUARE, WORST = 6.0, 0.005, 0.02
STEEPEST = 0.55


def squares_told(view: View) -> Told | None:
    """Return the slant that squares on the table tell, or None where there are none.

    Parameters
    ----------
    view : View
        The photo.
    """
    edges, length = _edges(view)
    if len(edges) < LEAST_MANY:
        return None
    found = _finest(edges, length, *_coarse(edges, np.minimum(length, LONGEST_PX)))
    if found is None:
        return None
    normal, way, cov = found
    off, square = _off(edges, normal, way)
    on = np.abs(off) < REACH * np.hypot(U_WAY, U_ENDS_PX / length)
    both = min(float(length[on & side].sum()) for side in (square, ~square))
    if on.sum() < LEAST_MANY or both < max(LEAST_LENGTH, LEAST_LESSER * length[on].sum()):
        return None
    if length[on].sum() < LEAST_SHARE * length.sum():
        return None
    cov = cov + U_SQUARE**2 * np.eye(2)
    if float(np.linalg.eigvalsh(cov)[1]) > WORST**2:
        return None
    return Told(normal, np.asarray(np.linalg.inv(cov), np.float64), np.zeros(2))


def _edges(view: View) -> tuple[Array, Array]:
    """Return straight edges as planes through the lens, unit normals (N, 3), and lengths [px]."""
    small, factor = reduced(view.rgb, SIDE_PX)
    found = segments(lab(small), GAIN)
    length = np.hypot(found[:, 2] - found[:, 0], found[:, 3] - found[:, 1])
    order = np.argsort(-length)[:MOST]
    order = order[length[order] > SHORTEST_PX]
    ends = enlarge_points(found[order].reshape(-1, 2, 2), factor)
    rays = (ends - view.centre_px) / view.focal_px
    rays = np.concatenate([rays, np.ones((*rays.shape[:2], 1))], axis=2)
    planes = np.cross(rays[:, 0], rays[:, 1])
    return planes / np.linalg.norm(planes, axis=1, keepdims=True), length[order]


def _ways(edges: Array, normals: Array) -> Array:
    """Return the directions (T, N) of edges on tables of slants (T, 2) [rad]."""
    first, second, third = axes_of(normals)
    along = np.cross(edges[None], third[:, None])
    return np.asarray(
        np.arctan2((along * second[:, None]).sum(axis=2), (along * first[:, None]).sum(axis=2))
    )


def _coarse(edges: Array, weight: Array) -> tuple[Array, float]:
    """Return the slant (2,) at which most edges share a direction or its square, and that [rad]."""
    normal, way = np.zeros(2), 0.0
    for reach, step, parts in LATTICES:
        normals = lattice(normal, reach, step)
        turn = np.mod(_ways(edges, normals) / (0.5 * np.pi), 1.0)
        bins = (turn * parts).astype(int) % parts + parts * np.arange(len(normals))[:, None]
        total = np.bincount(bins.ravel(), np.tile(weight, len(normals)), parts * len(normals))
        total = total.reshape(-1, parts)
        total = total + np.roll(total, 1, axis=1) + np.roll(total, -1, axis=1)
        best, at = np.unravel_index(total.argmax(), total.shape)
        normal, way = normals[best], (at + 0.5) / parts * 0.5 * np.pi
    return normal, float(way)


def _off(edges: Array, normal: Array, way: float) -> tuple[Array, NDArray[np.bool_]]:
    """Return how far edges are off a direction or its square [rad], and which lie by the latter."""
    turn = np.mod(_ways(edges, normal[None])[0] - way + 0.25 * np.pi, np.pi)
    return np.mod(turn, 0.5 * np.pi) - 0.25 * np.pi, turn > 0.5 * np.pi


def _finest(
    edges: Array, length: Array, normal: Array, way: float
) -> tuple[Array, float, Array] | None:
    """Return slant and direction by least squares over the edges that lie along them, or None.

    With them the covariance (2, 2) of the slant.
    """
    u = np.hypot(U_WAY, U_ENDS_PX / length)
    for _ in range(5):
        off, _square = _off(edges, normal, way)
        on = np.abs(off) < REACH * u
        moved = [(_off(edges, normal + step, way)[0] - off) / 1e-4 for step in 1e-4 * np.eye(2)]
        rows = np.column_stack([*moved, -np.ones(len(off))])[on] / u[on, None]
        # A slant that nothing tells stays as it is.
        rows, left = (
            np.vstack([rows, np.diag([3.0, 3.0, 0.1])]),
            np.append(off[on] / u[on], [0] * 3),
        )
        step = np.linalg.lstsq(rows, -left, rcond=None)[0]
        normal, way = normal + step[:2], way + float(step[2])
        if np.linalg.norm(normal) > STEEPEST:
            return None
    return normal, way, ALIKE * np.asarray(np.linalg.inv(rows.T @ rows)[:2, :2])
