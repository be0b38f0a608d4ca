"""The upper rim of a coin whose slant is known: its shape is given, only size and place are sought.

Below the rim the wall shows on the side that faces the middle of the picture. So on each ray from
the coin's middle an edge may be the rim, or the foot of the wall beyond it: both are looked for
where they must be, and the outermost circle that meets most of an edge is the rim.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, maximum_filter1d

from vision._cv import lab, sample
from vision.references.circles import RAYS, Ring, around, harmonics, weights

Array = NDArray[np.float64]

NEAR, FAR = 0.88, 1.16  # of the first radius, where edges are looked for
SMALLER, LARGER, AWAY, PLACES = 0.955, 1.05, 0.04, 11  # of it, where the rim may be
SMOOTH_PX, FINEST_PX, BESIDE_PX = 1.0, 0.1, 4.0
STRONG, FAINT = 0.5, 0.25  # of the usual slope on the rays
LIKE_TABLE, U_COLOUR = 0.15, 10.0  # what an edge gains where the table lies outside it
ALMOST = 0.9  # of the best circle's share of edges
REACH_PX, LEAST_SEEN = 3.0, 0.4


@dataclass(frozen=True, slots=True)
class Shape:
    """What is known of a rim beforehand.

    Attributes
    ----------
    oval : ndarray, shape (2,)
        Second harmonic of its radius over the mean (cosine, sine) [-].
    up_px : ndarray, shape (2,)
        From the foot's middle to the rim's [px].
    shrink_px : float
        By how much the foot's radius is smaller, being farther away [px].
    """

    oval: Array
    up_px: Array
    shrink_px: float


@dataclass(frozen=True, slots=True)
class _Edges:
    """Edges on rays: strength (RAYS, R) at radii [px], and how far the foot lies beyond the rim."""

    strength: Array
    radii: Array
    full: Array
    beyond: Array

    def met(self, circles: Array) -> Array:
        """Return the share of edges that circles (N, 3) of radius and middle [px] meet, (N,)."""
        rows = np.arange(0, RAYS, 2)
        ray = around(RAYS)[rows] / self.full[rows, None]
        at = circles[:, :1] + circles[:, 1:] @ ray.T
        rim, foot = (self.strength[rows, self._bin(at + d)] for d in (0.0, self.beyond[rows]))
        return np.asarray(np.maximum(rim, foot).mean(axis=1))

    def _bin(self, at: Array) -> NDArray[np.int64]:
        bins = np.rint((at - self.radii[0]) / (self.radii[1] - self.radii[0]))
        return np.asarray(np.clip(bins, 0, len(self.radii) - 1), np.int64)


def upper_rim(rgb: NDArray[np.uint8], ring: Ring, shape: Shape, free: bool = False) -> Ring | None:
    """Return the upper rim near a first outline, or None where it leaves the photo.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (H, W, 3)
        Whole photo.
    ring : Ring
        The first outline.
    shape : Shape
        How the rim must look there.
    free : bool
        Whether its oval is fitted to the edges that were found by it, to learn the slant.
    """
    edges = _edges(rgb, ring, shape)
    if edges is None:
        return None
    best = _outermost(edges, ring.radius_px)
    for step in (0.3, FINEST_PX):
        ticks = step * np.arange(-2.0, 3.0)
        tried = best + np.stack(np.meshgrid(ticks, ticks, ticks), axis=-1).reshape(-1, 3)
        best = tried[edges.met(tried).argmax()]
    found = _ring(edges, ring.middle, best, shape)
    return _freed(edges, found) if free and found.seen > LEAST_SEEN else found


def _edges(rgb: NDArray[np.uint8], ring: Ring, shape: Shape) -> _Edges | None:
    """Return the edges on rays from a coin's middle, radii being those of a round coin."""
    full = 1.0 + harmonics(RAYS)[:, 3:] @ shape.oval
    low, high = NEAR * ring.radius_px, FAR * ring.radius_px
    radii = np.linspace(low, high, int(2.0 * (high - low)) + 1)
    points = ring.middle + (radii * full[:, None])[..., None] * around(RAYS)[:, None]
    if (points < 0).any() or (points > np.array(rgb.shape[1::-1]) - 1).any():
        return None
    colours = lab(np.clip(sample(rgb, points), 0, 255).astype(np.uint8)).astype(np.float64)
    step = float(radii[1] - radii[0])
    slope = gaussian_filter1d(colours, max(SMOOTH_PX / step, 1.0), axis=1, order=1) / step
    steep = np.linalg.norm(slope, axis=2)
    strong = STRONG * float(np.percentile(steep.max(axis=1), 60)) + 1e-9
    peak = (steep >= maximum_filter1d(steep, 3, axis=1)) & (steep > FAINT * strong)
    strength = np.where(peak, np.minimum(steep / strong, 1.0), 0.0) * _outside(colours, step)
    width = 0.8 / step
    strength = gaussian_filter1d(strength, width, axis=1) * width * np.sqrt(2.0 * np.pi)
    beyond = np.maximum(-(around(RAYS) @ shape.up_px) - shape.shrink_px, 0.0) / full
    return _Edges(strength, radii, full, beyond)


