"""A pinhole camera above a table."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

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
    lens : float
        How the lens bends straight lines: a point at r from the middle of the picture, in focal
        lengths, is seen of a ray at r / (1 + lens r²). Above nought the picture grows outwards [-].

    Notes
    -----
    The bend is the division model of Fitzgibbon 2001 (CVPR, from memory): both ways are closed.
    """

    focal_px: float
    centre_px: Array
    rotation: Array
    translation_mm: Array
    lens: float = 0.0

    def project(self, points_mm: Array) -> Array:
        """Return pixels (N, 2) of world points (N, 3) [mm]."""
        seen = points_mm @ self.rotation.T + self.translation_mm
        flat = seen[:, :2] / seen[:, 2:]
        if self.lens:
            square = (flat**2).sum(axis=1, keepdims=True)
            flat = 2.0 * flat / (1.0 + np.sqrt(np.maximum(1.0 - 4.0 * self.lens * square, 0.0)))
        return np.asarray(self.focal_px * flat + self.centre_px)

    def rays(self, points_px: Array) -> Array:
        """Return the directions (N, 3) of pixels (N, 2) in camera axes, one deep [-]."""
        flat = (points_px - self.centre_px) / self.focal_px
        if self.lens:
            flat = flat / (1.0 + self.lens * (flat**2).sum(axis=1, keepdims=True))
        return np.column_stack([flat, np.ones(len(flat))])

    def at_height(self, points_px: Array, height_mm: float = 0.0) -> Array:
        """Return world points (N, 3) [mm] where the rays of pixels (N, 2) meet z = height."""
        rays = self.rays(points_px) @ self.rotation
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


@dataclass(frozen=True, slots=True)
class DoubtedCamera:
    """A camera and the independent causes that may move it.

    Attributes
    ----------
    best : Camera
        The most likely one.
    moves : ndarray, shape (K, 10)
        What each cause does at one standard uncertainty: to the logarithm of the focal length, to
        the principal point [px], turning the world about its origin [rad], moving that [mm], and to
        the bend of the lens.
    """

    best: Camera
    moves: Array

    @classmethod
    def of(cls, best: Camera, variants: Iterable[Camera] = ()) -> "DoubtedCamera":
        """Return it from cameras, each as one cause would have it at one standard uncertainty."""
        rows = [
            np.concatenate(
                [
                    [np.log(other.focal_px / best.focal_px)],
                    other.centre_px - best.centre_px,
                    Rotation.from_matrix(best.rotation.T @ other.rotation).as_rotvec(),
                    other.translation_mm - best.translation_mm,
                    [other.lens - best.lens],
                ]
            )
            for other in variants
        ]
        return cls(best, np.array(rows).reshape(-1, 10))

    @property
    def causes(self) -> int:
        """How many causes there are."""
        return len(self.moves)

    def at(self, shifts: Array) -> Camera:
        """Return the camera where each cause is off by a number of standard uncertainties (K,)."""
        if not np.any(shifts):
            return self.best
        move = shifts @ self.moves
        return Camera(
            float(self.best.focal_px * np.exp(move[0])),
            self.best.centre_px + move[1:3],
            self.best.rotation @ _turn(move[3:6]),
            self.best.translation_mm + move[6:9],
            float(self.best.lens + move[9]),
        )


def _turn(vector: Array) -> Array:
    """Return the rotation matrix of a rotation vector [rad]: Rodrigues's formula."""
    angle = float(np.linalg.norm(vector))
    if angle < 1e-12:
        return np.eye(3)
    x, y, z = vector / angle
    k = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    return np.asarray(np.eye(3) + np.sin(angle) * k + (1.0 - np.cos(angle)) * (k @ k))
