"""Which of the wire in view is the spring's: what lies along its axis, without a long gap.

What lies beside a spring, a screw or another coil, runs into it on the map and would pull its axis
and its width about.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.camera import Camera
from vision.map_view import MapView
from vision.strands import Body

Array = NDArray[np.float64]

#: Every so many pixels of the map are projected to the table.
COARSE = 4
#: Room at either side of the coil [wires], and longest gap along it [coil widths].
ASIDE, GAP = 1.0, 0.5
#: Least wire on a slice across the axis for it to belong to the spring [wires].
LEAST_SLICE = 0.5


def in_band(view: MapView, body: Body, camera: Camera, width: float) -> NDArray[np.bool_]:
    """Return the pixels (H, W) in a band of a width [mm] along a body's axis.

    The band goes on beyond the body as long as there is wire in it.
    """
    shape = view.maps.shape[1:]
    y, x = np.mgrid[0 : shape[0] : COARSE, 0 : shape[1] : COARSE].astype(float)
    pixels = view.to_photo(np.column_stack([x.ravel(), y.ravel()]))
    away = camera.at_height(pixels, 0.5 * body.width)[:, :2] - body.middle
    c, s = np.cos(body.heading), np.sin(body.heading)
    along = (away @ np.array([c, s])).reshape(x.shape)
    across = (away @ np.array([-s, c])).reshape(x.shape)
    beside = np.abs(across) < 0.5 * width + ASIDE * body.wire
    wire = view.maps[0][::COARSE, ::COARSE] > 0.5
    low, high = _run(along, beside & wire, body, _step_mm(along))
    inside = beside & (along > low - body.wire) & (along < high + body.wire)
    size = (shape[1], shape[0])
    whole = cv2.resize(inside.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST)
    return np.asarray(whole, dtype=bool)


def _step_mm(along: Array) -> float:
    """Return how far apart on the table the coarse pixels lie [mm]."""
    return float(np.hypot(*(np.median(np.abs(np.diff(along, axis=k))) for k in (0, 1)))) + 1e-9


def _run(along: Array, wire: NDArray[np.bool_], body: Body, step: float) -> tuple[float, float]:
    """Return where the wire about the body's middle begins and ends along the axis [mm]."""
    size = max(0.5 * body.wire, step)
    slices = np.round(along / size).astype(int)
    first = int(slices.min())
    count = np.bincount((slices - first).ravel(), weights=wire.ravel().astype(float))
    held = np.nonzero(count * step**2 > LEAST_SLICE * body.wire * size)[0] + first
    if not len(held):
        return -0.5 * body.length, 0.5 * body.length
    breaks = np.nonzero(np.diff(held) * size > GAP * body.width)[0]
    runs = np.split(held, breaks + 1)
    weight = [
        sum(count[k - first] for k in run if abs(k * size) < 0.5 * body.length) for run in runs
    ]
    best = runs[int(np.argmax(weight))]
    return float(best[0] * size), float(best[-1] * size)
