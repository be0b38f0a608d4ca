"""From the wire map to a first guess of the spring: its axis, its size, its strands and hand."""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, map_coordinates
from scipy.signal import find_peaks
from scipy.stats import theilslopes
from skimage.measure import find_contours

from vision.camera import Camera
from vision.helix import NAMES, Helix
from vision.map_view import MapView

Array = NDArray[np.float64]

#: Gaps on either side of one that tell how many pitches it is.
BESIDE = 3
#: Of more pixels than this a body needs not all.
MOST_PIXELS = 50_000
#: Rows across the coil's upper side; a strand is as bright as so many of the darkest leave it: 0.3
#: of them.
ROWS, LOW = 41, 12


@dataclass(frozen=True, slots=True)
class Body:
    """The spring's place on the table, before its turns are known [mm, rad].

    Attributes
    ----------
    middle, heading : (2,), float
        Middle of the axis, over the table, and its direction.
    length, width : float
        Along and across, over the wire.
    wire : float
        Diameter of the wire, roughly.
    taper : float
        How much wider its turns are at its far end than at the near one, of their usual width.
    """

    middle: Array
    heading: float
    length: float
    width: float
    wire: float
    taper: float = 0.0

    @property
    def axis(self) -> Array:
        """The direction of the axis over the table, a unit (2,)."""
        return np.array([np.cos(self.heading), np.sin(self.heading)])


def outline_of(view: MapView, keep: NDArray[np.bool_]) -> Array:
    """Return the boundary of the wire in the photo (N, 2) [px], between pixels."""
    coverage = np.where(keep, view.maps[0], 0.0)
    found: list[Array] = find_contours(coverage, 0.5)
    lines = [line for line in found if len(line) > 12]
    if not lines:
        return np.empty((0, 2))
    return view.to_photo(np.vstack(lines)[:, ::-1])


def parts(view: MapView) -> tuple[NDArray[np.int32], list[int]]:
    """Return groups of wire, gaps of a few strands closed: numbers from 1 on (H, W), and sizes.

    A size is how much wire a group holds [map px]; there is one at least, which may be nothing.
    """
    mask = (view.maps[0] > 0.5).astype(np.uint8)
    joined = cv2.morphologyEx(mask, cv2.MORPH_CLOSE, np.ones((41, 41), np.uint8))
    count, labels = cv2.connectedComponents(joined)
    sizes = np.bincount(labels[mask > 0], minlength=max(count, 2))
    return np.asarray(labels, dtype=np.int32), [int(size) for size in sizes[1:]]


def main_part(view: MapView) -> NDArray[np.bool_]:
    """Return the pixels near the largest connected group of wire, gaps of a few strands closed."""
    labels, sizes = parts(view)
    part = labels == 1 + int(np.argmax(sizes))
    return cv2.dilate(part.astype(np.uint8), np.ones((9, 9), np.uint8)).astype(bool)


def overall_mm(view: MapView, keep: NDArray[np.bool_], camera: Camera, body: "Body") -> float:
    """Return the length along a body's axis of all that was seen, hooks with it [mm]."""
    pixels = _pixels(view, keep & (view.maps[0] > 0.5))
    world = camera.at_height(pixels, 0.5 * body.width)[:, :2]
    along = world @ body.axis
    low, high = np.quantile(along, [0.0005, 0.9995])
    return float(high - low)


