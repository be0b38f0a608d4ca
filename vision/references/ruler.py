"""Rulers: graduations a known distance apart, square to a straight edge."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from vision._cv import enlarge_points, grey_of, sample, sample_grey
from vision.camera import Camera
from vision.reference import RULERS, Reference
from vision.references.edges import Edge, straight_edge
from vision.references.finding import Finding
from vision.references.graduation import graduation
from vision.references.lines import Lines
from vision.references.pose import Problem, Unknown, solve, turned
from vision.references.ticks import (
    REACH_PX,
    Rhythm,
    Strip,
    Ticks,
    read_ticks,
    rhythm,
    strip_of,
)
from vision.references.view import View

Array = NDArray[np.float64]

SHORTEST_PX, COVERED, MOST_LINES = 120.0, 0.5, 16  # of lines of the reduced copy
RIM_PX = 12.0  # of the reduced copy: what ends so near its rim is cut by it
FEW_EDGES = 2  # so few are found where a table's print crowds them out
MOST_ALIKE, ALIKE = 5, np.cos(np.radians(6.0))  # of one direction, and what is one
CLEAR_LEAN = 0.5  # third moment of the greys along a row that tells light marks from dark ones
WIDEST, FARTHEST_PX = 0.35, 120.0  # a ruler over its length; from its marks to its edge
LONGEST = 6.0  # length of the longest marks in graduations: common practice, no source
BEYOND = 0.5  # how far past a line's ends graduations are looked for, of its length
# After how many graduations the longest come back: the unit of the ruler and its part [mm].
PATTERNS_MM = {5: 1.0, 10: 1.0, 20: 0.5}
PATTERNS_INCH = {8: 25.4 / 8, 16: 25.4 / 16, 32: 25.4 / 32, 64: 25.4 / 64}
# Common practice, no source: steel 0.5 to 1 mm, clear plastic to 1.5; wood and plastic 1.5 to 3.
THIN_MM, THICK_MM, LEAST_COLOUR = 0.7, 2.2, 8.0
U_THIN_MM, U_HEIGHT = 0.2, 0.2
U_MARK_PX = 0.2  # uneven ink and light pull a whole row alike
U_SQUARE = 0.002  # the marks may lean off the edge's normal [rad]
# Seen steeply, straight down is too far from the truth to start from: where the marks are off by
# more than this square of their doubt each, the camera is sought from slants all round [rad].
WORST_CHI2, LEANS = 1.0, ((0.0, 0.4), (0.0, -0.4), (0.4, 0.0), (-0.4, 0.0))


def find(view: View, references: tuple[Reference, ...] = RULERS) -> list[Finding]:
    """Return the rulers of a photo.

    Parameters
    ----------
    view : View
        The photo.
    references : tuple of Reference
        Which are looked for: millimetres, inches or both. The pattern of long and short
        graduations must show: coils and the teeth of combs have a ruler's rhythm without it.
    """
    grey = grey_of(view.rgb)
    edges = _long_edges(view.lines, view)
    found = _at_edges(view, grey, edges, references)
    for line in edges:
        if found:
            break
        for ends in _other_marks(grey, line):
            found += _along(view, grey, ends, line, references)
    if found or len(edges) > FEW_EDGES:
        return found
    # The print of a table of its own colour breaks a ruler's edge up; from afar it is whole.
    return _at_edges(view, grey, _long_edges(view.lines_afar, view), references)


def find_each_way(view: View, references: tuple[Reference, ...] = RULERS) -> list[Finding]:
    """Return those whose edges the ribs or threads of a table hid, with the same parameters."""
    edges = _long_edges(view.lines_each_way, view)
    return _at_edges(view, grey_of(view.rgb), edges, references)


def _at_edges(
    view: View, grey: NDArray[np.uint8], edges: list[Array], references: tuple[Reference, ...]
) -> list[Finding]:
    """Return the rulers whose marks run along one of some edges (2, 2)."""
    found: list[Finding] = []
    for line in edges:
        if rhythm(strip_of(grey, line))[0] >= 0:
            found += _along(view, grey, line, line, references)
    return found


def _along(
    view: View,
    grey: NDArray[np.uint8],
    ends: Array,
    line: Array,
    references: tuple[Reference, ...],
) -> list[Finding]:
    """Return the ruler whose marks run along `ends`, `line` being an edge of it, in a list."""
    longer = _beyond(ends, view.rgb.shape)
    strip = strip_of(grey, longer)
    beat = rhythm(strip)
    if len(beat[2]) and (reach := LONGEST * float(np.median(beat[2]))) > REACH_PX:
        strip = strip_of(grey, longer, reach)
        beat = rhythm(strip)
    ticks = _read(strip, beat)
    reference = ticks and _which(ticks, references)
    if not ticks or not reference:
        return []
    edge = _edge(
        view, ticks, ends if ends is line else _outer_edge(grey, ends, line, ticks.period_px)
    )
    return [explained(view, ticks, edge, _of_its_height(view, ticks, reference))] if edge else []


def _other_marks(grey: NDArray[np.uint8], line: Array) -> list[Array]:
    """Return a line (2, 2) parallel to one along what has a ruler's rhythm, in a list.

    Marks that reach an edge on a table of their own colour break it up; then the ruler's other edge
    is the line that was found, and the marks lie within a ruler's width of it.
    """
    wide = strip_of(grey, line, WIDEST * float(np.linalg.norm(line[1] - line[0])))
    row = rhythm(wide)[0]
    return [line + wide.offsets[row] * wide.across] if row >= 0 else []


def _outer_edge(grey: NDArray[np.uint8], ends: Array, other: Array, period_px: float) -> Array:
    """Return the line (2, 2) along marks moved to the ruler's edge, away from its other one."""
    away = (ends - other).mean(axis=0)
    out = away / np.linalg.norm(away)
    offsets = np.arange(0.0, max(FARTHEST_PX, LONGEST * period_px), 1.0)
    along = ends[0] + (ends[1] - ends[0]) * np.linspace(0.1, 0.9, 400)[:, None]
    rows = sample_grey(grey, along + offsets[:, None, None] * out).astype(np.float64)
    # Marks cover less than half of a row, so its median is that of what lies between them.
    step = np.abs(gaussian_filter1d(np.median(rows, axis=1), 2.0, order=1))
    return np.asarray(ends + offsets[int(step.argmax())] * out)


