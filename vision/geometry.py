"""From a fitted helix to the spring's dimensions and their covariance.

Three things add up: the noise of the outline about the fit, with what the camera's doubts leave;
a common shift of every edge by the wire map; and how surely tips and end faces are seen.
"""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from mechanics.ends import Ends
from mechanics.geometry import SpringGeometry
from vision.beyond import hook_goes_on, lone_hook_mm
from vision.fitted import (
    CLOSE_GAP,
    CLOSE_WIRE,
    FIT_FACE,
    LEAST_TAPER,
    FittedSpring,
    beyond_faces,
    face_doubt,
    free_length_mm,
    gap_share,
    wire_px,
)
from vision.helix import End, Helix, along_axis, radius_at, turns_of
from vision.refusal import Refusal

Array = NDArray[np.float64]

#: Least standard uncertainty of the wire's width by its edges, its share of the outline's scatter,
#: and its share of what that has beyond the last of these [px of the photo]: from 389 photos kept
#: for tuning (docs/accuracy.md), as are those of tips, faces and closeness.
EDGE_FLOOR_PX, EDGE_SHARE, POOR_SHARE, POOR_FROM_PX = 0.08, 0.8, 1.5, 0.4
#: Standard uncertainty of where one tip lies, open or against the turn beside it, and of the ends
#: of a bar together [turns]; of one end face [wires].
OPEN_TIP, CLOSED_TIP, BAR_TIPS, FACE_WIRES = 0.055, 0.07, 0.5, 0.07
#: How unsure the coils are at least where the turns are so close: a tip is lost among them [turns].
LOST_TIP = 0.25
#: How unsure wire, mean diameter [shares] and coils [turns] are by the share of the pitch that the
#: gap falls short of `CLOSE_GAP`: dark springs were read 7 to 12 % thick there.
CLOSE = (0.5, 0.4, 3.0)
#: Overlap of fit and map below which the fit is rough, and at which it is as rough as may be; and
#: what its wire, mean diameter [shares], coils [turns] and length [share] are unsure by then: more
#: than half of such fits are of something else (scenes kept for tuning, docs/accuracy.md).
ROUGH_FROM, ROUGHEST = 0.8, 0.7
ROUGH = (0.06, 0.05, 1.0, 0.09)
#: The same of turns told as touching beyond which no hook's wire goes on: of five, one was a
#: grooved rod and two were springs to be pressed, their gaps in shade.
BARE = (0.15, 0.06, 1.0, 0.1)
#: By which margin the odds on ends grow by e, by 78 springs kept for tuning, and what a bar's
#: flanks leave open of its size.
ENDS_MARGIN, BAR_SHARE = 0.3, 0.01


def geometry_of(found: FittedSpring) -> SpringGeometry | Refusal:
    """Return the dimensions with covariance, or a refusal where no spring can have them."""
    values = dimensions(found)
    slope = _slopes(found)
    covariance = slope @ found.fit.covariance @ slope.T
    covariance += _by_edges_and_ends(found, values) + _by_roughness(found, values)
    try:
        geometry = SpringGeometry(
            values, (covariance + covariance.T) / 2.0, ends_of(found), *_small_end(found)
        )
        _ = geometry.active_coils  # refused here, with its reason, where the ends leave none
        return geometry
    except ValueError as error:
        return Refusal(
            "impossible",
            "geometry",
            f"What was seen adds up to no spring: {error}.",
            "Take the photo again from straight above, nearer, in even light.",
        )


def kind_of(found: FittedSpring) -> str:
    """Return compression, extension or conical."""
    if found.touching:
        return "extension"
    return "conical" if abs(found.helix["taper"]) >= LEAST_TAPER else "compression"


def taper_of(found: FittedSpring) -> float | None:
    """Return a cone's small end over its large end, of mean diameters."""
    return None if kind_of(found) != "conical" else _small_end(found)[0]


def ends_of(found: FittedSpring) -> Ends:
    """Return the kind of both ends."""
    if found.touching:
        return Ends.HOOKS if _beyond_body(found) > 0.5 * found.body.width else Ends.CLOSED
    ends = found.helix.ends
    if ends[0] is ends[1]:
        return Ends(str(ends[0]))
    # One is seen ground and the other closed: the makers grind both, the picture hides one.
    return Ends.UNKNOWN if End.OPEN in ends else Ends.CLOSED_GROUND


def _beyond_body(found: FittedSpring) -> float:
    return found.body.length - free_length_mm(found.helix)


def dimensions(found: FittedSpring) -> Array:
    """Return wire, mean diameter of the large end, total coils and free length."""
    helix = found.helix
    length = found.body.length if found.touching else 0.0
    length = max(free_length_mm(helix) + helix.wire_mm * _beyond_as_read(found), length)
    # Coils that touch lie one wire apart: their pitch tells the wire better than their edges.
    wire = float(np.exp(helix["log_pitch"])) * CLOSE_WIRE if found.touching else helix.wire_mm
    return np.array([wire, 2.0 * max(_end_radii(helix)), helix.turns, length])


