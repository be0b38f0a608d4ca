"""Cards and sheets of paper: four straight sides of known length."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vision._cv import Floats, enlarge_points, reduced, sample
from vision.camera import Camera
from vision.marks import u_tap_px
from vision.reference import Reference
from vision.references.edges import LEAST_COVERED, Edge, straight_edge
from vision.references.finding import Finding
from vision.references.lines import (
    LEAST_SIDE,
    Lines,
    quadrilaterals,
)
from vision.references.pose import Problem, Unknown, solve
from vision.references.running_on import MOST_RUNNING_ON, running_on
from vision.references.view import View

Array = NDArray[np.float64]

# A card's corners are round, 3.18 mm: its sides are used from here on.
CORNER_MM = 5.0
LOOSE = 0.06  # at reduced size, how far the shape may be off [-]
MOST_REFINED = 6
NEAREST_MM, FARTHEST_MM = 50.0, 1500.0  # a hand-held phone over a table
STEEPEST_DEG = 45.0
WORST_SHAPE = 0.004  # rms of the sides' misfit, of the long side [-]
LEAST_SCORE, LEAST_AFAR = 0.7, 0.96
# The lines of a printed grid run on past the corners, the sides of a thing do not.
# Two of the twelve rows and priors are left over by the camera, the sizes and the height.
SPARE, USUAL_CHI2 = 2, 6.0
# Corners marked by hand: the size at which sides are sought near them, and the worst misfit.
MARKED_PX, MARKED_CHI2 = 500, 30.0


@dataclass(frozen=True, slots=True)
class Rectangle:
    """A rectangle in the photo and which reference it would be.

    Attributes
    ----------
    reference : Reference
        What it would be.
    corners : ndarray, shape (4, 2)
        Sharp corners in turn, the first side a long one [px].
    edges : tuple of Edge
        Its sides, from corner 0 to 1, 1 to 2, 2 to 3 and 3 to 0.
    seen : float
        Part of the outline that stands out from what lies around it [-].
    """

    reference: Reference
    corners: Array
    edges: tuple[Edge, ...]
    seen: float


def find(view: View, references: Sequence[Reference]) -> list[Finding]:
    """Return the rectangles of a photo that may be one of the references.

    Parameters
    ----------
    view : View
        The photo.
    references : sequence of Reference
        What it may be.
    """
    return _among(view, view.lines, references)


def find_surely(view: View, references: Sequence[Reference]) -> list[Finding]:
    """Return those of `find`, and where some are but none is sure those of `find_afar` too.

    What lies on a card may be of its shape and clearer, and lines of the table may make one up.
    """
    found = find(view, references)
    if not found or _sure(found):
        return found
    return [*found, *find_afar(view, references)]


def find_asked(view: View, reference: Reference) -> list[Finding]:
    """Return where the reference lies that is said to lie there.

    Where `find` is not sure of it a long part of its sides may be covered, or it is seen from afar
    alone: what else is of its shape, such as print, must not pass for it.
    """
    found = find(view, (reference,))
    if _sure(found):
        return found
    others = find_covered(view, (reference,)) or find_afar(view, (reference,))
    return [*found, *others] or find_each_way(view, (reference,))


def find_covered(view: View, references: Sequence[Reference]) -> list[Finding]:
    """Return those of which a long part of a side or two is covered, with the same parameters.

    So little of a side may be anything's: only what fits as well as from afar is one.
    """
    return _sure(_among(view, view.lines, references, covered=True))


def find_afar(view: View, references: Sequence[Reference]) -> list[Finding]:
    """Return them where fine lines of the table hid them from `find`, with the same parameters.

    So far off much looks like a rectangle: only what stands out all round and fits is one.
    """
    return _sure(_among(view, view.lines_afar, references))


def find_each_way(view: View, references: Sequence[Reference]) -> list[Finding]:
    """Return them where the ribs or threads of the table crowded their sides out.

    A table has lines enough to make up a shape: only what stands out all round and fits is one.
    """
    return _sure(_among(view, view.lines_each_way, references))


def _sure(found: list[Finding]) -> list[Finding]:
    """Return those that stand out all round and fit."""
    return [f for f in found if f.score > LEAST_AFAR and not f.misshapen]


def _among(
    view: View,
    lines: Lines,
    references: Sequence[Reference],
    covered: bool = False,
) -> list[Finding]:
    """Return the rectangles whose sides are among the lines."""
    least = LEAST_COVERED if covered else LEAST_SIDE
    quads = quadrilaterals(lines, view.small.shape, least_side=least)
    found = []
    for reference in references:
        shaped = _of_shape(quads, view.small, view.focal_px * view.factor, reference)
        for quad, runs_on in zip(shaped, running_on(view.smooth, shaped), strict=True):
            if runs_on < MOST_RUNNING_ON:
                seen = _seen(view.small, quad)
                found.append((seen - runs_on, seen, quad, reference))
    found.sort(key=lambda f: -f[0])
    findings = []
    for _, seen, quad, reference in found[:MOST_REFINED]:
        there = enlarge_points(quad, view.factor)
        refined = _refined(view.rgb, there, reference, seen, covered)
        explained = refined and _explained(refined, view.rgb.shape, view.focal)
        if explained:
            findings.append(explained)
    return findings


def marked(view: View, corners_px: Array, references: Sequence[Reference]) -> Finding | None:
    """Return the rectangle at four marked corners, its sides found near the marks.

    Where no side stands out from the table the marks themselves count, as unsure as a finger is.

    Parameters
    ----------
    view : View
        The photo.
    corners_px : ndarray, shape (4, 2)
        The marks in any order [px].
    references : sequence of Reference
        What it may be; that whose shape suits best is taken.
    """
    around = corners_px - corners_px.mean(axis=0)
    turn = corners_px[np.argsort(np.arctan2(around[:, 1], around[:, 0]))]
    small, factor = reduced(view.rgb, MARKED_PX)
    found: list[Finding] = []
    for reference in references:
        for start in (0, 1):
            corners = np.roll(turn, -start, axis=0)
            rough = _refined(small, (corners + 0.5) * factor - 0.5, reference, 1.0)
            near = corners if rough is None else enlarge_points(rough.corners, factor)
            fine = _refined(view.rgb, near, reference, 1.0)
            explained = fine and _explained(fine, view.rgb.shape, view.focal)
            if explained:
                found.append(explained)
    if found:
        return max(found, key=lambda f: f.score)
    return _by_marks(view, turn, references)


def _by_marks(view: View, turn: Array, references: Sequence[Reference]) -> Finding | None:
    """Return the camera that explains the marks alone, or None where no reference suits."""
    u_px = u_tap_px(view.rgb.shape)
    best: tuple[float, Finding] | None = None
    for reference in references:
        for start in (0, 1):
            corners = _from_above(np.roll(turn, -start, axis=0))
            sides = [corners[[k, (k + 1) % 4]] for k in range(4)]
            edges = tuple(Edge(side, u_px, side, 0.0) for side in sides)
            rectangle = Rectangle(reference, corners, edges, 1.0)
            camera = _start_camera(rectangle, view.rgb.shape, view.focal_px)
            solution = solve(_problem(rectangle, camera), camera, view.focal)
            if solution.chi2 > MARKED_CHI2 or solution.camera.tilt_deg > STEEPEST_DEG:
                continue
            flags = ("marked-by-hand",)
            found = Finding(reference, solution, corners, u_px, 1.0, flags=flags)
            if best is None or solution.chi2 < best[0]:
                best = (solution.chi2, found)
    return best[1] if best else None


def _of_shape(quads: Array, small: Floats, focal_px: float, reference: Reference) -> Array:
    """Return the shapes (N, 4, 2) nearly the reference's, first side long, from near enough."""
    centre = (np.array(small.shape[1::-1]) - 1.0) / 2.0
    long, short = reference.size_mm
    good = []
    for start in (0, 1):
        turned = np.roll(quads, -start, axis=1)
        columns = _columns(turned, centre, focal_px)
        first, second = (np.linalg.norm(columns[:, k], axis=1) for k in (0, 1))
        lean = (columns[:, 0] * columns[:, 1]).sum(axis=1) / (first * second)
        far = np.linalg.norm(columns[:, 2], axis=1) * long / first
        fits = (np.abs(first / second * short / long - 1.0) < LOOSE) & (np.abs(lean) < LOOSE)
        good.append(turned[fits & (far > NEAREST_MM) & (far < FARTHEST_MM)])
    return np.concatenate(good)


