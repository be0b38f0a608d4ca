"""A drawing of several springs in one photo, each with its number beside it."""

from collections.abc import Sequence

import numpy as np

from vision.draw import GAP_PX, HALO, WIDTH_PX, Pixels, Sketch, close_up, overview


def draw_numbered(rgb: Pixels, sketches: Sequence[Sketch]) -> Pixels:
    """Return the photo with every spring numbered, and below it each spring close up, in order.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (H, W, 3)
        The photo.
    sketches : sequence of Sketch
        What was seen in it, at least one.
    """
    numbers = [str(k) for k in range(1, len(sketches) + 1)]
    views = [overview(rgb, sketches, numbers)]
    for number, sketch in zip(numbers, sketches, strict=True):
        views += [np.full((GAP_PX, WIDTH_PX, 3), HALO, np.uint8), close_up(rgb, sketch, number)]
    return np.vstack(views)
