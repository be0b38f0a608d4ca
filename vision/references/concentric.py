"""The coin around a ring: a circle farther out, about the same middle, where the table begins.

The border between two metals, or the groove within a rim, may be the clearest circle of a coin,
while its outline is faint on a table of its own colour. A table knows nothing of the ring's middle:
where colours change at one distance from it all the way round, the coin goes on as far as that.
"""

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, maximum_filter1d

from vision._cv import lab, sample
from vision.references.circles import Ring, around, harmonics, ring_about

Array = NDArray[np.float64]
Pixels = NDArray[np.uint8]

#: Where a coin may go on, of the ring's radius: nearer lie the foot of its wall and the border of
#: its shadow; the smallest core of two metals that is known (2 CAD) is 0.57 of its coin.
NEAREST, FARTHEST = 1.1, 1.9
AROUND, FINEST_PX, STEPS, SMOOTH_STEPS = 120, 0.5, 400, 2.4
#: Steepness of the usual change of colour on all rays, of a usual place's on one ray; on which part
#: of the rays half of it must show, within so many steps; and which part the photo must hold.
#: Measured: a rim beyond a ring has 8 and 0.96, shadows, foots and print up to 3 and 0.86.
LEAST_STEEP, LEAST_SHARE, NEAR_STEPS, LEAST_WITHIN = 4.5, 0.88, 3, 0.7
#: The same where a coin's look speaks for a rim farther out, or where one is to be doubted: around
#: the outlines of tuning photos it is 1.05 at most, around the core of one taken from afar 3.3.
FAINT_STEEP, FAINT_SHARE = 2.0, 0.75


def widened(rgb: Pixels, ring: Ring, faint: bool = False) -> Ring:
    """Return the outermost circle about a ring's middle that is seen all the way round.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (H, W, 3)
        Whole photo.
    ring : Ring
        What was found, which is returned where there is none.
    faint : bool
        Whether one that is seen badly will do.
    """
    least_steep, least_share = (FAINT_STEEP, FAINT_SHARE) if faint else (LEAST_STEEP, LEAST_SHARE)
    radii, slope = _slopes(rgb, ring)
    if len(radii) < 2 * NEAR_STEPS:
        return ring
    usual = np.nanmedian(slope, axis=0)
    steep = np.linalg.norm(usual, axis=1)
    texture = float(np.nanmedian(np.linalg.norm(slope, axis=2)))
    peak = (steep >= maximum_filter1d(steep, 9)) & (steep > least_steep * texture)
    for k in np.flatnonzero(peak)[::-1]:
        if not NEAR_STEPS < k < len(radii) - NEAR_STEPS:
            continue
        near = slope[:, k - NEAR_STEPS : k + NEAR_STEPS + 1] @ (usual[k] / steep[k])
        within = np.isfinite(near).all(axis=1)
        shown = near[within].max(axis=1) > 0.5 * steep[k]
        if shown.mean() > least_share:
            outer = ring_about(rgb, ring, float(radii[k]))
            if outer is not None:
                return outer
    return ring


def _slopes(rgb: Pixels, ring: Ring) -> tuple[Array, Array]:
    """Return radii (R,) [px] and how colours change with them, (AROUND, R, 3) [L*a*b* a pixel].

    They are as oval as the ring, and end where too much lies outside the photo; NaN where it does.
    """
    low, high = NEAREST * ring.radius_px, FARTHEST * ring.radius_px
    step = max(FINEST_PX, high / STEPS)
    radii = np.arange(low, high, step)
    lean = np.array([1.0, 0.0, 0.0, *(ring.shape[3:] / ring.radius_px)])
    reach = (harmonics(AROUND) @ lean)[:, None] * radii
    points = ring.middle + reach[..., None] * around(AROUND)[:, None]
    last = np.array(rgb.shape[1::-1]) - 1.0
    colours = np.clip(sample(rgb, np.clip(points, 0.0, last)), 0, 255).astype(np.uint8)
    slope = gaussian_filter1d(lab(colours).astype(np.float64), SMOOTH_STEPS, axis=1, order=1) / step
    outside = ((points < 0.0) | (points > last)).any(axis=2)
    slope[outside] = np.nan
    known = int((outside.mean(axis=0) < 1.0 - LEAST_WITHIN).sum())
    return radii[:known], slope[:, :known]
