"""Where the wire ends, and how: by drawing each possibility and comparing it with the wire map.

A dead turn hides behind its neighbour and a tip may lie below the coil, so no edge tells them
alone; the whole picture of the last turns does.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from vision.camera import Camera
from vision.helix import (
    ALIKE,
    BEND,
    PAIRS,
    PER_TURN,
    End,
    Helix,
    along_axis,
    centre_line,
    frame,
    turns_of,
)
from vision.map_view import MapView
from vision.silhouette import WIRE_PX, Place, Silhouette, shrink

Array = NDArray[np.float64]

#: How much better one open end must explain the map than two ends alike.
PLAINLY = 0.8
#: How far the tip may lie outside the last regular upper strand [turns]: that of a dead turn may
#: have been taken for a regular one, so it may lie before it. How finely it is sought [turns].
REACH = MappingProxyType({End.OPEN: (-0.3, 1.6), End.CLOSED: (-0.8, 2.3), End.GROUND: (-0.8, 2.3)})
STEP = 1.0 / 16.0
#: So many neighbouring places are tried together. What all trials have is drawn to here beyond
#: where what is each one's own begins [turns].
TOGETHER, JOINED = 8, 2.0 / PER_TURN
#: How far a tip is moved at most once it was found, usually [turns].
NEAR = 0.12
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


@dataclass(frozen=True, slots=True)
class _EndSeen:
    """One end of a spring in the map, with which drawings of it are compared.

    Attributes
    ----------
    camera, view, zoom : Camera, MapView, float
        How it is drawn: on the view's grid, scaled.
    target, window : ndarray, shape (H, W)
        The map, and one where it is about the end, nought elsewhere.
    which : int
        The end: 0 for the wire's start, 1 for its stop.
    part : (float, float)
        Between which turns it is drawn.
    """

    camera: Camera
    view: MapView
    zoom: float
    target: NDArray[np.float32]
    window: NDArray[np.float32]
    which: int
    part: tuple[float, float]

    @staticmethod
    def of(
        helix: Helix,
        camera: Camera,
        view: MapView,
        which: int,
        zoom: float,
        target: NDArray[np.float32],
    ) -> "_EndSeen":
        window = end_window(helix, camera, view, which, zoom, target.shape).astype(np.float32)
        return _EndSeen(camera, view, zoom, target, window, which, _part(helix, which))

    def likeliest(self, trials: Sequence[Helix]) -> tuple[float, Helix]:
        """Return by how much a drawing differs from the map, of the trial where it does least.

        The trials differ in where they end: what all have is drawn once.
        """
        same, own = self._parts(trials)
        drawn = Silhouette.of(trials[0], self.camera, self.view, self.zoom, same)
        height, width = self.target.shape
        picture, everywhere = (
            np.zeros((height, width), np.uint8),
            (slice(0, height), slice(0, width)),
        )
        drawn.draw_on(picture, everywhere)
        differs = self._differs(picture, everywhere)
        costs = []
        for trial in trials:
            drawn = Silhouette.of(trial, self.camera, self.view, self.zoom, own)
            where = drawn.place((height, width))
            both = picture[where].copy()
            drawn.draw_on(both, where)
            costs.append(float((self._differs(both, where) - differs[where]).sum()))
        best = int(np.argmin(costs))
        return float(differs.sum()) + costs[best], trials[best]

    def _differs(self, picture: NDArray[np.uint8], where: Place) -> NDArray[np.float32]:
        """Return by how much a picture of some rows and columns differs from the map there."""
        covered = picture.astype(np.float32) * np.float32(1.0 / 255.0)
        return np.asarray(np.abs(covered - self.target[where]) * self.window[where])

    def _parts(self, trials: Sequence[Helix]) -> tuple[tuple[float, float], tuple[float, float]]:
        """Return between which turns all trials are alike, and between which each is its own."""
        low, high = self.part
        if self.which == 0:
            inner = max(_bends_at(trial, 0) for trial in trials)
            return (inner, high), (low, min(inner + JOINED, high))
        inner = min(_bends_at(trial, 1) for trial in trials)
        return (low, inner), (max(inner - JOINED, low), high)


def _bends_at(helix: Helix, which: int) -> float:
    """Return the turn at which the wire begins to bend to a dead turn; its tip where open."""
    name, inwards = ("start", "stop")[which], (1.0, -1.0)[which]
    if helix.ends[which] is End.OPEN:
        return helix[name]
    return helix[name] + inwards * (helix[f"dead_{name}"] + 6.0 * BEND)


def find_tips(
    helix: Helix,
    camera: Camera,
    view: MapView,
    keep: NDArray[np.bool_],
    wire_map_px: float,
    pairs: Collection[tuple[End, End]] = PAIRS,
) -> list[Helix]:
    """Return the helix with the ends, open, closed or ground, that best explain the map.

    After it come those with other pairs of ends that explain it nearly as well: which is right
    shows when each has been fitted. No pairs are tried but these.
    """
    zoom, target = shrink(view, keep, wire_map_px)
    sides: list[dict[End, tuple[float, Helix]]] = []
    for which in (0, 1):
        end_seen = _EndSeen.of(helix, camera, view, which, zoom, target)
        kinds = {pair[which] for pair in pairs}
        sides.append({end: _likeliest(helix, which, end, end_seen) for end in End if end in kinds})
    start, stop = ({e: c for e, (c, _) in side.items()} for side in sides)
    likely = [_likely_pair(start, stop, pairs)]
    most = NEARLY * _cost(start, stop, likely[0])
    alike = (pair for pair in ALIKE if pair in pairs and pair != likely[0])
    for pair in sorted(alike, key=lambda pair: _cost(start, stop, pair)):
        if _cost(start, stop, pair) < most:
            likely.append(pair)
    out = []
    for pair in likely:
        first, last = (sides[k][pair[k]][1] for k in (0, 1))
        ended = replace(helix, ends=pair)
        out.append(ended.with_values(start=first["start"], stop=last["stop"]))
    return out


def _likely_pair(
    start: dict[End, float], stop: dict[End, float], pairs: Collection[tuple[End, End]] = PAIRS
) -> tuple[End, End]:
    """Return the kinds of both ends: makers treat both alike, and a cut leaves one open."""
    ordered = sorted(pairs, key=lambda pair: _cost(start, stop, pair))
    alike = next((pair for pair in ordered if pair in ALIKE), ordered[0])
    cut = next((pair for pair in ordered if pair not in ALIKE), alike)
    plainly = _cost(start, stop, cut) < PLAINLY * _cost(start, stop, alike)
    return cut if plainly else alike


def _cost(start: dict[End, float], stop: dict[End, float], pair: tuple[End, End]) -> float:
    """Return how badly a pair of ends explains the map."""
    return start[pair[0]] + stop[pair[1]]


def refine_tips(
    helix: Helix,
    camera: Camera,
    view: MapView,
    keep: NDArray[np.bool_],
    wire_map_px: float,
    reach: float = NEAR,
) -> Helix:
    """Return the helix with each tip moved to where the map fits best, within `reach` turns."""
    zoom, target = shrink(view, keep, wire_map_px)
    coarse = np.linspace(-reach, reach, 9)
    fine = np.array([-0.5, 0.0, 0.5]) * (coarse[1] - coarse[0])
    for which in (0, 1):
        end_seen = _EndSeen.of(helix, camera, view, which, zoom, target)
        for moves in (coarse, fine):
            _, helix = end_seen.likeliest(_tip_moved(helix, which, moves))
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


def _likeliest(helix: Helix, which: int, end: End, end_seen: _EndSeen) -> tuple[float, Helix]:
    """Return the helix with one end of a kind where that explains the map best, and its cost.

    Every other place is tried, then those beside the best.
    """
    name, way = ("start", "stop")[which], (-1.0, 1.0)[which]
    ends = (end, helix.ends[1]) if which == 0 else (helix.ends[0], end)
    edge = helix.anchor + 0.5 * helix.span * way

    def tried(offsets: Array) -> tuple[float, Helix]:
        there = replace(helix, ends=ends)
        return end_seen.likeliest(
            [there.with_values(**{name: edge + way * offset}) for offset in offsets]
        )

    coarse = np.arange(*REACH[end], 2.0 * STEP)
    stretches = np.array_split(coarse, len(coarse) // TOGETHER + 1)
    middle = min((tried(offsets) for offsets in stretches), key=lambda one: one[0])[1][name]
    return tried(way * (middle - edge) + STEP * np.array([-1.0, 0.0, 1.0]))


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
