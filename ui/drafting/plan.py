"""Side view and end view of a spring to one scale, with its dimensions."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ui.drafting.sheet import INK, PAPER, RULE, Sheet, Stroke, Words
from ui.drafting.wire import Form, pieces

Array = NDArray[np.float64]

FRONT, BACK = "#B9CCD4", "#84979F"
#: Room around a view for its dimensions: left, right, below, above [pt].
LEFT, RIGHT, BELOW, ABOVE = 16.0, 16.0, 36.0, 34.0
EDGE_PT, RULE_PT, TICK_PT = 1.1, 0.8, 5.0


@dataclass(frozen=True, slots=True)
class Cell:
    """Where a view stands on the sheet [pt]."""

    left: float
    right: float
    bottom: float


@dataclass(frozen=True, slots=True)
class View:
    """A projection of the wire [mm].

    Attributes
    ----------
    lines : tuple of ndarray, each (N, 2)
        Pieces along the wire.
    order : tuple of int
        The pieces from the farthest to the nearest.
    behind : tuple of bool
        Which lie behind the axis.
    low, high : ndarray, shape (2,)
        Extent, wire and all.
    """

    lines: tuple[Array, ...]
    order: tuple[int, ...]
    behind: tuple[bool, ...]
    low: Array
    high: Array


def plan(form: Form, labels: Mapping[str, str], wide_pt: float, beside: bool = False) -> Sheet:
    """Return the drawing.

    Parameters
    ----------
    form : Form
        What is drawn.
    labels : mapping of str to str
        What is written at ``length``, ``wire``, ``coils``, ``outside``, and above the ``end``
        view; what has none is not dimensioned.
    wide_pt : float
        Width of the sheet [pt].
    beside : bool
        Whether the end view stands beside the side view, not below it.
    """
    forms = (form.beside, form.endwise)
    views = (side_view(forms[0], pieces(forms[0])), _end(forms[1], pieces(forms[1])))
    spans = [view.high - view.low for view in views]
    scale = _scale(spans, wide_pt, beside)
    sizes = [scale * span + (LEFT + RIGHT, BELOW + ABOVE) for span in spans]
    cells, tall = _beside(sizes, wide_pt) if beside else _stacked(sizes, wide_pt)
    parts: list[Stroke | Words] = []
    drawn = zip(forms, views, cells, (_side_dims, _end_dims), strict=True)
    for form, view, cell, dims in drawn:
        middle = (cell.left + cell.right - scale * (view.low + view.high)[0]) / 2.0
        start = np.array([middle, cell.bottom + BELOW - scale * view.low[1]])
        parts += tube(form, view, scale, start)
        parts += _ground_faces(form, scale, start) if dims is _side_dims else []
        parts += dims(form, view, labels, scale, start, cell)
    return Sheet((wide_pt, tall), tuple(parts), f"A {form.kind} spring to scale, two views")


def _stacked(sizes: list[Array], wide_pt: float) -> tuple[list[Cell], float]:
    edges = (LEFT, wide_pt - RIGHT)
    cells = [Cell(*edges, float(sizes[1][1])), Cell(*edges, 0.0)]
    return cells, float(sum(size[1] for size in sizes))


def _beside(sizes: list[Array], wide_pt: float) -> tuple[list[Cell], float]:
    tall = float(max(size[1] for size in sizes))
    part = wide_pt * max(float(sizes[0][0] / (sizes[0][0] + sizes[1][0])), 0.5)
    bottoms = [(tall - float(size[1])) / 2.0 for size in sizes]
    return [Cell(LEFT, part, bottoms[0]), Cell(part, wide_pt - RIGHT, bottoms[1])], tall


def _scale(spans: list[Array], wide_pt: float, beside: bool) -> float:
    """Return points for a millimetre: as large as the sheet allows, and not taller than wide."""
    room = wide_pt - (LEFT + RIGHT) * (2.0 if beside else 1.0)
    across = sum(s[0] for s in spans) if beside else max(s[0] for s in spans)
    tallest = 0.28 * wide_pt if beside else 0.45 * wide_pt
    return float(min(room / across, tallest / max(s[1] for s in spans)))


def side_view(form: Form, wire: list[Array]) -> View:
    """Return the view across the axis; (0, 0) is the first end's middle [mm]."""
    return _view(form, [p[:, [0, 1]] for p in wire], [float(p[:, 2].mean()) for p in wire])


def _end(form: Form, wire: list[Array]) -> View:
    # Seen from the first end, so what lies farther along the axis is drawn first.
    view = _view(form, [p[:, [2, 1]] for p in wire], [-float(p[:, 0].mean()) for p in wire])
    if form.small_end_ratio < 1.0:
        return view
    # Of a cylinder the nearest turns hide all others, but not hooks and legs.
    shown = [k for k in view.order if k < 5 or k == len(wire) - 1]
    return replace(view, order=tuple(shown))


def _view(form: Form, lines: list[Array], near: list[float]) -> View:
    points, half = np.vstack(lines), 0.5 * form.wire_mm
    return View(
        tuple(lines),
        tuple(int(k) for k in np.argsort(near, kind="stable")),
        tuple(depth < -1e-6 * form.mean_mm for depth in near),
        points.min(axis=0) - half,
        points.max(axis=0) + half,
    )


