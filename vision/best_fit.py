"""Which of what was sighted is the spring: each is fitted until one is explained well."""

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from vision.camera import DoubtedCamera
from vision.fitted import FittedSpring, free_length_mm, wire_px
from vision.map_view import MapView
from vision.refusal import Refusal
from vision.region import (
    Sighting,
    along_marks,
    close_look,
    coarser_look,
    crispness,
    seen_in,
    settle,
)
from vision.spring_fit import fit_spring, is_spring
from vision.strands import main_part

Array = NDArray[np.float64]
Pixels = NDArray[np.uint8]
Mask = NDArray[np.bool_]

#: In how many places a spring is sought, usually.
TRIES = 5

#: Least overlap of tube and map where a person says that there is a spring; told as a rough fit.
LEAST_MARKED = 0.45
#: Mean of the map over its own wire from which on that is worth drawing: what is no wire is grainy.
LEAST_CRISP = 0.8
#: From where on a fit needs no other beside it, and what is taken off for a bar without hooks: that
#: is never so sure.
SURE, BAR_DOUBT = 0.65, 0.35
#: A fit that explains less than this is looked at from farther away.
LEAST_PLAIN = 0.8
#: Length beyond turns that touch, both ends together, from which on it is that of hooks [outside
#: diameters]: an eye is about as long as the coil is wide, a screw's bare ends are shorter.
HOOKS = 0.9
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
    tried: list[tuple[MapView, Mask]] = []
    turning = False
    for sighting in seen:
        if any(seen_in(view, keep, sighting) for view, keep in tried):
            continue
        if len(tried) == tries:
            break
        view = close_look(rgb, settle(rgb, sighting))
        keep = main_part(view)
        tried.append((view, keep))
        drawing = draw > 0 and crispness(view, keep) > LEAST_CRISP
        draw -= drawing
        found = _fitted(rgb, view, camera, drawing)
        if isinstance(found, Refusal):
            continue
        turning = True
        if not is_spring(found):
            continue
        if best is None or _sureness(found) > _sureness(best):
            best = found
        if _sureness(best) >= SURE:
            break
    if best is not None:
        return best
    return NOT_A_SPRING if turning else NO_SPRING


def _fitted(
    rgb: Pixels, view: MapView, camera: DoubtedCamera, drawing: bool
) -> FittedSpring | Refusal:
    """Return the spring in a view; where that explains it badly, in a coarser one if better.

    What is out of focus or grainy shows its turns from farther away.
    """
    found = fit_spring(view, camera, drawing=False)
    if isinstance(found, FittedSpring) and _explained(found) >= LEAST_PLAIN:
        return found
    other = fit_spring(coarser_look(rgb, view), camera, drawing)
    if isinstance(other, Refusal):
        return found
    if isinstance(found, Refusal) or _explained(other) > _explained(found):
        return other
    return found


def _explained(found: FittedSpring) -> float:
    """Return how well a fit explains what is seen: its area, and how closely its outline.

    Whatever covers much of the map overlaps with it; only a right fit follows its outline, too.
    """
    return found.overlap - found.fit.rms_px / wire_px(found)


def _sureness(found: FittedSpring) -> float:
    """Return how surely a fit is a spring: turns that touch, but end in no hooks, may be a screw's.

    Springs of such turns are made to be pulled.
    """
    width = 2.0 * found.helix.radius_mm + found.helix.wire_mm
    hooks = found.body.length - free_length_mm(found.helix)
    screw = found.touching and hooks < HOOKS * width
    return _explained(found) - (BAR_DOUBT if screw else 0.0)


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
