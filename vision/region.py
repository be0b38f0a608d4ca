"""Where in the photo the spring lies: the wire map looks at each proposed part."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.map_view import MapView
from vision.proposals import MOST_PATCHES, Box, patches
from vision.solid import LEAST_WIDTHS
from vision.wire_map import wire_map

Array = NDArray[np.float64]
Pixels = NDArray[np.uint8]

#: How many parts of the photo are looked at in all, before the whole of it is.
MORE_PATCHES = 16
#: Long side of a patch at the first look, and of the whole photo [px].
LOOK_PX, WHOLE_PX = 416, 1408
#: From where on the map may be wire in the whole photo, and least of it there, by squareness [px].
FAINT, LEAST_SEEN_PX = 0.3, 20.0
#: Least mean of the map over its own wire, and least wire in a patch at first look [px].
LEAST_SURE, LEAST_WIRE_PX = 0.6, 60.0
#: What holds less than this share of the most wire in a patch is not looked at by itself.
LEAST_PART = 0.15
#: What holds less than this share of the most wire in the busiest patches waits for the others.
CRUMB = 0.05
#: A patch of which less than this is wire is looked at again twice as large.
LEAST_FILLED = 0.02
#: Table around wire that is all in its patch, in parts of that wire's size.
CLEAR = 0.04
#: How far around the reference its edge looks like wire [px of the whole photo's look].
RIM_PX = 13
#: Finer wire than this is easily lost from a map [px].
FINE_WIRE_PX = 7.0
#: Most pixels of a view, and of a first one: the wire map's cost grows with them.
MOST_VIEW_PX, FIRST_VIEW_PX = 0.7e6, 0.45e6
#: How often a patch is looked at anew at most, while wire runs out of it: a long spring may be
#: proposed by one of its ends.
MOST_SETTLING = 16
#: A look that leaves less than this share of the wire has lost it: it is not what is there.
LEAST_LEFT = 0.75
#: Of so many points of a sighting it is asked whether they were seen already, and how many suffice.
SOME_PX, SAME = 200, 0.5


def look(rgb: Pixels, box: Box, scale: float) -> MapView:
    """Return the wire map of a part of the photo, seen at a scale."""
    x0, y0, x1, y1 = (int(v) for v in (box.left, box.top, np.ceil(box.right), np.ceil(box.bottom)))
    part = rgb[y0:y1, x0:x1]
    size = (max(16, round((x1 - x0) * scale)), max(16, round((y1 - y0) * scale)))
    how = cv2.INTER_AREA if scale < 1.0 else cv2.INTER_CUBIC
    picture = np.asarray(cv2.resize(part, size, interpolation=how), dtype=np.uint8)
    origin = np.array([float(x0), float(y0)])
    return MapView(wire_map(picture), origin, size[0] / (x1 - x0), picture=picture)


@dataclass(frozen=True, slots=True)
class Sighting:
    """A patch that may hold the spring, as the wire map sees it at first look.

    Attributes
    ----------
    box : Box
        Where its wire lies [px].
    points_px : ndarray, shape (N, 2)
        Some points on that [px].
    wire_px : float
        Width of the wire, roughly [px].
    score : float
        How much wire there is.
    beside : bool
        Whether it lies beside more wire that is not of it, and must be kept apart from that.
    whole : bool
        Whether it is surely all in its patch, with table around it.
    """

    box: Box
    points_px: Array
    wire_px: float
    score: float
    beside: bool = False
    whole: bool = False


def sightings(
    rgb: Pixels, outline_px: Array | None = None, inside: bool = False
) -> Iterator[Sighting]:
    """Yield where wire is seen: in the parts busiest beside the table, then wherever there is any.

    The busiest of all comes first if its wire is all in it, which is the spring mostly; then each
    time most wire first. The busiest parts are seen from near at little cost; the less busy ones,
    and the whole photo, are looked at only where what those hold was not enough: print on the
    table is often busier than a small spring, and a large one may show in bits.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (H, W, 3)
        The photo.
    outline_px : ndarray, shape (N, 2), or None
        Outline of the reference [px].
    inside : bool
        Whether the spring lies on the reference, as on a sheet, and not beside it.
    """
    boxes = patches(rgb, outline_px, inside, MORE_PATCHES)
    near = [_sighted(rgb, box) for box in boxes[:1]]
    ahead = [wire for wires in near for wire in wires[:1] if wire.whole]
    yield from ahead
    near += [_sighted(rgb, box) for box in boxes[1:MOST_PATCHES]]
    first = _most_first(wires[0] for wires in near if wires)
    most = first[0].score if first else 0.0
    first = [wire for wire in first if not any(wire is other for other in ahead)]
    plain = [wire for wire in first if wire.score > CRUMB * most]
    yield from plain
    crumbs = first[len(plain) :]
    beside = [replace(wire, beside=True) for wires in near for wire in wires[1:]]
    near = [_sighted(rgb, box) for box in boxes[MOST_PATCHES:]]
    further = [replace(wire, beside=k > 0) for wires in near for k, wire in enumerate(wires)]
    yield from _most_first([*crumbs, *beside, *further, *_in_whole(rgb, outline_px, inside)])


def _in_whole(rgb: Pixels, outline_px: Array | None, inside: bool) -> list[Sighting]:
    """Return what wire is seen in the whole photo, from afar."""
    height, width = rgb.shape[:2]
    whole = Box(0.0, 0.0, float(width), float(height))
    view = look(rgb, whole, min(1.0, WHOLE_PX / whole.long_side))
    if outline_px is not None:
        view = _clear_of(view, outline_px, inside)
    mask = view.maps[0] > FAINT
    labels, sizes = _groups(view, mask)
    groups = [1 + k for k, size in enumerate(sizes) if size > LEAST_SEEN_PX]
    return [_sighting(view, (labels == group) & mask) for group in groups]


def _most_first(seen: Iterable[Sighting]) -> list[Sighting]:
    return sorted(seen, key=lambda sighting: -sighting.score)


def _sighted(rgb: Pixels, box: Box) -> list[Sighting]:
    """Return what wire is seen in a box, the most first: a screw may lie beside the spring."""
    around = box.grown(0.12, rgb.shape)
    view = look(rgb, around, min(1.5, LOOK_PX / around.long_side))
    mask = view.maps[0] > 0.5
    larger = affordable(around, 2.0 * view.scale, FIRST_VIEW_PX)
    if mask.mean() < LEAST_FILLED and 1.5 * view.scale < larger < 1.5:
        # Wire may be too fine to be seen in so small a copy.
        view = look(rgb, around, larger)
        mask = view.maps[0] > 0.5
    if mask.sum() < LEAST_WIRE_PX or crispness(view, mask) < LEAST_SURE:
        return []
    labels, sizes = _groups(view, mask)
    wires = [
        (labels == 1 + k) & mask for k, size in enumerate(sizes) if size > LEAST_PART * max(sizes)
    ]
    return _most_first(
        replace(_sighting(view, wire), whole=_is_whole(view, wire, rgb.shape))
        for wire in wires
        if wire.sum() >= LEAST_WIRE_PX and crispness(view, wire) >= LEAST_SURE
    )


def _is_whole(view: MapView, wire: NDArray[np.bool_], shape: tuple[int, ...]) -> bool:
    """Tell whether wire (H, W) keeps clear of the view's rims, but for those of the photo."""
    y, x = np.nonzero(wire)
    room = CLEAR * max(np.ptp(x), np.ptp(y))
    own = np.array([x.min(), y.min(), -x.max(), -y.max()])
    rims = np.array([0, 0, 1 - wire.shape[1], 1 - wire.shape[0]])
    low, high = view.to_photo(np.array([[0.0, 0.0], [wire.shape[1], wire.shape[0]]]))
    ends_here = [*(low < 1.0), *(high > np.array(shape[1::-1]) - 1.0)]
    return bool(((own > rims + room) | ends_here).all())


