"""From the wire map of a spring to the helix that explains it."""

import numpy as np
from numpy.typing import NDArray

from vision.camera import DoubtedCamera
from vision.close_wound import close_wound
from vision.fitted import FittedSpring, thinned_outline, wire_px
from vision.map_view import MapView
from vision.refusal import Refusal
from vision.search import Target
from vision.strands import body_of, main_part, solid_part
from vision.turns import LEAST_POINTS, turns_apart

#: Least overlap of the fitted tube and the map for the fit to count as a spring.
LEAST_OVERLAP = 0.62
#: Fewer turns are no spring that this can measure.
FEWEST_TURNS = 1.5
#: Likeness of a bar of touching turns to the map from which on it is one.
SURELY_SOLID = 0.85
#: Overlap of a bar with its body from which on a short coil is not sought in it by drawing.
LIKELY_SOLID = 0.8


def is_spring(found: FittedSpring) -> bool:
    """Tell whether a fit explains the map, by turns enough to be a spring's."""
    return found.overlap >= LEAST_OVERLAP and found.helix.turns >= FEWEST_TURNS


def fit_spring(view: MapView, camera: DoubtedCamera) -> FittedSpring | Refusal:
    """Return the helix that explains a wire map.

    Parameters
    ----------
    view : MapView
        The map of the spring, the wire near `BEST_WIRE_PX` wide.
    camera : DoubtedCamera
        The camera over the table, and what may be wrong with it: a spring that looks like a cone
        through a camera whose slant is in doubt is more likely a cylinder.

    Returns
    -------
    FittedSpring or Refusal
        ``no-spring`` where the map holds no row of regular strands.
    """
    keep = main_part(view)
    solid = solid_part(view, keep)
    outline = thinned_outline(view, keep if solid is None else solid)
    if len(outline) < LEAST_POINTS:
        return _no_spring()
    if solid is None:
        return turns_apart(view, camera, keep) or _no_spring()
    body = body_of(view, solid, camera.best, solid=True)
    bar = close_wound(view, camera, outline, solid, keep, body)
    if bar is not None and _likeness(bar, keep) > SURELY_SOLID:
        return bar
    likely = bar is not None and bar.overlap > LIKELY_SOLID
    apart = turns_apart(view, camera, keep, drawing=not likely)
    told = [one for one in (bar, apart) if one is not None]
    return max(told, key=lambda one: _likeness(one, keep)) if told else _no_spring()


def _likeness(found: FittedSpring, keep: NDArray[np.bool_]) -> float:
    """Return how much a fitted spring looks like the map of what is kept, as `Target` tells it."""
    wire_map_px = wire_px(found) * found.view.scale
    return Target.of(found.view, keep, found.camera, wire_map_px).likeness(found.helix)


def _no_spring() -> Refusal:
    return Refusal(
        "no-spring",
        "view",
        "No coil spring was found: nothing in the photo shows a row of turns of wire.",
        "Lay the spring on its side, on a plain table, and let it fill a third of the picture.",
    )
