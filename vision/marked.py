"""What the wire map sees between two ends of a spring that a person marked."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from vision.map_view import MapView
from vision.proposals import Box
from vision.region import LEAST_WIRE_PX, LOOK_PX, Sighting, largest, look

Array = NDArray[np.float64]
Pixels = NDArray[np.uint8]

#: How far wire may lie beside and beyond the line between two marks, in parts of its length.
ASIDE, BEYOND = 0.65, 0.15


def marked(rgb: Pixels, ends_px: Array) -> list[Sighting]:
    """Return what the map sees between two marked ends of a spring; nothing where it sees no wire.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (H, W, 3)
        The photo.
    ends_px : ndarray, shape (2, 2)
        Where the spring's axis leaves it [px].
    """
    length = float(np.linalg.norm(ends_px[1] - ends_px[0]))
    box = Box(*ends_px.min(axis=0), *ends_px.max(axis=0)).grown(ASIDE * 1.1, rgb.shape)
    for scale in (min(1.5, LOOK_PX / box.long_side), min(1.5, 1.6 * LOOK_PX / length)):
        view = along_marks(look(rgb, box, scale), ends_px)
        for least in (0.5, 0.3):
            mask = view.maps[0] > least
            if mask.sum() >= LEAST_WIRE_PX:
                return [largest(view, mask)]
    return []


def along_marks(view: MapView, ends_px: Array) -> MapView:
    """Return the view without what lies far from the line between two marked ends."""
    step = ends_px[1] - ends_px[0]
    length = float(np.linalg.norm(step))
    y, x = np.mgrid[: view.maps.shape[1], : view.maps.shape[2]]
    away = view.to_photo(np.column_stack([x.ravel(), y.ravel()]).astype(float)) - ends_px[0]
    along = away @ step / length
    aside = np.abs(away @ np.array([-step[1], step[0]])) / length
    near = (along > -BEYOND * length) & (along < (1.0 + BEYOND) * length) & (aside < ASIDE * length)
    return replace(view, maps=np.where(near.reshape(x.shape), view.maps, 0.0))
