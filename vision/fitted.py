"""A spring as it was fitted, and what is asked of a fit."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vision.camera import Camera
from vision.end_reader import EndRead
from vision.helix import NAMES, End, Helix, along_axis, centre_line, frame, turns_of
from vision.map_view import MapView
from vision.silhouette import Silhouette, shrink
from vision.strands import Body, outline_of
from vision.tube_fit import Fit, Prior

Array = NDArray[np.float64]

#: Points of the outline that are used: more cost time and tell nothing new.
MOST_POINTS = 1600
#: Coils closer than this, in wires, are taken to touch all along.
TOUCHING = 1.18
#: A radius that changes less than this over the body is a cylinder's.
LEAST_TAPER = 0.05
#: Wire of turns that touch, as a share of their spacing: common practice, no source.
CLOSE_WIRE = 0.994
#: Turns with less than this share of their pitch between them shade each other's edges.
CLOSE_GAP = 0.2
#: Least length of both hooks together, in outside diameters: a loop alone is nearly one.
HOOKS = 1.0
#: What a face of the fit is usually off by [wires], and one that was read [deviations claimed]: by
#: 78 springs kept for tuning.
FIT_FACE, READ_FACE = 0.1, 1.9
#: A prior this narrow holds a value where it is.
HELD = 1e-4

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
        How much worse other ends explain it (`vision.turns`): 0 is no difference.
    reach_mm : (float, float) or None
        Where the wire seen, hooks with it, begins and ends along the body's heading [mm]; None
        where it was not looked for.
    ends_read : (EndRead, EndRead) or None
        How the wire's start and stop look; None where they were not read.
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
    reach_mm: tuple[float, float] | None = None
    ends_read: tuple[EndRead, EndRead] | None = None

    @property
    def camera(self) -> Camera:
        """The camera through which it is seen best."""
        return self.fit.camera


def prior(helix: Helix, **sigma: float) -> Prior:
    """Return what is known before the fit: wide, but for what `sigma` narrows."""
    wide = {**_SIGMA, **sigma}
    return Prior(helix.values.copy(), np.array([wide[name] for name in NAMES]))


def prior_of_body(helix: Helix, **sigma: float) -> Prior:
    """Return what is known of a spring whose tips were found: a cylinder stays one."""
    held = {"start": 0.05, "stop": 0.05, **sigma}
    return prior(helix, **held, **({} if abs(helix["taper"]) >= LEAST_TAPER else {"taper": HELD}))


def gap_share(found: FittedSpring) -> float:
    """Return the gap between neighbouring turns as a share of their pitch [-]."""
    return 1.0 - found.helix.wire_mm / float(np.exp(found.helix["log_pitch"]))


def misfit(found: Fit) -> float:
    """Return how badly a fit explains the outline; strays count little."""
    return float(np.mean(np.log1p(found.residual_px**2)))


def overlap_of(helix: Helix, camera: Camera, view: MapView, keep: NDArray[np.bool_]) -> float:
    """Return the intersection over the union of a drawn helix and the map of what is kept.

    What of the helix lies out of the view explains nothing: the view holds all wire there is.
    """
    zoom, target = shrink(view, keep, wire_px_of(helix, camera) * view.scale)
    picture = Silhouette.of(helix, camera, view, zoom).drawn(target.shape)
    shared = np.minimum(picture, target).sum() / (np.maximum(picture, target).sum() + 1e-6)
    return float(shared * _in_view(helix, camera, view))


def _in_view(helix: Helix, camera: Camera, view: MapView) -> float:
    """Return which share of a helix's centre line lies in a view."""
    line = view.to_map(camera.project(centre_line(helix)))
    size = np.array(view.maps.shape[:0:-1])
    return float(((line > -1.0) & (line < size)).all(axis=1).mean())


def thinned_outline(view: MapView, keep: NDArray[np.bool_]) -> Array:
    """Return the boundary of the wire that is kept, (N, 2) [px], at most `MOST_POINTS`."""
    points = outline_of(view, keep)
    if len(points) <= MOST_POINTS:
        return points
    return np.asarray(points[np.linspace(0, len(points) - 1, MOST_POINTS).astype(int)])


def wire_px_of(helix: Helix, camera: Camera) -> float:
    """Return the width of a helix's wire at its anchor [px]."""
    here = np.array([helix["x"], helix["y"], helix.radius_mm])
    return helix.wire_mm * camera.focal_px / float(np.linalg.norm(camera.position_mm - here))


def wire_px(found: FittedSpring) -> float:
    """Return the width of the wire in the photo [px]."""
    return wire_px_of(found.helix, found.camera)


def free_length_mm(helix: Helix) -> float:
    """Return the length over the wire, ground faces where there are any [mm]."""
    low, high = faces_along(helix)
    return high - low


def faces_along(helix: Helix) -> tuple[float, float]:
    """Return where the outermost wire lies along the axis, from the anchor [mm]."""
    x = along_axis(helix, turns_of(helix))
    one, other = (0.0 if end is End.GROUND else 0.5 * helix.wire_mm for end in helix.ends)
    return float(x[0]) - one, float(x[-1]) + other


def beyond_faces(found: FittedSpring, reads: tuple[EndRead, EndRead]) -> tuple[float, float]:
    """Return how far beyond those of the fit both faces were read [wires]."""
    middle, axes = frame(found.helix)
    pixels = np.stack([read.face_px for read in reads])
    read = (found.camera.at_height(pixels, middle[2]) - middle) @ axes[0]
    low, high = faces_along(found.helix)
    wire = found.helix.wire_mm
    return (low - float(read[0])) / wire, (float(read[1]) - high) / wire


def face_doubt(read: EndRead) -> float:
    """Return how far a face of the fit usually lies from where it was read [wires]."""
    return float(np.hypot(FIT_FACE, READ_FACE * read.deviation))


def has_hooks(found: FittedSpring) -> bool:
    """Tell whether wire goes on beyond both faces of turns that touch, as hooks and loops do."""
    width = 2.0 * found.helix.radius_mm + found.helix.wire_mm
    return found.body.length > free_length_mm(found.helix) + HOOKS * width