def _long_edges(lines: Lines, view: View) -> list[Array]:
    """Return the ends (2, 2) of long lines that are edges for most of their length [px]."""
    if not len(lines.point):
        return []
    total = lines.covered[:, -1:]
    first = (lines.covered > 0).argmax(axis=1) + lines.origin
    last = (lines.covered >= total).argmax(axis=1) + lines.origin
    length = last - first
    ends = lines.point[:, None] + np.stack([first, last], axis=1)[..., None] * lines.way[:, None]
    long = np.flatnonzero((length > SHORTEST_PX) & (total[:, 0] > COVERED * length))
    good: list[int] = []
    # Lines that cross the whole picture are mostly a table's.
    for k in long[np.argsort(_across(ends[long], view), kind="stable")]:
        # A table of boards or squares has many lines, but all of one or two directions.
        alike = np.abs(lines.way[good] @ lines.way[k]) > ALIKE if good else np.zeros(0)
        if alike.sum() < MOST_ALIKE and len(good) < MOST_LINES:
            good.append(int(k))
    return [enlarge_points(ends[k], view.factor) for k in good]


def _across(ends: Array, view: View) -> NDArray[np.bool_]:
    """Tell of lines (N, 2, 2) of the reduced copy which run from rim to rim of the picture."""
    far = np.array(view.small.shape[1::-1]) - RIM_PX
    at_rim = np.any((ends < RIM_PX) | (ends > far), axis=2)
    return np.asarray(np.all(at_rim, axis=1))


def _beyond(ends: Array, shape: tuple[int, ...]) -> Array:
    """Return the ends moved apart, within the picture."""
    way, size = ends[1] - ends[0], np.array(shape[1::-1]) - 1.0
    moved = []
    for end, out in ((ends[0], -way), (ends[1], way)):
        room = np.where(out > 0, size - end, -end) / np.where(np.abs(out) > 1e-9, out, np.inf)
        room = np.where(np.abs(out) > 1e-9, room, np.inf)
        moved.append(end + np.clip(min(BEYOND, float(room.min())), 0.0, None) * out)
    return np.array(moved)


def _read(strip: Strip, beat: Rhythm) -> Ticks | None:
    """Return graduations, dark or light: mostly they are narrower than what lies between them.

    Where those are broad it is the gaps that are read first, an even row without longer ones.
    """
    row = beat[0]
    if row < 0:
        return None
    grey = strip.grey[row]
    lean = float(np.mean(np.clip(grey / (np.std(grey) + 1e-9), -3.0, 3.0) ** 3))
    likely, other = (strip.negative(), strip) if lean > 0 else (strip, strip.negative())
    ticks = read_ticks(likely, beat)
    if graduation(ticks) is not None if ticks else abs(lean) > CLEAR_LEAN:
        return ticks
    second = read_ticks(other, beat)
    return second if second and (ticks is None or graduation(second) is not None) else ticks


def _which(ticks: Ticks, references: tuple[Reference, ...]) -> Reference | None:
    """Return the reference with its graduations' distance, or None where none has their pattern."""
    pattern = graduation(ticks)
    for reference in references:
        patterns = PATTERNS_MM if reference.kind == "ruler:mm" else PATTERNS_INCH
        if pattern in patterns:
            pitch = patterns[pattern]
            return replace(
                reference, size_mm=(pitch,), u_mm=reference.u_mm / reference.size_mm[0] * pitch
            )
    return None


