"""From the wire map of a spring to the helix that explains it."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from vision.beyond import hook_goes_on
from vision.camera import Camera, DoubtedCamera
from vision.close_wound import close_wound, nearly_touching
from vision.fitted import FittedSpring, gap_share, thinned_outline, wire_px
from vision.map_view import MapView
from vision.refusal import Refusal
from vision.search import Target
from vision.solid import solid_part, touching_strands
from vision.strands import Body, body_of, main_part
from vision.turns_apart import LEAST_POINTS, PERHAPS_LONG, turns_apart

#: Least overlap of the fitted tube and the map for the fit to count as a spring.
LEAST_OVERLAP = 0.62
#: Fewer turns are no spring that this can measure.
FEWEST_TURNS = 1.5
#: Likeness of a bar of touching turns to the map from which on it is one.
SURELY_SOLID = 0.85
#: Overlap of a bar with its body from which on a short coil is not sought in it by drawing.
LIKELY_SOLID = 0.8
#: Likeness that such a bar has as well; turns whose gaps the map has lost lack it.
BAR_LIKENESS = 0.5
#: Scatter of the outline about a bar from which on its turns may stand apart, or be a cone's
#: [wires]: about turns that touch, through the right camera, it is 0.01 to 0.03.
MOST_SCATTER = 0.06
#: Least gap of such turns as a share of their pitch, and by how much better they must suit: what
#: has no gaps is a bar after all.
LEAST_GAP, PLAINLY = 0.03, 0.02
#: Stripes are bars of very many turns, each of which takes long to draw.
MOST_TURNS = 40.0


def is_spring(found: FittedSpring) -> bool:
    """Tell whether a fit explains the map, by turns enough to be a spring's."""
    return found.overlap >= LEAST_OVERLAP and found.helix.turns >= FEWEST_TURNS


def fit_spring(
    view: MapView, camera: DoubtedCamera, drawing: bool = True
) -> FittedSpring | Refusal:
    """Return the helix that explains a wire map.

    Parameters
    ----------
    view : MapView
        The map of the spring, the wire near `BEST_WIRE_PX` wide.
    camera : DoubtedCamera
        The camera over the table, and what may be wrong with it: a spring that looks like a cone
        through a camera whose slant is in doubt is more likely a cylinder.
    drawing : bool
        Whether one that is explained badly may be sought by drawing many, which takes seconds.

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
        return turns_apart(view, camera, keep, drawing) or _no_spring()
    body = _bar_body(view, solid, camera.best)
    bar = close_wound(view, camera, outline, solid, keep, body)
    if bar is None:
        return turns_apart(view, camera, keep, drawing) or _no_spring()
    alike, loose = _likeness(bar, keep), _is_loose(bar)
    if alike > SURELY_SOLID and not loose:
        return bar
    likely = bar.overlap > LIKELY_SOLID and alike > BAR_LIKENESS
    apart = turns_apart(view, camera, keep, drawing and not likely)
    if apart is None or _meets_itself(apart):
        apart = bar
    best = max((bar, apart), key=lambda one: _suits(one, keep))
    if not (loose and likely):
        return best
    nearly = nearly_touching(bar, camera)
    if gap_share(nearly) > LEAST_GAP and not hook_goes_on(bar):
        return nearly if _suits(nearly, keep) > _suits(best, keep) + PLAINLY else best
    # Without gaps it is a bar after all, but was taken too wide or askew.
    body = replace(body, heading=nearly.helix["heading"], width=_width(nearly))
    again = close_wound(view, camera, outline, solid, keep, body) or best
    return max((best, again), key=lambda one: _suits(one, keep))


def _bar_body(view: MapView, solid: NDArray[np.bool_], camera: Camera) -> Body:
    """Return where turns that touch lie: across their longer side where they beat that way."""
    body = body_of(view, solid, camera, solid=True)
    if body.length > PERHAPS_LONG * body.width:
        return body
    across = body_of(view, solid, camera, solid=True, heading=body.heading + 0.5 * np.pi)
    return max((body, across), key=lambda b: touching_strands(view, b, camera)[0].contrast)


def _meets_itself(found: FittedSpring) -> bool:
    """Tell whether a wire is wider than its turns are apart, or than the turns themselves are."""
    return gap_share(found) < 0.0 or 2.0 * found.helix.radius_mm < found.helix.wire_mm


def _width(found: FittedSpring) -> float:
    """Return the outside diameter [mm]."""
    return 2.0 * found.helix.radius_mm + found.helix.wire_mm


def _is_loose(bar: FittedSpring) -> bool:
    """Tell whether a bar's outline lies off it, and is that of turns few enough to be drawn."""
    return _scatter(bar) > MOST_SCATTER and bar.helix.turns <= MOST_TURNS


def _scatter(found: FittedSpring) -> float:
    """Return how far the outline lies from the tube [wires]."""
    return found.fit.rms_px / wire_px(found)


def _suits(found: FittedSpring, keep: NDArray[np.bool_]) -> float:
    """Return how well a fitted spring suits the map: by its area, and by its outline."""
    return _likeness(found, keep) - _scatter(found)


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
