"""Where in the photo the spring lies.

Busy patches of a small copy of the photo are proposed by their edges; the wire map looks at each
and the one that holds most wire is taken.
"""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.strands import LEAST_WIDTHS, MapView, main_part, strand_width
from vision.wire_map import BEST_WIRE_PX, wire_map

Array = NDArray[np.float64]
Pixels = NDArray[np.uint8]

#: Long side of the small copy, and of a patch at the first look [px].
SMALL_PX, LOOK_PX = 1024, 416
MOST_PATCHES = 6
#: Least mean of the map over its own wire, and least wire in a patch at first look [px].
LEAST_SURE, LEAST_WIRE_PX = 0.6, 60.0
#: Most that the photo is enlarged, and how far the wire's width in the map may be off its best.
MOST_ZOOM, FAR_OFF = 2.3, 1.12
#: Most pixels of a view, and of a first one: the wire map's cost grows with them.
MOST_VIEW_PX, FIRST_VIEW_PX = 1.05e6, 0.45e6
#: How often a region is looked at closely at most, and how much further where wire runs out of it.
MOST_LOOKS, RUN_OUT = 5, 0.5
#: Overlap of two boxes that hold the same wire.
SAME = 0.7
#: How far wire may lie beside and beyond the line between two marks, in parts of its length.
ASIDE, BEYOND = 0.65, 0.15


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

    @property
    def long_side(self) -> float:
        """The longer side [px]."""
        return max(self.right - self.left, self.bottom - self.top)


def look(rgb: Pixels, box: Box, scale: float) -> MapView:
    """Return the wire map of a part of the photo, seen at a scale."""
    x0, y0, x1, y1 = (int(v) for v in (box.left, box.top, np.ceil(box.right), np.ceil(box.bottom)))
    part = rgb[y0:y1, x0:x1]
    size = (max(16, round((x1 - x0) * scale)), max(16, round((y1 - y0) * scale)))
    how = cv2.INTER_AREA if scale < 1.0 else cv2.INTER_CUBIC
    maps = wire_map(np.asarray(cv2.resize(part, size, interpolation=how), dtype=np.uint8))
    return MapView(maps, np.array([float(x0), float(y0)]), size[0] / (x1 - x0))


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
    factor = min(1.0, SMALL_PX / max(rgb.shape[:2]))
    small = cv2.resize(rgb, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
    lab = cv2.GaussianBlur(cv2.cvtColor(small, cv2.COLOR_RGB2LAB), (0, 0), 0.8).astype(np.float32)
    edges = np.hypot(cv2.Scharr(lab, -1, 1, 0), cv2.Scharr(lab, -1, 0, 1)).max(axis=2)
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
        if all(_overlap(box, other) < 0.6 for other in kept):
            kept.append(box)
    return kept


def _overlap(a: Box, b: Box) -> float:
    w = min(a.right, b.right) - max(a.left, b.left)
    h = min(a.bottom, b.bottom) - max(a.top, b.top)
    if w <= 0 or h <= 0:
        return 0.0
    both = w * h
    one, other = ((x.right - x.left) * (x.bottom - x.top) for x in (a, b))
    return both / (one + other - both)


@dataclass(frozen=True, slots=True)
class Sighting:
    """A patch that may hold the spring, as the wire map sees it at first look."""

    box: Box
    view: MapView
    wire_px: float
    score: float


def sightings(rgb: Pixels, boxes: list[Box]) -> list[Sighting]:
    """Return what the map sees in each box, most wire first; in the whole photo if in none."""
    out = _seen_in(rgb, boxes)
    whole = Box(0.0, 0.0, float(rgb.shape[1]), float(rgb.shape[0]))
    return sorted(out or _seen_in(rgb, [whole]), key=lambda s: -s.score)


def _seen_in(rgb: Pixels, boxes: list[Box]) -> list[Sighting]:
    out = []
    for box in boxes:
        around = box.grown(0.12, rgb.shape)
        view = look(rgb, around, min(1.5, LOOK_PX / around.long_side))
        mask = view.maps[0] > 0.5
        if mask.sum() < LEAST_WIRE_PX:
            continue
        sure = float(view.maps[0][mask].mean())
        if sure < LEAST_SURE:
            continue
        out.append(_sighting(view, mask, sure, rgb.shape))
    return out


def _sighting(
    view: MapView, mask: NDArray[np.bool_], sure: float, shape: tuple[int, ...]
) -> Sighting:
    joined = cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_CLOSE, np.ones((15, 15), np.uint8))
    count, labels, _, _ = cv2.connectedComponentsWithStats(joined)
    sizes = [float(view.maps[2][labels == k].sum()) for k in range(1, count)]
    best = 1 + int(np.argmax(sizes))
    y, x = np.nonzero((labels == best) & mask)
    corners = view.to_photo(np.array([[x.min(), y.min()], [x.max(), y.max()]], dtype=float))
    box = Box(*corners[0], *corners[1])
    inside = cv2.distanceTransform(((labels == best) & mask).astype(np.uint8), cv2.DIST_L2, 5)
    ridge = (inside == cv2.dilate(inside, np.ones((3, 3), np.uint8))) & (inside > 0.9)
    width = 2.0 * float(np.quantile(inside[ridge], 0.4)) if ridge.any() else 2.0
    # Wire that fills its box is no wire: turns run together at so small a scale.
    width = min(width, min(x.max() - x.min(), y.max() - y.min()) / LEAST_WIDTHS + 2.0)
    return Sighting(box, view, width / view.scale, sizes[best - 1] / view.scale * sure)


