"""Springs whose turns stand apart: found by the row of their strands, or by drawing many."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from vision.band import in_band
from vision.camera import Camera, DoubtedCamera
from vision.fitted import (
    HELD,
    LEAST_TAPER,
    TOUCHING,
    FittedSpring,
    misfit,
    overlap_of,
    prior,
    prior_of_body,
    thinned_outline,
    wire_px,
    wire_px_of,
)
from vision.helix import End, Helix
from vision.map_view import MapView
from vision.search import Target, search
from vision.strands import (
    Body,
    Strands,
    body_of,
    first_guess,
    strands_of,
    typical_half_width,
)
from vision.tips import NEARLY, faces_apart, find_tips, refine_tips
from vision.tube_fit import Fit, fit, residuals, turn_seen

Array = NDArray[np.float64]

#: Fewer points of the outline than this show no turns.
LEAST_POINTS = 80
#: A fit that explains the map less well than this may be bettered.
GOOD_OVERLAP = 0.78
#: A coil this many times as long as wide lies along its longer side; a shorter one may lie across.
PLAINLY_LONG = 1.7
#: Where it shows no row of strands along that side, it lies across unless it is longer than this.
PERHAPS_LONG = 3.0
#: In how many directions a shorter one is sought.
WAYS = 12
#: How often the band along the axis is drawn anew about the body that it leaves.
BANDS = 2
#: What the first fit may not yet stray from: size and evenness are known well enough to start.
_ROUGH = {
    "heading": 0.02,
    "log_radius": 0.03,
    "log_wire": 0.1,
    "log_pitch": 0.05,
    "bow": HELD,
    "bulge": 0.01,
}
#: How well a coil is known that was found by drawing: its outline is mostly that of its flanks,
#: which tell no wire.
_DRAWN = MappingProxyType(
    {"heading": 0.03, "log_radius": 0.03, "log_wire": 0.08, "log_pitch": 0.03}
)
_AS_DRAWN = MappingProxyType(
    {"heading": 0.003, "log_radius": 0.003, "log_wire": 0.003, "log_pitch": 0.003}
)
_NOTHING: Mapping[str, float] = MappingProxyType({})
#: Every so many points of the outline are enough for the first fit.
_FIRST_EVERY = 3
#: How much worse a cylinder must explain the outline than a cone does, to be called a cone.
CONE_ODDS = 1.12
#: Weight of the share of the map that is not covered beside how far the ends' faces lie apart.
AREA_WEIGHT = 2.0


@dataclass(frozen=True, slots=True)
class _Seen:
    """What a spring is fitted to: the map, the camera, which of it is wire, and its outline.

    With it, what is known already better than a first fit knows it: spread by name.
    """

    view: MapView
    camera: DoubtedCamera
    keep: NDArray[np.bool_]
    body: Body
    outline: Array
    known: Mapping[str, float] = field(default_factory=dict)


def turns_apart(
    view: MapView, camera: DoubtedCamera, keep: NDArray[np.bool_], drawing: bool = True
) -> FittedSpring | None:
    """Return the spring by its turns one by one, or None where there is no row of them.

    Parameters
    ----------
    view : MapView
        The map of the spring.
    camera : DoubtedCamera
        The camera over the table.
    keep : ndarray of bool, shape (H, W)
        Which of the map may be the spring's.
    drawing : bool
        Whether it may be sought by drawing, which takes long.
    """
    body = body_of(view, keep, camera.best)
    found = _along(view, camera, keep, body)
    rough = found is None or found.overlap < GOOD_OVERLAP
    longest = PLAINLY_LONG if found is not None else PERHAPS_LONG
    if drawing and rough and body.length < longest * body.width:
        # Where a short coil is longest says nothing of its axis, and it has few strands to count.
        other = _by_drawing(view, camera, keep)
        if found is None or other.overlap > found.overlap:
            return other
    return found


def _along(
    view: MapView, camera: DoubtedCamera, keep: NDArray[np.bool_], body: Body
) -> FittedSpring | None:
    """Return the spring whose axis lies as a body's does, by the row of its strands."""
    for _ in range(BANDS):
        keep = in_band(view, body, camera.best, body.width)
        if not (keep & (view.maps[0] > 0.5)).any():
            return None
        body = body_of(view, keep, camera.best)
    outline = thinned_outline(view, keep)
    if len(outline) < LEAST_POINTS:
        return None
    bodies = []
    for hand in (1, -1):
        strands = strands_of(view, body, camera.best, hand)
        if len(strands.places) >= 3:
            bodies.append((strands, _fit_body(outline, camera, body, strands)))
    if not bodies:
        return None
    bodies.sort(key=lambda one: misfit(one[1]))
    strands, first = bodies[0]
    odds = misfit(bodies[1][1]) / max(misfit(first), 1e-6) if len(bodies) > 1 else 2.0
    whole = _cone_if_plain(first, camera, outline)
    touching = strands.pitch < TOUCHING * first.helix.wire_mm
    return _with_ends(_Seen(view, camera, keep, body, outline), whole, odds, touching)


