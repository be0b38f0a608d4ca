"""Where an edge really runs: to a fraction of a pixel, from all of its length."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from vision._cv import sample

Array = NDArray[np.float64]

STEP_PX = 0.5  # sampling across the edge
BLOCK_PX = 12.0  # length of edge that makes one point
SMOOTH_PX = 0.7  # under which the slope is taken
SHORTEST_PX = 40.0  # length of edge that can be used
LEAST_PART, LEAST_COVERED = 0.5, 0.25  # of the length, on which an edge must stand out
STRONG, STRONG_COVERED = 0.3, 0.7  # of the strongest line, which an edge farther in must be
# What noise does not show: side faces, contact shadows and sharpening pull every point alike.
U_BIAS_PX = 0.2


@dataclass(frozen=True, slots=True)
class Edge:
    """A straight edge.

    Attributes
    ----------
    ends : ndarray, shape (2, 2)
        Two points of the fitted line, at the ends of what was used [px].
    u_px : float
        Standard uncertainty of each of them across the line [px].
    points : ndarray, shape (N, 2)
        What the line was fitted to [px].
    rms_px : float
        Scatter of the points about it [px].
    """

    ends: Array
    u_px: float
    points: Array
    rms_px: float


def straight_edge(
    rgb: NDArray[np.uint8],
    ends: Array,
    inside: Array,
    reach_px: float,
    covered: bool = False,
) -> Edge | None:
    """Return the straight edge near a guess.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (H, W, 3)
        Whole photo.
    ends : ndarray, shape (2, 2)
        Ends of the part to use, as guessed [px].
    inside : ndarray, shape (2,)
        A point on the reference's side of the edge [px].
    reach_px : float
        The edge runs at most so far from the guess [px].
    covered : bool
        Whether something may lie across it: half of what is else needed of it will do, and what is
        much fainter farther in is print or that thing.

    Returns
    -------
    Edge or None
        None where no edge stands out.

    Notes
    -----
    Of several parallel edges (top, foot of the side face, rim of the shadow) the innermost strong
    one counts: it is the top.
    """
    slopes, frame = _slopes(rgb, ends, inside, reach_px)
    if slopes is None:
        return None
    best = _best_line(slopes, STRONG_COVERED if covered else STRONG)
    if best is None:
        return None
    first, last = best
    at = np.linspace(0.0, 1.0, len(slopes))
    offsets, weights = _peaks(slopes, first + (last - first) * at, reach=2.0 / STEP_PX)
    good = weights > 0.25 * np.median(weights)
    if good.sum() < 6:
        return None
    line, keep, rms = _robust_line(at[good], offsets[good])
    if keep.sum() < (LEAST_COVERED if covered else LEAST_PART) * len(at):
        return None
    base, along, normal = frame
    middle = (slopes.shape[1] - 1) / 2.0

    def place(t: Array, offset: Array) -> Array:
        aside = ((offset - middle) * STEP_PX)[:, None] * normal
        return np.asarray(base + t[:, None] * along + aside)

    t_ends = np.array([0.0, 1.0])
    # Neighbouring points share texture and noise: a quarter of them count.
    noise = rms * 2.0 / np.sqrt(max(keep.sum() / 4.0, 1.0))
    return Edge(
        place(t_ends, np.polyval(line, t_ends)),
        float(np.hypot(noise * STEP_PX, U_BIAS_PX)),
        place(at[good][keep], offsets[good][keep]),
        rms * STEP_PX,
    )


def _slopes(
    rgb: NDArray[np.uint8], ends: Array, inside: Array, reach_px: float
) -> tuple[Array | None, tuple[Array, Array, Array]]:
    """Return slopes of the colour across the edge (blocks, offsets), offsets growing inwards."""
    along = ends[1] - ends[0]
    length = float(np.linalg.norm(along))
    normal = np.array([-along[1], along[0]]) / max(length, 1e-9)
    normal = normal * np.sign(normal @ (inside - ends[0]) + 1e-12)
    frame = (ends[0], along, normal)
    if length < SHORTEST_PX:
        return None, frame
    blocks = max(int(length / BLOCK_PX), 10)
    columns = (np.arange(blocks * 6) + 0.5) / (blocks * 6)
    across = np.arange(-reach_px - 3.0, reach_px + 3.0 + 1e-9, STEP_PX)
    points = (ends[0] + columns[:, None] * along)[:, None] + across[:, None] * normal
    within = (points > 1).all(axis=(1, 2)) & (points < np.array(rgb.shape[1::-1]) - 2).all((1, 2))
    colours = sample(rgb, points).astype(np.float64)
    colours[~within] = 0.0
    profile = colours.reshape(blocks, 6, len(across), 3).mean(axis=1)
    slope: Array = gaussian_filter1d(profile, SMOOTH_PX / STEP_PX, axis=1, order=1) / STEP_PX
    return np.asarray(np.sqrt((slope**2).sum(axis=2)), np.float64), frame


def _best_line(slopes: Array, least: float) -> tuple[float, float] | None:
    """Return the offsets, at both ends, of the innermost strong line through the slopes."""
    blocks, width = slopes.shape
    edge = int(3.0 / STEP_PX)
    choices = np.arange(edge, width - edge)
    t = np.linspace(0.0, 1.0, blocks)
    first, last = (a.ravel() for a in np.meshgrid(choices, choices, indexing="ij"))
    at = np.rint(first[:, None] + (last - first)[:, None] * t).astype(np.int64)
    capped = np.minimum(slopes, 3.0 * np.median(slopes.max(axis=1)))
    score = capped[np.arange(blocks), at].sum(axis=1).reshape(len(choices), -1)
    # Along each shift of the whole line: local best over its turn.
    strong = score > least * score.max()
    padded = np.pad(score, 2, mode="edge")
    window = np.lib.stride_tricks.sliding_window_view(padded, (5, 5)).max(axis=(2, 3))
    peaks = np.argwhere(strong & (score >= window))
    if not len(peaks):
        return None  # a strip without any contrast
    # What lies further in at one end and further out at the other crosses the edge: it is none.
    best = np.array(np.unravel_index(int(score.argmax()), score.shape))
    peaks = peaks[(peaks >= best - 2).all(axis=1)]
    inner = peaks[np.argmax(peaks.sum(axis=1))]
    return float(choices[inner[0]]), float(choices[inner[1]])


def _peaks(slopes: Array, guess: Array, reach: float) -> tuple[Array, Array]:
    """Return offset and height of the strongest slope near the guess, between samples."""
    rows = np.arange(len(slopes))
    offsets = np.arange(slopes.shape[1])
    near = np.abs(offsets - guess[:, None]) <= reach
    best = np.clip(np.where(near, slopes, -1.0).argmax(axis=1), 1, slopes.shape[1] - 2)
    left, mid, right = (slopes[rows, best + k] for k in (-1, 0, 1))
    bend = np.minimum(left - 2.0 * mid + right, -1e-9)
    return best + np.clip(0.5 * (left - right) / bend, -1.0, 1.0), mid


def _robust_line(t: Array, offset: Array) -> tuple[Array, NDArray[np.bool_], float]:
    """Return a line (slope, start), which points it rests on and their scatter about it."""
    weight = np.ones_like(t)
    for _ in range(8):
        line = np.polyfit(t, offset, 1, w=np.sqrt(weight))
        off = offset - np.polyval(line, t)
        spread = 1.4826 * float(np.median(np.abs(off))) + 1e-3
        weight = np.clip(1.0 - (off / (4.0 * spread)) ** 2, 1e-6, None) ** 2
    keep = np.abs(off) < 3.0 * spread
    return np.asarray(line), keep, float(np.sqrt(np.mean(off[keep] ** 2)))
