"""A spring's wire map drawn from a helix: truth for the fit, without a network."""

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from vision.camera import Camera
from vision.helix import NAMES, End, Helix, centre_line, is_upper, turns_of
from vision.map_view import MapView
from vision.proposals import Box

Array = NDArray[np.float64]


def helix(hand: int = 1, ends: tuple[End, End] = (End.OPEN, End.OPEN), **values: float) -> Helix:
    """Return a spring: wire 1.2, mean diameter 11, pitch 3.7, 8.3 turns unless told otherwise."""
    given = {
        "x": 2.0,
        "y": -1.0,
        "heading": 0.4,
        "log_radius": np.log(5.5),
        "log_wire": np.log(0.6),
        "start": -1.1,
        "stop": 7.2,
        "log_pitch": np.log(3.7),
        "log_pitch_start": np.log(1.2),
        "log_pitch_stop": np.log(1.2),
        "dead_start": 1.0,
        "dead_stop": 1.0,
        **values,
    }
    return Helix(np.array([given.get(n, 0.0) for n in NAMES]), hand, 3.0, 6.0, ends)


def camera(tilt_deg: float = 0.0) -> Camera:
    """Return a phone's camera 180 mm above, slanted towards y."""
    t = np.radians(180.0 - tilt_deg)
    turn = np.array([[1, 0, 0], [0, np.cos(t), -np.sin(t)], [0, np.sin(t), np.cos(t)]])
    return Camera(2400.0, np.array([1000.0, 750.0]), turn, np.array([0.0, 0.0, 180.0]))


def view(made: Helix, seen_by: Camera, rng: np.random.Generator, noise: float = 0.03) -> MapView:
    """Return the maps of a helix at full resolution, blurred by a pixel and noisy."""
    turn = turns_of(made)
    line = centre_line(made, turn)
    flat = seen_by.project(line)
    low = np.floor(flat.min(axis=0) - 60)
    size = np.ceil(flat.max(axis=0) + 60 - low).astype(int)
    x, y = np.meshgrid(np.arange(size[0]) + low[0], np.arange(size[1]) + low[1])
    pixels = np.column_stack([x.ravel(), y.ravel()])
    away = (line @ seen_by.rotation.T + seen_by.translation_mm)[:, 2]
    half = 0.5 * made.wire_mm * seen_by.focal_px / away
    fine = np.linspace(0, len(line) - 1, 8 * len(line))
    dense = np.column_stack([np.interp(fine, np.arange(len(line)), c) for c in flat.T])
    radius = np.interp(fine, np.arange(len(line)), half)
    up = np.interp(fine, np.arange(len(line)), is_upper(turn).astype(float)) > 0.5
    maps = np.zeros((3, *x.shape), dtype=np.float32)
    gap, wide = _nearest(dense, radius, pixels)
    maps[0] = np.clip(0.5 - (gap - wide), 0, 1).reshape(x.shape)
    gap_up, wide_up = _nearest(dense[up], radius[up], pixels)
    maps[1] = np.clip(0.5 - (gap_up - wide_up), 0, 1).reshape(x.shape)
    nearest = np.where(maps[1].ravel() > 0.5, gap_up / wide_up, gap / wide)
    # The wire is cut square: nothing of it lies past its ends.
    for tip, inner in ((flat[0], flat[1]), (flat[-1], flat[-2])):
        past = (pixels - tip) @ (tip - inner) / np.linalg.norm(tip - inner)
        near = np.linalg.norm(pixels - tip, axis=1) < 1.2 * half.max()
        maps[:, ((past > 0.0) & near).reshape(x.shape)] = 0.0
    maps[2] = np.sqrt(np.clip(1 - nearest**2, 0, 1)).reshape(x.shape) * maps[0]
    maps = np.clip(maps + noise * rng.standard_normal(maps.shape), 0, 1).astype(np.float32)
    return MapView(maps, low, 1.0)


def _nearest(line: Array, radius: Array, pixels: Array) -> tuple[Array, Array]:
    """Return each pixel's gap to the line and the half width there; infinite where it is far off.

    Of what is farther than the wire is wide a map shows nothing, and to look for it is what takes
    longest.
    """
    gap, k = cKDTree(line).query(pixels, distance_upper_bound=radius.max() + 1.0)
    return gap, np.append(radius, radius.max())[k]


def pieces(boxes: tuple[Box, ...], seen: Box, scale: float) -> MapView:
    """Return the map of full pieces of wire, as a look at a part of their photo gives it."""
    size = int((seen.bottom - seen.top) * scale), int((seen.right - seen.left) * scale)
    y, x = np.mgrid[: size[0], : size[1]]
    x, y = x / scale + seen.left, y / scale + seen.top
    wire = np.zeros(size, np.float32)
    for box in boxes:
        wire[(x > box.left) & (x < box.right) & (y > box.top) & (y < box.bottom)] = 1.0
    return MapView(np.stack([wire] * 3), np.array([seen.left, seen.top]), scale)
