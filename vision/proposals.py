"""Parts of the photo that may hold the spring: patches busier than the table."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision._cv import reduced

Array = NDArray[np.float64]
Pixels = NDArray[np.uint8]

#: Long side of the small copy [px].
SMALL_PX = 1024
#: How many of them are looked at first.
MOST_PATCHES = 6


@dataclass(frozen=True, slots=True)
class Box:
    """A part of the photo [px]."""

    left: float
    top: float
    right: float
    bottom: float

    def grown(self, share: float, shape: tuple[int, ...]) -> "Box":
        """Return it larger by a share of its long side, kept inside the photo."""
        by = share * max(self.right - self.left, self.bottom - self.top)
        return Box(
            max(self.left - by, 0.0),
            max(self.top - by, 0.0),
            min(self.right + by, float(shape[1])),
            min(self.bottom + by, float(shape[0])),
        )

    def reaches_out_of(self, other: "Box", by: float) -> bool:
        """Tell whether it reaches out of another on any side, by more than so much [px]."""
        out = (
            other.left - self.left,
            other.top - self.top,
            self.right - other.right,
            self.bottom - other.bottom,
        )
        return max(out) > by

    @property
    def middle(self) -> tuple[float, float]:
        """Its middle [px]."""
        return 0.5 * (self.left + self.right), 0.5 * (self.top + self.bottom)

    @property
    def long_side(self) -> float:
        """The longer side [px]."""
        return max(self.right - self.left, self.bottom - self.top)


def patches(
    rgb: Pixels, outline_px: Array | None, inside: bool, most: int = MOST_PATCHES
) -> list[Box]:
    """Return parts of the photo that are busier than the table, busiest first.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (H, W, 3)
        The photo.
    outline_px : ndarray, shape (N, 2), or None
        Outline of the reference [px].
    inside : bool
        Whether the spring lies on the reference, as on a sheet, and not beside it.
    most : int
        How many to return at most.
    """
    small, factor = reduced(rgb, SMALL_PX)
    lab = cv2.GaussianBlur(cv2.cvtColor(small, cv2.COLOR_RGB2LAB), (0, 0), 0.8).astype(np.float32)
    slopes = cv2.magnitude(cv2.Scharr(lab, -1, 1, 0), cv2.Scharr(lab, -1, 0, 1))
    edges = np.maximum(np.maximum(slopes[:, :, 0], slopes[:, :, 1]), slopes[:, :, 2])
    allowed = _allowed(edges.shape, outline_px, inside, factor)
    edges[~allowed] = 0.0
    busy = cv2.blur(np.minimum(edges, np.quantile(edges[allowed], 0.995)), (15, 15))
    level = np.median(busy[allowed])
    spread = 1.4826 * np.median(np.abs(busy[allowed] - level)) + 1e-6
    found: list[tuple[float, Box]] = []
    for height in (3.0, 6.0, 12.0):
        found += _blobs(busy, level + height * spread, level, factor)
    found.sort(key=lambda one: -one[0])
    return _distinct([box for _, box in found])[:most]


def _allowed(
    shape: tuple[int, ...], outline_px: Array | None, inside: bool, factor: float
) -> NDArray[np.bool_]:
    if outline_px is None:
        return np.ones(shape[:2], dtype=bool)
    polygon = np.zeros(shape[:2], np.uint8)
    cv2.fillPoly(polygon, [np.round(outline_px * factor).astype(np.int32)], (1,))
    rim = np.ones((9, 9), np.uint8)
    if inside:
        return np.asarray(cv2.erode(polygon, rim), dtype=bool)
    return ~np.asarray(cv2.dilate(polygon, rim), dtype=bool)


def _blobs(
    busy: NDArray[np.float32], threshold: float, level: float, factor: float
) -> list[tuple[float, Box]]:
    high = (busy > threshold).astype(np.uint8)
    mask = cv2.morphologyEx(high, cv2.MORPH_OPEN, np.ones((5, 5), np.uint8))
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask)
    out = []
    for k in range(1, count):
        x, y, w, h, area = (int(v) for v in stats[k])
        if max(w, h) < 14 or max(w, h) > 0.8 * max(busy.shape):
            continue
        weight = float((busy[labels == k] - level).sum()) * min(1.0, 3.0 * area / (w * h))
        out.append((weight, Box(x / factor, y / factor, (x + w) / factor, (y + h) / factor)))
    return out


def _distinct(boxes: list[Box]) -> list[Box]:
    kept: list[Box] = []
    for box in boxes:
        if all(overlap(box, other) < 0.6 for other in kept):
            kept.append(box)
    return kept


def overlap(a: Box, b: Box) -> float:
    """Return the intersection of two boxes over their union [-]."""
    w = min(a.right, b.right) - max(a.left, b.left)
    h = min(a.bottom, b.bottom) - max(a.top, b.top)
    if w <= 0 or h <= 0:
        return 0.0
    both = w * h
    one, other = ((x.right - x.left) * (x.bottom - x.top) for x in (a, b))
    return both / (one + other - both)
