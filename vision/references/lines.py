"""Straight lines of a picture and the four-sided shapes that they form."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vision._cv import Floats, blurred, sample, segments

Array = NDArray[np.float64]
Indices = NDArray[np.intp]

# Lightness, then the two colour axes: a card may be as light as the table, or of its colour.
GAIN = 5.0
SHORTEST_PX, ACROSS_PX = 12.0, 1.6
BESIDE_PX = 4.0
# Colours this far apart make an edge [L*a*b*]; how long the lines are on which it is measured how
# far they lie apart by chance.
LEAST_STEP, USUAL_LENGTH_PX = 1.2, 24.0
MOST_SEGMENTS, MOST_LINES = 2500, 100  # the busiest table that was seen has 1800 of the former
LEAST_SIDE = 0.4  # part of a side that is seen
# So many directions are told apart, and in each so many segments heeded, the clearest, where those
# of a table crowd out all others.
WAYS, MOST_A_WAY = 12, 60
# To the eye from afar, the ribs, threads or print of a table run together.
AFAR_PX, AFAR_GAIN = 4.0, 12.0


@dataclass(frozen=True, slots=True)
class Lines:
    """Long straight lines, and how much of each is really there.

    Attributes
    ----------
    point, way : ndarray, shape (N, 2)
        A point on each line [px] and its unit direction.
    covered : ndarray, shape (N, M)
        Length that is seen as an edge from the start of the bins up to each bin [px].
    origin : float
        Position along the line at the start of the bins, of 1 px each [px].
    """

    point: Array
    way: Array
    covered: Array
    origin: float

    def along(self, points: Array) -> Array:
        """Return positions (N, ...) along each line of points (N, ..., 2) [px]."""
        extra = points.ndim - 2
        base = self.point.reshape(-1, *(1,) * extra, 2)
        return np.asarray(((points - base) * self.way.reshape(-1, *(1,) * extra, 2)).sum(axis=-1))

    def seen(self, at: Array) -> Array:
        """Return the length seen from the start up to positions (N, ...) along each line [px]."""
        bins = np.clip(at - self.origin, 0, self.covered.shape[1] - 1).astype(np.int64)
        return np.asarray(
            np.take_along_axis(self.covered, bins.reshape(len(bins), -1), axis=1).reshape(at.shape)
        )


def find_lines(lab: Floats, smooth: Floats) -> Lines:
    """Return the long lines of a picture in L*a*b* (h, w, 3), longest first.

    `smooth` is the same picture, a little blurred.
    """
    return _long_lines(lab, smooth, GAIN)


def find_lines_afar(lab: Floats) -> Lines:
    """Return them where those of a ribbed or woven table would crowd out all others.

    They lie to about half a pixel of the picture.
    """
    afar = blurred(lab, AFAR_PX)
    return _long_lines(afar, afar, AFAR_GAIN)


def find_lines_each_way(lab: Floats, smooth: Floats) -> Lines:
    """Return the clearest lines of each direction, with the parameters of `find_lines`.

    The ribs and threads of a table crowd out all others, but most run in one or two directions.
    """
    found, step = _edges(lab, smooth, GAIN)
    found = found[np.argsort(-_length(found) * step)]
    along = found[:, 2:] - found[:, :2]
    sector = (np.arctan2(along[:, 1], along[:, 0]) * WAYS / np.pi).astype(int) % WAYS
    some = [np.flatnonzero(sector == way)[:MOST_A_WAY] for way in range(WAYS)]
    found = found[np.sort(np.concatenate(some))]
    return _measured(found, _groups(found), float(np.hypot(*lab.shape[:2])))


def _long_lines(lab: Floats, smooth: Floats, gain: float) -> Lines:
    found, _ = _edges(lab, smooth, gain)
    found = found[np.argsort(-_length(found))[:MOST_SEGMENTS]]
    return _measured(found, _groups(found), float(np.hypot(*lab.shape[:2])))


def _edges(lab: Floats, smooth: Floats, gain: float) -> tuple[Array, Array]:
    """Return straight edges (N, 4) [px] whose sides differ, and by how much they do (N,)."""
    found = segments(lab, gain)
    found = found[_length(found) > SHORTEST_PX]
    # What differs by chance does so less the longer a line is.
    chance = usual_step(smooth) * np.sqrt(np.minimum(1.0, USUAL_LENGTH_PX / _length(found)))
    step = _step(smooth, found)
    clear = step > LEAST_STEP + 2.0 * chance
    return found[clear], step[clear]


def _length(found: Array) -> Array:
    """Return how long segments (N, 4) are [px]."""
    return np.asarray(np.hypot(found[:, 2] - found[:, 0], found[:, 3] - found[:, 1]))


def _step(lab: Floats, found: Array) -> Array:
    """Return how far the colours on both sides of segments (N, 4) lie apart, in L*a*b*.

    A line printed on a cutting mat has the same colour on both sides; the border of a card has not.
    """
    if not len(found):
        return np.zeros(0)
    first, way = found[:, None, :2], found[:, None, 2:] - found[:, None, :2]
    normal = way[..., ::-1] * [-1.0, 1.0] / np.linalg.norm(way, axis=2, keepdims=True)
    points = first + way * np.linspace(0.05, 0.95, 8)[:, None]
    apart = sample(lab, points + BESIDE_PX * normal) - sample(lab, points - BESIDE_PX * normal)
    return np.asarray(np.linalg.norm(apart.mean(axis=1), axis=1), np.float64)


def usual_step(lab: Floats) -> float:
    """Return how far colours lie apart where nothing is: on a lattice of short lines."""
    height, width = lab.shape[:2]
    x, y = np.meshgrid(np.arange(20.0, width - 20, 23), np.arange(20.0, height - 20, 23))
    if not x.size:  # a ribbon of a picture
        return 0.0
    at = np.column_stack([x.ravel(), y.ravel()])
    lines = np.vstack([np.hstack([at - w, at + w]) for w in ([12.0, 0.0], [0.0, 12.0])])
    return float(np.median(_step(lab, lines)))


def _groups(found: Array) -> list[Indices]:
    """Return, for each line, the indices of the segments that lie on it."""
    ends = found.reshape(-1, 2, 2)
    length = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)
    free = np.ones(len(found), dtype=bool)
    groups: list[tuple[float, Indices]] = []
    for k in range(len(found)):
        if not free[k] or (len(groups) > MOST_LINES and length[k] < 2 * SHORTEST_PX):
            continue
        way = (ends[k, 1] - ends[k, 0]) / length[k]
        on = _along(ends, free, ends[k].mean(axis=0), way)
        on = _along(ends, free, *_fit(ends[on], length[on], way))
        free[on] = False
        free[k] = False
        groups.append((float(length[on].sum()), on))
    groups.sort(key=lambda g: -g[0])
    return [on for _, on in groups[:MOST_LINES]]


def _along(ends: Array, free: NDArray[np.bool_], point: Array, way: Array) -> Indices:
    """Return which free segments (N, 2, 2) lie on a line."""
    off = np.abs((ends - point) @ np.array([-way[1], way[0]]))
    return np.flatnonzero(free & (np.maximum(off[:, 0], off[:, 1]) < ACROSS_PX))


def _fit(ends: Array, length: Array, way: Array) -> tuple[Array, Array]:
    """Return a point and the direction of the line through segments (N, 2, 2), by their length."""
    points, weight = ends.reshape(-1, 2), np.repeat(length, 2)
    if not len(points):
        return np.zeros(2), way
    centre = np.average(points, axis=0, weights=weight)
    spread = (points - centre).T @ ((points - centre) * weight[:, None])
    main = np.linalg.eigh(spread)[1][:, 1]
    return centre, np.asarray(main * np.sign(main @ way + 1e-12))


def _measured(found: Array, groups: list[Indices], reach: float) -> Lines:
    ends = found.reshape(-1, 2, 2)
    length = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)
    points, ways = np.zeros((len(groups), 2)), np.zeros((len(groups), 2))
    bins = np.zeros((len(groups), int(2 * reach) + 2))
    for row, on in enumerate(groups):
        way = (ends[on[0], 1] - ends[on[0], 0]) / length[on[0]]
        points[row], ways[row] = _fit(ends[on], length[on], way)
        at = np.sort((ends[on] - points[row]) @ ways[row], axis=1) + reach
        for first, last in np.rint(at).astype(int):
            bins[row, max(first, 0) : last] = 1.0
    return Lines(points, ways, np.cumsum(bins, axis=1), -reach)


def quadrilaterals(
    lines: Lines, shape: tuple[int, ...], margin: float = 0.06, least_side: float = LEAST_SIDE
) -> Array:
    """Return corners (N, 4, 2) [px] of the four-sided shapes whose sides are seen.

    Parameters
    ----------
    lines : Lines
        Lines of a picture.
    shape : tuple of int
        Height and width of the picture [px].
    margin : float
        How far outside the picture a corner may lie, of its size [-].
    least_side : float
        Part of each side that must be seen [-].

    Returns
    -------
    ndarray, shape (N, 4, 2)
        Corners in turn: sides 0-1 and 2-3 lie against each other, so do 1-2 and 3-0.
    """
    n = len(lines.point)
    if n < 4:
        return np.zeros((0, 4, 2))
    meet, inside = _meetings(lines, shape, margin)
    at = lines.along(meet)
    seen = lines.seen(at)
    span = np.abs(at[:, :, None] - at[:, None, :])
    part = np.abs(seen[:, :, None] - seen[:, None, :]) / np.maximum(span, 1.0)
    # side[i, k, l]: line i from its meeting with k to that with l.
    side = (part > least_side) & (span > 24.0) & inside[:, :, None] & inside[:, None, :]
    # Each shape would come twice, once from each pair of its sides.
    later = np.arange(n)[:, None] > np.arange(n)
    side_later = side & later[:, :, None]
    corners = []
    for k, other in np.argwhere((side_later.sum(axis=0) > 1) & later.T):
        crossing = np.flatnonzero(side_later[:, k, other])
        first, last = np.triu_indices(len(crossing), 1)
        i, j = crossing[first], crossing[last]
        good = side[k, i, j] & side[other, i, j]
        total = part[i, k, other] + part[j, k, other] + part[k, i, j] + part[other, i, j]
        i, j = i[good & (total > 2.2)], j[good & (total > 2.2)]
        corners.append(np.stack([meet[i, k], meet[i, other], meet[j, other], meet[j, k]], axis=1))
    return np.concatenate(corners) if corners else np.zeros((0, 4, 2))


def _meetings(
    lines: Lines, shape: tuple[int, ...], margin: float
) -> tuple[Array, NDArray[np.bool_]]:
    """Return where lines meet (N, N, 2), and which meetings are corners inside the picture."""
    way, off = lines.way, lines.point[None] - lines.point[:, None]
    sine = way[:, None, 0] * way[None, :, 1] - way[:, None, 1] * way[None, :, 0]
    steep = np.abs(sine) > 0.6
    t = (off[..., 0] * way[None, :, 1] - off[..., 1] * way[None, :, 0]) / np.where(steep, sine, 1.0)
    meet = lines.point[:, None] + t[..., None] * way[:, None]
    size = np.array([shape[1], shape[0]], dtype=np.float64)
    within = ((meet > -margin * size) & (meet < (1 + margin) * size)).all(axis=-1)
    return meet, steep & within
