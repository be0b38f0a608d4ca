"""The wire laid straight: strips of the photo along each strand, a fixed number of samples wide.

Where a helix is known roughly, each strand of it can be seen as if it were a straight rod of known
width. Reading its two edges there is a much simpler task than finding wire in a whole picture.
"""

from dataclasses import dataclass
from itertools import chain

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from vision.camera import Camera

Array = NDArray[np.float64]
Pixels = NDArray[np.uint8]

#: Samples across a strip, samples in half a wire, and samples along it between two stations.
ACROSS, HALF, COLUMN = 64, 12.0, 4
#: Least share of its length that a strand shows, and most bend in half a wire [rad].
LEAST_SHOWN, MOST_BEND = 0.5, 0.3
#: Another strand hides an edge that lies within this many of its radii, if nearer by this many.
NEAR, BEFORE = 1.12, 0.6


@dataclass(frozen=True, slots=True)
class Stations:
    """Places along the wire as a camera sees them, a third of a wire's radius apart.

    Attributes
    ----------
    middle_px, normal : ndarray, shape (N, 2)
        Halfway between the two edges [px], and the direction across.
    half_px : ndarray, shape (N,)
        From there to either edge [px].
    turn : ndarray, shape (N,)
        Turn of the wire.
    seen : ndarray of bool, shape (N, 2)
        Which edge is in sight, against the normal and along it.
    """

    middle_px: Array
    normal: Array
    half_px: Array
    turn: Array
    seen: NDArray[np.bool_]

    def edges_px(self, shares: Array) -> Array:
        """Return the edges (N, 2, 2) [px] whose places are off by shares (N, 2) of half a wire."""
        reach = (np.array([-1.0, 1.0]) + shares) * self.half_px[:, None]
        return np.asarray(self.middle_px[:, None] + reach[..., None] * self.normal[:, None])


def stations_along(line_mm: Array, turn: Array, radius_mm: float, camera: Camera) -> Stations:
    """Return the stations along a wire.

    Parameters
    ----------
    line_mm : ndarray, shape (M, 3)
        Its centre line in the world [mm].
    turn : ndarray, shape (M,)
        Turn of the wire at each point, rising.
    radius_mm : float
        Of the wire.
    camera : Camera
        Through which it is seen.
    """
    flat = camera.project(line_mm)
    half = camera.focal_px * radius_mm / _in_axes(line_mm, camera)[:, 2]
    step = np.linalg.norm(np.diff(flat, axis=0), axis=1) / (0.5 * (half[1:] + half[:-1]))
    # Strands seen end-on hardly move in the picture; they still get their stations.
    arc = np.concatenate([[0.0], np.cumsum(np.maximum(step, 1e-6))])
    at = np.arange(0.0, arc[-1], COLUMN / HALF)
    point = np.column_stack([np.interp(at, arc, line_mm[:, k]) for k in range(3)])
    centre, point = camera.project(point), _in_axes(point, camera)
    turns = np.interp(at, arc, turn)
    along = np.gradient(point, axis=0)
    along /= np.linalg.norm(along, axis=1)[:, None] + 1e-12
    ahead = np.gradient(centre, axis=0)
    length = np.linalg.norm(ahead, axis=1) + 1e-9
    normal = np.column_stack([-ahead[:, 1], ahead[:, 0]]) / length[:, None]
    reach = _reach(point, along, centre, normal, radius_mm, camera)
    middle = centre + 0.5 * reach.sum(axis=1)[:, None] * normal
    half_px = 0.5 * (reach[:, 1] - reach[:, 0])
    heading = np.unwrap(np.arctan2(ahead[:, 1], ahead[:, 0]))
    bend = np.abs(np.gradient(heading)) * HALF / COLUMN
    sight = point / np.linalg.norm(point, axis=1)[:, None]
    shown = np.sqrt(1.0 - np.clip(np.einsum("ij,ij->i", sight, along), -1, 1) ** 2)
    plain = (shown > LEAST_SHOWN) & (bend < MOST_BEND) & np.isfinite(half_px)
    out = Stations(middle, normal, half_px, turns, np.stack([plain, plain], axis=1))
    seen = out.seen & ~_hidden(out, point[:, 2], radius_mm)
    return Stations(out.middle_px, normal, half_px, turns, seen)


def _in_axes(points_mm: Array, camera: Camera) -> Array:
    """Return world points (N, 3) in camera axes: right, down, ahead [mm]."""
    return np.asarray(points_mm @ camera.rotation.T + camera.translation_mm)


