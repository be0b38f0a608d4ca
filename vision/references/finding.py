"""What every finder of a reference returns."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vision.reference import Reference
from vision.references.circles import Ring
from vision.references.pose import Solution
from vision.references.rim_reader import Rims
from vision.references.slant import Told


@dataclass(frozen=True, slots=True)
class LoneCoin:
    """What tells the slant where one coin lies alone, and tells it badly.

    Attributes
    ----------
    rim : Ring
        Its rim, as first read.
    read : Rims
        Rim and outline, as read again about that.
    within : tuple of Ring
        Rings of its face.
    squares : Told or None
        What squares on the table tell.
    """

    rim: Ring
    read: Rims
    within: tuple[Ring, ...]
    squares: Told | None


@dataclass(frozen=True, slots=True)
class Finding:
    """A reference in a photo and the camera that explains it.

    Attributes
    ----------
    reference : Reference
        What it is.
    solution : Solution
        Camera and its doubts.
    outline_px : ndarray, shape (N, 2)
        Its outline [px].
    residual_px : float
        How well it fits, rms [px].
    score : float
        How much it stands out against others of one photo [-].
    misshapen : bool
        Its shape is off by more than its tolerance and the edges' doubt explain.
    flags : tuple of str
        Codes of what else should be told.
    lone_coin : LoneCoin or None
        The coin that alone tells the slant.
    """

    reference: Reference
    solution: Solution
    outline_px: NDArray[np.float64]
    residual_px: float
    score: float
    misshapen: bool = False
    flags: tuple[str, ...] = ()
    lone_coin: LoneCoin | None = None