def _clear_of(view: MapView, outline_px: Array, inside: bool) -> MapView:
    """Return the view without what lies on the reference and its rim, or without what lies off."""
    polygon = np.zeros(view.maps.shape[1:], np.uint8)
    cv2.fillPoly(polygon, [np.round(view.to_map(outline_px)).astype(np.int32)], (1,))
    rim = np.ones((RIM_PX, RIM_PX), np.uint8)
    kept = cv2.erode(polygon, rim) if inside else 1 - cv2.dilate(polygon, rim)
    return replace(view, maps=view.maps * kept)


def _groups(view: MapView, mask: NDArray[np.bool_]) -> tuple[NDArray[np.int32], list[float]]:
    """Return the connected groups of wire (H, W), numbered from 1 on, and how much each holds."""
    joined = cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_CLOSE, np.ones((15, 15), np.uint8))
    count, labels = cv2.connectedComponents(joined)
    weights = np.where(mask, view.maps[2], 0.0)
    sizes = np.bincount(labels.ravel(), weights=weights.ravel(), minlength=count)
    return np.asarray(labels, dtype=np.int32), [float(size) for size in sizes[1:]]


def largest(view: MapView, mask: NDArray[np.bool_]) -> Sighting:
    """Return the largest group of wire as what was sighted."""
    labels, sizes = _groups(view, mask)
    return _sighting(view, (labels == 1 + int(np.argmax(sizes))) & mask)