def _by_drawing(view: MapView, camera: DoubtedCamera, keep: NDArray[np.bool_]) -> FittedSpring:
    """Return the short spring that looks most like the map, of many that were drawn."""
    bodies = _ways(view, keep, camera.best)
    wire_map_px = 2.0 * typical_half_width(keep & (view.maps[0] > 0.5))
    helices = search(bodies, Target.of(view, keep, camera.best, wire_map_px))
    best = helices[0]
    other = next((helix for helix in helices if helix.hand != best.hand), None)
    seen = _Seen(view, camera, keep, bodies[0], thinned_outline(view, keep), _DRAWN)
    first = _fit_inner(best, camera, seen.outline, known=_DRAWN)
    if overlap_of(first.helix, first.camera, view, keep) < overlap_of(
        best, camera.best, view, keep
    ):
        # The map has lost the gaps, and its outline spoils what was found: it stays as drawn.
        seen = replace(seen, known=_AS_DRAWN)
        first = _fit_inner(best, camera, seen.outline, known=_AS_DRAWN)
    odds = 2.0
    if other is not None:
        contrary = _fit_inner(other, camera, seen.outline, known=seen.known)
        odds = misfit(contrary) / max(misfit(first), 1e-6)
    touching = float(np.exp(first.helix["log_pitch"])) < TOUCHING * first.helix.wire_mm
    return _with_ends(seen, first, odds, touching)


def _ways(view: MapView, keep: NDArray[np.bool_], camera: Camera) -> list[Body]:
    """Return the ways in which a short coil's axis may run: those in which strands stand out."""
    rows = []
    for heading in np.arange(WAYS) * np.pi / WAYS:
        body = body_of(view, keep, camera, heading=float(heading))
        contrast = max(strands_of(view, body, camera, hand).contrast for hand in (1, -1))
        rows.append((contrast, body))
    best = max(range(WAYS), key=lambda k: rows[k][0])
    return [rows[k % WAYS][1] for k in (best, best - 1, best + 1)]


def _with_ends(seen: _Seen, whole: Fit, odds: float, touching: bool) -> FittedSpring:
    """Return the spring with the ends of its wire found and all fitted once more."""
    wire_map_px = wire_px_of(whole.helix, whole.camera) * seen.view.scale
    likely = find_tips(whole.helix, whole.camera, seen.view, seen.keep, wire_map_px)
    tried = [_ended(seen, replace(whole, helix=helix), odds, touching) for helix in likely]
    tried.sort(key=lambda one: _misfit_of_ends(one, seen.keep))
    misfits = [_misfit_of_ends(one, seen.keep) for one in tried]
    margin = misfits[1] / misfits[0] - 1.0 if len(tried) > 1 else NEARLY - 1.0
    return replace(tried[0], ends_margin=margin)


