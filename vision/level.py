"""The photo turned so that a spring lies level in it: a view of it then shows less of the table.

What the wire map costs goes with the pixels it sees, and a box about a spring that lies askew is
mostly table.
"""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.map_view import MapView, turning

Array = NDArray[np.float64]
Pixels = NDArray[np.uint8]

#: A box askew is worth its turning where it is less than this share of the upright one.
WORTH = 0.8
#: How much of the photo is turned around what is looked at first, in parts of its long side.
AROUND = 0.1
#: Fewer points show no way in which something lies.
FEWEST_POINTS = 6
#: Wire so near the rim of what was turned goes on beyond it [px].
AT_RIM_PX = 6.0
_CORNERS = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])


@dataclass(frozen=True, slots=True)
class Levelled:
    """A part of a photo, turned.

    Attributes
    ----------
    rgb : ndarray of uint8, shape (H, W, 3)
        Its pixels.
    origin_px, angle : ndarray, shape (2,), and float
        Where its first pixel lies in the photo [px], and how its rows are turned there [rad].
    photo_size_px : ndarray, shape (2,)
        Width and height of the photo.
    """

    rgb: Pixels
    origin_px: Array
    angle: float
    photo_size_px: Array

    def of(self, points_px: Array) -> Array:
        """Return where pixels (N, 2) of the photo lie in it [px]."""
        return np.asarray((points_px - self.origin_px) @ turning(self.angle))

    def in_photo(self, view: MapView) -> MapView | None:
        """Return a view of it as one of the photo; None where it does not show the whole wire."""
        origin = self.origin_px + turning(self.angle) @ view.origin_px
        other = replace(view, origin_px=origin, angle=self.angle)
        y, x = np.nonzero(view.maps[0] > 0.5)
        if len(x):
            far = view.to_photo(np.array([[x.min(), y.min()], [x.max(), y.max()]], dtype=float))
            room = min(far[0].min(), (np.array(self.rgb.shape[1::-1]) - far[1]).min())
            if room < AT_RIM_PX:
                return None
        return other if _holds(self.photo_size_px, other.corners_px) else None


def levelled(rgb: Pixels, points_px: Array, room_px: float, upright_px2: float) -> Levelled | None:
    """Return the photo about a spring so that it lies level, or None where that shows little less.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (H, W, 3)
        The photo.
    points_px : ndarray, shape (N, 2)
        On the spring [px].
    room_px : float
        How much around it is looked at [px].
    upright_px2 : float
        How much of the photo that is where it is not turned [px²].
    """
    if len(points_px) < FEWEST_POINTS:
        return None
    (x, y), (wide, high), degrees = cv2.minAreaRect(points_px.astype(np.float32))
    quarters = round(degrees / 90.0)  # the less it is turned the better
    wide, high = (high, wide) if quarters % 2 else (wide, high)
    size = np.array([wide, high]) + 2.0 * room_px
    photo_size = np.array(rgb.shape[1::-1], dtype=float)
    angle = float(np.radians(degrees - 90.0 * quarters))
    turn = turning(angle)
    corners = np.array([x, y]) + 0.5 * size * _CORNERS @ turn.T
    if size.prod() > WORTH * upright_px2 or not _holds(photo_size, corners):
        return None
    size += 2.0 * AROUND * size.max()
    origin = np.array([x, y]) - turn @ (0.5 * size)
    pixels = cv2.warpAffine(
        rgb,
        np.column_stack([turn, origin]),
        (int(size[0]), int(size[1])),
        flags=cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )
    return Levelled(np.asarray(pixels, dtype=np.uint8), origin, angle, photo_size)


def _holds(size_px: Array, points_px: Array) -> bool:
    """Tell whether points (N, 2) lie within a photo of such a size."""
    return bool((points_px >= 0.0).all() and (points_px <= size_px - 1.0).all())
