"""The one orchestrator: from a photo to the spring's geometry, or why there is none."""

import time
from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from mechanics.ends import Ends
from mechanics.geometry import SpringGeometry
from vision.advice import FEW_PX, faults
from vision.best_fit import TRIES, best_fit
from vision.beyond import hook_goes_on, lone_hook_mm
from vision.camera import Camera, DoubtedCamera
from vision.fitted import CLOSE_GAP, FittedSpring, gap_share, wire_px
from vision.flags import in_order
from vision.focal import focal_px_of
from vision.geometry import geometry_of, kind_of, taper_of
from vision.helix import along_axis, frame, turns_of
from vision.hooks import length_px, with_hooks
from vision.lean import leaned
from vision.marked import marked
from vision.marks import Marks, outside
from vision.photo import Photo
from vision.refusal import Refusal
from vision.region import sightings
from vision.scale import Scale, find_scale, marked_scale
from vision.shared import SharedError, shared_errors
from vision.sharpen import sharpen
from vision.silhouette import edges_of

Array = NDArray[np.float64]

#: In how many places a spring is sought by drawing, and without a scale in how many at all: the
#: slant is open then, each takes longer, and a refusal shall not take half a minute.
DRAWN_TRIES, FEW_TRIES = 2, 2
#: Scatter of the outline about a fit from which on that is rough [px]. That of turns that touch
#: holds their hooks, which lie off it: there it is 0.14 of the wire at most where the fit is right
#: (63 springs kept for tuning).
MOST_SCATTER_PX, HOOKED_SCATTER = 0.8, 0.15
NO_MARKS = Marks()


@dataclass(frozen=True, slots=True)
class Measurement:
    """A measured spring.

    Attributes
    ----------
    geometry : SpringGeometry
        Dimensions with covariance [mm]; in wire diameters where there is no scale.
    kind, hand : str
        ``compression``, ``extension`` or ``conical``; ``right``, ``left`` or ``unknown``.
    scale : Scale or None
        None where only proportions are known.
    outline_px : tuple of ndarray, each shape (N, 2)
        Outlines of the fitted wire, a turn each [px].
    axis_px : ndarray, shape (2, 2)
        Ends of the axis [px].
    taper : float or None
        Small end's mean diameter over the large end's, of a cone [-].
    wire_px : float
        Width of the wire in the photo [px].
    flags : tuple of str
        Codes of what should be told.
    timings_ms : mapping of str to float
        By stage.
    shared : tuple of SharedError
        What other photos of the spring would have wrong in the same way.
    length_px : ndarray, shape (2, 2), or None
        Ends of the free length on the axis, where hooks reach beyond the turns [px].
    """

    geometry: SpringGeometry
    kind: str
    hand: str
    scale: Scale | None
    outline_px: tuple[Array, ...]
    axis_px: Array
    taper: float | None
    wire_px: float
    flags: tuple[str, ...]
    timings_ms: Mapping[str, float]
    shared: tuple[SharedError, ...] = ()
    length_px: Array | None = None


def measure(
    photo: Photo, reference: str = "auto", marks: Marks = NO_MARKS
) -> Measurement | Refusal:
    """Measure the spring in a photo.

    Parameters
    ----------
    photo : Photo
        A photo of a spring lying free on a table, beside something of known size.
    reference : str
        What lies beside it, such as ``card`` or ``coin:EUR-2``; ``auto`` to let it look; ``none``
        for proportions alone.
    marks : Marks
        What a person marked where the program saw nothing.

    Returns
    -------
    Measurement or Refusal
        The spring, or why it could not be measured and what to do.
    """
    timings: dict[str, float] = {}
    began = time.perf_counter()

    def lap(stage: str) -> None:
        nonlocal began
        now = time.perf_counter()
        timings[stage], began = 1000.0 * (now - began), now

    found = outside(marks, photo.rgb.shape) or _scale(photo, reference, marks)
    if isinstance(found, Refusal):
        return found
    scale = found
    lap("scale")
    ends = np.array(marks.spring_px) if marks.spring_px else None
    if ends is None:
        seen = sightings(photo.rgb, *kept_clear(scale))
    else:
        seen = iter(marked(photo.rgb, ends))
    lap("search")
    camera = camera_over(photo, scale)
    draw, tries = (0, FEW_TRIES) if scale is None else (DRAWN_TRIES, TRIES)
    best = best_fit(photo.rgb, camera, seen, ends, draw, tries)
    if isinstance(best, Refusal):
        return best
    if (both := leaned(photo, scale, camera, best)) is not None:
        scale, best = both
        camera = camera_over(photo, scale)
    lap("fit")
    best = sharpen(photo.rgb, with_hooks(photo.rgb, best), camera, scaled=scale is not None)
    lap("edges")
    told = measurement_of(photo, scale, best)
    lap("bands")
    return (
        told if isinstance(told, Refusal) else replace(told, timings_ms=MappingProxyType(timings))
    )