def _columns(quads: Array, centre: Array, focal_px: float) -> Array:
    """Return, for each shape (N, 4, 2), the rays (N, 3, 3) of its two sides and its first corner.

    They are the columns of the projective map from the unit square (Heckbert 1989, from memory).
    """
    p = (quads - centre) / focal_px
    one, two, both = p[:, 1] - p[:, 2], p[:, 3] - p[:, 2], p[:, 0] - p[:, 1] + p[:, 2] - p[:, 3]
    area = one[:, 0] * two[:, 1] - two[:, 0] * one[:, 1]
    g = (both[:, 0] * two[:, 1] - two[:, 0] * both[:, 1]) / area
    h = (one[:, 0] * both[:, 1] - both[:, 0] * one[:, 1]) / area
    first = np.column_stack([p[:, 1] - p[:, 0] + g[:, None] * p[:, 1], g])
    second = np.column_stack([p[:, 3] - p[:, 0] + h[:, None] * p[:, 3], h])
    return np.stack([first, second, np.column_stack([p[:, 0], np.ones(len(p))])], axis=1)


def _seen(lab: Floats, corners: Array, beside_px: float = 3.0) -> float:
    """Return which part of the outline has another colour inside than outside."""
    along = np.roll(corners, -1, axis=0) - corners
    points = corners[:, None] + along[:, None] * np.linspace(0.1, 0.9, 40)[:, None]
    normal = along[:, ::-1] * [-1.0, 1.0] / np.linalg.norm(along, axis=1, keepdims=True)
    shift = beside_px * normal[:, None]
    apart = np.linalg.norm(sample(lab, points + shift) - sample(lab, points - shift), axis=-1)
    return float(np.mean(np.minimum(apart / 4.0, 1.0)))


