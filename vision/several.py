"""Several springs in one photo: each that holds up is measured, then hidden from the next look.

What was fitted, or was looked at and is no spring, is painted over with the table around it, so a
small spring beside a large one comes into its own and nothing is measured twice.
"""

import time
from dataclasses import replace
from types import MappingProxyType

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.camera import DoubtedCamera
from vision.closer import close_look
from vision.fitted import FittedSpring, wire_px
from vision.hooks import with_hooks
from vision.map_view import MapView
from vision.measure import (
    Measurement,
    camera_over,
    kept_clear,
    measurement_of,
    tube_outlines,
)
from vision.photo import Photo
from vision.refusal import Refusal
from vision.region import Sighting, settle, sightings
from vision.scale import Scale, find_scale
from vision.sharpen import sharpen
from vision.spring_fit import fit_spring
from vision.strands import main_part

Array = NDArray[np.float64]
Pixels = NDArray[np.uint8]
Mask = NDArray[np.bool_]

#: Least overlap of the fitted tube and the map for one of several to count as a spring: stricter
#: than for the one spring that a photo is said to show.
LEAST_OVERLAP = 0.72
#: Most scatter of the outline about the tube [wires], and fewest turns: fewer are a bent wire, a
#: hook or a ring.
MOST_SCATTER, FEWEST_TURNS = 0.2, 2.5
#: Rounds of looking, and most looks in all.
ROUNDS, MOST_LOOKS = 3, 24
#: Long side of the picture in which the table is filled in [px].
FILL_PX = 700


def measure_all(photo: Photo, reference: str = "auto") -> tuple[Measurement, ...] | Refusal:
    """Measure every spring in a photo.

    Parameters
    ----------
    photo : Photo
        Of springs that lie apart, at least two wires from each other.
    reference : str
        What lies beside them, as for `vision.measure.measure`.

    Returns
    -------
    tuple of Measurement, or Refusal
        The springs from left to right, or why there is none.
    """
    began = time.perf_counter()
    scale: Scale | None = None
    if reference != "none":
        found = find_scale(photo, reference)
        if isinstance(found, Refusal):
            return found
        scale = found
    told, camera = [], camera_over(photo, scale)
    for spring in _springs(photo.rgb, camera, scale):
        spring = sharpen(photo.rgb, with_hooks(photo.rgb, spring), camera, scale is not None)
        one = measurement_of(photo, scale, spring)
        if isinstance(one, Measurement):
            told.append(one)
    if not told:
        return Refusal(
            "no-spring",
            "view",
            "No coil spring was found in the photo.",
            "Lay the springs on their sides, apart from each other, on a plain table.",
        )
    timings = MappingProxyType({"all": 1000.0 * (time.perf_counter() - began)})
    told.sort(key=lambda one: float(one.axis_px.mean(axis=0)[0]))
    return tuple(replace(one, timings_ms=timings) for one in told)


def _springs(rgb: Pixels, camera: DoubtedCamera, scale: Scale | None) -> list[FittedSpring]:
    """Return the springs, as found; round after round until nothing is left to look at."""
    left, looks = rgb, 0
    found: list[FittedSpring] = []
    for _ in range(ROUNDS):
        before = looks
        for sighting in sightings(left, *kept_clear(scale)):
            view = _look_again(left, sighting)
            if view is None:
                continue
            looks += 1
            if looks > MOST_LOOKS:
                return found
            spring = fit_spring(view, camera)
            hidden = _wire_in(view, left.shape)
            if isinstance(spring, FittedSpring) and _holds_up(spring):
                found.append(spring)
                hidden |= _tube_mask(spring, left.shape)
            left = _painted_over(left, hidden)
        if looks == before:
            break
    return found


def _look_again(left: Pixels, sighting: Sighting) -> MapView | None:
    """Return a close look at what a sighting saw, or None where that is hidden by now."""
    settled = settle(left, sighting)
    view = close_look(left, settled)
    here = view.maps[0] > 0.5
    return view if here.any() and main_part(view).any() else None


def _holds_up(spring: FittedSpring) -> bool:
    close = spring.fit.rms_px < MOST_SCATTER * wire_px(spring)
    return spring.overlap >= LEAST_OVERLAP and spring.helix.turns >= FEWEST_TURNS and close


def _wire_in(view: MapView, shape: tuple[int, ...]) -> Mask:
    """Return the wire that a view is about, as a mask of the photo."""
    keep = (main_part(view) & (view.maps[0] > 0.3)).astype(np.uint8)
    zero, right, below = view.to_photo(np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]]))
    to_photo = np.column_stack([right - zero, below - zero, zero])
    return cv2.warpAffine(keep, to_photo, shape[1::-1], flags=cv2.INTER_NEAREST) > 0


def _tube_mask(spring: FittedSpring, shape: tuple[int, ...]) -> Mask:
    """Return the fitted tube as a mask of the photo."""
    drawn = np.zeros(shape[:2], np.uint8)
    for outline in tube_outlines(spring):
        cv2.fillPoly(drawn, [np.round(outline).astype(np.int32)], (1,))
    return np.asarray(drawn > 0)


def _painted_over(rgb: Pixels, hidden: Mask) -> Pixels:
    """Return the photo with a part filled in from the table around it, gaps between turns too."""
    factor = min(1.0, FILL_PX / max(rgb.shape[:2]))
    small = cv2.resize(rgb, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
    mask = cv2.resize(hidden.astype(np.float32), small.shape[1::-1], interpolation=cv2.INTER_AREA)
    mask = (mask > 0.05).astype(np.uint8)
    joined = cv2.morphologyEx(mask, cv2.MORPH_CLOSE, np.ones((9, 9), np.uint8))
    around = cv2.dilate(joined, np.ones((5, 5), np.uint8))
    filled = cv2.inpaint(np.asarray(small, np.uint8), around, 3, cv2.INPAINT_TELEA)
    # No grain and no edge: the next look must find nothing here.
    smooth = cv2.GaussianBlur(filled, (0, 0), 2.0)
    size = rgb.shape[1::-1]
    over = cv2.resize(smooth, size, interpolation=cv2.INTER_CUBIC)
    weight = cv2.resize(around.astype(np.float32), size, interpolation=cv2.INTER_LINEAR)
    weight = np.clip(weight, 0.0, 1.0)[..., None]
    mixed = rgb * (1.0 - weight) + over * weight
    return np.asarray(np.round(mixed), np.uint8)
