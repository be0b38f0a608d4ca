"""From the wire map of a spring to the helix that explains it."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from vision.camera import Camera
from vision.helix import NAMES, End, Helix, along_axis, turns_of
from vision.refusal import Refusal
from vision.strands import (
    Body,
    MapView,
    Strands,
    body_of,
    first_guess,
    main_part,
    outline_of,
    strands_of,
)
from vision.tips import draw, find_tips, refine_tips, shrink
from vision.tube_fit import Fit, Prior, fit, turn_seen

Array = NDArray[np.float64]

#: Points of the outline that are used: more cost time and tell nothing new.
MOST_POINTS = 2400
#: Coils closer than this, in wires, are taken to touch all along.
TOUCHING = 1.18
#: Least overlap of the fitted tube and the map for the fit to count as a spring.
LEAST_OVERLAP = 0.62
#: A radius that changes less than this over the body is a cylinder's.
LEAST_TAPER = 0.05

_SIGMA = {
    "x": 50.0,
    "y": 50.0,
    "heading": 0.1,
    "log_radius": 0.3,
    "taper": 0.3,
    "log_wire": 0.5,
    "start": 1e-3,
    "stop": 1e-3,
    "log_pitch": 0.3,
    "ramp": 0.3,
    "bulge": 0.03,
    "log_pitch_start": 0.03,
    "log_pitch_stop": 0.03,
    "dead_start": 0.1,
    "dead_stop": 0.1,
}


@dataclass(frozen=True, slots=True)
class FittedSpring:
    """A spring as it was fitted.

    Attributes
    ----------
    helix, fit : Helix, Fit
        The helix with its ends, and the fit of its tube to the outline.
    view : MapView
        What the wire map saw.
    outline_px, used : ndarray, shape (N, 2), and (N,)
        Outline of the wire [px], and which of it the fit heeded.
    body : Body
        Its place on the table.
    touching : bool
        Whether the coils touch all along, as an extension spring's do.
    overlap : float
        Intersection over union of the drawn helix and the map.
    hand_odds : float
        How much worse the other hand explains the outline: 1 is no difference.
    """

    helix: Helix
    fit: Fit
    view: MapView
    outline_px: Array
    used: NDArray[np.bool_]
    body: Body
    touching: bool
    overlap: float
    hand_odds: float


def fit_spring(view: MapView, camera: Camera) -> FittedSpring | Refusal:
    """Return the helix that explains a wire map.

    Parameters
    ----------
    view : MapView
        The map of the spring, the wire near `BEST_WIRE_PX` wide.
    camera : Camera
        The camera over the table.

    Returns
    -------
    FittedSpring or Refusal
        ``no-spring`` where the map holds no row of regular strands.
    """
    keep = main_part(view)
    outline = _thinned(outline_of(view, keep))
    if len(outline) < 80:
        return _no_spring()
    body = body_of(view, keep, camera)
    bodies = []
    for hand in (1, -1):
        strands = strands_of(view, body, camera, hand)
        if len(strands.places) >= 3:
            bodies.append((strands, _fit_body(outline, camera, body, strands)))
    if not bodies:
        return _no_spring()
    bodies.sort(key=lambda one: _misfit(one[1]))
    strands, first = bodies[0]
    odds = _misfit(bodies[1][1]) / max(_misfit(first), 1e-6) if len(bodies) > 1 else 2.0
    touching = strands.pitch < TOUCHING * first.helix.wire_mm
    helix = _straightened(first.helix)
    wire_map_px = _wire_px(helix, camera) * view.scale
    helix = find_tips(helix, camera, view, keep, wire_map_px)
    dead = float(np.log(helix.wire_mm))
    helix = helix.with_values(log_pitch_start=dead, log_pitch_stop=dead)
    for _ in range(2):
        used = _heeded(helix, camera, outline)
        whole = fit(helix, camera, outline[used], prior(helix, start=0.05, stop=0.05))
        helix = refine_tips(whole.helix, camera, view, keep, wire_map_px)
    zoom, target = shrink(view, wire_map_px)
    picture = draw(helix, camera, view, zoom, target.shape)
    overlap = float(np.minimum(picture, target).sum() / (np.maximum(picture, target).sum() + 1e-6))
    return FittedSpring(
        helix, replace(whole, helix=helix), view, outline, used, body, touching, overlap, odds
    )


def _fit_body(outline: Array, camera: Camera, body: Body, strands: Strands) -> Fit:
    """Fit the regular turns, leaving out the ends; they come when the body is known."""
    helix = first_guess(body, strands)
    helix = helix.with_values(start=helix["start"] - 0.25, stop=helix["stop"] + 0.25)
    for softness in (5.0, 2.0, 1.0):
        turn = turn_seen(helix, camera, outline)
        inner = (turn > -0.2) & (turn < helix.span + 0.2)
        if inner.sum() < 40:
            inner = np.ones(len(outline), dtype=bool)
        found = fit(helix, camera, outline[inner], prior(helix), softness, 12)
        helix = found.helix
    return found


def _straightened(helix: Helix) -> Helix:
    """Return a cylinder where the radius hardly changes."""
    return helix.with_values(taper=0.0) if abs(helix["taper"]) < LEAST_TAPER else helix


def prior(helix: Helix, **sigma: float) -> Prior:
    """Return what is known before the fit: wide, but for what `sigma` narrows."""
    wide = {**_SIGMA, **sigma}
    if helix["taper"] == 0.0 and "start" in sigma:
        wide["taper"] = 1e-4
    return Prior(helix.values.copy(), np.array([wide[name] for name in NAMES]))


def _misfit(found: Fit) -> float:
    return float(np.mean(np.log1p(found.residual_px**2)))


def _heeded(helix: Helix, camera: Camera, outline: Array) -> NDArray[np.bool_]:
    """Leave out what grinding has flattened: a tube does not describe it."""
    turn = turn_seen(helix, camera, outline)
    used = np.ones(len(outline), dtype=bool)
    if helix.ends[0] is End.GROUND:
        used &= turn > helix["start"] + 0.6
    if helix.ends[1] is End.GROUND:
        used &= turn < helix["stop"] - 0.6
    return used


def _thinned(points: Array) -> Array:
    if len(points) <= MOST_POINTS:
        return points
    return np.asarray(points[np.linspace(0, len(points) - 1, MOST_POINTS).astype(int)])


def _wire_px(helix: Helix, camera: Camera) -> float:
    here = np.array([helix["x"], helix["y"], helix.radius_mm])
    return helix.wire_mm * camera.focal_px / float(np.linalg.norm(camera.position_mm - here))


def wire_px(found: FittedSpring, camera: Camera) -> float:
    """Return the width of the wire in the photo [px]."""
    return _wire_px(found.helix, camera)


def free_length_mm(helix: Helix) -> float:
    """Return the length over the wire, ground faces where there are any [mm]."""
    x = along_axis(helix, turns_of(helix))
    half = 0.5 * helix.wire_mm
    return float(x[-1] - x[0]) + sum(half for end in helix.ends if end is not End.GROUND)


def _no_spring() -> Refusal:
    return Refusal(
        "no-spring",
        "view",
        "No coil spring was found: nothing in the photo shows a row of turns of wire.",
        "Lay the spring on its side, on a plain table, and let it fill a third of the picture.",
    )
