"""From the wire map of a spring to the helix that explains it."""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.camera import Camera, DoubtedCamera
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
    overall_mm,
    solid_part,
    strands_of,
    touching_strands,
)
from vision.tips import draw, find_tips, refine_tips, shrink
from vision.tube_fit import Fit, Prior, fit, residuals, turn_seen

Array = NDArray[np.float64]

#: Points of the outline that are used: more cost time and tell nothing new.
MOST_POINTS = 1600
#: Coils closer than this, in wires, are taken to touch all along.
TOUCHING = 1.18
#: Least overlap of the fitted tube and the map for the fit to count as a spring.
LEAST_OVERLAP = 0.62
#: Overlap of the map with a bar of touching turns from which on it is one.
SURELY_SOLID = 0.85
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
    "bow": 0.05,
}
#: A prior this narrow holds a value where it is.
_HELD = 1e-4
#: What the first fit may not yet stray from: size and evenness are known well enough to start.
_ROUGH = {
    "heading": 0.02,
    "log_radius": 0.03,
    "log_wire": 0.1,
    "log_pitch": 0.05,
    "bow": _HELD,
    "bulge": 0.01,
}
#: Wire of turns that touch, as a share of their spacing: common practice, no source.
CLOSE_WIRE = 0.994
#: Every so many points of the outline are enough for the first fit.
_FIRST_EVERY = 3
#: And of a close-wound spring's flanks.
_BAR_EVERY = 25
#: How far the ends of a close-wound body may lie from where its outline puts them [turns].
BAR_ENDS = (2.4, 0.3)
#: How much worse a cylinder must explain the outline than a cone does, to be called a cone.
CONE_ODDS = 1.12


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
    ends_margin : float
        How much worse other ends explain the map, as a share: 0 is no difference.
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
    ends_margin: float

    @property
    def camera(self) -> Camera:
        """The camera through which it is seen best."""
        return self.fit.camera


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
    turns = keep if solid is None else solid
    outline = _thinned(outline_of(view, turns))
    if len(outline) < 80:
        return _no_spring()
    body = body_of(view, turns, camera.best, solid is not None)
    if solid is not None:
        bar = _close_wound(view, camera, outline, turns, keep, body)
        if isinstance(bar, Refusal):
            return _turns_apart(view, camera, keep)
        if bar.overlap > SURELY_SOLID:
            return bar
        apart = _turns_apart(view, camera, keep)
        if isinstance(apart, Refusal) or apart.overlap < bar.overlap:
            return bar
        return apart
    return _turns_apart(view, camera, keep)


def _turns_apart(
    view: MapView, camera: DoubtedCamera, keep: NDArray[np.bool_]
) -> FittedSpring | Refusal:
    """Return the spring by its turns one by one, as they show where they stand apart."""
    outline = _thinned(outline_of(view, keep))
    body = body_of(view, keep, camera.best)
    bodies = []
    for hand in (1, -1):
        strands = strands_of(view, body, camera.best, hand)
        if len(strands.places) >= 3:
            bodies.append((strands, _fit_body(outline, camera, body, strands)))
    if not bodies:
        return _no_spring()
    bodies.sort(key=lambda one: _misfit(one[1]))
    strands, first = bodies[0]
    odds = _misfit(bodies[1][1]) / max(_misfit(first), 1e-6) if len(bodies) > 1 else 2.0
    whole = _cone_if_plain(first, camera, outline)
    touching = strands.pitch < TOUCHING * first.helix.wire_mm
    wire_map_px = _wire_px(whole.helix, whole.camera) * view.scale
    helix, margin = find_tips(whole.helix, whole.camera, view, keep, wire_map_px)
    dead = float(np.log(helix.wire_mm))
    helix = helix.with_values(log_pitch_start=dead, log_pitch_stop=dead)
    for _ in range(2):
        used = _heeded(helix, whole.camera, outline)
        whole = fit(helix, camera, outline[used], prior_of_body(helix), shifts=whole.shifts)
        helix = refine_tips(whole.helix, whole.camera, view, keep, wire_map_px)
    zoom, target = shrink(view, wire_map_px)
    picture = draw(helix, whole.camera, view, zoom, target.shape)
    overlap = float(np.minimum(picture, target).sum() / (np.maximum(picture, target).sum() + 1e-6))
    whole = replace(whole, helix=helix)
    return FittedSpring(helix, whole, view, outline, used, body, touching, overlap, odds, margin)


