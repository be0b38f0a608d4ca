"""How long a spring whose turns touch is with its hooks: a wider look tells where they end.

Beside turns that touch a hook is a faint thing: a lone wire, out of focus where the coil is thick,
and close to the edge of a view that was made for the coil.
"""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.distance import pdist
from skimage import measure, morphology, segmentation

from vision.band import in_band
from vision.beyond import lone_hook_mm
from vision.closer import COARSE_WIRE_PX
from vision.fitted import FittedSpring, free_length_mm, wire_px
from vision.helix import along_axis, frame, turns_of
from vision.level import levelled
from vision.map_view import MapView
from vision.proposals import Box
from vision.region import affordable, look
from vision.strands import overall_mm

Array = NDArray[np.float64]
Pixels = NDArray[np.uint8]

#: How far beyond the turns and beside their axis hooks are looked for [outside diameters].
BEYOND, ASIDE = 1.4, 0.65
#: Room that the map needs around what it shall see, in parts of its length.
ROOM = 0.08
#: From how much farther away they are looked at again where one reaches less far than the other
#: [parts of the usual size]: what is out of focus shows better there.
FARTHER = (0.7, 0.5)
#: Wire of which the map is at least this sure is a hook's where it goes on from the turns.
FAINT = 0.15
#: And so is what is fainter between two ends of it, so far apart at least, and nearly as broad: so
#: much to either side [widths]. Where a bright hook is out of focus over a pale table the map all
#: but loses its bow; lines on the table are as faint and narrower, patches hang on one end alone.
FAINTER, BROAD, APART = 0.02, 0.25, 1.5


def with_hooks(rgb: Pixels, found: FittedSpring) -> FittedSpring:
    """Return a spring with the length that its hooks give it, where its turns touch.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (H, W, 3)
        The photo.
    found : FittedSpring
        The spring.
    """
    if not found.touching:
        return found
    best = _reaching(found, _view_of_hooks(rgb, found))
    for part in FARTHER:
        if lone_hook_mm(best) == 0.0:
            break
        other = _reaching(found, _view_of_hooks(rgb, found, part))
        if other.body.length > best.body.length and lone_hook_mm(other) < lone_hook_mm(best):
            best = other
    return best


def _reaching(found: FittedSpring, view: MapView) -> FittedSpring:
    """Return a spring as long as the wire that a view shows along its axis."""
    along = in_band(view, found.body, found.camera, found.body.width)
    if not (along & (view.maps[0] > 0.5)).any():
        return found
    length = overall_mm(view, along, found.camera, found.body)
    low = _begins_mm(view, along & (view.maps[0] > 0.5), found)
    return replace(found, body=replace(found.body, length=length), reach_mm=(low, low + length))


def _begins_mm(view: MapView, wire: NDArray[np.bool_], found: FittedSpring) -> float:
    """Return where wire begins along the body's heading [mm]."""
    pixels = view.to_photo(np.argwhere(wire)[:, ::-1].astype(float))
    world = found.camera.at_height(pixels, 0.5 * found.body.width)[:, :2]
    return float(np.quantile(world @ found.body.axis, 0.0005))


def length_px(found: FittedSpring) -> Array | None:
    """Return the ends of the free length on the axis (2, 2) [px]; None where the turns' are."""
    if found.reach_mm is None or found.body.length <= free_length_mm(found.helix):
        return None
    middle, axes = frame(found.helix)
    along = found.body.axis
    beyond = (np.array(found.reach_mm) - middle[:2] @ along) / (axes[0][:2] @ along)
    return found.camera.project(middle + beyond[:, None] * axes[0])


def _view_of_hooks(rgb: Pixels, found: FittedSpring, part: float = 1.0) -> MapView:
    """Return the wire map of the turns and of all that hooks may reach, faint wire as wire.

    It is so small a part of the usual size.
    """
    helix = found.helix
    middle, axes = frame(helix)
    wide = 2.0 * helix.radius_mm + helix.wire_mm
    x = along_axis(helix, turns_of(helix))[[0, -1]] + BEYOND * wide * np.array([-1.0, 1.0])
    aside = ASIDE * wide * axes[1]
    rim = [middle + at * axes[0] + side * aside for at in x for side in (-1, 0, 1)]
    scale = part * min(found.view.scale, COARSE_WIRE_PX / wire_px(found))
    view = _level_look(rgb, found.camera.project(np.array(rim)), scale)
    hook = _followed(view.maps[0], view.scale * wire_px(found))
    wire = np.where(hook, np.maximum(view.maps[0], 0.51), view.maps[0])
    return replace(view, maps=np.concatenate([wire[None], view.maps[1:]]))


def _level_look(rgb: Pixels, points_px: Array, scale: float) -> MapView:
    """Return the wire map of what lies between points (N, 2), turned where that shows less."""
    box = Box(*points_px.min(axis=0), *points_px.max(axis=0)).grown(ROOM, rgb.shape)
    area = (box.right - box.left) * (box.bottom - box.top)
    room = ROOM * float(np.ptp(points_px, axis=0).max())
    if (level := levelled(rgb, points_px, room, area)) is not None:
        points = level.of(points_px)
        own = Box(*points.min(axis=0), *points.max(axis=0)).grown(ROOM, level.rgb.shape)
        view = level.in_photo(look(level.rgb, own, affordable(own, scale)))
        if view is not None:
            return view
    return look(rgb, box, affordable(box, scale))


def _followed(wire: NDArray[np.float32], wire_map_px: float) -> NDArray[np.bool_]:
    """Return the wire of a map (H, W) that is seen, and the faint wire between two ends of it."""
    seen = wire > FAINT
    reach = max(1, round(BROAD * wire_map_px))
    faint = morphology.opening((wire > FAINTER) & ~seen, morphology.disk(reach))
    parts = segmentation.expand_labels(measure.label(faint), reach + 2)
    meets = measure.regionprops(measure.label(np.where(seen, parts, 0)), parts)
    ends: dict[int, list[Array]] = {}
    for meet in meets:
        ends.setdefault(int(meet.intensity_max), []).append(np.array(meet.centroid))
    between = [k for k, at in ends.items() if np.max(pdist(at), initial=0.0) > APART * wire_map_px]
    return np.asarray(seen | (faint & np.isin(parts, between)), dtype=bool)
