"""Pictures drawn from a known camera: every pixel's ray is followed to the table."""

from collections.abc import Callable

import cv2
import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from vision.camera import Camera
from vision.photo import Photo

Distance = Callable[[np.ndarray], np.ndarray]


def camera_over(
    focal_px: float, distance_mm: float, shape: tuple[int, int], angles_deg: tuple[float, ...]
) -> Camera:
    """Return a camera looking at the world's origin, turned by tilt, tilt and spin."""
    tilt_x, tilt_y, spin = angles_deg
    turn = Rotation.from_euler("xyz", [180 + tilt_x, tilt_y, spin], degrees=True).as_matrix()
    centre = (np.array(shape[::-1]) - 1.0) / 2.0
    return Camera(focal_px, centre, turn, np.array([0.0, 0.0, distance_mm]))


def draw(
    camera: Camera,
    shape: tuple[int, int],
    parts: list[tuple[Distance, float, tuple[int, int, int]]],
    rng: np.random.Generator,
    table: tuple[int, int, int] = (150, 120, 90),
    blur_px: float = 0.8,
    noise: float = 2.0,
) -> np.ndarray:
    """Return a picture (H, W, 3) of flat shapes on a cloudy table.

    Each part is a signed distance [mm] (negative inside) of points (N, 2) [mm], the height of its
    plane [mm] and its colour. A pixel's coverage is that of an edge passing at its distance, which
    is right to about 0.01 px for edges that are straight over one pixel.
    """
    clouds = cv2.GaussianBlur(rng.normal(size=(shape[0] // 8, shape[1] // 8)), None, 3.0)
    clouds = cv2.resize(clouds / clouds.std(), shape[::-1], interpolation=cv2.INTER_CUBIC)
    rgb = np.array(table, float) + 4.0 * clouds[..., None]
    for distance, height, colour in parts:
        box = where_seen(camera, shape, distance, height)
        cover = coverage(camera, box, distance, height)[..., None]
        rgb[box] = rgb[box] * (1 - cover) + np.array(colour, float) * cover
    rgb = cv2.GaussianBlur(rgb, None, blur_px)
    rgb += rng.normal(0.0, noise, rgb.shape)
    return np.clip(np.rint(rgb, out=rgb), 0, 255, out=rgb).astype(np.uint8)


def coverage(
    camera: Camera, box: tuple[slice, slice], distance: Distance, height: float
) -> np.ndarray:
    """Return how much of each pixel of a box a shape covers.

    One row and one column more are looked at: the next pixel's distance tells the slope, and to
    look at every point once is what takes longest.
    """
    rows, columns = box
    grid = np.mgrid[rows.start : rows.stop + 1, columns.start : columns.stop + 1]
    y, x = grid.astype(np.float64)
    seen = camera.at_height(np.column_stack([x.ravel(), y.ravel()]), height)[:, :2]
    away = distance(seen).reshape(x.shape)
    here = away[:-1, :-1]
    slope = np.hypot(away[:-1, 1:] - here, away[1:, :-1] - here)
    return np.clip(0.5 - here / np.maximum(slope, 1e-9), 0.0, 1.0)


def where_seen(
    camera: Camera, shape: tuple[int, int], distance: Distance, height: float
) -> tuple[slice, slice]:
    """Return the box of pixels outside which a shape is not seen."""
    y, x = np.mgrid[0 : shape[0] + 8 : 8, 0 : shape[1] + 8 : 8].astype(np.float64)
    points = camera.at_height(np.column_stack([x.ravel(), y.ravel()]), height)[:, :2]
    step = 12.0 * float(np.abs(points[1] - points[0]).max())
    near = np.argwhere((distance(points) < step).reshape(x.shape)) * 8
    if not len(near):
        return slice(0, 0), slice(0, 0)
    low, high = np.maximum(near.min(axis=0) - 8, 0), np.minimum(near.max(axis=0) + 9, shape)
    return slice(int(low[0]), int(high[0])), slice(int(low[1]), int(high[1]))


def rounded_rectangle(
    centre: tuple[float, float], size: tuple[float, float], turn_deg: float, radius: float
) -> Distance:
    """Return the signed distance to a rectangle with round corners [mm]."""
    angle = np.radians(turn_deg)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    half = np.array(size) / 2.0 - radius

    def distance(points: np.ndarray) -> np.ndarray:
        out = np.abs((points - centre) @ turn) - half
        outside = np.linalg.norm(np.maximum(out, 0.0), axis=1)
        return outside + np.minimum(out.max(axis=1), 0.0) - radius

    return distance


def photo_of(rgb: np.ndarray, focal_35mm: float | None = 26.0) -> Photo:
    return Photo(rgb, "0" * 64, "drawn", focal_35mm)


@pytest.fixture
def drawing():
    """Return the tools above; tests cannot import from one another."""

    class Tools:
        camera_over = staticmethod(camera_over)
        draw = staticmethod(draw)
        rounded_rectangle = staticmethod(rounded_rectangle)
        photo_of = staticmethod(photo_of)

    return Tools
