"""Which of what was sighted is the spring: each is fitted until one is explained well."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.beyond import hook_goes_on
from vision.camera import DoubtedCamera
from vision.closer import MOST_ZOOM, close_look, coarser_look, whole_look
from vision.fitted import CLOSE_GAP, FittedSpring, gap_share, overlap_of, thinned_outline, wire_px
from vision.geometry import geometry_of
from vision.helix import centre_line
from vision.map_view import MapView
from vision.marked import along_marks
from vision.proposals import Box
from vision.refusal import Refusal
from vision.region import (
    CRUMB,
    Sighting,
    affordable,
    crispness,
    seen_in,
    settle,
    wire_px2,
)
from vision.spring_fit import fit_spring, is_spring
from vision.strands import main_part
from vision.turns_apart import LEAST_POINTS, seen_nearer
from vision.wire_map import BEST_WIRE_PX

Array = NDArray[np.float64]
Pixels = NDArray[np.uint8]
Mask = NDArray[np.bool_]

#: In how many places a spring is sought, usually.
TRIES = 5

#: Least overlap of tube and map where a person says that there is a spring; told as a rough fit.
LEAST_MARKED = 0.45
#: Mean of the map over its own wire from which on that is worth drawing: what is no wire is grainy.
LEAST_CRISP = 0.8
#: A fit that explains less than this is sought by drawing, too: from near, not from afar, where the
#: map is so sure.
DRAWN_BELOW, SHARP = 0.7, 0.9
#: From where on a fit needs no other beside it: right ones mostly have 0.8 and more. What is taken
#: off for a bar without hooks, which is never so sure.
SURE, BAR_DOUBT = 0.75, 0.35
#: A fit that explains less than this is looked at from farther away.
LEAST_PLAIN = 0.8
#: What was found there is looked at from near again where that shows it so many times larger, with
#: so much room around it, in parts of its length.
NEARER, ROOM = 1.3, 0.15
#: By how much more surely a spring must be seen than one of which more was sighted.
PLAINLY_SURER = 0.02
#: What is this much smaller than what it was seen in may be tried by itself.
MOST_PART = 0.85
#: A fit that has this share of its wire within the outline of another is of a part of that; every
#: so many points of its centre line are asked.
HELD_SHARE, HELD_EVERY = 0.7, 10
NO_SPRING = Refusal(
    "no-spring",
    "view",
    "No coil spring was found in the photo.",
    "Lay the spring on its side, on a plain table, and let it fill a third of the picture.",
)
NOT_A_SPRING = Refusal(
    "not-a-spring",
    "geometry",
    "What looks most like wire in the photo does not turn like a coil spring.",
    "Lay one spring on its side, free of other things, on a plain table; "
    "tangled or badly bent springs cannot be measured.",
)


@dataclass(frozen=True, slots=True)
class _Tried:
    """A view that was tried, which of it was kept (H, W), and whether that turns like a coil."""

    view: MapView
    keep: Mask
    found: bool

    def holds_more_than(self, sighting: Sighting) -> bool:
        """Tell whether much more was kept than was sighted, such as a cable beside the spring."""
        # In the photo, as the sighting is: the view may be turned.
        kept = self.view.to_photo(np.argwhere(self.keep)[:, ::-1].astype(float))
        return sighting.box.long_side < MOST_PART * float(np.ptp(kept, axis=0).max())


def best_fit(
    rgb: Pixels,
    camera: DoubtedCamera,
    seen: Iterator[Sighting],
    ends_px: Array | None = None,
    draw: int = 0,
    tries: int = TRIES,
) -> FittedSpring | Refusal:
    """Return the best explained sighting; others are tried only while none is explained well.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (H, W, 3)
        The photo.
    camera : DoubtedCamera
        The camera over the table.
    seen : iterator of Sighting
        Where the spring may lie, likeliest first.
    ends_px : ndarray, shape (2, 2), or None
        The ends of its axis, where a person marked them [px].
    draw : int
        In so many of the sightings that are surely wire a spring is sought by drawing, too.
    tries : int
        How many of the sightings are tried before it is said that there is none.
    """
    if ends_px is not None:
        return _fit_marked(rgb, camera, seen, ends_px)
    best: FittedSpring | None = None
    tried: list[_Tried] = []
    turning, most = False, 0.0
    for sighting in seen:
        most = max(most, sighting.score)
        within = [one for one in tried if seen_in(one.view, one.keep, sighting)]
        if any(one.found or not one.holds_more_than(sighting) for one in within):
            continue
        if within:
            sighting = replace(sighting, beside=True)
        if best is not None and sighting.score < CRUMB * most and _explained(best) > DRAWN_BELOW:
            continue
        if len(tried) == tries:
            break
        view = close_look(rgb, settle(rgb, sighting))
        keep = main_part(view)
        drawing = draw > 0 and crispness(view, keep) > LEAST_CRISP
        found, drawn = _fitted(rgb, view, camera, drawing)
        tried.append(_Tried(view, keep, isinstance(found, FittedSpring)))
        if isinstance(found, Refusal):
            continue
        draw -= drawn
        turning = True
        if not is_spring(found) or isinstance(geometry_of(found), Refusal):
            continue
        if best is None or _surer(found, best, crumb=sighting.score < CRUMB * most):
            best = found
        if _sureness(best) >= SURE:
            break
    if best is not None:
        return best
    return NOT_A_SPRING if turning else NO_SPRING


def _fitted(
    rgb: Pixels, view: MapView, camera: DoubtedCamera, drawing: bool
) -> tuple[FittedSpring | Refusal, bool]:
    """Return the spring in a view, in a coarser one if that explains it, and whether it was drawn.

    What is out of focus or grainy shows its turns from farther away, and what the near map has lost
    in the middle shows its other half. Both are held against the coarser map, which sees more. It
    is drawn where the map is sure of it first: more of what lies around it is in the coarser one.
    """
    near = fit_spring(view, camera, drawing=False)
    if isinstance(near, FittedSpring) and _explained(near) >= LEAST_PLAIN:
        return near, False
    wide = coarser_look(rgb, view)
    found = _better_in(wide, near, fit_spring(wide, camera, drawing=False))
    drawn = False
    for map_view in (view, wide) if crispness(view, main_part(view)) > SHARP else (wide,):
        if drawing and (isinstance(found, Refusal) or _explained(found) < DRAWN_BELOW):
            found = _better_in(wide, found, fit_spring(map_view, camera, drawing=True))
            drawn = True
    if isinstance(found, FittedSpring) and found.view is wide:
        found = _from_near(rgb, found, camera, wide)
    return found, drawn


def _better_in(
    view: MapView, one: FittedSpring | Refusal, other: FittedSpring | Refusal
) -> FittedSpring | Refusal:
    """Return the fit of two that explains a view better; the first where it is a tie."""
    if isinstance(one, Refusal) or isinstance(other, Refusal):
        return other if isinstance(one, Refusal) else one
    return max((one, other), key=lambda found: _explained_in(view, found))


def _from_near(
    rgb: Pixels, found: FittedSpring, camera: DoubtedCamera, wide: MapView
) -> FittedSpring:
    """Return a spring that was found from afar as it is from near, if that explains it better."""
    scale = BEST_WIRE_PX / wire_px(found)
    line = found.camera.project(centre_line(found.helix))
    box = Box(*line.min(axis=0), *line.max(axis=0)).grown(ROOM, rgb.shape)
    scale = affordable(box, min(scale, MOST_ZOOM))
    if scale < NEARER * found.view.scale:
        return found
    view, ran_out = whole_look(rgb, box, scale)
    if len(thinned_outline(view, main_part(view))) < LEAST_POINTS:
        return found
    other = fit_spring(view, camera, drawing=False)
    # From afar faint turns may be lost: what shows more of the spring tells.
    more = view if ran_out else wide
    if not isinstance(other, Refusal) and _explained_in(more, other) >= _explained_in(more, found):
        return other
    # What shows no row of strands was found by drawing, and is where it was found.
    other = seen_nearer(view, found, camera)
    return max((found, other), key=lambda one: _explained_in(view, one))


def _explained_in(view: MapView, found: FittedSpring) -> float:
    """Return how well a fit explains what is seen in a view: see `_explained`."""
    overlap = overlap_of(found.helix, found.camera, view, main_part(view))
    return overlap - found.fit.rms_px / wire_px(found)


def _explained(found: FittedSpring) -> float:
    """Return how well a fit explains what is seen: its area, and how closely its outline.

    Whatever covers much of the map overlaps with it; only a right fit follows its outline, too.
    """
    return found.overlap - found.fit.rms_px / wire_px(found)


def _sureness(found: FittedSpring) -> float:
    """Return how surely a fit is a spring."""
    return _explained(found) - _bar_doubt(found)


def _bar_doubt(found: FittedSpring) -> float:
    """Return what is taken off a fit without gaps or hooks, which may be a screw.

    Springs whose turns touch are made to be pulled, and those to be pressed show the table between
    their turns.
    """
    screw = (found.touching or gap_share(found) < CLOSE_GAP) and not hook_goes_on(found)
    return BAR_DOUBT if screw else 0.0


def _surer(found: FittedSpring, best: FittedSpring, crumb: bool = False) -> bool:
    """Tell whether a fit is more surely the spring than the best so far.

    Where one is of a part of what the other is of, that part explains what it saw better than the
    whole does, and nothing of the rest: both are held against what shows more of it. A crumb of
    wire elsewhere must surely be a spring: a bit of something else may look like one.
    """
    if not (_holds(found, best) or _holds(best, found)):
        least = _sureness(best) + PLAINLY_SURER
        return _sureness(found) > (max(least, SURE) if crumb else least)
    view = max((found, best), key=lambda one: wire_px2(one.view)).view
    one, other = (_explained_in(view, fit) - _bar_doubt(fit) for fit in (found, best))
    return one > other


def _holds(large: FittedSpring, small: FittedSpring) -> bool:
    """Tell whether most of a fitted wire lies within the outline of another."""
    hull = cv2.convexHull(large.outline_px.astype(np.float32))
    line = small.camera.project(centre_line(small.helix))[::HELD_EVERY].astype(np.float32)
    inside = [cv2.pointPolygonTest(hull, (float(x), float(y)), False) >= 0 for x, y in line]
    return float(np.mean(inside)) > HELD_SHARE


def _fit_marked(
    rgb: Pixels, camera: DoubtedCamera, seen: Iterator[Sighting], ends_px: Array
) -> FittedSpring | Refusal:
    """Return the spring between two marked ends, if there is one."""
    sighting = next(seen, None)
    if sighting is None:
        return NO_SPRING
    found = fit_spring(along_marks(close_look(rgb, sighting), ends_px), camera)
    if isinstance(found, Refusal):
        return NO_SPRING
    return found if found.overlap >= LEAST_MARKED else NOT_A_SPRING
