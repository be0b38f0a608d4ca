"""Turns that stand apart, fitted to the outline of their wire; then the ends of that wire."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from vision.band import in_band
from vision.camera import Camera, DoubtedCamera
from vision.end_reader import EndRead, pairs_read, read_ends
from vision.fitted import (
    FIT_FACE,
    HELD,
    LEAST_TAPER,
    READ_FACE,
    FittedSpring,
    beyond_faces,
    face_doubt,
    free_length_mm,
    misfit,
    overlap_of,
    prior,
    prior_of_body,
    thinned_outline,
    wire_px,
    wire_px_of,
)
from vision.helix import End, Helix, frame, pitch_along
from vision.map_view import MapView
from vision.strands import (
    Body,
    Strands,
    first_guess,
)
from vision.tips import faces_apart, find_tips, refine_tips
from vision.touching import Touch, touch
from vision.tube_fit import Fit, fit, residuals, turn_seen, turn_touched

Array = NDArray[np.float64]

#: What the first fit may not yet stray from: size and evenness are known well enough to start.
_ROUGH = {
    "heading": 0.02,
    "log_radius": 0.03,
    "log_wire": 0.1,
    "log_pitch": 0.05,
    "bow": HELD,
    "bulge": 0.01,
}
_NOTHING: Mapping[str, float] = MappingProxyType({})
#: Every so many points of the outline are enough for the first fit.
_FIRST_EVERY = 3
#: Where along its axis a coil may start, in parts of its pitch.
PHASES = np.arange(-3, 5) / 8.0
#: Where fewer points of the outline than this would be heeded, all are.
FEWEST_HEEDED = 40
#: How much worse a cylinder must explain the outline than a cone does, to be called a cone.
CONE_ODDS = 1.12
#: Weights beside how far the faces lie apart: of the share of the map that is not covered, and of
#: the square by which dead turns are not one [turns]. Closed ends suit what is ground by so much
#: better than ground ones suit what is not. By 120 springs kept for tuning.
AREA_WEIGHT, DEAD_WEIGHT, CLOSED_SUITS = 2.0, 3.0, 0.02
#: Weights of what was read of the ends: of the logarithm of its odds, and of how many deviations
#: the faces lie from those that were read; most of both. By 78 springs kept for tuning.
READ_WEIGHT, FACE_WEIGHT, LEAST_ODDS, FARTHEST = 0.3, 0.1, 0.0025, 4.0
#: Pairs of ends that are as unlikely as read are not tried: the true one had 0.03 at least there.
UNLIKELY = 0.01
#: What the fit's face may be off by beside what was read [wires]; it has lost wire where that was
#: read so many times farther out than both usually lie apart; so much of it at most [turns].
FACE_OFF, LOST, MOST_LOST = 0.05, 2.0, 1.0
#: By how much other ends than the only ones that may be right explain what is seen worse, at least.
PLAIN_MARGIN = 1.5


@dataclass(frozen=True, slots=True)
class Seen:
    """What a spring is fitted to: the map, the camera, which of it is wire, and its outline.

    With it, what is known already better than a first fit knows it: spread by name.
    """

    view: MapView
    camera: DoubtedCamera
    keep: NDArray[np.bool_]
    body: Body
    outline: Array
    known: Mapping[str, float] = field(default_factory=dict)


def with_ends(
    seen: Seen, whole: Fit, odds: float, touching: bool, drawn: End | None = None
) -> FittedSpring:
    """Return the spring with the ends of its wire found and all fitted once more.

    Where it was found by drawing, the tips and the ends that it was `drawn` with are among those
    tried: it has its dead turns already, and no tip may lie beyond them.
    """
    wire_map_px = wire_px_of(whole.helix, whole.camera) * seen.view.scale
    reads = _read(seen, whole)
    pairs = [pair for pair, share in pairs_read(reads).items() if share > UNLIKELY]
    likely = find_tips(whole.helix, whole.camera, seen.view, seen.keep, wire_map_px, pairs)
    kinds = (End.OPEN,) if drawn is End.OPEN else (End.CLOSED, End.GROUND)
    if drawn is not None:
        likely += [replace(whole.helix, ends=(end, end)) for end in kinds if (end, end) in pairs]
    tried = [_ended(seen, replace(whole, helix=helix), odds, touching) for helix in likely]
    misfits = [_misfit_of_ends(one, seen.keep) + _misread(one, reads) for one in tried]
    best, *others = sorted(range(len(tried)), key=misfits.__getitem__)
    margin = misfits[others[0]] - misfits[best] if others else PLAIN_MARGIN
    found = tried[best] if reads is None else _put_back(tried[best], reads)
    return replace(found, ends_margin=margin, ends_read=reads)


def _read(seen: Seen, whole: Fit) -> tuple[EndRead, EndRead] | None:
    """Return how both ends look, or None where there is no picture or no wire in it."""
    wire = seen.keep & (seen.view.maps[0] > 0.5)
    if seen.view.picture is None or not wire.any():
        return None
    return read_ends(whole.helix, whole.camera, seen.view, wire)


def _misread(found: FittedSpring, reads: tuple[EndRead, EndRead] | None) -> float:
    """Return how badly the ends of a fitted spring suit what was read of them; 0 if nothing was."""
    if reads is None:
        return 0.0
    share = pairs_read(reads).get(found.helix.ends, 0.0)
    out = READ_WEIGHT * -float(np.log(max(share, LEAST_ODDS)))
    for read, beyond in zip(reads, beyond_faces(found, reads), strict=True):
        out += FACE_WEIGHT * min(abs(beyond) / (read.deviation + FACE_OFF), FARTHEST)
    return out


def _put_back(found: FittedSpring, reads: tuple[EndRead, EndRead]) -> FittedSpring:
    """Return a spring with what it has lost of its wire, where its faces were read plainly beyond.

    A dead turn that hides behind its neighbour leaves no outline to be fitted to, but a face.
    """
    helix, moves = found.helix, {}
    tips = zip(("start", "stop"), (-1.0, 1.0), helix.ends, reads, strict=True)
    for (name, way, end, read), beyond in zip(tips, beyond_faces(found, reads), strict=True):
        doubt = face_doubt(read)
        if beyond < LOST * doubt:
            continue
        by_fit = FIT_FACE**2 + beyond**2 - (LOST * doubt) ** 2
        share = by_fit / (by_fit + (READ_FACE * read.deviation) ** 2)
        rise = float(pitch_along(helix, np.array([helix[name]]))[0])
        turns = share * beyond * helix.wire_mm / rise
        if turns > MOST_LOST:  # a hook, or wire of something else
            continue
        moves[name] = helix[name] + way * turns
        if end is not End.OPEN:
            moves[f"dead_{name}"] = helix[f"dead_{name}"] + turns
    helix = helix.with_values(**moves)
    return replace(found, helix=helix, fit=replace(found.fit, helix=helix))


def seen_anew(found: FittedSpring, camera: DoubtedCamera) -> FittedSpring:
    """Return a spring with ends of the kinds it has, fitted through another camera over it."""
    before = found.camera
    helix = _carried(found.helix, before, camera.best)
    keep = in_band(found.view, found.body, camera.best, found.body.width)
    outline = thinned_outline(found.view, keep)
    seen = Seen(found.view, camera, keep, found.body, outline)
    start = replace(found.fit, helix=helix, camera=camera.best, shifts=np.zeros(camera.causes))
    # Its tips are known: they need not be found and then looked at again.
    again = _ended(seen, start, found.hand_odds, found.touching, rounds=1)
    return replace(again, ends_margin=found.ends_margin, ends_read=found.ends_read)


def _carried(helix: Helix, before: Camera, after: Camera) -> Helix:
    """Return a helix as another camera must see it for it to look about the same."""
    middle, axes = frame(helix)
    ends = before.project(middle + 0.5 * free_length_mm(helix) * np.array([-axes[0], axes[0]]))
    one, other = after.at_height(ends, middle[2])[:, :2]
    larger = float(np.log(np.linalg.norm(other - one) / free_length_mm(helix)))
    x, y = 0.5 * (one + other)
    sizes = ("log_radius", "log_wire", "log_pitch", "log_pitch_start", "log_pitch_stop")
    return helix.with_values(
        x=float(x),
        y=float(y),
        heading=float(np.arctan2(*(other - one)[::-1])),
        **{name: helix[name] + larger for name in sizes},
    )


def _misfit_of_ends(found: FittedSpring, keep: NDArray[np.bool_]) -> float:
    """Return how badly a fitted spring explains where it ends, the map as a whole, and itself.

    A closed end has one dead turn, more or less, whatever it would take to explain the map.
    """
    helix, wire_map_px = found.helix, wire_px(found) * found.view.scale
    apart = faces_apart(helix, found.camera, found.view, keep, wire_map_px)
    misfit = apart + AREA_WEIGHT * (1.0 - found.overlap)
    for end, dead in zip(helix.ends, (helix["dead_start"], helix["dead_stop"]), strict=True):
        if end is not End.OPEN:
            misfit += DEAD_WEIGHT * (dead - 1.0) ** 2
        if end is End.CLOSED:
            misfit += 0.5 * CLOSED_SUITS
    return misfit


def _ended(seen: Seen, whole: Fit, odds: float, touching: bool, rounds: int = 2) -> FittedSpring:
    """Return the spring with ends of these kinds, all fitted once more."""
    view, keep, outline, helix = seen.view, seen.keep, seen.outline, whole.helix
    wire_map_px = wire_px_of(helix, whole.camera) * view.scale
    dead = float(np.log(helix.wire_mm))
    helix = helix.with_values(log_pitch_start=dead, log_pitch_stop=dead)
    used = np.ones(len(outline), dtype=bool)
    for _ in range(rounds):
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


def rough_body(outline: Array, camera: DoubtedCamera, body: Body, strands: Strands) -> Fit:
    """Fit a cylinder to the regular turns, roughly and without the ends: they come later.

    The camera stands still until the turns lie where they belong; the covariance is of the helix.
    """
    helix = first_guess(body, strands)
    helix = helix.with_values(start=helix["start"] - 0.25, stop=helix["stop"] + 0.25)
    few = outline[::_FIRST_EVERY]
    helix, shifts = _start(helix, camera, few)
    there = camera.at(shifts)
    before = prior(helix, taper=HELD, **_ROUGH)
    inner = few[inner_of(helix, there, few)]
    found = fit(helix, DoubtedCamera.of(there), inner, before, 5.0, 12)
    return replace(found, shifts=shifts)


def fitted_on(rough: Fit, camera: DoubtedCamera, outline: Array) -> Fit:
    """Return a body that was fitted roughly, fitted to all of the outline."""
    return fit_inner(rough.helix, camera, outline, rough.shifts)


def fit_inner(
    helix: Helix,
    camera: DoubtedCamera,
    outline: Array,
    shifts: Array | None = None,
    known: Mapping[str, float] = _NOTHING,
) -> Fit:
    """Fit a cylinder to the turns that it has so far, whatever lies beyond."""
    shifts = np.zeros(camera.causes) if shifts is None else shifts
    found: Fit | None = None
    for softness, every in ((2.0, _FIRST_EVERY), (1.0, 1)):
        inner = outline[inner_of(helix, camera.at(shifts), outline)][::every]
        before = prior(helix, taper=HELD, **known)
        found = fit(helix, camera, inner, before, softness, 12, shifts)
        helix, shifts = found.helix, found.shifts
    assert found is not None
    return replace(found, helix=helix.with_values(taper=0.0))


def _start(helix: Helix, camera: DoubtedCamera, outline: Array) -> tuple[Helix, Array]:
    """Return where along its axis, and under which slant, the first guess suits the outline best.

    Turns all look alike, so a fit that starts half a turn off stays there.
    """
    best: tuple[float, Helix, Array] | None = None
    for shifts in _slants(helix, camera):
        there = camera.at(shifts)
        for phase in PHASES:
            trial = moved_along(helix, phase)
            seen_there = touch(trial, there, outline)
            r = seen_there.residual_px[_inner(trial, seen_there)]
            cost = float(np.mean(np.log1p((r / 3.0) ** 2)))
            if best is None or cost < best[0]:
                best = (cost, trial, shifts)
    assert best is not None
    return best[1], best[2]


def moved_along(helix: Helix, phase: float) -> Helix:
    """Return a coil moved along its axis by a part of its pitch."""
    way = np.array([np.cos(helix["heading"]), np.sin(helix["heading"])])
    x, y = np.array([helix["x"], helix["y"]]) + phase * np.exp(helix["log_pitch"]) * way
    return helix.with_values(x=float(x), y=float(y))


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


def inner_of(helix: Helix, camera: Camera, outline: Array) -> NDArray[np.bool_]:
    """Return which of the outline belongs to the turns that the helix has so far."""
    return _inner(helix, touch(helix, camera, outline))


def _inner(helix: Helix, there: Touch) -> NDArray[np.bool_]:
    """Return which of an outline belongs to those turns, by where each point touches the tube."""
    turn = turn_touched(helix, there)
    inner = (turn > -0.2) & (turn < helix.span + 0.2)
    return inner if inner.sum() >= FEWEST_HEEDED else np.ones(len(turn), dtype=bool)


def cone_if_plain(cylinder: Fit, camera: DoubtedCamera, outline: Array) -> Fit:
    """Return the body as a cone where that explains the outline plainly better."""
    inner = outline[inner_of(cylinder.helix, cylinder.camera, outline)]
    few, tries = inner[::_FIRST_EVERY], []
    for taper in (-0.25, 0.0, 0.25):
        start = cylinder.helix.with_values(taper=taper)
        tries.append(fit(start, camera, few, prior(start), 5.0, 8, cylinder.shifts))
    cone = min(tries, key=misfit)
    for softness, points in ((3.0, few), (1.0, inner)):
        cone = fit(cone.helix, camera, points, prior(cone.helix), softness, 12, cone.shifts)
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
    return used if used.sum() >= FEWEST_HEEDED else np.ones(len(outline), dtype=bool)