def kept_clear(scale: Scale | None) -> tuple[Array | None, bool]:
    """Return the reference's outline (N, 2) [px], and whether the spring lies on it."""
    if scale is None:
        return None, False
    return scale.outline_px, scale.reference.thickness_mm == 0.0


def camera_over(photo: Photo, scale: Scale | None) -> DoubtedCamera:
    """Return the camera with its doubts, by the scale or by what is usual."""
    camera = scale.camera if scale is not None else unscaled_camera(photo)
    return DoubtedCamera.of(camera, _variants(scale, camera))


def measurement_of(photo: Photo, scale: Scale | None, found: FittedSpring) -> Measurement | Refusal:
    """Return what a fitted spring measures, or why no spring can have that."""
    geometry = geometry_of(found)
    if isinstance(geometry, Refusal):
        return geometry
    return Measurement(
        geometry,
        kind_of(found),
        ("right" if found.helix.hand > 0 else "left") if found.hand_odds > 1.04 else "unknown",
        scale,
        tube_outlines(found),
        _axis_px(found),
        taper_of(found),
        wire_px(found),
        _flags(photo, scale, found, geometry),
        MappingProxyType({}),
        shared_errors(photo, scale, found),
        length_px(found),
    )


def _scale(photo: Photo, reference: str, marks: Marks) -> Scale | Refusal | None:
    """Return the scale that was marked, else found; None where none is asked for."""
    if marks.reference_px:
        return marked_scale(photo, reference, marks)
    return None if reference == "none" else find_scale(photo, reference)


def unscaled_camera(photo: Photo) -> Camera:
    """Return a camera straight above the table where nothing tells the scale.

    One unit of its world is of no known size; the height is that of a hand-held phone over a
    spring of middling size.
    """
    h, w = photo.rgb.shape[:2]
    focal = focal_px_of(photo.focal_35mm, w, h)
    down = np.diag([1.0, -1.0, -1.0])
    return Camera(focal, np.array([(w - 1) / 2, (h - 1) / 2]), down, np.array([0.0, 0.0, 200.0]))


def _variants(scale: Scale | None, camera: Camera) -> tuple[Camera, ...]:
    if scale is not None:
        return tuple(other for _, other in scale.variants)
    # Nothing tells the slant: eight degrees each way is how people hold a phone.
    out = []
    for axis in (0, 1):
        angle = np.radians(8.0)
        c, s = np.cos(angle), np.sin(angle)
        turn = np.array([[1, 0, 0], [0, c, -s], [0, s, c]])
        if axis == 1:
            turn = np.array([[c, 0, s], [0, 1, 0], [-s, 0, c]])
        out.append(replace(camera, rotation=camera.rotation @ turn))
    return tuple(out)


def tube_outlines(found: FittedSpring) -> tuple[Array, ...]:
    """Return the outline of each turn of the fitted wire, faces ground flat, each (N, 2) [px]."""
    turn = turns_of(found.helix)
    one, other = (found.camera.project(e) for e in edges_of(found.helix, found.camera))
    whole = np.floor(turn - turn[0] + 1e-9).astype(int)
    out = []
    for number in range(int(whole.max()) + 1):
        k = np.nonzero(whole == number)[0]
        k = np.append(k, min(k[-1] + 1, len(turn) - 1))
        out.append(np.vstack([one[k], other[k][::-1]]))
    return tuple(out)


def _axis_px(found: FittedSpring) -> Array:
    middle, axes = frame(found.helix)
    x = along_axis(found.helix, turns_of(found.helix))
    ends = middle + np.array([[x[0]], [x[-1]]]) * axes[0]
    return found.camera.project(ends)


def _flags(
    photo: Photo,
    scale: Scale | None,
    found: FittedSpring,
    geometry: SpringGeometry,
) -> tuple[str, ...]:
    h, w = photo.rgb.shape[:2]
    outline, hooked = found.outline_px, found.touching and hook_goes_on(found)
    most_scatter_px = HOOKED_SCATTER * wire_px(found) if hooked else MOST_SCATTER_PX
    cut = (outline.min() < 3) or (outline[:, 0].max() > w - 4) or (outline[:, 1].max() > h - 4)
    holds = {
        "cut-off": cut,
        "few-pixels": wire_px(found) < FEW_PX,
        "rough-fit": found.overlap < 0.8 or found.fit.rms_px > most_scatter_px,
        "hook-unseen": lone_hook_mm(found) > 0.0,
        "hand-unknown": found.hand_odds <= 1.04,
        "ends-unknown": geometry.ends is Ends.UNKNOWN,
        # Turns without a gap and without hooks may be those of a spring to be pressed, whose gaps
        # lie in shade: their wire is then thinner than they are apart.
        "turns-close": gap_share(found) < CLOSE_GAP and not hooked,
        "few-coils": geometry.ends is not Ends.UNKNOWN and geometry.active_coils < 4.0,
    }
    ours = tuple(code for code, true in holds.items() if true)
    outlines = tube_outlines(found)
    reference = scale.outline_px if scale is not None else None
    pixels = faults(photo, outlines, wire_px(found), reference)
    return in_order((*ours, *pixels, *(scale.flags if scale is not None else ())))
