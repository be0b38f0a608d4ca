"""The scale of a photo: a camera over the table, with what could be wrong about it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vision.camera import Camera


@dataclass(frozen=True, slots=True)
class Reference:
    """What lies beside the spring.

    Attributes
    ----------
    kind : str
        As named on the command line: ``card``, ``coin:EUR-2``, ``ruler:mm``, ``paper:A4``.
    size_mm : tuple of float
        Diameter, or long and short side, or distance of graduations [mm].
    u_mm : float
        Standard uncertainty of the size, from its tolerance and wear [mm].
    thickness_mm : float
        Height of the outline seen above the table [mm].
    source : str
        Where the numbers come from.
    """

    kind: str
    size_mm: tuple[float, ...]
    u_mm: float
    thickness_mm: float
    source: str


@dataclass(frozen=True, slots=True)
class Scale:
    """A camera and its doubts.

    Attributes
    ----------
    camera : Camera
        The best one; z = 0 is the plane on which the spring rests.
    variants : tuple of (str, Camera)
        Independent causes of error, each as the camera that it would give at one standard
        uncertainty. A result's covariance from scale is the sum of outer products of its
        changes over them.
    reference : Reference
        What was found.
    outline_px : ndarray, shape (N, 2)
        Its outline in the photo [px], to draw and to keep clear of.
    residual_px : float
        How well the reference fits, rms [px].
    flags : tuple of str
        Codes of what should be told.
    """

    camera: Camera
    variants: tuple[tuple[str, Camera], ...]
    reference: Reference
    outline_px: NDArray[np.float64]
    residual_px: float
    flags: tuple[str, ...] = ()
