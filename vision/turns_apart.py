"""Springs whose turns stand apart: found by the row of their strands, or by drawing many."""

from dataclasses import replace
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from vision.band import in_band
from vision.camera import Camera, DoubtedCamera
from vision.fitted import (
    LEAST_TAPER,
    TOUCHING,
    FittedSpring,
    misfit,
    overlap_of,
    prior,
    thinned_outline,
)
from vision.guesses import any_coils
from vision.helix import Helix, along_axis, frame, radius_at, turns_of
from vision.map_view import MapView
from vision.row_ends import to_the_ends
from vision.search import Drawn, Target, cone_if_likelier, search, slants
from vision.strands import (
    Body,
    Strands,
    body_of,
    first_guess,
    main_part,
    strands_of,
    typical_half_width,
    unslanted,
)
from vision.tube_fit import Fit, fit
from vision.turns import (
    PHASES,
    Seen,
    cone_if_plain,
    fit_inner,
    fitted_on,
    inner_of,
    moved_along,
    rough_body,
    with_ends,
)

Array = NDArray[np.float64]

#: Fewer points of the outline than this show no turns.
LEAST_POINTS = 80
#: A fit that explains the map less well than this may be bettered.
GOOD_OVERLAP = 0.78
#: One that explains it as badly as this is none.
BAD_OVERLAP = 0.62
#: Turns that explain as little of it before their ends are sought are none: in tuning photos those
#: that were a spring once they had them had 0.54 and more.
HOPELESS = 0.4
#: Turns closer than this, in wires, are none: what was counted is no row of strands.
CLOSEST = 0.85
#: A hand by which the outline is so many times worse explained by a rough fit is not the right one.
PLAIN_HAND = 1.5
#: By how much one is worse that shows no row of strands.
ONE_HAND = 2.0
#: Flanks this nearly parallel are no cone's: a taper, of the body.
PARALLEL = 0.03
#: A longer row whose turns suit the outline so many times worse is not looked at any further.
FARTHER_OFF = 2.0
#: A coil this many times as long as wide lies along its longer side; a shorter one may lie across.
PLAINLY_LONG = 1.7
#: Where it shows no row of strands along that side, it lies across unless it is longer than this.
PERHAPS_LONG = 3.0
#: In how many directions a shorter one is sought.
WAYS = 12
#: Through slants that are not the likeliest, only every so many-th place of its tip is tried.
OTHER_SLANTS = 3
#: How often the band along the axis is drawn anew about the body that it leaves.
BANDS = 2
#: How well a coil is known that was found by drawing: its outline is mostly that of its flanks,
#: which tell no wire.
_DRAWN = MappingProxyType(
    {"heading": 0.03, "log_radius": 0.03, "log_wire": 0.08, "log_pitch": 0.03}
)
_AS_DRAWN = MappingProxyType(
    {"heading": 0.003, "log_radius": 0.003, "log_wire": 0.003, "log_pitch": 0.003}
)


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
    if drawing and rough:
        # Where a short coil is longest says nothing of its axis, and it has few strands to count.
        bad = found is None or found.overlap < BAD_OVERLAP
        longest = PERHAPS_LONG if bad else PLAINLY_LONG
        other = _by_drawing(view, camera, keep, body.length < longest * body.width)
        if found is None or (other is not None and other.overlap > found.overlap):
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
    likelier = _likelier_hand(view, camera, body, outline)
    if likelier is None:
        return None
    strands, first, odds = likelier
    seen = Seen(view, camera, keep, body, outline)
    found = _through(seen, strands, first, odds)
    longer = to_the_ends(strands, body, first.helix.wire_mm)
    if longer is None:
        return found
    second = fitted_on(rough_body(outline, camera, body, longer), camera, outline)
    if found is not None and misfit(second) > FARTHER_OFF * misfit(first):
        return found
    other = _through(seen, longer, second, odds)
    return max((one for one in (found, other) if one), key=lambda one: one.overlap, default=None)


def _likelier_hand(
    view: MapView, camera: DoubtedCamera, body: Body, outline: Array
) -> tuple[Strands, Fit, float] | None:
    """Return the row of strands of the likelier hand, its body, and how much worse the other is.

    The other is fitted to all of the outline only where rough fits leave it open which it is.
    """
    rows = [strands_of(view, body, camera.best, hand) for hand in (1, -1)]
    tried = [(row, rough_body(outline, camera, body, row)) for row in rows if len(row.places) >= 3]
    if not tried:
        return None
    tried.sort(key=lambda one: misfit(one[1]))
    if _odds(tried) > PLAIN_HAND:
        strands, rough = tried[0]
        return strands, fitted_on(rough, camera, outline), _odds(tried)
    tried = [(row, fitted_on(rough, camera, outline)) for row, rough in tried]
    tried.sort(key=lambda one: misfit(one[1]))
    return *tried[0], _odds(tried)


def _odds(tried: list[tuple[Strands, Fit]]) -> float:
    """Return how much worse the second of two explains the outline than the first."""
    if len(tried) == 1:
        return ONE_HAND
    return misfit(tried[1][1]) / max(misfit(tried[0][1]), 1e-6)