def _reach(
    point: Array, along: Array, centre: Array, normal: Array, radius: float, camera: Camera
) -> Array:
    """Return how far both edges lie from the centre line, along the normal, signed (N, 2) [px].

    An edge is where the line of sight passes the wire's axis at its radius.
    """

    def gap(t: Array) -> Array:
        across = np.cross(camera.rays(centre + t[:, None] * normal), along)
        across /= np.linalg.norm(across, axis=1)[:, None] + 1e-12
        return np.asarray(np.abs(np.einsum("ij,ij->i", point, across)) - radius)

    out = []
    for sign in (-1.0, 1.0):
        t = sign * camera.focal_px * radius / point[:, 2]
        for _ in range(3):  # nearly a straight line, so this converges at once
            t = t - gap(t) * 1e-3 * t / (gap(1.001 * t) - gap(t) + 1e-15)
        out.append(t)
    return np.stack(out, axis=1)


def _hidden(stations: Stations, depth: Array, radius_mm: float) -> NDArray[np.bool_]:
    """Return which edges (N, 2) lie behind another strand."""
    edges = stations.edges_px(np.zeros((len(depth), 2)))
    out = np.zeros((len(depth), 2), dtype=bool)
    tree = cKDTree(stations.middle_px)
    far = NEAR * float(np.max(stations.half_px, initial=1.0))
    apart = int(4.0 * HALF / COLUMN)  # two wires along the same strand
    for side in (0, 1):
        near = tree.query_ball_point(edges[:, side], far)
        k = np.repeat(np.arange(len(depth)), [len(one) for one in near])
        j = np.fromiter(chain.from_iterable(near), dtype=np.intp, count=len(k))
        before = (np.abs(j - k) > apart) & (depth[j] < depth[k] - BEFORE * radius_mm)
        k, j = k[before], j[before]
        gap = np.linalg.norm(stations.middle_px[j] - edges[k, side], axis=1)
        out[k[gap < NEAR * stations.half_px[j]], side] = True
    return out


def tile_places(stations: Stations, first: int, count: int) -> Array:
    """Return where a tile samples the photo, shape (ACROSS, COLUMN * count, 2) [px].

    Parameters
    ----------
    stations : Stations
        Along the wire.
    first, count : int
        The first of its stations, which may lie before the wire's start, and how many.
    """
    at = first + (np.arange(COLUMN * count) - 0.5 * (COLUMN - 1)) / COLUMN
    known = np.arange(len(stations.turn))
    middle = np.column_stack([np.interp(at, known, stations.middle_px[:, k]) for k in (0, 1)])
    normal = np.column_stack([np.interp(at, known, stations.normal[:, k]) for k in (0, 1)])
    half = np.interp(at, known, stations.half_px)
    u = (np.arange(ACROSS) - 0.5 * (ACROSS - 1)) / HALF
    return np.asarray(middle + u[:, None, None] * (half[:, None] * normal))


def sample(rgb: Pixels, places: Array, half_px: float) -> Pixels:
    """Return the photo at places [px], shrunk first where the wire is wider than a strip's.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (H, W, 3)
        The photo.
    places : ndarray, shape (H', W', 2)
        Where to sample it [px].
    half_px : float
        Half the wire's width in the photo [px].
    """
    # What lies outside the photo is as at its edge, however far. Each axis by itself: along short
    # rows NumPy is slow.
    x, y = (np.clip(places[..., k], -4.0, rgb.shape[1 - k] + 4.0) for k in (0, 1))
    low = np.maximum(np.floor([x.min(), y.min()]).astype(int) - 4, 0)
    high = np.ceil([x.max(), y.max()]).astype(int) + 5
    part = rgb[low[1] : high[1], low[0] : high[0]]
    if part.size == 0:
        return np.zeros((*places.shape[:2], 3), dtype=np.uint8)
    scale = np.ones(2)
    if half_px > HALF:
        size = [max(1, round(n * HALF / half_px)) for n in part.shape[1::-1]]
        scale = np.array(size) / part.shape[1::-1]
        part = np.asarray(cv2.resize(part, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
    first = (0.5 - low) * scale - 0.5
    at_x, at_y = ((v * scale[k] + first[k]).astype(np.float32) for k, v in enumerate((x, y)))
    return np.asarray(
        cv2.remap(part, at_x, at_y, cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE),
        dtype=np.uint8,
    )
