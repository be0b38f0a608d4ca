"""How far outside a tube lines of sight pass as the camera moves within its doubts: derivatives."""

import numpy as np
from numpy.typing import NDArray

from vision.camera import Camera, DoubtedCamera
from vision.touching import Touch, Traced, across

Array = NDArray[np.float64]


def moves_of_residuals(camera: DoubtedCamera, shifts: Array, traced: Traced, there: Touch) -> Array:
    """Return how the residuals of points change with each cause of doubt, (N, K) [px].

    Parameters
    ----------
    camera : DoubtedCamera
        The camera, with K causes.
    shifts : ndarray, shape (K,)
        How far each is off [standard uncertainties].
    traced : Traced
        N points of the outline.
    there : Touch
        Where their lines of sight touch the tube, through the camera at those shifts.
    """
    here, point = camera.at(shifts), there.point_mm
    beside = across(point, there.sight)
    way = beside / (np.sqrt((beside**2).sum(axis=1, keepdims=True)) + 1e-9)
    turned, shifted = camera.turns_at(shifts), camera.moves[:, 6:9]
    # The tube moves square to the line of sight, and along the camera's own axis.
    x, y, z = (point - here.translation_mm).T
    a, b, c = way.T
    moment = np.column_stack([y * c - z * b, z * a - x * c, x * b - y * a])
    aside = moment @ turned.T + way @ shifted.T
    deeper = np.outer(y, turned[:, 0]) - np.outer(x, turned[:, 1]) + shifted[:, 2]
    depth = point[:, 2:]
    outside = (there.residual_px + traced.beyond_px)[:, None]
    swept = _sweep(here, camera.moves, traced.points_px, way)
    along = (point * there.sight).sum(axis=1, keepdims=True)
    moved = here.focal_px / depth * (aside - along * swept)
    return np.asarray(moved + outside * (camera.moves[:, 0] - deeper / depth))


def _sweep(camera: Camera, moves: Array, points_px: Array, way: Array) -> Array:
    """Return by how much lines of sight turn towards directions (N, 3) with each cause (N, K)."""
    flat = (points_px - camera.centre_px) / camera.focal_px
    square = (flat**2).sum(axis=1, keepdims=True)
    shrunk = 1.0 / (1.0 + camera.lens * square)
    towards = (flat * way[:, :2]).sum(axis=1, keepdims=True)
    focal, centre, lens = moves[:, 0], moves[:, 1:3] / camera.focal_px, moves[:, 9]
    # A longer focal length draws a point in, a moved middle aside, the lens both.
    plain = -(way[:, :2] @ centre.T) - towards * focal
    out = -(flat @ centre.T) - square * focal
    turned = shrunk * plain - towards * shrunk**2 * (2.0 * camera.lens * out + square * lens)
    return np.asarray(turned / np.sqrt(1.0 + square * shrunk**2))