def _refined(
    rgb: NDArray[np.uint8],
    corners: Array,
    reference: Reference,
    seen: float,
    covered: bool = False,
) -> Rectangle | None:
    """Return the rectangle with its sides to a fraction of a pixel."""
    corners = _from_above(corners)
    middle = corners.mean(axis=0)
    edges = []
    for k in range(4):
        ends = corners[[k, (k + 1) % 4]]
        skip = CORNER_MM / reference.size_mm[k % 2]
        part = ends[0] + np.array([[skip], [1.0 - skip]]) * (ends[1] - ends[0])
        edge = straight_edge(rgb, part, middle, 9.0, covered)
        if edge is None:
            return None
        edges.append(edge)
    sharp = np.array([_meeting(edges[k - 1].ends, edges[k].ends) for k in range(4)])
    return Rectangle(reference, sharp, tuple(edges), seen)


def _from_above(corners: Array) -> Array:
    """Return the corners in the turn in which x, y and up are right-handed."""
    first, last = corners[1] - corners[0], corners[3] - corners[0]
    return corners[[1, 0, 3, 2]] if first[0] * last[1] - first[1] * last[0] > 0 else corners


def _meeting(one: Array, two: Array) -> Array:
    """Return where two lines, each through two points (2, 2), meet."""
    ways = np.column_stack([one[1] - one[0], two[0] - two[1]])
    return np.asarray(one[0] + np.linalg.solve(ways, two[0] - one[0])[0] * (one[1] - one[0]))


def _explained(rectangle: Rectangle, shape: tuple[int, ...], focal: Unknown) -> Finding | None:
    """Return the camera that explains a rectangle, or None where none does."""
    start = _start_camera(rectangle, shape, float(np.exp(focal.value)))
    solution = solve(_problem(rectangle, start), start, focal)
    u_px = float(np.mean([e.u_px for e in rectangle.edges]))
    residual_px = float(np.sqrt(solution.chi2 / SPARE)) * u_px
    long_px = float(np.linalg.norm(rectangle.corners[1] - rectangle.corners[0]))
    # Of shapes equally seen, such as the card and a part of its print, the truer one.
    misfit = residual_px / long_px
    score = rectangle.seen - 60.0 * misfit
    if misfit > WORST_SHAPE or score < LEAST_SCORE or solution.camera.tilt_deg > STEEPEST_DEG:
        return None
    return Finding(
        rectangle.reference,
        solution.widened(np.sqrt(max(1.0, solution.chi2 / SPARE))),
        rectangle.corners,
        residual_px,
        score,
        solution.chi2 > USUAL_CHI2,
    )


def _start_camera(rectangle: Rectangle, shape: tuple[int, ...], focal_px: float) -> Camera:
    """Return the camera that sees the corners where they are, nearly."""
    centre = (np.array(shape[1::-1]) - 1.0) / 2.0
    columns = _columns(rectangle.corners[None], centre, focal_px)[0]
    long, short = rectangle.reference.size_mm
    first, second = (c / np.linalg.norm(c) for c in columns[:2])
    left, _, right = np.linalg.svd(np.column_stack([first, second, np.cross(first, second)]))
    turn = left @ right
    corner = columns[2] * long / np.linalg.norm(columns[0])
    offset = np.array([-long / 2.0, -short / 2.0, rectangle.reference.thickness_mm])
    return Camera(focal_px, centre, turn, corner - turn @ offset)


def _problem(rectangle: Rectangle, start: Camera) -> Problem:
    """Return the rows of the sides: each must lie half the rectangle's size from its middle."""
    reference = rectangle.reference
    thickness = reference.thickness_mm
    ends = np.concatenate([e.ends for e in rectangle.edges])
    u_px = np.repeat([e.u_px for e in rectangle.edges], 2)
    axis, rows = np.repeat([1, 0, 1, 0], 2), np.arange(8)
    side = np.repeat([-0.5, 0.5, 0.5, -0.5], 2)
    step = start.at_height(ends + 0.7, thickness) - start.at_height(ends - 0.7, thickness)
    u_mm = u_px * np.linalg.norm(step, axis=1) / np.hypot(1.4, 1.4)

    def residuals(camera: Camera, values: Array) -> Array:
        seen = camera.at_height(ends, values[2])[rows, axis]
        return np.asarray((seen - side * values[axis]) / u_mm)

    cause = f"{reference.kind.split(':')[0]} size"
    sizes = [Unknown(cause, size, reference.u_mm) for size in reference.size_mm]
    height = Unknown("thickness", thickness, max(0.05 * thickness, 0.01))
    return Problem(residuals, (*sizes, height), ("edges",) * 8)