def _fit_body(outline: Array, camera: DoubtedCamera, body: Body, strands: Strands) -> Fit:
    """Fit a cylinder to the regular turns, without the ends: they come when the body is known."""
    helix = first_guess(body, strands)
    helix = helix.with_values(start=helix["start"] - 0.25, stop=helix["stop"] + 0.25)
    few = outline[::_FIRST_EVERY]
    helix, shifts = _start(helix, camera, few)
    there = camera.at(shifts)
    before = prior(helix, taper=_HELD, **_ROUGH)
    # The camera stands still until the turns lie where they belong.
    inner = few[_inner(helix, there, few)]
    found = fit(helix, DoubtedCamera.of(there), inner, before, 5.0, 12)
    for softness in (2.0, 1.0):
        inner = outline[_inner(found.helix, found.camera, outline)]
        before = prior(found.helix, taper=_HELD)
        found = fit(found.helix, camera, inner, before, softness, 12, shifts)
        shifts = found.shifts
    return replace(found, helix=found.helix.with_values(taper=0.0))


def _close_wound(
    view: MapView,
    camera: DoubtedCamera,
    outline: Array,
    turns: NDArray[np.bool_],
    keep: NDArray[np.bool_],
    body: Body,
) -> FittedSpring | Refusal:
    """Return a spring whose turns touch: their spacing is the wire, their body's length the count.

    Its outline is that of a bar, so it tells the size and the lie but no turn from its neighbour.
    """
    strands, odds = touching_strands(view, body, camera.best)
    if len(strands.places) < 2:
        return _no_spring()
    pitch = strands.pitch
    coils = (body.length - pitch) / pitch
    middle = 0.5 * (len(strands.places) - 1)
    helix = first_guess(body, strands)
    helix = replace(helix, anchor=middle, span=coils).with_values(
        x=body.middle[0] + strands.places.mean() * np.cos(body.heading),
        y=body.middle[1] + strands.places.mean() * np.sin(body.heading),
        log_pitch=np.log(pitch),
        log_wire=np.log(0.5 * CLOSE_WIRE * pitch),
        ramp=0.0,
        start=middle - strands.places.mean() / pitch - 0.5 * coils,
        stop=middle - strands.places.mean() / pitch + 0.5 * coils,
    )
    even = {"log_pitch": 0.004, "log_wire": 0.004, "ramp": 1e-3, "bulge": 1e-3, "bow": 0.02}
    # Few points: a bar's flanks must not overrule what the reference says of the camera.
    few = outline[::_BAR_EVERY]
    whole = fit(helix, camera, few, prior(helix, taper=_HELD, **even), 2.0)
    # The body's length is that of its outline, in which a slanted view shows one end's face, too.
    wire_map_px = _wire_px(whole.helix, whole.camera) * view.scale
    helix = whole.helix
    for reach in BAR_ENDS:
        helix = refine_tips(helix, whole.camera, view, turns, wire_map_px, reach)
    whole = replace(whole, helix=helix)
    length = overall_mm(view, keep, whole.camera, body)
    zoom, target = shrink(view, _wire_px(whole.helix, whole.camera) * view.scale)
    near = cv2.resize(turns.astype(np.uint8), target.shape[::-1], interpolation=cv2.INTER_NEAREST)
    target = np.where(near > 0, target, 0.0)
    picture = draw(whole.helix, whole.camera, view, zoom, target.shape)
    overlap = float(np.minimum(picture, target).sum() / (np.maximum(picture, target).sum() + 1e-6))
    used = np.ones(len(few), dtype=bool)
    body = replace(body, length=length)
    return FittedSpring(whole.helix, whole, view, few, used, body, True, overlap, odds, 1.0)