def _through(seen: Seen, strands: Strands, first: Fit, odds: float) -> FittedSpring | None:
    """Return the spring whose body was fitted to a row of strands, None where it explains little.

    Where a few turns are longest is askew to their axis, and a band along that cuts their tips.
    """
    if strands.pitch < CLOSEST * first.helix.wire_mm:
        return None
    parallel = abs(seen.body.taper) < PARALLEL
    whole = first if parallel else cone_if_plain(first, seen.camera, seen.outline)
    touching = strands.pitch < TOUCHING * first.helix.wire_mm
    body = _body_about(whole.helix, seen.body)
    keep = in_band(seen.view, body, whole.camera, body.width)
    if overlap_of(whole.helix, whole.camera, seen.view, keep) < HOPELESS:
        return None
    outline = thinned_outline(seen.view, keep)
    seen = replace(seen, keep=keep, body=body, outline=outline)
    return with_ends(seen, whole, odds, touching)


def _body_about(helix: Helix, body: Body) -> Body:
    """Return a body that lies and is as wide as the turns that were fitted to it."""
    middle, axes = frame(helix)
    x = along_axis(helix, turns_of(helix))
    return replace(
        body,
        middle=(middle + 0.5 * (x[0] + x[-1]) * axes[0])[:2],
        heading=helix["heading"],
        width=2.0 * float(radius_at(helix, x).max()) + helix.wire_mm,
        wire=helix.wire_mm,
    )


def _by_drawing(
    view: MapView, camera: DoubtedCamera, keep: NDArray[np.bool_], short: bool
) -> FittedSpring | None:
    """Return the spring that looks most like the map, of many that were drawn."""
    wire_map_px = 2.0 * typical_half_width(keep & (view.maps[0] > 0.5))
    target = Target.of(view, keep, camera.best, wire_map_px)
    ways = _ways(view, keep, camera.best) if short else []
    guesses: list[tuple[Helix, Array]] = []
    for shifts in slants(camera):
        there = camera.at(shifts)
        bodies = [unslanted(body_of(view, keep, there, heading=way), there) for way in ways]
        coils = any_coils(bodies, OTHER_SLANTS if shifts.any() else 1)
        guesses += [(helix, shifts) for helix in [*_along_strands(view, keep, there), *coils]]
    found = search(guesses, target, camera)
    if not found:
        return None
    other = next((one for one in found if one.helix.hand != found[0].helix.hand), None)
    best = cone_if_likelier(found[0], target, camera)
    body = body_of(view, keep, camera.at(best.shifts))
    seen = Seen(view, camera, keep, body, thinned_outline(view, keep), _DRAWN)
    first = _fit_drawn(best, seen)
    if overlap_of(first.helix, first.camera, view, keep) < overlap_of(
        best.helix, camera.at(best.shifts), view, keep
    ):
        # The map has lost the gaps, and its outline spoils what was found: it stays as drawn.
        seen = replace(seen, known=_AS_DRAWN)
        first = _fit_drawn(best, seen)
    odds = ONE_HAND
    if other is not None:
        contrary = _fit_drawn(other, seen)
        odds = misfit(contrary) / max(misfit(first), 1e-6)
    touching = float(np.exp(first.helix["log_pitch"])) < TOUCHING * first.helix.wire_mm
    return with_ends(seen, first, odds, touching, best.helix.ends[0])


def seen_nearer(view: MapView, found: FittedSpring, camera: DoubtedCamera) -> FittedSpring:
    """Return a spring that was found in a coarser view as it is in this one, turn for turn."""
    keep = main_part(view)
    body = _body_about(found.helix, body_of(view, keep, found.camera))
    seen = Seen(view, camera, keep, body, thinned_outline(view, keep), _DRAWN)
    first = _fit_drawn(Drawn(found.helix, found.fit.shifts, 0.0), seen)
    return with_ends(seen, first, found.hand_odds, found.touching, found.helix.ends[0])


def _fit_drawn(drawn: Drawn, seen: Seen) -> Fit:
    """Fit what was drawn to the turns that it has, as the cylinder or cone that it is."""
    helix, shifts = drawn.helix, drawn.shifts
    if abs(helix["taper"]) < LEAST_TAPER:
        return fit_inner(helix, seen.camera, seen.outline, shifts, known=seen.known)
    inner = seen.outline[inner_of(helix, seen.camera.at(shifts), seen.outline)]
    before = prior(helix, **seen.known, taper=0.05)
    return fit(helix, seen.camera, inner, before, 2.0, 12, shifts)


def _along_strands(view: MapView, keep: NDArray[np.bool_], camera: Camera) -> list[Helix]:
    """Return coils through the row of strands that is seen, of both hands, at several phases."""
    body = body_of(view, keep, camera)
    out = []
    for hand in (1, -1):
        strands = strands_of(view, body, camera, hand)
        if len(strands.places) >= 3:
            helix = first_guess(body, strands)
            out += [moved_along(helix, phase) for phase in PHASES]
    return out


def _ways(view: MapView, keep: NDArray[np.bool_], camera: Camera) -> list[float]:
    """Return headings in which a short coil's axis may run: those in which strands stand out."""
    contrasts = []
    for heading in np.arange(WAYS) * np.pi / WAYS:
        body = body_of(view, keep, camera, heading=float(heading))
        contrasts.append(max(strands_of(view, body, camera, hand).contrast for hand in (1, -1)))
    best = int(np.argmax(contrasts))
    return [k * np.pi / WAYS for k in (best, best - 1, best + 1)]