def _beyond_as_read(found: FittedSpring) -> float:
    """Return how far the faces lie beyond those of the fit, by both together [wires]."""
    if found.ends_read is None or found.touching:
        return 0.0
    pairs = zip(found.ends_read, beyond_faces(found, found.ends_read), strict=True)
    return sum(beyond * FIT_FACE**2 / face_doubt(read) ** 2 for read, beyond in pairs)


def _end_radii(helix: Helix) -> tuple[float, float]:
    x = along_axis(helix, turns_of(helix))
    first, last = radius_at(helix, x[[0, -1]])
    return float(first), float(last)


def _small_end(found: FittedSpring) -> tuple[float, float]:
    radii = _end_radii(found.helix)
    if abs(found.helix["taper"]) < LEAST_TAPER:
        return 1.0, 0.0
    return min(radii) / max(radii), 0.01


def _slopes(found: FittedSpring) -> Array:
    """Return the slopes of the dimensions on the helix's values and the camera's shifts."""
    base, out = dimensions(found), np.zeros((4, len(found.fit.covariance)))
    for k in range(len(found.helix.values)):
        moved = found.helix.values.copy()
        moved[k] += 1e-5
        other = replace(found, helix=replace(found.helix, values=moved))
        out[:, k] = (dimensions(other) - base) / 1e-5
    return out


def effects_of_doubts(found: FittedSpring) -> Array:
    """Return what each of the camera's doubts does to the dimensions, shape (4, K).

    Of an error that the fit could not take out, the part that goes with a doubt of one standard
    uncertainty is the covariance of the two.
    """
    slope = _slopes(found)
    count = len(found.helix.values)
    return np.asarray((slope @ found.fit.covariance)[:, count:])


def _by_roughness(found: FittedSpring, values: Array) -> Array:
    """Return what a fit may be wrong by that explains the map badly, or a bar without hooks."""
    rough = np.clip((ROUGH_FROM - found.overlap) / (ROUGH_FROM - ROUGHEST), 0.0, 1.0)
    bare = float(found.touching and not hook_goes_on(found))
    unit = values * np.array([1.0, 1.0, 0.0, 1.0]) + np.array([0.0, 0.0, 1.0, 0.0])
    shares = np.hypot(rough * np.array(ROUGH), bare * np.array(BARE))
    out = (shares * unit) ** 2
    out[3] += lone_hook_mm(found) ** 2  # the other may be there, unseen
    return np.asarray(np.diag(out))


def _edge_mm(found: FittedSpring) -> float:
    """Return the standard uncertainty of the wire's width by its edges [mm]."""
    scatter = found.fit.rms_px
    # A bar's outline holds its hooks, which scatter about it.
    poor = 0.0 if found.touching else max(scatter - POOR_FROM_PX, 0.0)
    edge_px = np.linalg.norm([EDGE_FLOOR_PX, EDGE_SHARE * scatter, POOR_SHARE * poor])
    return float(edge_px) * found.helix.wire_mm / wire_px(found)


def _by_tips(found: FittedSpring) -> float:
    """Return the variance of the count of coils by where both tips lie [turns²]."""
    tips = [OPEN_TIP if end is End.OPEN else CLOSED_TIP for end in found.helix.ends]
    return sum(tip**2 for tip in tips) + (BAR_TIPS**2 if found.touching else 0.0)


def _by_edges_and_ends(found: FittedSpring, values: Array) -> Array:
    edge = _edge_mm(found)
    close = 0.0 if found.touching else max(CLOSE_GAP - gap_share(found), 0.0)
    by_closeness = close * np.array(CLOSE) * [values[0], values[1], 1.0]
    wire = 0.01 * values[0] if found.touching else float(np.hypot(edge, by_closeness[0]))
    # Other ends that suit the map nearly as well would make the length a wire more or less.
    wrong = 1.0 / (1.0 + float(np.exp(found.ends_margin / ENDS_MARGIN)))
    kind = wrong * (1.0 - wrong) * values[0] ** 2
    bar = BAR_SHARE if found.touching else 0.0
    # All edges shift together: the wire grows and the coil's mean diameter stays.
    out = np.diag(
        [
            wire**2,
            (0.6 * edge) ** 2 + ((0.002 + bar) * values[1]) ** 2 + by_closeness[1] ** 2,
            _by_tips(found) + by_closeness[2] ** 2 + (LOST_TIP**2 if close > 0.0 else 0.0),
            2.0 * (FACE_WIRES * values[0]) ** 2 + edge**2 + kind + ((0.002 + bar) * values[3]) ** 2,
        ]
    )
    out[0, 3] = out[3, 0] = wire * edge * 0.5
    return out
