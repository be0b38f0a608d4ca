"""The border to OpenCV: shapes differ between its versions, so they are made plain here, once."""

from concurrent.futures import ThreadPoolExecutor

import cv2
import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Floats = NDArray[np.float32]


def reduced(rgb: NDArray[np.uint8], side_px: int) -> tuple[NDArray[np.uint8], float]:
    """Return a copy whose longer side is at most `side_px`, and its factor [-]."""
    factor = min(1.0, side_px / max(rgb.shape[:2]))
    if factor == 1.0:
        return rgb, 1.0
    size = (round(rgb.shape[1] * factor), round(rgb.shape[0] * factor))
    return np.asarray(cv2.resize(rgb, size, interpolation=cv2.INTER_AREA), np.uint8), factor


def enlarge_points(points: Array, factor: float) -> Array:
    """Return points of a reduced copy in the pixels of the whole photo; centres at integers."""
    return np.asarray((points + 0.5) / factor - 0.5)


def lab(rgb: NDArray[np.uint8]) -> Floats:
    """Return CIE L*a*b* (H, W, 3): lightness 0 to 100, colours about as far apart as they look."""
    return np.asarray(cv2.cvtColor(rgb.astype(np.float32) / 255.0, cv2.COLOR_RGB2Lab), np.float32)


def blurred(picture: Floats, sigma_px: float) -> Floats:
    """Return the picture under a Gaussian."""
    return np.asarray(cv2.GaussianBlur(picture, None, sigma_px), np.float32)  # type: ignore[call-overload]


def segments(picture: Floats, gain: float) -> Array:
    """Return straight edges (N, 4) as x1, y1, x2, y2 [px] of each channel of a picture (H, W, C).

    OpenCV seeks those of a channel in one thread, so channels are looked at side by side.
    """
    channels = np.moveaxis(picture, 2, 0)
    with ThreadPoolExecutor() as threads:
        return np.vstack(list(threads.map(lambda channel: _segments(channel, gain), channels)))


def _segments(channel: Floats, gain: float) -> Array:
    """Return those of one channel (H, W).

    The slow part of the light is taken away and the rest amplified, so that white paper on a
    white desk has edges too.
    """
    detail = np.clip(128.0 + gain * (channel - blurred(channel, 24.0)), 0, 255).astype(np.uint8)
    found = cv2.createLineSegmentDetector(cv2.LSD_REFINE_STD).detect(detail)[0]
    return np.zeros((0, 4)) if found is None else np.asarray(found, np.float64).reshape(-1, 4)


def sample(picture: NDArray[np.uint8] | Floats, points: Array) -> Floats:
    """Return colours (..., 3) at points (..., 2) [px], linear between pixels."""
    flat = points.reshape(-1, points.shape[-2], 2).astype(np.float32)
    got = cv2.remap(picture, flat, None, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)  # type: ignore[call-overload]
    return np.asarray(got, np.float32).reshape(*points.shape[:-1], 3)


def circles(channel: Floats, gain: float, radii_px: tuple[int, int]) -> Array:
    """Return circles (N, 3) as x, y, radius [px] of one channel.

    A median takes away what is thin: the lines of a cutting mat, the relief of a coin.
    """
    middle = float(np.median(channel))
    plain = np.clip(128.0 + gain * (channel - middle), 0, 255).astype(np.uint8)
    plain = np.asarray(cv2.GaussianBlur(cv2.medianBlur(plain, 5), None, 0.7), np.uint8)  # type: ignore[call-overload]
    found = cv2.HoughCircles(
        plain,
        cv2.HOUGH_GRADIENT_ALT,
        1.5,
        10,
        param1=120,
        param2=0.6,
        minRadius=radii_px[0],
        maxRadius=radii_px[1],
    )
    if found is None:
        return np.zeros((0, 3))
    return np.asarray(found, np.float64).reshape(-1, found.shape[-1])[:, :3]


def grey_of(rgb: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Return the luminance (H, W) of a picture."""
    return np.asarray(cv2.cvtColor(rgb, cv2.COLOR_RGB2GRAY), np.uint8)


def sample_grey(grey: NDArray[np.uint8], points: Array) -> Floats:
    """Return greys (R, C) at points (R, C, 2) [px], linear between pixels."""
    flat = points.astype(np.float32)
    got = cv2.remap(grey, flat, None, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)  # type: ignore[call-overload]
    return np.asarray(got, np.float32)


def markers(rgb: NDArray[np.uint8], search_px: int = 1600) -> list[tuple[int, Array]]:
    """Return the square markers of a picture: number and corners (4, 2) [px], clockwise.

    They are found in a reduced copy and their corners refined in the whole one, each in its place.
    Of OpenCV's refinements the one from AprilTag alone leaves a marker's size as it is (the others
    read it 0.2 to 1.6 % small); it counts from the corner of the first pixel, not from its middle.
    """
    grey = grey_of(rgb)
    small, factor = reduced(rgb, search_px)
    rough = _detector(cv2.aruco.CORNER_REFINE_NONE)
    found = []
    for number, corners in _detected(rough, grey_of(small)):
        there = enlarge_points(corners, factor)
        side = float(np.ptp(there, axis=0).max())
        low = np.maximum(np.floor(there.min(axis=0) - 0.4 * side), 0).astype(int)
        high = np.ceil(there.max(axis=0) + 0.4 * side).astype(int) + 1
        patch = np.ascontiguousarray(grey[low[1] : high[1], low[0] : high[0]])
        fine = dict(_detected(_detector(cv2.aruco.CORNER_REFINE_APRILTAG), patch))
        if number in fine:
            found.append((number, fine[number] - 0.5 + low))
    return found


def _detector(refinement: int) -> cv2.aruco.ArucoDetector:
    settings = cv2.aruco.DetectorParameters()
    settings.cornerRefinementMethod = refinement
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    return cv2.aruco.ArucoDetector(dictionary, settings)


def _detected(
    detector: cv2.aruco.ArucoDetector, grey: NDArray[np.uint8]
) -> list[tuple[int, Array]]:
    corners, numbers, _ = detector.detectMarkers(grey)
    if numbers is None:
        return []
    places = [np.asarray(c, np.float64).reshape(4, 2) for c in corners]
    return list(zip((int(n) for n in np.ravel(numbers)), places, strict=True))


def homography(plane: Array, flat: Array) -> Array:
    """Return the map (3, 3) from points of a plane (N, 2) to those of a picture (N, 2)."""
    found = cv2.findHomography(plane, flat, 0)[0]
    if found is None:
        raise ValueError("the points lie on a line")
    return np.asarray(found, np.float64)
