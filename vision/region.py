"""Where in the photo the spring lies: the wire map looks at each proposed part, then closer."""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.map_view import MapView
from vision.proposals import Box, overlap
from vision.solid import LEAST_WIDTHS, strand_width
from vision.strands import main_part
from vision.wire_map import BEST_WIRE_PX, wire_map

Array = NDArray[np.float64]
Pixels = NDArray[np.uint8]

#: Long side of a patch at the first look, and of a tile of the whole photo [px].
LOOK_PX, TILE_PX = 416, 700
#: Least mean of the map over its own wire, and least wire in a patch at first look [px].
LEAST_SURE, LEAST_WIRE_PX = 0.6, 60.0
#: A patch of which less than this is wire is looked at again twice as large.
LEAST_FILLED = 0.02
#: Finer wire than this is easily lost from a map [px].
FINE_WIRE_PX = 7.0
#: Most that the photo is enlarged, and how far the wire's width in the map may be off its best.
MOST_ZOOM, FAR_OFF = 2.3, 1.12
#: Most pixels of a view, and of a first one: the wire map's cost grows with them.
MOST_VIEW_PX, FIRST_VIEW_PX = 0.7e6, 0.45e6
#: Width of the wire in a coarser view [px], and how far that reaches around the other, in parts of
#: its size.
COARSE_WIRE_PX, ROUND = 14.0, 0.12
#: How often a region is looked at closely at most, and how much further where wire runs out of it.
MOST_LOOKS, RUN_OUT = 5, 0.5
#: How often a patch is looked at anew at most, while wire runs out of it: a long spring may be
#: proposed by one of its ends.
MOST_SETTLING = 8
#: A look that leaves less than this share of the wire has lost it: it is not what is there.
LEAST_LEFT = 0.75
#: Overlap of two boxes that hold the same wire.
SAME = 0.7
#: How far wire may lie beside and beyond the line between two marks, in parts of its length.
ASIDE, BEYOND = 0.65, 0.15


def look(rgb: Pixels, box: Box, scale: float) -> MapView:
    """Return the wire map of a part of the photo, seen at a scale."""
    x0, y0, x1, y1 = (int(v) for v in (box.left, box.top, np.ceil(box.right), np.ceil(box.bottom)))
    part = rgb[y0:y1, x0:x1]
    size = (max(16, round((x1 - x0) * scale)), max(16, round((y1 - y0) * scale)))
    how = cv2.INTER_AREA if scale < 1.0 else cv2.INTER_CUBIC
    maps = wire_map(np.asarray(cv2.resize(part, size, interpolation=how), dtype=np.uint8))
    return MapView(maps, np.array([float(x0), float(y0)]), size[0] / (x1 - x0))


@dataclass(frozen=True, slots=True)
class Sighting:
    """A patch that may hold the spring, as the wire map sees it at first look."""

    box: Box
    view: MapView
    wire_px: float
    score: float


def sightings(rgb: Pixels, boxes: list[Box], look_px: float = LOOK_PX) -> list[Sighting]:
    """Return what the map sees in each box, most wire first, its long side so many pixels wide."""
    out = []
    for box in boxes:
        around = box.grown(0.12, rgb.shape)
        view = look(rgb, around, min(1.5, look_px / around.long_side))
        mask = view.maps[0] > 0.5
        larger = affordable(around, 2.0 * view.scale, FIRST_VIEW_PX)
        if mask.mean() < LEAST_FILLED and 1.5 * view.scale < larger < 1.5:
            # Wire may be too fine to be seen in so small a copy.
            view = look(rgb, around, larger)
            mask = view.maps[0] > 0.5
        if mask.sum() < LEAST_WIRE_PX:
            continue
        sure = float(view.maps[0][mask].mean())
        if sure < LEAST_SURE:
            continue
        out.append(_sighting(view, mask, sure, rgb.shape))
    return sorted(out, key=lambda s: -s.score)


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


def off(sighted: list["Sighting"], outline_px: Array | None, inside: bool) -> list["Sighting"]:
    """Return the sightings whose middle lies off the reference, or on it where the spring does."""
    if outline_px is None:
        return sighted
    outline = outline_px.astype(np.float32).reshape(-1, 1, 2)
    return [
        s for s in sighted if (cv2.pointPolygonTest(outline, s.box.middle, False) > 0) == inside
    ]


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
    for _ in range(MOST_SETTLING):
        around = sighting.box.grown(0.3, rgb.shape)
        scale = max(1.3 * LOOK_PX / around.long_side, FINE_WIRE_PX / sighting.wire_px)
        view = look(rgb, around, affordable(around, min(1.5, scale), FIRST_VIEW_PX))
        mask = view.maps[0] > 0.5
        if not mask.any():
            return sighting
        before = sighting.box.long_side
        other = _sighting(view, mask, 1.0, rgb.shape)
        if other.box.long_side < LEAST_LEFT * before:
            break  # a part was lost
        sighting = other
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
    view = look(rgb, box, affordable(box, scale, FIRST_VIEW_PX))
    for _ in range(MOST_LOOKS):
        keep = main_part(view)
        if not keep.any():
            break
        width = strand_width(view, keep)
        whole = _room_for(view, keep, rgb.shape)
        better = float(np.clip(view.scale * BEST_WIRE_PX / width, 0.2, MOST_ZOOM))
        better = affordable(whole, better)
        cut = (
            whole.left < box.left - 1
            or whole.top < box.top - 1
            or whole.right > box.right + 1
            or whole.bottom > box.bottom + 1
        )
        if not cut and 1.0 / FAR_OFF < better / view.scale < FAR_OFF:
            break
        other = look(rgb, whole, better)
        if _wire_px2(other) < LEAST_LEFT * _wire_px2(view):
            break
        box, view = whole, other
    return view


def coarser_look(rgb: Pixels, view: MapView) -> MapView:
    """Return the wire map of what is in a view and around it, from farther away."""
    height, width = view.maps.shape[1:]
    corners = view.to_photo(np.array([[0, 0], [width - 1, height - 1]], dtype=float))
    around = Box(*corners[0], *corners[1]).grown(ROUND, rgb.shape)
    keep = main_part(view)
    wide = strand_width(view, keep) if keep.any() else BEST_WIRE_PX
    scale = min(1.0, COARSE_WIRE_PX / wide) * view.scale
    return look(rgb, around, affordable(around, scale))


def _wire_px2(view: MapView) -> float:
    """Return how much of the photo is wire [px²]."""
    return float((view.maps[0] > 0.5).sum()) / view.scale**2


def wire_box(view: MapView) -> Box | None:
    """Return the part of the photo that holds the wire in view, or None where there is none."""
    y, x = np.nonzero(main_part(view))
    if not len(x):
        return None
    corners = view.to_photo(np.array([[x.min(), y.min()], [x.max(), y.max()]], dtype=float))
    return Box(*corners[0], *corners[1])


def same_place(box: Box, other: Box) -> bool:
    """Tell whether two parts of the photo hold much the same wire."""
    return overlap(box, other) > SAME


def affordable(box: Box, scale: float, most_px: float = MOST_VIEW_PX) -> float:
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
