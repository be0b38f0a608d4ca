"""What the map shows beyond a coil's ends: a hook's wire goes on, a screw's bare end does not.

The map takes a smooth bar's rim for wire in scraps; a hook is one wire from the last turn to its
far end.
"""

import numpy as np
from numpy.typing import NDArray

from vision.fitted import FittedSpring
from vision.helix import along_axis, frame, turns_of

Array = NDArray[np.float64]

#: How far a hook goes on at least [outside diameters]: an eye is nearly as long as the coil is
#: wide (common practice, no source), and leans as it lies.
HOOK_REACH = 0.7
#: What reaches so far is a hook [outside diameters], and of one that reaches less than this share
#: of the other a part may be lost: of 61 springs kept for tuning with both seen it is 0.9 at least.
LEAST_HOOK, ALIKE = 0.5, 0.85
#: Steps along the axis, and rays across it, that are looked at [outside diameters].
STEP, ACROSS = 0.05, 41
#: Wire seen on a step is at least this share of its own diameter wide.
LEAST_SHARE = 0.4


def hook_goes_on(found: FittedSpring) -> bool:
    """Tell whether wire goes on from either end of the turns as far as a hook does.

    Parameters
    ----------
    found : FittedSpring
        A spring whose turns touch.
    """
    steps = round(HOOK_REACH / STEP)
    return any(bool(_wire_beyond(found, end)[:steps].all()) for end in (0, 1))


def lone_hook_mm(found: FittedSpring) -> float:
    """Return how much farther a hook reaches at one end than wire does at the other [mm].

    Nought where both ends show as long a hook, or neither shows one: both ends of a spring are bent
    alike (common practice, no source), so where one shows less it may have been lost from the map.
    """
    if found.reach_mm is None:
        return 0.0
    helix = found.helix
    middle, axes = frame(helix)
    along = middle + along_axis(helix, turns_of(helix))[[0, -1], None] * axes[0]
    faces = np.sort(along[:, :2] @ found.body.axis)
    beyond = np.sort(np.array([faces[0] - found.reach_mm[0], found.reach_mm[1] - faces[1]]))
    hook = beyond[1] > LEAST_HOOK * (2.0 * helix.radius_mm + helix.wire_mm)
    return float(beyond[1] - beyond[0]) if hook and beyond[0] < ALIKE * beyond[1] else 0.0


def _wire_beyond(found: FittedSpring, end: int) -> NDArray[np.bool_]:
    """Return at which steps beyond an end, 0 or 1, wire crosses the axis's surroundings (N,)."""
    helix = found.helix
    wide = 2.0 * helix.radius_mm + helix.wire_mm
    middle, axes = frame(helix)
    last = float(along_axis(helix, turns_of(helix))[-end])
    out = (1.0 if end else -1.0) * (
        0.5 * helix.wire_mm + wide * np.arange(STEP, HOOK_REACH + 1.5 * STEP, STEP)
    )
    across = wide * np.linspace(-0.5, 0.5, ACROSS)
    points = middle + (last + out)[:, None, None] * axes[0] + across[:, None] * axes[1]
    map_px = found.view.to_map(found.camera.project(points.reshape(-1, 3)))
    x, y = np.round(map_px).astype(int).T
    height, width = found.view.maps.shape[1:]
    inside = (x >= 0) & (y >= 0) & (x < width) & (y < height)
    seen = found.view.maps[0][y.clip(0, height - 1), x.clip(0, width - 1)] > 0.5
    share = (inside & seen).reshape(len(out), ACROSS).mean(axis=1)
    return np.asarray(share > LEAST_SHARE * helix.wire_mm / wide)
