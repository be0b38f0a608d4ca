"""Where the wire ends, and how: by drawing each possibility and comparing it with the wire map.

A dead turn hides behind its neighbour and a tip may lie below the coil, so no edge tells them
alone; the whole picture of the last turns does.
"""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from vision.camera import Camera
from vision.helix import End, Helix, along_axis, centre_line, frame, turns_of
from vision.map_view import MapView
from vision.silhouette import WIRE_PX, Silhouette, shrink

Array = NDArray[np.float64]

#: How much better one open end must explain the map than two ends alike.
PLAINLY = 0.8
#: Ends that explain the map no worse than by this factor may be the right ones.
NEARLY = 1.35


def _part(helix: Helix, which: int) -> tuple[float, float]:
    """Return the turns that may show in an end's window."""
    if which == 0:
        return -np.inf, helix.anchor - 0.5 * helix.span + 3.2
    return helix.anchor + 0.5 * helix.span - 3.2, np.inf


def end_window(
    helix: Helix, camera: Camera, view: MapView, which: int, zoom: float, shape: tuple[int, int]
) -> NDArray[np.bool_]:
    """Return the pixels (H, W) of an end: its last two body turns and all beyond."""
    middle, axes = frame(helix)
    edge = helix.anchor + (0.5 * helix.span - 1.6) * (1 if which else -1)
    edge = min(edge, helix.anchor) if which == 0 else max(edge, helix.anchor)
    turn = np.sort(np.array([helix.anchor, edge]))
    x = along_axis(helix, np.linspace(turn[0], turn[1], 50) if turn[0] < turn[1] else turn)
    inner = middle + axes[0] * (x[0] if which == 0 else x[-1])
    ahead = inner + axes[0] * (1.0 if which else -1.0)
    a, b = (view.to_map(camera.project(np.stack([inner, ahead]))) + 0.5) * zoom - 0.5
    way = (b - a) / np.linalg.norm(b - a)
    y, x_ = np.mgrid[0 : shape[0], 0 : shape[1]]
    return np.asarray((x_ - a[0]) * way[0] + (y - a[1]) * way[1] > 0)


def find_tips(
    helix: Helix,
    camera: Camera,
    view: MapView,
    keep: NDArray[np.bool_],
    wire_map_px: float,
) -> list[Helix]:
    """Return the helix with the ends, open, closed or ground, that best explain the map.

    After it come those with other pairs of ends that explain it nearly as well: which is right
    shows when each has been fitted.
    """
    zoom, target = shrink(view, keep, wire_map_px)
    sides: list[dict[End, tuple[float, Helix]]] = []
    for which in (0, 1):
        window = end_window(helix, camera, view, which, zoom, target.shape)
        part = _part(helix, which)
        best: dict[End, tuple[float, Helix]] = {}
        for trial in _possibilities(helix, which):
            picture = Silhouette.of(trial, camera, view, zoom).drawn(target.shape, part)
            cost = float(np.abs(picture - target)[window].sum())
            end = trial.ends[which]
            if end not in best or cost < best[end][0]:
                best[end] = (cost, trial)
        sides.append(best)
    costs = [{e: c for e, (c, _) in side.items()} for side in sides]
    first, last = _likely_pair(*costs)
    cost = costs[0][first] + costs[1][last]
    pairs = [(first, last)]
    for end in sorted(End, key=lambda e: costs[0][e] + costs[1][e]):
        likely = costs[0][end] + costs[1][end] < NEARLY * cost
        if likely and (end, end) != (first, last):
            pairs.append((end, end))
    out = []
    for pair in pairs:
        start, stop = (sides[k][pair[k]][1] for k in (0, 1))
        ended = replace(helix, ends=pair)
        out.append(ended.with_values(start=start["start"], stop=stop["stop"]))
    return out


def _likely_pair(start: dict[End, float], stop: dict[End, float]) -> tuple[End, End]:
    """Return the kinds of both ends: makers treat both alike, and a cut leaves one open."""
    alike = min(End, key=lambda end: start[end] + stop[end])
    cut = min(
        ((a, b) for a in End for b in End if (a is End.OPEN) != (b is End.OPEN)),
        key=lambda pair: start[pair[0]] + stop[pair[1]],
    )
    if start[cut[0]] + stop[cut[1]] < PLAINLY * (start[alike] + stop[alike]):
        return cut
    return alike, alike