def _outside(colours: Array, step: float) -> Array:
    """Return a weight for edges by whether the table's colour lies outside them, (RAYS, R)."""
    table = np.median(colours[:, int(0.85 * colours.shape[1]) :].reshape(-1, 3), axis=0)
    beside = gaussian_filter1d(colours, 2.0 / step, axis=1)
    beside = np.roll(beside, -round(BESIDE_PX / step), axis=1)
    # Shadows change the lightness more than the hue.
    apart = np.linalg.norm((beside - table) * [0.5, 1.0, 1.0], axis=2)
    return np.asarray(1.0 - LIKE_TABLE + LIKE_TABLE * np.exp(-0.5 * (apart / U_COLOUR) ** 2))


def _outermost(edges: _Edges, radius: float) -> Array:
    """Return the largest circle (radius, x, y) of those that meet nearly as much as the best."""
    sizes = np.arange(SMALLER * radius, LARGER * radius, 0.6)
    shifts = np.linspace(-AWAY * radius, AWAY * radius, PLACES)
    x, y = np.meshgrid(shifts, shifts)
    places = np.column_stack([x.ravel(), y.ravel()])
    met = np.array(
        [edges.met(np.column_stack([np.full(len(places), size), places])) for size in sizes]
    )
    top = met.max(axis=1)
    good = (top >= maximum_filter1d(top, 7)) & (top > ALMOST * top.max())
    which = int(np.flatnonzero(good)[-1])
    return np.array([sizes[which], *places[met[which].argmax()]])


def _ring(edges: _Edges, centre: Array, circle: Array, shape: Shape) -> Ring:
    """Return the circle as a ring, with the edges near it, those of the foot brought to the rim."""
    values = np.array([circle[0], *circle[1:], *(circle[0] * shape.oval)])
    return _on_edges(edges, centre, values)


def _freed(edges: _Edges, ring: Ring) -> Ring:
    """Return a ring with the oval that its edges have, whatever the slant foretells."""
    for _ in range(4):
        away = ring.points - ring.centre
        angle = np.arctan2(away[:, 1], away[:, 0])
        values = np.linalg.lstsq(weights(angle), np.linalg.norm(away, axis=1), rcond=None)[0]
        ring = _on_edges(edges, ring.centre, np.asarray(values))
    return ring


def _on_edges(edges: _Edges, centre: Array, values: Array) -> Ring:
    """Return a ring of some shape with the edges that it meets."""
    at = (harmonics(RAYS) @ values) / edges.full
    step = float(edges.radii[1] - edges.radii[0])
    places, heights = [], []
    for beyond in (np.zeros(RAYS), edges.beyond):
        off = edges.radii - (at + beyond)[:, None]
        near = np.where(np.abs(off) < REACH_PX, edges.strength * np.exp(-(off**2) / 2.0), 0.0)
        best = near.argmax(axis=1)
        places.append(edges.radii[best] - beyond)
        heights.append(near.max(axis=1))
    rim = heights[0] >= heights[1]
    where, height = np.where(rim, *places), np.where(rim, *heights)
    use = height > 0.2
    off = where[use] - at[use]
    points = centre + (where * edges.full)[use, None] * around(RAYS)[use]
    rms = float(np.hypot(np.sqrt(np.mean(off**2)), step / 2.0)) if use.any() else np.inf
    return Ring(centre, values, np.asarray(points), rms, float(use.mean()))