def marked(rgb: Pixels, ends_px: Array) -> list[Sighting]:
    """Return what the map sees between two marked ends of a spring; nothing where it sees no wire.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (H, W, 3)
        The photo.
    ends_px : ndarray, shape (2, 2)
        Where the spring's axis leaves it [px].
    """
    length = float(np.linalg.norm(ends_px[1] - ends_px[0]))
    box = Box(*ends_px.min(axis=0), *ends_px.max(axis=0)).grown(ASIDE * 1.1, rgb.shape)
    for scale in (min(1.5, LOOK_PX / box.long_side), min(1.5, 1.6 * LOOK_PX / length)):
        view = along_marks(look(rgb, box, scale), ends_px)
        for least in (0.5, 0.3):
            mask = view.maps[0] > least
            if mask.sum() >= LEAST_WIRE_PX:
                return [_sighting(view, mask, 1.0, rgb.shape)]
    return []


def along_marks(view: MapView, ends_px: Array) -> MapView:
    """Return the view without what lies far from the line between two marked ends."""
    step = ends_px[1] - ends_px[0]
    length = float(np.linalg.norm(step))
    y, x = np.mgrid[: view.maps.shape[1], : view.maps.shape[2]]
    away = view.to_photo(np.column_stack([x.ravel(), y.ravel()]).astype(float)) - ends_px[0]
    along = away @ step / length
    aside = np.abs(away @ np.array([-step[1], step[0]])) / length
    near = (along > -BEYOND * length) & (along < (1.0 + BEYOND) * length) & (aside < ASIDE * length)
    return replace(view, maps=np.where(near.reshape(x.shape), view.maps, 0.0))


def settle(rgb: Pixels, sighting: Sighting) -> Sighting:
    """Return the sighting once no wire runs out of its patch: a proposal may hold a part only."""
    for _ in range(3):
        around = sighting.box.grown(0.3, rgb.shape)
        view = look(rgb, around, min(1.5, 1.3 * LOOK_PX / around.long_side))
        mask = view.maps[0] > 0.5
        if not mask.any():
            return sighting
        before = sighting.box.long_side
        sighting = _sighting(view, mask, 1.0, rgb.shape)
        if sighting.box.long_side < 1.1 * before:
            break
    return sighting


def close_look(rgb: Pixels, sighting: Sighting) -> MapView:
    """Return the wire map of a sighting at the scale at which it is sharpest, with all its wire.

    The first look is at a width guessed from a small picture, in which strands run together; where
    the wire turns out wider or narrower than that, or runs out of the view, it looks again.
    """
    box = sighting.box.grown(0.12, rgb.shape)
    scale = float(np.clip(BEST_WIRE_PX / sighting.wire_px, 0.2, MOST_ZOOM))
    view = look(rgb, box, _affordable(box, scale, FIRST_VIEW_PX))
    for _ in range(MOST_LOOKS):
        keep = main_part(view)
        if not keep.any():
            break
        width = strand_width(view, keep)
        whole = _room_for(view, keep, rgb.shape)
        better = float(np.clip(view.scale * BEST_WIRE_PX / width, 0.2, MOST_ZOOM))
        better = _affordable(whole, better)
        cut = (
            whole.left < box.left - 1
            or whole.top < box.top - 1
            or whole.right > box.right + 1
            or whole.bottom > box.bottom + 1
        )
        if not cut and 1.0 / FAR_OFF < better / view.scale < FAR_OFF:
            break
        box = whole
        view = look(rgb, box, better)
    return view


def wire_box(view: MapView) -> Box | None:
    """Return the part of the photo that holds the wire in view, or None where there is none."""
    y, x = np.nonzero(main_part(view))
    if not len(x):
        return None
    corners = view.to_photo(np.array([[x.min(), y.min()], [x.max(), y.max()]], dtype=float))
    return Box(*corners[0], *corners[1])


def same_place(box: Box, other: Box) -> bool:
    """Tell whether two parts of the photo hold much the same wire."""
    return _overlap(box, other) > SAME


def _affordable(box: Box, scale: float, most_px: float = MOST_VIEW_PX) -> float:
    """Return the scale, less where so large a view would cost seconds."""
    area = (box.right - box.left) * (box.bottom - box.top)
    return min(scale, float(np.sqrt(most_px / max(area, 1.0))))


def _room_for(view: MapView, keep: NDArray[np.bool_], shape: tuple[int, ...]) -> Box:
    """Return the box around the wire in view, with room to see where it may run out."""
    y, x = np.nonzero(keep)
    corners = view.to_photo(np.array([[x.min(), y.min()], [x.max(), y.max()]], dtype=float))
    left, top, right, bottom = np.concatenate(corners)
    height, width = keep.shape
    far = RUN_OUT * max(right - left, bottom - top)
    # Wire that reaches the rim of the view goes on beyond it.
    out = Box(
        left - far * (x.min() < 4),
        top - far * (y.min() < 4),
        right + far * (x.max() > width - 5),
        bottom + far * (y.max() > height - 5),
    )
    return out.grown(0.05, shape)