def _misfit_of_ends(found: FittedSpring, keep: NDArray[np.bool_]) -> float:
    """Return how badly a fitted spring explains where it ends, and the map as a whole."""
    wire_map_px = wire_px(found) * found.view.scale
    apart = faces_apart(found.helix, found.camera, found.view, keep, wire_map_px)
    return apart + AREA_WEIGHT * (1.0 - found.overlap)


def _ended(seen: _Seen, whole: Fit, odds: float, touching: bool) -> FittedSpring:
    """Return the spring with ends of these kinds, all fitted once more."""
    view, keep, outline, helix = seen.view, seen.keep, seen.outline, whole.helix
    wire_map_px = wire_px_of(helix, whole.camera) * view.scale
    dead = float(np.log(helix.wire_mm))
    helix = helix.with_values(log_pitch_start=dead, log_pitch_stop=dead)
    used = np.ones(len(outline), dtype=bool)
    for _ in range(2):
        used = _heeded(helix, whole.camera, outline)
        whole = fit(
            helix,
            seen.camera,
            outline[used],
            prior_of_body(helix, **seen.known),
            shifts=whole.shifts,
        )
        helix = refine_tips(whole.helix, whole.camera, view, keep, wire_map_px)
    overlap = overlap_of(helix, whole.camera, view, keep)
    whole = replace(whole, helix=helix)
    return FittedSpring(helix, whole, view, outline, used, seen.body, touching, overlap, odds, 1.0)


def _fit_body(outline: Array, camera: DoubtedCamera, body: Body, strands: Strands) -> Fit:
    """Fit a cylinder to the regular turns, without the ends: they come when the body is known."""
    helix = first_guess(body, strands)
    helix = helix.with_values(start=helix["start"] - 0.25, stop=helix["stop"] + 0.25)
    few = outline[::_FIRST_EVERY]
    helix, shifts = _start(helix, camera, few)
    there = camera.at(shifts)
    before = prior(helix, taper=HELD, **_ROUGH)
    # The camera stands still until the turns lie where they belong.
    inner = few[_inner(helix, there, few)]
    found = fit(helix, DoubtedCamera.of(there), inner, before, 5.0, 12)
    return _fit_inner(found.helix, camera, outline, shifts)


def _fit_inner(
    helix: Helix,
    camera: DoubtedCamera,
    outline: Array,
    shifts: Array | None = None,
    known: Mapping[str, float] = _NOTHING,
) -> Fit:
    """Fit a cylinder to the turns that it has so far, whatever lies beyond."""
    shifts = np.zeros(camera.causes) if shifts is None else shifts
    found: Fit | None = None
    for softness in (2.0, 1.0):
        inner = outline[_inner(helix, camera.at(shifts), outline)]
        before = prior(helix, taper=HELD, **known)
        found = fit(helix, camera, inner, before, softness, 12, shifts)
        helix, shifts = found.helix, found.shifts
    assert found is not None
    return replace(found, helix=helix.with_values(taper=0.0))


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
    least = 0.5 * wire_px_of(helix, camera.best)
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
    cone = min(tries, key=misfit)
    for softness in (3.0, 1.0):
        cone = fit(cone.helix, camera, inner, prior(cone.helix), softness, 12, cone.shifts)
    plain = float(np.mean(np.log1p(residuals(cylinder.helix, cylinder.camera, inner) ** 2)))
    if plain > CONE_ODDS * misfit(cone) and abs(cone.helix["taper"]) > LEAST_TAPER:
        return cone
    return cylinder


def _heeded(helix: Helix, camera: Camera, outline: Array) -> NDArray[np.bool_]:
    """Leave out what grinding has flattened: a tube does not describe it."""
    turn = turn_seen(helix, camera, outline)
    used = np.ones(len(outline), dtype=bool)
    if helix.ends[0] is End.GROUND:
        used &= turn > helix["start"] + 0.6
    if helix.ends[1] is End.GROUND:
        used &= turn < helix["stop"] - 0.6
    return used
