"""Find a coil by drawing many and keeping the one that looks most like the map.

A few turns show no row of strands to count, and where they are longest says nothing of their axis;
longer ones are fitted wrongly where the slant is in doubt, or the row starts at a wrong strand.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from vision.camera import Camera, DoubtedCamera
from vision.guesses import TAPERS, close_coils, with_other_ends
from vision.helix import Helix
from vision.map_view import MapView
from vision.silhouette import Silhouette
from vision.strands import Body

Array = NDArray[np.float64]

#: Fewer turns than this are no coil.
LEAST_TURNS = 0.8
#: Width of the wire in the drawings [px].
WIRE_PX = 8
#: Most that a drawing holds [px]: where the wire is so fine beside it, it is no short coil.
MOST_DRAWN_PX = 1e5
#: How many first drawings of each hand are bettered a little, and by how many more each: they lie
#: too far apart for the likeliest, or its hand, to be the nearest to the truth.
FIRST, FEW_DRAWINGS = 8, 40
#: Where none of those looks more like the map than this, there is no coil: those that were found so
#: had 0.36 at least, stripes and tufts 0.2 at most.
LEAST_LIKE = 0.25
#: How many of those are bettered to the end, and by how many drawings each.
BETTERED, DRAWINGS = 4, 240
#: Coils of so nearly equal turns, of one hand and nearly one slant, are bettered once [turns;
#: standard uncertainties].
ALIKE_TURNS, ALIKE_SHIFTS = 0.3, 0.5
#: A cause that turns the table by more than this leaves its slant unsure [rad], and what likeness
#: a standard uncertainty of it costs.
UNSURE, DOUBT_COSTS = 0.044, 0.01
#: One by which it is so unsure that a coil is sought at twice the uncertainty as well [rad].
VERY_UNSURE = 0.087
#: By how much likelier than a cylinder a cone must be, and than a coil one with other ends.
CONE_GAINS, ENDS_GAIN = 0.015, 0.02
#: What is bettered, and the first step in it.
FREE = {
    "x": 0.3,
    "y": 0.3,
    "heading": 0.08,
    "log_radius": 0.06,
    "log_wire": 0.08,
    "log_pitch": 0.08,
    "start": 0.15,
    "stop": 0.15,
}


@dataclass(frozen=True, slots=True)
class Target:
    """What drawings are held against.

    Attributes
    ----------
    view, camera : MapView, Camera
        What the wire map saw, and the camera over the table.
    zoom : float
        Scale of the drawings to the view.
    wire, upper : ndarray, shape (H, W)
        The maps of all wire and of the coil's upper half at that scale.
    """

    view: MapView
    camera: Camera
    zoom: float
    wire: NDArray[np.float32]
    upper: NDArray[np.float32]

    @staticmethod
    def of(view: MapView, keep: NDArray[np.bool_], camera: Camera, wire_map_px: float) -> "Target":
        """Return the maps of what is kept (H, W), small: the wire is so wide in them now [px]."""
        zoom = min(1.0, WIRE_PX / wire_map_px, float(np.sqrt(MOST_DRAWN_PX / keep.size)))
        size = (round(keep.shape[1] * zoom), round(keep.shape[0] * zoom))
        maps = [
            cv2.resize(np.where(keep, view.maps[k], 0.0), size, interpolation=cv2.INTER_AREA)
            for k in (0, 1)
        ]
        return Target(view, camera, zoom, *(m.astype(np.float32) for m in maps))

    def likeness(self, helix: Helix, camera: Camera | None = None) -> float:
        """Return how much wire a helix covers, less what it covers of the table.

        As a share of all the wire, in the mean of both maps: 1 at most, below 0 where it covers
        more table than wire.

        Parameters
        ----------
        helix : Helix
            What is drawn.
        camera : Camera or None
            The camera through which it is seen, where it is not the target's own.
        """
        seen, told = Silhouette.of(helix, camera or self.camera, self.view, self.zoom), 0.0
        where = seen.place(self.wire.shape)
        pictures = seen.drawn_twice_at(where)
        for target, picture in zip((self.wire, self.upper), pictures, strict=True):
            covered = float((picture * (2.0 * target[where] - 1.0)).sum())
            told += 0.5 * covered / (float(target.sum()) + 1e-6)
        return told


@dataclass(frozen=True, slots=True)
class Drawn:
    """A coil that was drawn, seen through a camera with some of its doubts.

    Attributes
    ----------
    helix : Helix
        The coil.
    shifts : ndarray, shape (K,)
        How far each of the camera's causes of doubt is off [standard uncertainties].
    likeness : float
        How much it looks like the map, less what so doubtful a camera costs.
    """

    helix: Helix
    shifts: Array
    likeness: float


def slants(camera: DoubtedCamera) -> list[Array]:
    """Return the doubts (K,) at which to look for a coil: one, or more where the slant is unsure.

    A single coin has two poses, mirrored at the line of sight, and its best camera lies between.
    """
    none = np.zeros(camera.causes)
    unsure = _unsure(camera)
    if not len(unsure):
        return [none]
    one = np.zeros(camera.causes)
    one[unsure[0]] = 1.0
    far = (2.0, -2.0) if _turns(camera)[unsure[0]] > VERY_UNSURE else ()
    return [none, *(step * one for step in (1.0, -1.0, *far))]


def _unsure(camera: DoubtedCamera) -> NDArray[np.intp]:
    """Return the causes that turn the table by a coil's worth, the most unsure first."""
    turn = _turns(camera)
    found = np.nonzero(turn > UNSURE)[0]
    return found[np.argsort(-turn[found])]


def _turns(camera: DoubtedCamera) -> Array:
    """Return by how much each cause turns the table (K,) [rad]."""
    return np.asarray(np.linalg.norm(camera.moves[:, 3:6], axis=1))


