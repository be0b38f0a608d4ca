"""Where turns that touch end and a hook begins: by drawing the wire's way from one to the other.

Seen from above, the bend by which the wire leaves its last turn lies against that turn, and looks
like a quarter of a turn more. So the turns alone are counted too many; drawn with the bend that
would follow them, they tell where they end.
"""

from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from vision.camera import Camera
from vision.helix import Helix, along_axis, frame, turns_of
from vision.map_view import MapView
from vision.silhouette import Silhouette, shrink

Array = NDArray[np.float64]

#: Where the turns may end, from where their bar seems to, look by look [turns]: mostly before, for
#: the bend looks like more of them.
LOOKS = (np.arange(-0.875, 0.51, 0.0625), np.array([-0.03125, 0.0, 0.03125]))
#: What is compared: from so far within the last turn to so far beyond it [wires]. Farther out hooks
#: have any shape.
WITHIN, BEYOND = 4.0, 2.0
#: Turns next to an end that are drawn: more do not show where it is looked.
NEAR = 6.0
#: Clear of the turns by so much a hook begins [wires].
CLEAR = 0.6
#: How sharply the bend starts and stops, as a share of its length: common practice, no source.
EASE = 1.2


class Bend(Enum):
    """How the wire goes over into a hook; from where to where its loop runs [degrees].

    The angle is that about the loop's middle, from its farthest point.
    """

    #: It crosses to the coil's middle, and the loop stands in the plane that it was heading in.
    CROSSING = (140.0, -180.0)
    #: It is kinked on the rim, and the loop stands in the plane of that place and the axis.
    ON_THE_RIM = (90.0, -90.0)


def hook_line(helix: Helix, which: int, bend: Bend) -> Array:
    """Return the centre line of the wire from the end of its turns on, (N, 3) [mm].

    Parameters
    ----------
    helix : Helix
        The turns.
    which : int
        0 for the hook before its start, 1 for that after its stop.
    bend : Bend
        How the wire goes over into it. The loop is as wide as the coil, as it is usually made.
    """
    out = 1.0 if which else -1.0
    turn = 2.0 * np.pi * helix[("start", "stop")[which]]
    radius = helix.radius_mm
    middle = along_axis(helix, turns_of(helix))[-1 if which else 0] * np.eye(3)[0]
    rim = np.array([0.0, -helix.hand * np.sin(turn), np.cos(turn)])
    ahead = out * np.array([0.0, -helix.hand * np.cos(turn), -np.sin(turn)])
    rise = np.exp(helix["log_pitch"]) / (2.0 * np.pi * radius)
    way = ahead + out * rise * np.eye(3)[0]
    axis, clear = out * np.eye(3)[0], CLEAR * helix.wire_mm
    side, centre = (ahead, radius + clear) if bend is Bend.CROSSING else (rim, clear)
    first, last = bend.value
    angle = np.radians(np.arange(first, last - 1.0, -5.0))[:, None]
    loop = middle + centre * axis + radius * (np.cos(angle) * axis + np.sin(angle) * side)
    tip = middle + radius * rim
    line = np.vstack([tip, _eased(tip, way, loop[0], loop[1] - loop[0]), loop])
    origin, axes = frame(helix)
    return np.asarray(origin + line @ axes)


def _eased(start: Array, way: Array, stop: Array, heading: Array) -> Array:
    """Return points (N, 3) between two that leave one and reach the other in given directions."""
    reach = EASE * np.linalg.norm(stop - start)
    way, heading = (reach * d / np.linalg.norm(d) for d in (way, heading))
    t = np.linspace(0.0, 1.0, 16)[1:-1, None]
    return np.asarray(
        (2 * t**3 - 3 * t**2 + 1) * start
        + (t**3 - 2 * t**2 + t) * way
        + (3 * t**2 - 2 * t**3) * stop
        + (t**3 - t**2) * heading
    )


def between_hooks(
    helix: Helix, camera: Camera, view: MapView, keep: NDArray[np.bool_], wire_map_px: float
) -> Helix:
    """Return touching turns that end where their hooks begin.

    Parameters
    ----------
    helix, camera : Helix, Camera
        The turns, right to half a turn at either end, and the camera over the table.
    view, keep : MapView, ndarray of bool (H, W)
        The map, and which of it may be the spring's: its hooks with it.
    wire_map_px : float
        Width of the wire in the map [px].
    """
    drawing = _Drawing(camera, view, *shrink(view, keep, wire_map_px))
    windows = [drawing.window(helix, which) for which in (0, 1)]
    found: list[tuple[float, Helix]] = []
    for bend in Bend:
        bent, total = helix, 0.0
        for which in (0, 1):
            for moves in LOOKS:
                tried = [moved(bent, which, move) for move in moves]
                costs = [drawing.cost(one, which, bend, windows[which]) for one in tried]
                bent = tried[int(np.argmin(costs))]
            total += min(costs)
        found.append((total, bent))
    # Makers bend both hooks alike.
    return min(found, key=lambda one: one[0])[1]


def moved(helix: Helix, which: int, turns: float) -> Helix:
    """Return a helix with one end so many turns farther out."""
    name, out = (("start", -1.0), ("stop", 1.0))[which]
    return helix.with_values(**{name: helix[name] + out * turns})


@dataclass(frozen=True, slots=True)
class _Drawing:
    """The map against which turns with a hook's bend are held, `zoom` times its size."""

    camera: Camera
    view: MapView
    zoom: float
    target: NDArray[np.float32]

    def window(self, helix: Helix, which: int) -> NDArray[np.bool_]:
        """Return the pixels (H, W) about an end."""
        middle, axes = frame(helix)
        x = along_axis(helix, turns_of(helix))[[0, -1]]
        ends = self.camera.project(middle + x[:, None] * axes[0])
        inner, outer = ((self.view.to_map(ends) + 0.5) * self.zoom - 0.5)[:: 1 if which else -1]
        px_per_mm = np.linalg.norm(outer - inner) / np.ptp(x)
        way = (outer - inner) / np.linalg.norm(outer - inner)
        down, right = np.mgrid[0 : self.target.shape[0], 0 : self.target.shape[1]]
        past = (right - outer[0]) * way[0] + (down - outer[1]) * way[1]
        wires = past / (px_per_mm * helix.wire_mm)
        return np.asarray((wires > -WITHIN) & (wires < BEYOND))

    def cost(self, helix: Helix, which: int, bend: Bend, window: NDArray[np.bool_]) -> float:
        """Return by how much turns and their hook differ from the map in a window [px]."""
        inner = helix["stop"] - NEAR if which else helix["start"] + NEAR
        part = (inner, np.inf) if which else (-np.inf, inner)
        turns = Silhouette.of(helix, self.camera, self.view, self.zoom, part)
        line = hook_line(helix, which, bend)
        hook = Silhouette.of_line(line, helix.wire_mm, self.camera, self.view, self.zoom)
        shape = self.target.shape
        picture = np.maximum(turns.drawn(shape), hook.drawn(shape))
        return float(np.abs(picture - self.target)[window].sum())
