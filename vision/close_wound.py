"""Springs whose turns touch, or nearly: a bar that tells its turns by their beat alone."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from vision.band import in_band
from vision.beyond import hook_goes_on
from vision.camera import DoubtedCamera
from vision.fitted import (
    CLOSE_WIRE,
    HELD,
    LEAST_TAPER,
    FittedSpring,
    free_length_mm,
    has_hooks,
    overlap_of,
    prior,
    wire_px,
    wire_px_of,
)
from vision.helix import Helix, along_axis, frame, turns_of
from vision.hook_bends import between_hooks
from vision.map_view import MapView
from vision.search import Target, close_turns
from vision.solid import solid_part, touching_strands
from vision.strands import Body, Strands, first_guess, main_part, overall_mm
from vision.tips import find_tips, refine_tips
from vision.tube_fit import fit

Array = NDArray[np.float64]

#: Every so many points of a close-wound spring's flanks are enough.
_BAR_EVERY = 25
#: How far the ends of a close-wound body may lie from where its outline puts them [turns].
BAR_ENDS = (2.4, 0.6, 0.15)
#: From which odds on the strands of turns that seem to touch tell the hand.
SURE_HAND = 1.1


def close_wound(
    view: MapView,
    camera: DoubtedCamera,
    outline: Array,
    turns: NDArray[np.bool_],
    keep: NDArray[np.bool_],
    body: Body,
) -> FittedSpring | None:
    """Return a spring whose turns touch, or None where no turns beat in it.

    Their spacing is the wire, their body's length the count. Its outline is that of a bar, so it
    tells the size and the lie but no turn from its neighbour.
    """
    strands, odds = touching_strands(view, body, camera.best)
    if len(strands.places) < 2:
        return None
    helix = _guess(body, strands)
    even = {"log_pitch": 0.004, "log_wire": 0.004, "ramp": 1e-3, "bulge": 1e-3, "bow": 0.02}
    # Few points: a bar's flanks must not overrule what the reference says of the camera.
    few = outline[::_BAR_EVERY]
    whole = fit(helix, camera, few, prior(helix, taper=HELD, **even), 2.0)
    # The body's length is that of its outline, in which a slanted view shows one end's face, too.
    wire_map_px = wire_px_of(whole.helix, whole.camera) * view.scale
    helix = whole.helix
    for reach in BAR_ENDS:
        helix = refine_tips(helix, whole.camera, view, turns, wire_map_px, reach)
    whole = replace(whole, helix=helix)
    # Hooks may lie apart from the body, where the map lost their bend.
    along = keep | in_band(view, body, whole.camera, body.width)
    length = overall_mm(view, along, whole.camera, body)
    overlap = overlap_of(whole.helix, whole.camera, view, turns)
    used = np.ones(len(few), dtype=bool)
    body = replace(body, length=length)
    found = FittedSpring(whole.helix, whole, view, few, used, body, True, overlap, odds, 1.0)
    if not hook_goes_on(found):
        # All wire must be explained then: what lies beside the body may be more turns.
        overlap = overlap_of(whole.helix, whole.camera, view, keep)
        found = replace(found, overlap=min(found.overlap, overlap))
    if not has_hooks(found):
        return found
    helix = between_hooks(whole.helix, whole.camera, view, along, wire_map_px)
    return replace(found, helix=helix, fit=replace(whole, helix=helix))


def _guess(body: Body, strands: Strands) -> Helix:
    """Return turns as far apart as their strands are, from one end of a body to the other."""
    pitch = strands.pitch
    coils = (body.length - pitch) / pitch
    middle = 0.5 * (len(strands.places) - 1)
    here = middle - strands.places.mean() / pitch
    return replace(first_guess(body, strands), anchor=middle, span=coils).with_values(
        x=body.middle[0] + strands.places.mean() * np.cos(body.heading),
        y=body.middle[1] + strands.places.mean() * np.sin(body.heading),
        log_pitch=np.log(pitch),
        log_wire=np.log(0.5 * CLOSE_WIRE * pitch),
        ramp=0.0,
        start=here - 0.5 * coils,
        stop=here + 0.5 * coils,
    )


def nearly_touching(found: FittedSpring, camera: DoubtedCamera) -> FittedSpring:
    """Return the spring that looks as one whose turns touch does, but whose turns stand apart.

    Its outline is still a bar's; the width of its wire is for the edges to tell. What is too short
    for any such turns comes back as it is.
    """
    view, helix = found.view, found.helix
    keep = main_part(view)
    solid = solid_part(view, keep)
    keep = keep if solid is None else solid
    pitch = float(np.exp(helix["log_pitch"]))
    body = replace(
        found.body,
        middle=_middle(helix),
        heading=helix["heading"],
        length=free_length_mm(helix),
        width=2.0 * helix.radius_mm + helix.wire_mm,
        wire=pitch,
    )
    target = Target.of(view, keep, found.camera, wire_px(found) * view.scale)
    hands = (helix.hand,) if found.hand_odds > SURE_HAND else (1, -1)
    likely = close_turns(body, pitch, target, hands)
    if not likely:  # too short for turns that stand apart
        return found
    best = likely[0]
    even = {"log_pitch": 0.01, "log_wire": 0.02, "ramp": 0.02, "bulge": 1e-3, "bow": 0.02}
    taper = HELD if abs(best["taper"]) < LEAST_TAPER else 0.02
    before = prior(best, taper=taper, **even)
    whole = fit(best, camera, found.outline_px, before, 2.0, shifts=found.fit.shifts)
    wire_map_px = wire_px_of(whole.helix, whole.camera) * view.scale
    helix = find_tips(whole.helix, whole.camera, view, keep, wire_map_px)[0]
    dead = float(np.log(helix.wire_mm))
    helix = helix.with_values(log_pitch_start=dead, log_pitch_stop=dead)
    helix = refine_tips(helix, whole.camera, view, keep, wire_map_px)
    return replace(
        found,
        helix=helix,
        fit=replace(whole, helix=helix),
        body=body,
        touching=False,
        overlap=overlap_of(helix, whole.camera, view, keep),
        ends_margin=0.0,  # shaded as they are, their ends are as good as a guess
    )


def _middle(helix: Helix) -> Array:
    """Return the middle of the axis over the table, shape (2,) [mm]."""
    middle, axes = frame(helix)
    x = along_axis(helix, turns_of(helix))
    return np.asarray((middle + 0.5 * (x[0] + x[-1]) * axes[0])[:2])