def search(
    guesses: Iterable[tuple[Helix, Array]], target: Target, camera: DoubtedCamera
) -> list[Drawn]:
    """Return the likeliest of many coils, each bettered, best first; none where none is likely.

    Parameters
    ----------
    guesses : iterable of Helix and ndarray (K,)
        What to start from, and the camera's doubts there.
    target : Target
        What they shall look like.
    camera : DoubtedCamera
        Through which they are seen.
    """
    first = [_drawn(helix, shifts, target, camera) for helix, shifts in guesses]
    first.sort(key=lambda one: -one.likeness)
    hands = ([one for one in first if one.helix.hand == hand] for hand in (1, -1))
    some = [one for alike in hands for one in _unlike(alike)[:FIRST]]
    nearer = [_bettered_through(one, target, camera, FEW_DRAWINGS) for one in some]
    nearer.sort(key=lambda one: -one.likeness)
    if not nearer or nearer[0].likeness < LEAST_LIKE:
        return []
    better = [_bettered_through(one, target, camera) for one in _unlike(nearer)[:BETTERED]]
    for hand in (1, -1):
        if alike := [one for one in better if one.helix.hand == hand]:
            likeliest = max(alike, key=lambda one: one.likeness)
            better += _with_other_ends_if_likelier(likeliest, target, camera)
    return sorted(better, key=lambda one: -one.likeness)


def _with_other_ends_if_likelier(one: Drawn, target: Target, camera: DoubtedCamera) -> list[Drawn]:
    """Return a coil with ends of other kinds, where that looks plainly more like the map."""
    others = (replace(one, helix=helix) for helix in with_other_ends(one.helix))
    better = (_bettered_through(other, target, camera) for other in others)
    return [other for other in better if other.likeness > one.likeness + ENDS_GAIN]


def _unlike(drawn: list[Drawn]) -> list[Drawn]:
    """Return of coils that are as good as one the likeliest, in their order, then the others."""
    kept: list[Drawn] = []
    others: list[Drawn] = []
    for one in drawn:
        enough = len(kept) == BETTERED or any(_twins(one, other) for other in kept)
        (others if enough else kept).append(one)
    return [*kept, *others]


def _twins(one: Drawn, other: Drawn) -> bool:
    """Tell whether bettering two coils would likely lead to the same."""
    helix, like = one.helix, other.helix
    alike = helix.hand == like.hand and np.allclose(one.shifts, other.shifts, atol=ALIKE_SHIFTS)
    return bool(alike and abs(helix.turns - like.turns) < ALIKE_TURNS)


def cone_if_likelier(one: Drawn, target: Target, camera: DoubtedCamera) -> Drawn:
    """Return a coil as a cone where that looks plainly more like the map; else as it is."""
    tapered = (replace(one, helix=one.helix.with_values(taper=t)) for t in TAPERS)
    cones = [_bettered_through(cone, target, camera) for cone in tapered]
    best = max(cones, key=lambda cone: cone.likeness)
    return best if best.likeness > one.likeness + CONE_GAINS else one


def _drawn(helix: Helix, shifts: Array, target: Target, camera: DoubtedCamera) -> Drawn:
    doubt = DOUBT_COSTS * float(shifts @ shifts)
    return Drawn(helix, shifts, target.likeness(helix, camera.at(shifts)) - doubt)


def close_turns(body: Body, pitch: float, target: Target, hands: tuple[int, ...]) -> list[Helix]:
    """Return the likeliest coils of a known pitch [mm] that nearly hides the gaps, best first."""
    return _best(close_coils(body, pitch, hands), target)


def _bettered_through(
    one: Drawn,
    target: Target,
    camera: DoubtedCamera,
    drawings: int = DRAWINGS,
) -> Drawn:
    """Return a coil moved, and the camera slanted, to where it looks most like the map.

    By the simplex of Nelder and Mead (1965).
    """
    free, unsure = _free(one.helix), _unsure(camera)
    names = list(free)
    scale = np.array([free[n] * (one.helix.wire_mm if n in ("x", "y") else 1.0) for n in names])
    start = np.array([one.helix[n] for n in names])

    def moved(step: Array) -> tuple[Helix, Array]:
        values = start + step[: len(names)] * scale
        shifts = one.shifts.copy()
        shifts[unsure] += 0.4 * step[len(names) :]
        return one.helix.with_values(**dict(zip(names, values, strict=True))), shifts

    def cost(step: Array) -> float:
        helix, shifts = moved(step)
        if helix.turns < LEAST_TURNS:
            return 1.0
        return -_drawn(helix, shifts, target, camera).likeness

    count = len(names) + len(unsure)
    options = {
        "maxfev": drawings * count // len(names),
        "initial_simplex": np.vstack([np.zeros(count), np.eye(count)]),
        "fatol": 1e-4,
        "xatol": 1e-3,
    }
    best = minimize(cost, np.zeros(count), method="Nelder-Mead", options=options).x
    return _drawn(*moved(best), target, camera)


def _free(helix: Helix) -> Mapping[str, float]:
    """Return what is bettered of a helix, and the first step in it: a cone stays one."""
    return {**FREE, "taper": 0.1} if helix["taper"] else FREE


def _best(guesses: Iterator[Helix], target: Target) -> list[Helix]:
    first = [(target.likeness(helix), k, helix) for k, helix in enumerate(guesses)]
    first.sort(key=lambda one: -one[0])
    sure = DoubtedCamera.of(target.camera)
    some = [Drawn(helix, np.zeros(0), likeness) for likeness, _, helix in first[:BETTERED]]
    better = [_bettered_through(one, target, sure) for one in some]
    return [one.helix for one in sorted(better, key=lambda one: -one.likeness)]
