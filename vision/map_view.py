"""The wire map of a part of the photo, and where it lies there."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def turning(angle: float) -> Array:
    """Return the matrix (2, 2) that turns x towards y by an angle [rad]."""
    c, s = np.cos(angle), np.sin(angle)
    return np.array([[c, -s], [s, c]])


@dataclass(frozen=True, slots=True)
class MapView:
    """Maps of a region and where they lie in the photo.

    Attributes
    ----------
    maps : ndarray, shape (3, H, W)
        Coverage by wire, by upper strands, and squareness, 0 to 1.
    origin_px, scale : (2,), float
        Photo pixel = map pixel / scale + origin (pixel centres at integers in both).
    angle : float
        How its rows are turned in the photo, x towards y: map pixel / scale is turned so first
        [rad].
    picture : ndarray of uint8, shape (H, W, 3), or None
        What the maps were made of; None where there are only maps.
    """

    maps: NDArray[np.float32]
    origin_px: Array
    scale: float
    angle: float = 0.0
    picture: NDArray[np.uint8] | None = None

    def to_photo(self, points: Array) -> Array:
        """Return photo pixels of map pixels (N, 2)."""
        local = (points + 0.5) / self.scale - 0.5
        return np.asarray((local @ turning(self.angle).T if self.angle else local) + self.origin_px)

    def to_map(self, points: Array) -> Array:
        """Return map pixels of photo pixels (N, 2)."""
        local = points - self.origin_px
        return np.asarray(
            ((local @ turning(self.angle) if self.angle else local) + 0.5) * self.scale - 0.5
        )

    @property
    def corners_px(self) -> Array:
        """Its corners in the photo, shape (4, 2) [px]."""
        height, width = self.maps.shape[1:]
        x, y = float(width - 1), float(height - 1)
        return self.to_photo(np.array([[0.0, 0.0], [x, 0.0], [x, y], [0.0, y]]))
