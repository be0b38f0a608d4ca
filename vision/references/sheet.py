"""The printed sheet of markers: pose, scale and the lens's bend from every corner seen."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from vision._cv import homography, markers
from vision.camera import Camera
from vision.reference import SHEET, Reference
from vision.references.finding import Finding
from vision.references.pose import Problem, Solution, Unknown, solve
from vision.references.view import View
from vision.sheet_layout import CHECK_LINE_MM, Layout, layout, layout_of

Array = NDArray[np.float64]

FEWEST = 3  # markers of one sheet
U_CORNER_PX = 0.1
U_INK_MM = 0.06  # by how much ink spreads beyond each side, twice: a marker's side grows
WORST_PX = 5.0  # misfit of a marker that is none, or lies on a fold
LARGEST_LENS = 0.03  # standard uncertainty of a lens's bend that the sheet itself shows
OUTLINE_POINTS = 12


@dataclass(frozen=True, slots=True)
class Seen:
    """Markers of one sheet: corners in the photo and on the sheet, (N, 4, 2) [px] and [mm]."""

    sheet: Layout
    corners_px: Array
    corners_mm: Array


def find(view: View, reference: Reference) -> list[Finding]:
    """Return the printed sheet of a photo, in a list, empty where there is none.

    Parameters
    ----------
    view : View
        The photo.
    reference : Reference
        The sheet, with the length of its check line as printed.
    """
    seen = _seen(view)
    if seen is None:
        return []
    for _ in range(3):
        start = _start_camera(view, seen, reference)
        solution = solve(_problem(view, seen, reference), start, view.focal)
        off = np.linalg.norm(_off(solution, seen, reference), axis=2).max(axis=1)
        good = off < max(WORST_PX, 4.0 * float(np.median(off)))
        if good.all():
            return [_finding(solution, seen, reference)]
        seen = replace(seen, corners_px=seen.corners_px[good], corners_mm=seen.corners_mm[good])
        if len(seen.corners_px) < FEWEST:
            break
    return []


def _seen(view: View) -> Seen | None:
    """Return the markers of the sheet that shows most of them, or None where too few are seen."""
    found = markers(view.rgb)
    sheets = [layout_of(number) for number, _ in found]
    papers = [s.paper for s in sheets if s is not None]
    if not papers:
        return None
    sheet = layout(max(set(papers), key=papers.count))
    own = {number: corners for number, corners in found if number in sheet.ids}
    if len(own) < FEWEST:
        return None
    mm = np.array([sheet.corners(number) for number in own])
    return Seen(sheet, np.array(list(own.values())), mm)


def _start_camera(view: View, seen: Seen, reference: Reference) -> Camera:
    """Return the camera that sees the markers where they are, nearly."""
    printed = reference.size_mm[0] / CHECK_LINE_MM
    flat = (seen.corners_px.reshape(-1, 2) - view.centre_px) / view.focal_px
    map_ = homography(seen.corners_mm.reshape(-1, 2) * printed, flat)
    map_ = map_ / np.linalg.norm(map_[:, :2], axis=0).mean() * np.sign(map_[2, 2])
    first, second = map_[:, 0], map_[:, 1]
    left, _, right = np.linalg.svd(np.column_stack([first, second, np.cross(first, second)]))
    return Camera(view.focal_px, view.centre_px, left @ right, map_[:, 2])


def _problem(view: View, seen: Seen, reference: Reference) -> Problem:
    """Return the rows of all corners; what the printer did is among the unknowns."""
    unknowns = (
        Unknown("print size", reference.size_mm[0], reference.u_mm),
        Unknown("edges", 0.0, U_INK_MM),
    )

    def residuals(camera: Camera, values: Array) -> Array:
        off = seen.corners_px - _corners(camera, seen, values)
        return np.asarray(off.ravel() / U_CORNER_PX)

    return Problem(residuals, unknowns, ("edges",) * seen.corners_px.size, LARGEST_LENS)


def _corners(camera: Camera, seen: Seen, values: Array) -> Array:
    """Return where the corners are seen (N, 4, 2) [px] at a length of the line and spread ink."""
    printed, ink = values
    middle = seen.corners_mm.mean(axis=1, keepdims=True)
    mm = seen.corners_mm * printed / CHECK_LINE_MM + 0.5 * ink * np.sign(seen.corners_mm - middle)
    flat = mm.reshape(-1, 2)
    return camera.project(np.column_stack([flat, np.zeros(len(flat))])).reshape(mm.shape)


def _off(solution: Solution, seen: Seen, reference: Reference) -> Array:
    return np.asarray(seen.corners_px - _corners(solution.camera, seen, solution.values))


def _finding(solution: Solution, seen: Seen, reference: Reference) -> Finding:
    off = _off(solution, seen, reference)
    spare = max(off.size - 10, 1)
    misfit = float(np.sqrt(np.sum((off / U_CORNER_PX) ** 2) / spare))
    corners = seen.sheet.field_corners() * reference.size_mm[0] / CHECK_LINE_MM
    share = np.linspace(0.0, 1.0, OUTLINE_POINTS, endpoint=False)[:, None]
    sides = [
        a + share * (b - a) for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True)
    ]
    edge = np.vstack(sides)
    outline = solution.camera.project(np.column_stack([edge, np.zeros(len(edge))]))
    flags = ("print-unchecked",) if reference == SHEET else ()
    return Finding(
        reference,
        solution.widened(max(1.0, misfit)),
        outline,
        float(np.sqrt(np.mean(off**2))),
        1.0,
        misfit > 8.0,
        flags,
    )