def refine_tips(
    helix: Helix,
    camera: Camera,
    view: MapView,
    keep: NDArray[np.bool_],
    wire_map_px: float,
    reach: float = 0.12,
) -> Helix:
    """Return the helix with each tip moved to where the map fits best, within `reach` turns."""
    zoom, target = shrink(view, keep, wire_map_px)
    coarse = np.linspace(-reach, reach, 9)
    fine = np.array([-0.5, 0.0, 0.5]) * (coarse[1] - coarse[0])
    for which in (0, 1):
        window = end_window(helix, camera, view, which, zoom, target.shape)
        part = _part(helix, which)

        def cost(
            trial: Helix, window: NDArray[np.bool_] = window, part: tuple[float, float] = part
        ) -> float:
            picture = Silhouette.of(trial, camera, view, zoom).drawn(target.shape, part)
            return float(np.abs(picture - target)[window].sum())

        for moves in (coarse, fine):
            helix = min(_tip_moved(helix, which, moves), key=cost)
    return helix


def _tip_moved(helix: Helix, which: int, moves: Array) -> list[Helix]:
    """Return the helix with one tip moved by so many turns (N,)."""
    name = ("start", "stop")[which]
    if helix.ends[which] is End.OPEN:
        return [helix.with_values(**{name: helix[name] + move}) for move in moves]
    # The dead turn's bend stays where it is while the tip moves along it, or goes with it.
    dead, outwards = f"dead_{name}", (-1.0, 1.0)[which]
    return [
        helix.with_values(**{name: helix[name] + move, dead: helix[dead] + bend})
        for move in moves
        for bend in (outwards * move, 0.0)
    ]


def _possibilities(helix: Helix, which: int) -> list[Helix]:
    name = ("start", "stop")[which]
    way = (-1.0, 1.0)[which]
    edge = helix.anchor + 0.5 * helix.span * way
    out = []
    # Offsets of the tip from the last regular upper strand, outwards; that of a dead turn may have
    # been taken for a regular one, so the tip may lie before it.
    for end, offsets in (
        (End.OPEN, np.arange(-0.3, 1.6, 1 / 16)),
        (End.CLOSED, np.arange(-0.8, 2.3, 1 / 16)),
        (End.GROUND, np.arange(-0.8, 2.3, 1 / 16)),
    ):
        ends = (end, helix.ends[1]) if which == 0 else (helix.ends[0], end)
        for offset in offsets:
            out.append(replace(helix, ends=ends).with_values(**{name: edge + way * offset}))
    return out


def faces_apart(
    helix: Helix, camera: Camera, view: MapView, keep: NDArray[np.bool_], wire_map_px: float
) -> float:
    """Return how far the two end faces lie from those in the map [wire diameters], summed.

    A face is told by how far out there is wire, across the coil: flat where it is ground, a step
    of one turn where it is not. What the map has lost between the turns does not touch it.
    """
    zoom, target = shrink(view, keep, wire_map_px)
    picture = Silhouette.of(helix, camera, view, zoom).drawn(target.shape)
    middle, axes = frame(helix)
    line = (view.to_map(camera.project(centre_line(helix))) + 0.5) * zoom - 0.5
    x = along_axis(helix, turns_of(helix))
    apart = 0.0
    for tip, outward in ((x[0], -1.0), (x[-1], 1.0)):
        there = middle + axes[0] * np.array([[tip - outward], [tip]])
        a, b = (view.to_map(camera.project(there)) + 0.5) * zoom - 0.5
        way = (b - a) / np.linalg.norm(b - a)
        half = float(np.quantile(np.abs((line - b) @ np.array([-way[1], way[0]])), 0.98))
        far = [_face(drawn, b, way, half) for drawn in (target, picture)]
        # Where there is none at all, it is no further off than this.
        far = [np.maximum(one, -3.0 * WIRE_PX) for one in far]
        apart += float(np.minimum(np.abs(far[0] - far[1]) / WIRE_PX, 1.0).mean())
    return apart


def _face(drawn: NDArray[np.float32], at: Array, way: Array, half: float) -> Array:
    """Return how far along `way` from `at` wire is drawn, at each pixel across, to `half` px."""
    y, x = np.nonzero(drawn > 0.5)
    along = (x - at[0]) * way[0] + (y - at[1]) * way[1]
    across = np.round((y - at[1]) * way[0] - (x - at[0]) * way[1] + half).astype(int)
    out = np.full(int(2.0 * half) + 1, -np.inf)
    inside = (across >= 0) & (across < len(out))
    np.maximum.at(out, across[inside], along[inside])
    return out