def _of_its_height(view: View, ticks: Ticks, reference: Reference) -> Reference:
    """Return the reference with the height of its face, which its colour tells a little.

    Steel rules are grey and thin; rules of wood or coloured plastic are thick.
    """
    face = ticks.points[len(ticks.points) // 2]
    face = face[np.isfinite(face[:, 0])]
    colour = np.median(sample(view.small, (face[None] + 0.5) * view.factor - 0.5)[0], axis=0)
    coloured = float(np.hypot(colour[1], colour[2])) > LEAST_COLOUR
    return replace(reference, thickness_mm=THICK_MM if coloured else THIN_MM)


def _edge(view: View, ticks: Ticks, ends: Array) -> Edge | None:
    """Return the ruler's edge beside the graduations."""
    marks = np.nanmean(ticks.points, axis=(0, 1))
    return straight_edge(view.rgb, ends, marks, 9.0)


def explained(view: View, ticks: Ticks, edge: Edge, reference: Reference) -> Finding:
    """Return the camera that explains the graduations and the edge.

    Parameters
    ----------
    view : View
        The photo.
    ticks : Ticks
        The graduations.
    edge : Edge
        The ruler's edge beside them.
    reference : Reference
        Which ruler it is.
    """
    start = _start_camera(view, ticks, edge, reference)
    problem = _problem(ticks, edge, reference, start)
    solution = solve(problem, start, view.focal)
    if solution.chi2 > WORST_CHI2 * len(ticks.number):
        starts = (_start_camera(view, ticks, edge, reference, lean) for lean in LEANS)
        others = (solve(problem, other, view.focal) for other in starts)
        solution = min((solution, *others), key=lambda s: s.chi2)
    misfit = solution.chi2 / (WORST_CHI2 * len(ticks.number))
    rows, numbers = ticks.points, ticks.number
    near = np.nanmean(rows[:, [int(numbers.argmin()), int(numbers.argmax())]], axis=0)
    outline = np.vstack([edge.ends, near[np.argsort(near @ (edge.ends[0] - edge.ends[1]))]])
    score = min(1.0, len(numbers) / 60.0)
    widened = solution.widened(float(np.sqrt(max(1.0, misfit))))
    return Finding(reference, widened, outline, ticks.rms_px, score, misfit > 1.0)


def _start_camera(
    view: View, ticks: Ticks, edge: Edge, reference: Reference, lean: tuple[float, float] = (0, 0)
) -> Camera:
    """Return the camera that looks straight down on the middle graduation, or leans [rad]."""
    order = np.argsort(ticks.number)
    marks = np.nanmean(ticks.points, axis=0)[order]
    along = marks[-1] - marks[0]
    pitch_px = np.linalg.norm(along) / (ticks.number.max() - ticks.number.min())
    along /= np.linalg.norm(along)
    first = np.array([along[0], along[1], 0.0])
    turn = np.column_stack([first, np.cross([0.0, 0.0, -1.0], first), [0.0, 0.0, -1.0]])
    turn = turned(np.array([*lean, 0.0])) @ turn
    far = view.focal_px * reference.size_mm[0] / pitch_px
    middle = int(np.argmin(np.abs(ticks.number[order] - np.median(ticks.number))))
    number = ticks.number[order][middle]
    place = np.append((marks[middle] - view.centre_px) / view.focal_px, 1.0) * far
    origin = place - turn @ np.array([number * reference.size_mm[0], 0.0, reference.thickness_mm])
    return Camera(view.focal_px, view.centre_px, turn, origin)


def _problem(ticks: Ticks, edge: Edge, reference: Reference, start: Camera) -> Problem:
    """Return the rows: every mark at its number of pitches along, the edge at one place across."""
    seen = np.isfinite(ticks.points[..., 0])
    points = ticks.points[seen]
    number = np.broadcast_to(ticks.number, seen.shape)[seen].astype(np.float64)
    mm_per_px = reference.size_mm[0] / ticks.period_px
    # The rows of one mark share its fault; the marks of a ruler are independent.
    u_mm = mm_per_px * np.sqrt(len(ticks.points)) * np.hypot(ticks.rms_px, U_MARK_PX)
    edge_mm = mm_per_px * edge.u_px
    unknowns = (
        Unknown("ruler pitch", reference.size_mm[0], reference.u_mm),
        Unknown("thickness", reference.thickness_mm, U_HEIGHT * reference.thickness_mm + U_THIN_MM),
        Unknown("edges", 0.0, U_SQUARE),
    )

    def residuals(camera: Camera, values: Array) -> Array:
        pitch, height, lean = values
        marks = camera.at_height(points, height)
        ends = camera.at_height(edge.ends, height)
        off = marks[:, 0] - lean * marks[:, 1] - pitch * number
        return np.concatenate([off / u_mm, ends[:, 1] / edge_mm])

    return Problem(residuals, unknowns, ("edges",) * (len(points) + 2))
