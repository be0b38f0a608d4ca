"""Focal length in pixels from what the camera says of itself."""

import numpy as np

#: Diagonal of the 36 x 24 mm frame [mm], and what a phone without EXIF is likely to have.
FRAME_DIAGONAL_MM, LIKELY_35MM = 43.2666, 26.0


def focal_px_of(focal_35mm: float | None, width: int, height: int) -> float:
    """Return the focal length [px] by the diagonal rule; a phone's usual one where unknown."""
    return float((focal_35mm or LIKELY_35MM) / FRAME_DIAGONAL_MM * np.hypot(width, height))
