"""Where the wire ends, and how: by drawing each possibility and comparing it with the wire map.

A dead turn hides behind its neighbour and a tip may lie below the coil, so no edge tells them
alone; the whole picture of the last turns does.
"""

from dataclasses import replace
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.camera import Camera
from vision.helix import End, Helix, along_axis, centre_line, frame, is_upper, turns_of
from vision.strands import MapView

Array = NDArray[np.float64]

#: Width at which the wire is drawn for comparison [px].
WIRE_PX = 12
#: Most that is drawn [px].
FAR_PX = 20_000.0
#: How much better one open end must explain the map than two ends alike.
PLAINLY = 0.8


def draw(
    helix: Helix,
    camera: Camera,
    view: MapView,
    zoom: float,
    shape: tuple[int, int],
    part: tuple[float, float] = (-np.inf, np.inf),
    upper: bool = False,
) -> NDArray[np.float32]:
    """Return the coverage (H, W) that a helix would give, on the map's grid scaled by `zoom`.

    Where `part` is given, only the turns between its two are drawn; where `upper` is, only the
    coil's upper half.
    """
    turn = turns_of(helix)
    line, thickness = _ground(helix, turn, centre_line(helix, turn))
    # What lies far outside the map is as good as at its edge, and the drawing takes no more.
    flat = np.clip((view.to_map(camera.project(line)) + 0.5) * zoom - 0.5, -FAR_PX, FAR_PX)
    away = (line @ camera.rotation.T + camera.translation_mm)[:, 2]
    wide = thickness * camera.focal_px / away * view.scale * zoom
    px = np.round(np.clip(wide, 0.0, max(shape))).astype(int)
    px[(turn < part[0]) | (turn > part[1])] = 0
    if upper:
        px[~is_upper(turn)] = 0
    fixed = np.round(flat * 16).astype(np.int32)
    out = np.zeros(shape, dtype=np.uint8)
    # Runs of one thickness are drawn at once.
    starts = np.concatenate([[0], np.nonzero(np.diff(px[:-1]))[0] + 1, [len(px) - 1]])
    for a, b in pairwise(starts):
        if px[a] > 0:
            run = fixed[a : b + 1].reshape(-1, 1, 2)
            cv2.polylines(out, [run], False, (255,), int(px[a]), cv2.LINE_AA, 4)
    return out.astype(np.float32) / 255.0


def _ground(helix: Helix, turn: Array, line: Array) -> tuple[Array, Array]:
    """Return the line and thickness of what grinding has left, seen from the side."""
    thickness = np.full(len(line), helix.wire_mm)
    _, axes = frame(helix)
    x = along_axis(helix, turn)
    shift = np.zeros(len(line))
    for end, plane, way in zip(helix.ends, (x[0], x[-1]), (1.0, -1.0), strict=True):
        if end is End.GROUND:
            gone = np.clip(0.5 * helix.wire_mm - way * (x - plane), 0.0, helix.wire_mm)
            thickness = thickness - gone
            shift = shift + way * 0.5 * gone
    return line + shift[:, None] * axes[0], np.maximum(thickness, 0.0)


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


def shrink(view: MapView, wire_map_px: float) -> tuple[float, NDArray[np.float32]]:
    """Return the zoom at which the wire is `WIRE_PX` wide, and the wire map there."""
    zoom = min(1.0, WIRE_PX / wire_map_px)
    size = (round(view.maps.shape[2] * zoom), round(view.maps.shape[1] * zoom))
    return zoom, cv2.resize(view.maps[0], size, interpolation=cv2.INTER_AREA)


def find_tips(
    helix: Helix, camera: Camera, view: MapView, keep: NDArray[np.bool_], wire_map_px: float
) -> tuple[Helix, float]:
    """Return the helix with the ends, open, closed or ground, that best explain the map.

    With it, by which share the next likeliest pair of ends explains the map worse.
    """
    zoom, target = shrink(view, wire_map_px)
    near = (
        cv2.resize(keep.astype(np.uint8), target.shape[::-1], interpolation=cv2.INTER_NEAREST) > 0
    )
    target = np.where(near, target, 0.0).astype(np.float32)
    sides: list[dict[End, tuple[float, Helix]]] = []
    for which in (0, 1):
        window = end_window(helix, camera, view, which, zoom, target.shape)
        part = _part(helix, which)
        best: dict[End, tuple[float, Helix]] = {}
        for trial in _possibilities(helix, which):
            picture = draw(trial, camera, view, zoom, target.shape, part)
            cost = float(np.abs(picture - target)[window].sum())
            end = trial.ends[which]
            if end not in best or cost < best[end][0]:
                best[end] = (cost, trial)
        sides.append(best)
    costs = [{e: c for e, (c, _) in side.items()} for side in sides]
    first, last = _likely_pair(*costs)
    cost = costs[0][first] + costs[1][last]
    other = min(costs[0][e] + costs[1][e] for e in End if (e, e) != (first, last))
    margin = max(other / (cost + 1e-6) - 1.0, 0.0)
    start, stop = sides[0][first][1], sides[1][last][1]
    ended = replace(helix, ends=(first, last))
    return ended.with_values(start=start["start"], stop=stop["stop"]), margin


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
    zoom, target = shrink(view, wire_map_px)
    near = (
        cv2.resize(keep.astype(np.uint8), target.shape[::-1], interpolation=cv2.INTER_NEAREST) > 0
    )
    target = np.where(near, target, 0.0).astype(np.float32)
    for which, name in ((0, "start"), (1, "stop")):
        window = end_window(helix, camera, view, which, zoom, target.shape)
        part = _part(helix, which)
        best = (np.inf, helix)
        for move in np.linspace(-reach, reach, 17):
            # The dead turn's bend stays where it is while the tip moves along it.
            dead = f"dead_{name}"
            trial = helix.with_values(
                **{name: helix[name] + move, dead: helix[dead] + (-move if which == 0 else move)}
            )
            picture = draw(trial, camera, view, zoom, target.shape, part)
            cost = float(np.abs(picture - target)[window].sum())
            if cost < best[0]:
                best = (cost, trial)
        helix = best[1]
    return helix


def _possibilities(helix: Helix, which: int) -> list[Helix]:
    name = ("start", "stop")[which]
    way = (-1.0, 1.0)[which]
    edge = helix.anchor + 0.5 * helix.span * way
    out = []
    # Offsets of the tip from the last regular upper strand, outwards.
    for end, offsets in (
        (End.OPEN, np.arange(-0.3, 1.6, 1 / 16)),
        (End.CLOSED, np.arange(0.2, 2.3, 1 / 16)),
        (End.GROUND, np.arange(0.2, 2.3, 1 / 16)),
    ):
        ends = (end, helix.ends[1]) if which == 0 else (helix.ends[0], end)
        for offset in offsets:
            out.append(replace(helix, ends=ends).with_values(**{name: edge + way * offset}))
    return out