def _start(helix: Helix, camera: DoubtedCamera, outline: Array) -> tuple[Helix, Array]:
    """Return where along its axis, and under which slant, the first guess suits the outline best.

    Turns all look alike, so a fit that starts half a turn off stays there.
    """
    pitch = float(np.exp(helix["log_pitch"]))
    way = np.array([np.cos(helix["heading"]), np.sin(helix["heading"])])
    best: tuple[float, Helix, Array] | None = None
    for shifts in _slants(helix, camera):
        there = camera.at(shifts)
        for phase in np.arange(-3, 5) / 8.0:
            x, y = np.array([helix["x"], helix["y"]]) + phase * pitch * way
            trial = helix.with_values(x=x, y=y)
            r = residuals(trial, there, outline[_inner(trial, there, outline)])
            cost = float(np.mean(np.log1p((r / 3.0) ** 2)))
            if best is None or cost < best[0]:
                best = (cost, trial, shifts)
    assert best is not None
    return best[1], best[2]


def _slants(helix: Helix, camera: DoubtedCamera) -> list[Array]:
    """Return where in the camera's doubts to start: more than one place where the slant is unsure.

    A slant along the axis shifts the coil's top against its bottom; by half a wire or more, and
    the turns would be taken for their neighbours.
    """
    count = camera.causes
    out = [np.zeros(count)]
    wire = helix.radius_mm * np.array([[0.0, 0.0, 0.0], [0.0, 0.0, 2.0]])
    heights = np.array([helix["x"], helix["y"], 0.5 * helix.wire_mm]) + wire
    least = 0.5 * _wire_px(helix, camera.best)
    before = np.diff(camera.best.project(heights), axis=0)
    for cause in np.eye(count):
        other = camera.at(cause)
        if np.linalg.norm(np.diff(other.project(heights), axis=0) - before) > least:
            out += [-1.2 * cause, 1.2 * cause]
    return out


def _inner(helix: Helix, camera: Camera, outline: Array) -> NDArray[np.bool_]:
    """Return which of the outline belongs to the turns that the helix has so far."""
    turn = turn_seen(helix, camera, outline)
    inner = (turn > -0.2) & (turn < helix.span + 0.2)
    return inner if inner.sum() >= 40 else np.ones(len(outline), dtype=bool)


def _cone_if_plain(cylinder: Fit, camera: DoubtedCamera, outline: Array) -> Fit:
    """Return the body as a cone where that explains the outline plainly better."""
    inner = outline[_inner(cylinder.helix, cylinder.camera, outline)]
    few, tries = inner[::_FIRST_EVERY], []
    for taper in (-0.25, 0.0, 0.25):
        start = cylinder.helix.with_values(taper=taper)
        tries.append(fit(start, camera, few, prior(start), 5.0, 8, cylinder.shifts))
    cone = min(tries, key=_misfit)
    for softness in (3.0, 1.0):
        cone = fit(cone.helix, camera, inner, prior(cone.helix), softness, 12, cone.shifts)
    plain = float(np.mean(np.log1p(residuals(cylinder.helix, cylinder.camera, inner) ** 2)))
    if plain > CONE_ODDS * _misfit(cone) and abs(cone.helix["taper"]) > LEAST_TAPER:
        return cone
    return cylinder


def prior(helix: Helix, **sigma: float) -> Prior:
    """Return what is known before the fit: wide, but for what `sigma` narrows."""
    wide = {**_SIGMA, **sigma}
    return Prior(helix.values.copy(), np.array([wide[name] for name in NAMES]))


def prior_of_body(helix: Helix) -> Prior:
    """Return what is known of a spring whose tips were found: a cylinder stays one."""
    held = {"start": 0.05, "stop": 0.05}
    return prior(helix, **held, **({} if abs(helix["taper"]) >= LEAST_TAPER else {"taper": _HELD}))


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


def wire_px(found: FittedSpring) -> float:
    """Return the width of the wire in the photo [px]."""
    return _wire_px(found.helix, found.camera)


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
