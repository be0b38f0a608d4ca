"""A photo made ready for looking for references: once, for every finder."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from vision._cv import Floats, blurred, lab, reduced
from vision.photo import Photo
from vision.references.lines import Lines, find_lines, find_lines_afar, find_lines_each_way
from vision.references.pose import Unknown, focal_prior

REDUCED_PX = 800


@dataclass(frozen=True)  # without slots, so that its lines are found once
class View:
    """A photo at two sizes.

    Attributes
    ----------
    rgb : ndarray of uint8, shape (H, W, 3)
        Whole photo.
    small : ndarray, shape (h, w, 3)
        Reduced copy in L*a*b*.
    smooth : ndarray, shape (h, w, 3)
        The same, a little blurred.
    factor : float
        Size of the reduced copy over that of the photo [-].
    focal : Unknown
        Logarithm of the focal length [px].
    """

    rgb: NDArray[np.uint8]
    small: Floats
    smooth: Floats
    factor: float
    focal: Unknown

    @property
    def focal_px(self) -> float:
        """Most likely focal length in the whole photo [px]."""
        return float(np.exp(self.focal.value))

    @property
    def centre_px(self) -> NDArray[np.float64]:
        """Principal point, taken in the middle of the picture, shape (2,) [px]."""
        return (np.array(self.rgb.shape[1::-1]) - 1.0) / 2.0

    @cached_property
    def lines(self) -> Lines:
        """Long straight lines of the reduced copy [px]."""
        return find_lines(self.small, self.smooth)

    @cached_property
    def lines_afar(self) -> Lines:
        """The same as seen from afar, where fine print runs together [px]."""
        return find_lines_afar(self.small)

    @cached_property
    def lines_each_way(self) -> Lines:
        """The clearest of each direction, where a table's own crowd out all others [px]."""
        return find_lines_each_way(self.small, self.smooth)


def view_of(photo: Photo) -> View:
    """Return a photo made ready."""
    small_rgb, factor = reduced(photo.rgb, REDUCED_PX)
    small = lab(small_rgb)
    focal = focal_prior(photo.rgb.shape, photo.focal_35mm)
    return View(photo.rgb, small, blurred(small, 1.2), factor, focal)
