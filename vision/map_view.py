"""The wire map of a part of the photo, and where it lies there."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class MapView:
    """Maps of a region and where they lie in the photo.

    Attributes
    ----------
    maps : ndarray, shape (3, H, W)
        Coverage by wire, by upper strands, and squareness, 0 to 1.
    origin_px, scale : (2,), float
        Photo pixel = map pixel / scale + origin (pixel centres at integers in both).
    """

    maps: NDArray[np.float32]
    origin_px: Array
    scale: float

    def to_photo(self, points: Array) -> Array:
        """Return photo pixels of map pixels (N, 2)."""
        return np.asarray((points + 0.5) / self.scale - 0.5 + self.origin_px)

    def to_map(self, points: Array) -> Array:
        """Return map pixels of photo pixels (N, 2)."""
        return np.asarray((points - self.origin_px + 0.5) * self.scale - 0.5)