def _pixels(view: MapView, mask: NDArray[np.bool_]) -> Array:
    """Return the photo's pixels (N, 2) of a mask, evenly thinned where there are very many."""
    y, x = np.nonzero(mask)
    every = -(-len(x) // MOST_PIXELS) if len(x) else 1
    return view.to_photo(np.column_stack([x[::every], y[::every]]).astype(float))


def body_of(
    view: MapView,
    keep: NDArray[np.bool_],
    camera: Camera,
    solid: bool = False,
    heading: float | None = None,
) -> Body:
    """Return where the spring lies and how big it is.

    Parameters
    ----------
    view, keep, camera : MapView, ndarray of bool (H, W), Camera
        The map, which of it is the spring's, and the camera over the table.
    solid : bool
        Whether its turns all touch.
    heading : float or None
        Direction in which its axis lies [rad]; that in which it is longest, mended by its flanks,
        if None.
    """
    mask = keep & (view.maps[0] > 0.5)
    pixels = _pixels(view, mask)
    wire_map_px = 2.0 * typical_half_width(mask)
    if solid:
        # Turns that touch are parted by where their surface turns away: at half its squareness a
        # round wire still shows this share of its width.
        wire_map_px = 2.0 * typical_half_width(mask & (view.maps[2] > 0.5)) / np.sqrt(0.75)
    height, held = 0.0, heading is not None
    for _ in range(3):
        world = camera.at_height(pixels, height)[:, :2]
        centre = world.mean(axis=0)
        if heading is None:
            _, _, axes = np.linalg.svd(world - centre, full_matrices=False)
            heading = float(np.arctan2(axes[0, 1], axes[0, 0]))
        axis = np.array([np.cos(heading), np.sin(heading)])
        side = np.array([-axis[1], axis[0]])
        along, across = (world - centre) @ axis, (world - centre) @ side
        low, high = np.quantile(along, [0.002, 0.998])
        (down, slope_down), (up, slope_up) = _flanks(along, across, low, high)
        if not held:
            # The axis runs midway between the flanks, whatever the last turns do to the whole.
            heading += float(np.arctan(0.5 * (slope_down + slope_up)))
        height = 0.5 * (up - down)
    middle = centre + axis * 0.5 * (low + high) + side * 0.5 * (down + up)
    near = float(np.linalg.norm(camera.at_height(pixels[:1], height)[0] - camera.position_mm))
    wire = wire_map_px / view.scale * near / camera.focal_px
    assert heading is not None
    taper = (slope_up - slope_down) * (high - low) / max(up - down - wire, wire)
    return Body(middle, heading, float(high - low), float(up - down), wire, float(taper))


def unslanted(body: Body, camera: Camera) -> Body:
    """Return a body as long and wide as it is: seen aslant, its ends show their faces besides.

    A point of the coil that stands higher than the axis is seen farther from the camera's foot, one
    that is lower nearer to it; the body was measured at the height of the axis. An open end shows
    only a part of its face, so with open ends it is somewhat longer than this.
    """
    axis = body.axis
    side = np.array([-axis[1], axis[0]])
    ends = body.middle + 0.5 * body.length * np.array([[-1.0], [1.0]]) * axis
    above = camera.position_mm[2] - 0.5 * body.width
    face = 0.5 * (body.width - body.wire)
    low, high = face * np.abs((ends - camera.position_mm[:2]) @ axis) / above
    length = max(float(body.length - low - high), 2.0 * body.wire)
    slope = float((body.middle - camera.position_mm[:2]) @ side) / above
    width = body.width / np.hypot(1.0, slope)
    return replace(body, middle=body.middle + 0.5 * (low - high) * axis, length=length, width=width)


def _flanks(
    along: Array, across: Array, low: float, high: float
) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return height at the middle and slope of the lower and the upper flank."""
    count = 12
    bins = np.clip(((along - low) / (high - low) * count).astype(int), 0, count - 1)
    held = np.flatnonzero(np.bincount(bins, minlength=count) > 5)
    at = low + (held + 0.5) / count * (high - low) - 0.5 * (low + high)
    out = []
    for outer, none in ((np.minimum, np.inf), (np.maximum, -np.inf)):
        if len(held) < 5:  # too short to tell its lie
            out.append((float(outer.reduce(across)), 0.0))
            continue
        edges = np.full(count, none)
        outer.at(edges, bins, across)
        edge = edges[held]
        slope = float(theilslopes(edge[1:-1], at[1:-1])[0])
        out.append((float(np.median((edge - slope * at)[1:-1])), slope))
    return out[0], out[1]


def typical_half_width(mask: NDArray[np.bool_]) -> float:
    """Half the width of a lone strand [map px]: typical ridge of the distance to the background."""
    inside = cv2.distanceTransform(mask.astype(np.uint8), cv2.DIST_L2, 5)
    ridge = (inside == cv2.dilate(inside, np.ones((3, 3), np.uint8))) & (inside > 1.5)
    return float(np.quantile(inside[ridge], 0.3)) if ridge.any() else 1.5


@dataclass(frozen=True, slots=True)
class Strands:
    """Where upper strands cross above the axis, for one hand.

    Attributes
    ----------
    hand : int
        1 for right, -1 for left.
    places : ndarray, shape (K,)
        Along the axis from its middle [mm].
    pitch : float
        Typical distance [mm].
    contrast : float
        How sharply strands of this slope stand out.
    """

    hand: int
    places: Array
    pitch: float
    contrast: float


def strands_of(view: MapView, body: Body, camera: Camera, hand: int) -> Strands:
    """Return the strands that run as those of a hand's upper half do."""
    step = body.wire / 10.0
    radius = 0.5 * (body.width - body.wire)
    if radius < body.wire:  # narrower than any coil
        return Strands(hand, np.empty(0), body.wire, 0.0)
    half = 0.5 * body.length + body.wire
    along = np.arange(-half, half, step)
    across = np.linspace(-0.72, 0.72, ROWS) * radius
    grid = gaussian_filter1d(upper_sheet(view, body, camera, along, across, radius), 1.5, axis=1)
    best: tuple[float, float, Array] | None = None
    for pitch in np.geomspace(0.9 * body.wire, 1.5 * body.width, 40):
        shear = -hand * pitch / (2 * np.pi) * np.arcsin(across / radius)
        moved = [np.interp(along + move, along, row) for row, move in zip(grid, shear, strict=True)]
        # A strand of this slope is bright from side to side; one that crosses it is so in part.
        low = np.partition(np.transpose(moved), LOW, axis=1)[:, LOW]
        profile = gaussian_filter1d(low, 1.5)
        high = profile - gaussian_filter1d(profile, 2.5 * body.wire / step)
        contrast = float(high.std())
        if best is None or contrast > best[0]:
            best = (contrast, float(pitch), profile)
    assert best is not None
    contrast, pitch, profile = best
    peaks, _ = find_peaks(
        profile, distance=0.75 * body.wire / step, prominence=0.25 * np.ptp(profile)
    )
    places = along[peaks]
    typical = float(np.median(np.diff(places))) if len(places) > 2 else pitch
    return Strands(hand, places, typical, contrast)


def upper_sheet(
    view: MapView, body: Body, camera: Camera, along: Array, across: Array, radius: float
) -> Array:
    """Return squareness times upper coverage on the coil's upper surface, shape (across, along)."""
    c, s = np.cos(body.heading), np.sin(body.heading)
    a, b = np.meshgrid(along, across)
    z = radius + 0.5 * body.wire + np.sqrt(np.maximum(radius**2 - b**2, 0.0))
    world = np.stack([body.middle[0] + a * c - b * s, body.middle[1] + a * s + b * c, z], -1)
    pixels = view.to_map(camera.project(world.reshape(-1, 3)))
    values = view.maps[2] * view.maps[1]
    out = map_coordinates(values, [pixels[:, 1], pixels[:, 0]], order=1, mode="constant")
    return np.asarray(out.reshape(a.shape))


def regular(places: Array) -> slice:
    """Return the run of places whose gaps change little: the body, without dead turns.

    Gaps are held against the wider ones near by, for those of dead turns are always narrow; one
    in which a single strand was not seen counts as two.
    """
    steps = np.diff(numbered(places))
    gaps = np.diff(places) / np.where(steps == 2, steps, 1)
    first, last = 0, len(gaps)
    while first < last - 1 and not _like(gaps[first], gaps[first : min(first + 4, last)]):
        first += 1
    while last > first + 1 and not _like(gaps[last - 1], gaps[max(last - 4, first) : last]):
        last -= 1
    return slice(first, last + 1)


def _like(gap: float, near: Array) -> bool:
    return bool(0.76 < gap / np.quantile(near, 0.65) < 1.4)


def numbered(places: Array) -> NDArray[np.int64]:
    """Return the number of each strand in its row from 0 on, counting those that were not seen.

    A gap is as many pitches as the gaps beside it go into it: the pitch may change along the row.
    """
    gaps = np.diff(places)
    steps = np.ones(len(gaps), dtype=np.int64)
    for k, gap in enumerate(gaps):
        beside = np.concatenate([gaps[max(k - BESIDE, 0) : k], gaps[k + 1 : k + 1 + BESIDE]])
        if len(beside) > 1:
            steps[k] = max(1, round(float(gap / np.median(beside))))
    return np.concatenate([[0], np.cumsum(steps)])


def first_guess(body: Body, strands: Strands) -> Helix:
    """Return a helix through the regular strands, its tips a quarter turn beyond the outer ones."""
    places = strands.places[regular(strands.places)]
    order = numbered(places)
    count = int(order[-1]) + 1
    anchor = 0.5 * (count - 1)
    degree = min(2, len(places) - 1)
    fit = np.polynomial.Polynomial.fit(order, places, degree).convert()
    slope = fit.deriv()
    pitch, here = float(slope(anchor)), float(fit(anchor))
    span = max(count - 1.0, 1.0)
    ramp = float((slope(count - 1.0) - slope(0.0)) / (2 * pitch))
    c, s = np.cos(body.heading), np.sin(body.heading)
    given = {
        "x": body.middle[0] + here * c,
        "y": body.middle[1] + here * s,
        "heading": body.heading,
        "log_radius": np.log(0.5 * (body.width - body.wire)),
        "log_wire": np.log(0.5 * body.wire),
        "start": -0.25,
        "stop": count - 0.75,
        "log_pitch": np.log(pitch),
        "ramp": ramp if count > 3 else 0.0,
        "log_pitch_start": np.log(body.wire),
        "log_pitch_stop": np.log(body.wire),
        "dead_start": 1.0,
        "dead_stop": 1.0,
    }
    values = np.array([given.get(name, 0.0) for name in NAMES], dtype=float)
    return Helix(values, strands.hand, anchor, span)
