"""Whether the sides of shapes go on beyond their corners, as the lines of a printed grid do."""

import numpy as np
from numpy.typing import NDArray

from vision._cv import Floats, sample

Array = NDArray[np.float64]

#: How far beyond a corner is looked [sides], how far beside a line its colours are seen [px], and
#: how strong a reference's sides are there at most, of what they are between its corners.
RUN_ON, BESIDE_PX, MOST_RUNNING_ON = 0.2, 3.0, 0.3
#: Points along a line, and how many of them must lie in the photo.
POINTS, FEWEST_POINTS = 24, 12
#: How many shapes are looked at together: a mat's grid makes up thousands.
TOGETHER = 500


def running_on(lab: Floats, quads: Array) -> Array:
    """Return how strong the sides of shapes are beyond their corners, of what they are between [-].

    Where the picture ends nobody knows: such a shape comes after those that are seen to end.

    Parameters
    ----------
    lab : ndarray, shape (H, W, 3)
        The picture, L*a*b*.
    quads : ndarray, shape (N, 4, 2)
        Corners of the shapes [px].

    Returns
    -------
    ndarray, shape (N,)
    """
    some = [quads[k : k + TOGETHER] for k in range(0, len(quads), TOGETHER)]
    return np.concatenate([np.zeros(0), *(_running_on(lab, few) for few in some)])


def _running_on(lab: Floats, quads: Array) -> Array:
    """Return the same of a few shapes (N, 4, 2)."""
    along = np.roll(quads, -1, axis=1) - quads
    skip = BESIDE_PX / np.linalg.norm(along, axis=2, keepdims=True) + 0.01
    between, beyond = np.array([0.1, 0.9]), np.array([0.0, RUN_ON])
    spans = np.stack(
        [np.broadcast_to(between, (*skip.shape[:2], 2)), 1.0 + skip + beyond, -skip - beyond],
        axis=2,
    )
    ends = quads[:, :, None, None] + along[:, :, None, None] * spans[..., None]
    strong = _contrasts(lab, ends[..., 0, :], ends[..., 1, :])
    shares = np.minimum(strong[..., 1:] / np.maximum(strong[..., :1], 1e-9), 1.5)
    known = np.isfinite(shares)
    total = np.where(known, shares, 0.0).sum(axis=(1, 2))
    count = known.sum(axis=(1, 2))
    return np.where(count > 0, total / np.maximum(count, 1), 0.5 * MOST_RUNNING_ON)


def _contrasts(lab: Floats, first: Array, last: Array) -> Array:
    """Return how far the usual colours on both sides of lines are apart, NaN outside the photo.

    The lines lie between points, both of shape (..., 2).
    """
    along = last - first
    points = first[..., None, :] + along[..., None, :] * np.linspace(0.0, 1.0, POINTS)[:, None]
    way = along / np.linalg.norm(along, axis=-1, keepdims=True)
    aside = BESIDE_PX * np.stack([-way[..., 1], way[..., 0]], axis=-1)[..., None, :]
    room = np.array(lab.shape[1::-1]) - 2.0 * BESIDE_PX
    inside = np.asarray(((points > 2.0 * BESIDE_PX) & (points < room)).all(axis=-1))
    apart = sample(lab, points + aside) - sample(lab, points - aside)
    # A line runs on all the way; the blots of a printed table lie at a part of it.
    usual = _median_of(apart, inside)
    return np.where(inside.sum(axis=-1) < FEWEST_POINTS, np.nan, np.linalg.norm(usual, axis=-1))


def _median_of(values: Floats, which: NDArray[np.bool_]) -> Floats:
    """Return the medians (..., 3) of those of some colours (..., N, 3) that count (..., N)."""
    ranked = np.sort(np.where(which[..., None], values, np.inf), axis=-2)
    count = which.sum(axis=-1)[..., None, None]
    middle = [np.take_along_axis(ranked, np.maximum(count - k, 0) // 2, -2) for k in (1, 0)]
    both = np.concatenate(middle, axis=-2)
    return np.asarray(np.where(np.isfinite(both), both, 0.0).mean(axis=-2), np.float32)
