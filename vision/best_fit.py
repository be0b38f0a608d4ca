"""Which of what was sighted is the spring: each is fitted until one is explained well."""

import numpy as np
from numpy.typing import NDArray

from vision.camera import DoubtedCamera
from vision.fitted import FittedSpring
from vision.map_view import MapView
from vision.proposals import Box
from vision.refusal import Refusal
from vision.region import (
    Sighting,
    along_marks,
    close_look,
    coarser_look,
    same_place,
    settle,
    wire_box,
)
from vision.spring_fit import fit_spring, is_spring

Array = NDArray[np.float64]
Pixels = NDArray[np.uint8]

#: Least overlap of tube and map where a person says that there is a spring; told as a rough fit.
LEAST_MARKED = 0.45
#: Overlap of a fit that needs no other beside it, and what is taken off where turns touch.
SURE, BAR_DOUBT = 0.75, 0.25
#: Overlap below which it is looked at from farther away: of right fits one in twenty lies there.
LEAST_PLAIN = 0.84
#: Least wire of another sighting, of that in the first [-].
LEAST_BESIDE = 0.15
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
    seen: list[Sighting],
    ends_px: Array | None = None,
    draw: int = 0,
) -> FittedSpring | Refusal:
    """Return the best explained sighting; others are tried only while none is explained well.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (H, W, 3)
        The photo.
    camera : DoubtedCamera
        The camera over the table.
    seen : list of Sighting
        Where the spring may lie, likeliest first.
    ends_px : ndarray, shape (2, 2), or None
        The ends of its axis, where a person marked them [px].
    draw : int
        In so many of the sightings a spring is sought by drawing, too.
    """
    if ends_px is not None:
        return _fit_marked(rgb, camera, seen, ends_px)
    best: FittedSpring | None = None
    boxes: list[Box] = []
    turning = False
    for sighting in seen:
        if sighting.score < LEAST_BESIDE * seen[0].score:
            continue
        view = close_look(rgb, settle(rgb, sighting))
        box = wire_box(view)
        if box is None or any(same_place(box, other) for other in boxes):
            continue
        boxes.append(box)
        found = _fitted(rgb, view, camera, drawing=len(boxes) <= draw)
        if isinstance(found, Refusal):
            continue
        turning = True
        if not is_spring(found):
            continue
        if _sureness(found) >= SURE:
            return found
        if best is None:
            best = found
            continue
        screws = best.touching and found.touching
        best = max(best, found, key=_sureness)
        if not screws:
            return best
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
    if isinstance(found, FittedSpring) and found.overlap >= LEAST_PLAIN:
        return found
    other = fit_spring(coarser_look(rgb, view), camera, drawing)
    if isinstance(other, Refusal):
        return found
    if isinstance(found, Refusal) or other.overlap > found.overlap:
        return other
    return found


def _sureness(found: FittedSpring) -> float:
    """Return how surely a fit is a spring: a screw looks much like turns that touch."""
    return found.overlap - (BAR_DOUBT if found.touching else 0.0)


def _fit_marked(
    rgb: Pixels, camera: DoubtedCamera, seen: list[Sighting], ends_px: Array
) -> FittedSpring | Refusal:
    """Return the spring between two marked ends, if there is one."""
    if not seen:
        return NO_SPRING
    found = fit_spring(along_marks(close_look(rgb, seen[0]), ends_px), camera)
    if isinstance(found, Refusal):
        return NO_SPRING
    return found if found.overlap >= LEAST_MARKED else NOT_A_SPRING
