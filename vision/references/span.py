"""A length known between two marked points: the scale where nothing else was found."""

import numpy as np
from numpy.typing import NDArray

from vision.camera import Camera
from vision.marks import u_tap_px
from vision.reference import Reference
from vision.references.finding import Finding
from vision.references.pose import Problem, Unknown, solve
from vision.references.view import View

Array = NDArray[np.float64]

#: Two points tell no slant: how people hold a phone over a table (a judgement) [rad].
U_SLANT = np.radians(8.0)
#: Height of what was marked, where nobody knows it: between table and a thick ruler [mm].
HEIGHT_MM, U_HEIGHT_MM = 0.5, 0.4
#: Reading of the owner's distance: half a graduation each way (a judgement) [mm].
U_DISTANCE_MM = 0.2
#: Place and turn of the world on the table mean nothing, but must not be left free.
_FREE = 1e-3


def owners_length(distance_mm: float) -> Reference:
    """Return the reference that two marks of known distance are."""
    source = "the owner's own marks"
    return Reference("marks", (distance_mm,), U_DISTANCE_MM, HEIGHT_MM, source)


def marked(view: View, points_px: Array, reference: Reference) -> Finding:
    """Return the camera that sees two points at the reference's length.

    Parameters
    ----------
    view : View
        The photo.
    points_px : ndarray, shape (2, 2)
        The marks [px].
    reference : Reference
        Its first size is their distance.
    """
    middle = points_px.mean(axis=0)
    apart_px = float(np.linalg.norm(points_px[1] - points_px[0]))
    size, height = reference.size_mm[0], reference.thickness_mm
    far = view.focal_px * size / apart_px
    ray = np.append((middle - view.centre_px) / view.focal_px, 1.0) * far
    along = (points_px[1] - points_px[0]) / apart_px
    axes = np.column_stack([[*along, 0.0], [along[1], -along[0], 0.0], [0.0, 0.0, -1.0]])
    start = Camera(view.focal_px, view.centre_px, axes, ray - height * axes[:, 2])
    u_mm = np.sqrt(2.0) * u_tap_px(view.rgb.shape) * size / apart_px

    def residuals(camera: Camera, values: Array) -> Array:
        one, other = camera.at_height(points_px, values[1])[:, :2]
        off = (float(np.linalg.norm(other - one)) - values[0]) / u_mm
        slant = camera.rotation[:2, 2] / U_SLANT
        held = np.append((one + other) / 2.0, (other - one)[1]) / (_FREE * size)
        return np.concatenate([[off], slant, held])

    u_height = U_HEIGHT_MM if reference.kind == "marks" else 0.1
    unknowns = (
        Unknown("size", size, reference.u_mm),
        Unknown("thickness", height, u_height),
    )
    causes = ("marks", "tilt", "tilt", "marks", "marks", "marks")
    solution = solve(Problem(residuals, unknowns, causes), start, view.focal)
    return Finding(reference, solution, _outline(points_px), 0.0, 1.0, flags=("marked-by-hand",))


def _outline(points_px: Array) -> Array:
    """Return a thin bar between the marks, to draw and to keep clear of."""
    along = points_px[1] - points_px[0]
    side = 0.01 * np.array([-along[1], along[0]])
    return np.vstack([points_px + side, (points_px - side)[::-1]])
