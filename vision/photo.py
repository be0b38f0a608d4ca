"""A decoded photo."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class Photo:
    """Upright pixels and what the camera said of itself; never the place.

    Attributes
    ----------
    rgb : ndarray of uint8, shape (H, W, 3)
        Picture after the orientation tag was applied.
    sha256 : str
        Hash of the bytes as they came: the key of every cache.
    name : str
        File name, for messages.
    focal_35mm : float or None
        35 mm equivalent focal length, from EXIF [mm].
    """

    rgb: NDArray[np.uint8]
    sha256: str
    name: str
    focal_35mm: float | None
