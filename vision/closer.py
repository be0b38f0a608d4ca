"""A sighted spring seen from near, as suits the wire map best, or from farther away."""

from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.level import levelled
from vision.map_view import MapView
from vision.proposals import Box
from vision.region import (
    LEAST_LEFT,
    SOME_PX,
    Sighting,
    affordable,
    at_points,
    crispness,
    look,
    wire_px2,
)
from vision.solid import strand_width
from vision.strands import main_part, parts
from vision.wire_map import BEST_WIRE_PX

Array = NDArray[np.float64]
Pixels = NDArray[np.uint8]

#: Most that the photo is enlarged, and how many times too wide or too fine the wire may be in the
#: map: what is somewhat too fine is read from the photo itself later.
MOST_ZOOM, TOO_WIDE, TOO_FINE = 2.3, 1.12, 1.3
#: Wire that is narrower than this share of what it was at the look before has broken up.
FINER = 0.9
#: Mean of the map over its own wire from which on that has not broken up.
CRISP = 0.9
#: Width of the wire in a coarser view [px], and how far that reaches around the other, in parts of
#: its size.
COARSE_WIRE_PX, ROUND = 14.0, 0.12
#: How often a region is looked at closely at most, and how much further where wire runs out of it.
MOST_LOOKS, RUN_OUT = 8, 0.5
#: Room around a sighting at the first close look, and around its wire at the next [of its size];
#: by how much less is room enough.
FIRST_ROOM, ROOM, SLACK = 0.08, 0.05, 0.03


def close_look(rgb: Pixels, sighting: Sighting) -> MapView:
    """Return the wire map of a sighting at the scale at which it is sharpest, with all its wire.

    A spring that lies askew is looked at turned, so that less of the table is in view.
    """
    box, points = sighting.box.grown(FIRST_ROOM, rgb.shape), sighting.points_px
    room = FIRST_ROOM * sighting.box.long_side
    area = (box.right - box.left) * (box.bottom - box.top)
    if (level := levelled(rgb, points, room, area)) is not None:
        points = level.of(points)
        around = 0.5 * sighting.wire_px
        own = Box(*(points.min(axis=0) - around), *(points.max(axis=0) + around))
        turned = _close_look(level.rgb, replace(sighting, box=own, points_px=points))
        if (view := level.in_photo(turned)) is not None:
            return view
    return _close_look(rgb, sighting)


def _close_look(rgb: Pixels, sighting: Sighting) -> MapView:
    """Return the same of a photo as it is, not turned.

    The first look is at a width guessed from a small picture, in which strands run together; where
    the wire turns out wider or narrower than that, or runs out of the view, it looks again. What is
    looked at from too near breaks up, and the bits look finer each time: it goes no nearer then.
    """
    box = sighting.box.grown(FIRST_ROOM, rgb.shape)
    scale = float(np.clip(BEST_WIRE_PX / sighting.wire_px, 0.2, MOST_ZOOM))
    view = _of(sighting, look(rgb, box, affordable(box, scale)))
    before_px = 0.0
    for _ in range(MOST_LOOKS):
        keep = main_part(view)
        if not keep.any():
            break
        width = strand_width(view, keep)
        whole = _room_for(view, keep, rgb.shape)
        better = float(np.clip(view.scale * BEST_WIRE_PX / width, 0.2, MOST_ZOOM))
        better = affordable(whole, better)
        cut = whole.reaches_out_of(box, SLACK * whole.long_side)
        close = 1.0 / TOO_WIDE < better / view.scale < TOO_FINE
        if not cut and (close or width / view.scale < FINER * before_px):
            break
        before_px = width / view.scale
        other = _of(sighting, look(rgb, whole, better))
        if _is_lost(other, view):
            break
        box, view = whole, other
    return view


def _is_lost(other: MapView, view: MapView) -> bool:
    """Tell whether another view has lost wire of a view, and not just shows the gaps between it."""
    if wire_px2(other) >= LEAST_LEFT * wire_px2(view):
        return False
    if crispness(other, main_part(other)) < CRISP:
        return True
    return _reach_px2(other) < LEAST_LEFT * _reach_px2(view)


def _reach_px2(view: MapView) -> float:
    """Return how much of the photo the wire in view spans, gaps and all [px²]."""
    y, x = np.nonzero(main_part(view) & (view.maps[0] > 0.5))
    if not len(x):
        return 0.0
    hull = cv2.convexHull(np.column_stack([x, y]).astype(np.int32))
    return float(cv2.contourArea(hull)) / view.scale**2


def whole_look(rgb: Pixels, box: Box, scale: float) -> tuple[MapView, bool]:
    """Return the wire map of a part of the photo, and whether wire ran out of that.

    Then more of the photo is looked at, and from farther away where it is too much.
    """
    view, ran_out = look(rgb, box, affordable(box, scale)), False
    for _ in range(MOST_LOOKS):
        keep = main_part(view)
        if not keep.any():
            break
        whole = _room_for(view, keep, rgb.shape)
        if not whole.reaches_out_of(box, SLACK * whole.long_side):
            break
        box, ran_out = whole, True
        view = look(rgb, box, affordable(box, scale))
    return view, ran_out


def _of(sighting: Sighting, view: MapView) -> MapView:
    """Return the view without its other parts where what was sighted lies beside the main one."""
    return _without_others(view, sighting.points_px) if sighting.beside else view


def _without_others(view: MapView, points_px: Array) -> MapView:
    """Return the view without its other parts where points lie on another than the main one."""
    labels, weights = parts(view)
    votes = np.bincount(at_points(labels, view, points_px), minlength=2)
    own = 1 + int(np.argmax(votes[1:]))
    if not votes[1:].any() or own == 1 + int(np.argmax(weights)):
        return view
    return replace(view, maps=np.where(labels == own, view.maps, 0.0))


def coarser_look(rgb: Pixels, view: MapView) -> MapView:
    """Return the wire map of what is in a view and around it, from farther away.

    Something larger that lies around it, such as the coin's rim, is left out.
    """
    corners = view.corners_px
    around = Box(*corners.min(axis=0), *corners.max(axis=0)).grown(ROUND, rgb.shape)
    keep = main_part(view)
    wide = strand_width(view, keep) if keep.any() else BEST_WIRE_PX
    scale = min(1.0, COARSE_WIRE_PX / wide) * view.scale
    coarser = look(rgb, around, affordable(around, scale))
    y, x = np.nonzero(keep & (view.maps[0] > 0.5))
    some = slice(None, None, 1 + len(x) // SOME_PX)
    return _without_others(
        coarser, view.to_photo(np.column_stack([x[some], y[some]]).astype(float))
    )


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
    return out.grown(ROOM, shape)