def _again(view: MapView, mask: NDArray[np.bool_], sighting: Sighting) -> Sighting:
    """Return the group of wire that holds most of what was sighted; the largest if none does."""
    labels, _ = _groups(view, mask)
    votes = np.bincount(at_points(labels, view, sighting.points_px), minlength=2)
    if not votes[1:].any():
        return largest(view, mask)
    wire = (labels == 1 + int(np.argmax(votes[1:]))) & mask
    return replace(_sighting(view, wire), beside=True)


def at_points(picture: NDArray[Any], view: MapView, points_px: Array) -> NDArray[Any]:
    """Return the values (N,) of a picture (H, W) of a view at points of the photo; 0 outside."""
    x, y = np.round(view.to_map(points_px)).astype(int).T
    height, width = picture.shape
    inside = (x >= 0) & (y >= 0) & (x < width) & (y < height)
    return np.where(inside, picture[y.clip(0, height - 1), x.clip(0, width - 1)], 0)


def _sighting(view: MapView, wire: NDArray[np.bool_]) -> Sighting:
    """Return a group of wire (H, W) as what was sighted."""
    y, x = np.nonzero(wire)
    corners = view.to_photo(np.array([[x.min(), y.min()], [x.max(), y.max()]], dtype=float))
    inside = cv2.distanceTransform(wire.astype(np.uint8), cv2.DIST_L2, 5)
    ridge = (inside == cv2.dilate(inside, np.ones((3, 3), np.uint8))) & (inside > 0.9)
    # The middle of wire N pixels wide lies (N + 1) / 2 from the nearest pixel that is none.
    width = 2.0 * float(np.quantile(inside[ridge], 0.4)) - 1.0 if ridge.any() else 2.0
    # Wire that fills its box is no wire: turns run together at so small a scale.
    _, sides, _ = cv2.minAreaRect(np.column_stack([x, y]).astype(np.float32))
    width = min(width, min(sides) / LEAST_WIDTHS + 2.0)
    score = float((view.maps[2] * view.maps[0])[wire].sum()) / view.scale**2
    some = slice(None, None, 1 + len(x) // SOME_PX)
    points = view.to_photo(np.column_stack([x[some], y[some]]).astype(float))
    return Sighting(Box(*corners[0], *corners[1]), points, width / view.scale, score)


def settle(rgb: Pixels, sighting: Sighting) -> Sighting:
    """Return the sighting once no wire runs out of its patch: a proposal may hold a part only."""
    if sighting.whole:
        return sighting
    for _ in range(MOST_SETTLING):
        around = sighting.box.grown(0.3, rgb.shape)
        scale = max(1.3 * LOOK_PX / around.long_side, FINE_WIRE_PX / sighting.wire_px)
        view = look(rgb, around, affordable(around, min(1.5, scale), FIRST_VIEW_PX))
        mask = view.maps[0] > 0.5
        if not mask.any():
            return sighting
        before = sighting.box.long_side
        other = _again(view, mask, sighting) if sighting.beside else largest(view, mask)
        if other.box.long_side < LEAST_LEFT * before:
            break  # a part was lost
        sighting = other
        if sighting.box.long_side < 1.1 * before:
            break
    return sighting


def wire_px2(view: MapView) -> float:
    """Return how much of the photo is wire [px²]."""
    return float((view.maps[0] > 0.5).sum()) / view.scale**2


def crispness(view: MapView, keep: NDArray[np.bool_]) -> float:
    """Return how sure the map is of the wire that is kept (H, W), 0.5 to 1."""
    wire = view.maps[0][keep & (view.maps[0] > 0.5)]
    return float(wire.mean()) if len(wire) else 0.5


def seen_in(view: MapView, keep: NDArray[np.bool_], sighting: Sighting) -> bool:
    """Tell whether what was sighted is what is kept (H, W) of a view."""
    return float(at_points(keep, view, sighting.points_px).mean()) > SAME


def affordable(box: Box, scale: float, most_px: float = MOST_VIEW_PX) -> float:
    """Return the scale, less where so large a view would cost seconds."""
    area = (box.right - box.left) * (box.bottom - box.top)
    return min(scale, float(np.sqrt(most_px / max(area, 1.0))))
