"""A pinhole camera above a table."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Camera:
    """Where the camera stands over the plane on which the spring rests.

    The world is in mm, right-handed: z = 0 is the plane and z grows towards the camera. Pixel
    centres are at integers, x to the right and y down; camera axes are x right, y down, z ahead.

    Attributes
    ----------
    focal_px : float
        Focal length [px].
    centre_px : ndarray, shape (2,)
        Principal point [px].
    rotation : ndarray, shape (3, 3)
        World to camera [-].
    translation_mm : ndarray, shape (3,)
        World origin in camera axes [mm].
    """

    focal_px: float
    centre_px: Array
    rotation: Array
    translation_mm: Array

    def project(self, points_mm: Array) -> Array:
        """Return pixels (N, 2) of world points (N, 3) [mm]."""
        seen = points_mm @ self.rotation.T + self.translation_mm
        return np.asarray(self.focal_px * seen[:, :2] / seen[:, 2:] + self.centre_px)

    def at_height(self, points_px: Array, height_mm: float = 0.0) -> Array:
        """Return world points (N, 3) [mm] where the rays of pixels (N, 2) meet z = height."""
        rays = np.column_stack(
            [(points_px - self.centre_px) / self.focal_px, np.ones(len(points_px))]
        )
        rays = rays @ self.rotation
        origin = self.position_mm
        return np.asarray(origin + rays * ((height_mm - origin[2]) / rays[:, 2])[:, None])

    @property
    def position_mm(self) -> Array:
        """Centre of the lens in the world, shape (3,) [mm]."""
        return np.asarray(-self.rotation.T @ self.translation_mm)

    @property
    def tilt_deg(self) -> float:
        """Angle between the line of sight and the plane's normal [deg]."""
        return float(np.degrees(np.arccos(np.clip(-self.rotation[2, 2], -1.0, 1.0))))