def tube(form: Form, view: View, scale: float, start: Array) -> list[Stroke]:
    """Return each piece as a band of wire with an edge on both sides, joined to its neighbours."""
    out: list[Stroke] = []
    wide, last = max(form.wire_mm * scale, 1.6), len(view.lines) - 1
    inner = max(wide - 2.0 * EDGE_PT, 0.5)
    lines = [start + scale * line for line in view.lines]
    depth = not all(view.behind)
    fills = [BACK if behind and depth else FRONT for behind in view.behind]
    drawn: set[int] = set()
    for k in view.order:
        # A leg is cut square; elsewhere the wire's curve hides how it ends.
        tip = k in (0, last) and form.kind == "torsion"
        edge = _closed(lines[k], (k == 0, k == last)) if tip else lines[k]
        out.append(Stroke(edge, INK, wide, round=not tip))
        out.append(Stroke(lines[k], fills[k], inner, round=not tip))
        drawn.add(k)
        for one, other in ((k - 1, k), (k, k + 1)):
            # A nearer piece's round edge lies over the farther one: the wire goes on there.
            if one in drawn and other in drawn:
                ends = (_near_end(lines[one][::-1]), _near_end(lines[other]))
                pair = sorted(zip((one, other), ends, strict=True), key=lambda p: p[0] == k)
                out += [Stroke(end, fills[j], inner, round=True) for j, end in pair]
    return out


def _near_end(line: Array) -> Array:
    """Return the beginning of a line, as far as an edge at its first point reaches."""
    far = np.linalg.norm(line - line[0], axis=1) > 2.5 * EDGE_PT
    return line[: int(np.argmax(far)) + 1] if far.any() else line


def _closed(points: Array, tips: tuple[bool, bool]) -> Array:
    """Return a line longer at the wire's tips, so that an edge closes them."""
    out = points.copy()
    for tip, end, inner in zip(tips, (0, -1), (1, -2), strict=True):
        way = points[end] - points[inner]
        out[end] += tip * EDGE_PT * way / max(float(np.linalg.norm(way)), 1e-9)
    return out


def _ground_faces(form: Form, scale: float, start: Array) -> list[Stroke]:
    """Return what grinding took away, and the faces that it left."""
    out = []
    edge = 2.0 * EDGE_PT / scale
    half = 0.5 * form.outside_mm + edge
    for flat, x, way in zip(form.ground, (0.0, form.length_mm), (-1.0, 1.0), strict=True):
        if not flat:
            continue
        beyond = x + way * (0.5 * form.wire_mm + edge)  # half a wire stood beyond the plane
        corners = np.array([[x, -half], [beyond, -half], [beyond, half], [x, half]])
        out.append(Stroke(start + scale * corners, PAPER, 0.0, fill=True))
        face = np.array([[x, -0.5 * form.outside_mm], [x, 0.5 * form.outside_mm]])
        out.append(Stroke(start + scale * face, INK, EDGE_PT))
    return out


def _side_dims(
    form: Form, view: View, labels: Mapping[str, str], scale: float, start: Array, cell: Cell
) -> list[Stroke | Words]:
    y0, y1 = (start + scale * view.low)[1], (start + scale * view.high)[1]
    out: list[Stroke | Words] = []
    if labels.get("length"):
        left, right = start[0], start[0] + scale * form.length_mm
        out += _rule((left, y0 - 12.0), (right, y0 - 12.0))
        out.append(Words(labels["length"], ((left + right) / 2.0, y0 - 27.0)))
    if labels.get("wire"):
        out.append(Words(labels["wire"], (cell.left, y1 + 20.0), "start"))
        # To the top of a turn in front, a fifth of the way along.
        front = [k for k in view.order if not view.behind[k]] or list(view.order)
        tops = [view.lines[k][np.argmax(view.lines[k][:, 1])] for k in front]
        aim = view.low[0] + 0.2 * (view.high - view.low)[0]
        top = min(tops, key=lambda one: abs(float(one[0]) - aim) - float(one[1]))
        tip = start + scale * (top + np.array([0.0, 0.3 * form.wire_mm]))
        out.append(Stroke(np.array([(cell.left + 20.0, y1 + 16.0), tip]), RULE, RULE_PT))
    if labels.get("coils"):
        out.append(Words(labels["coils"], (cell.right, y1 + 20.0), "end"))
    return out


def _end_dims(
    form: Form, view: View, labels: Mapping[str, str], scale: float, start: Array, cell: Cell
) -> list[Stroke | Words]:
    y0, y1 = (start + scale * view.low)[1], (start + scale * view.high)[1]
    half = 0.5 * scale * form.outside_mm
    out: list[Stroke | Words] = []
    if labels.get("outside"):
        out += _rule((start[0] - half, y0 - 12.0), (start[0] + half, y0 - 12.0))
        out.append(Words(labels["outside"], (float(start[0]), y0 - 27.0)))
    if labels.get("end"):
        out.append(Words(labels["end"], ((cell.left + cell.right) / 2.0, y1 + 10.0)))
    return out


def _rule(one: tuple[float, float], other: tuple[float, float]) -> list[Stroke]:
    """Return a dimension line with a slanted tick at each end."""
    a, b = np.array(one), np.array(other)
    slant = np.array([TICK_PT, TICK_PT]) * 0.7
    lines = [np.array([a, b])]
    for end in (a, b):
        lines.append(np.array([end - slant, end + slant]))
        upright = np.array([[0.0, -TICK_PT], [0.0, 1.8 * TICK_PT]])
        lines.append(end + upright)
    return [Stroke(line, RULE, RULE_PT) for line in lines]
