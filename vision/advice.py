"""What could be better about a photo, measured in its pixels: blur, glare, shadow, distance.

All of it is about the spring as it was fitted: how soft the wire's edges are, how much of the wire
is washed out, how much of the table beside it is black, and how little of the picture is used.
"""

from collections.abc import Sequence
from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates

from vision.photo import Photo
from vision.refusal import Refusal

Array = NDArray[np.float64]
Pixels = NDArray[np.uint8]
Mask = NDArray[np.bool_]

#: Blur of the wire's edge from which on it is told: in pixels and as a share of the wire.
SOFT_PX, SOFT_SHARE = 1.3, 0.085
#: A pixel is washed out from this level of its darkest colour on, and black up to this grey level.
WASHED_OUT, BLACK = 250, 14
#: Shares of the wire and of the table beside it from which on glare and shadow are told.
GLARE_SHARE, SHADOW_SHARE = 0.20, 0.35
#: Share of the picture's long side that spring and reference should fill, where the wire is
#: between so wide and so wide: below, its pixels are too few, and above, they are enough [px].
LEAST_FILL, FEW_PX, ENOUGH_PX = 0.33, 12.0, 16.0
#: Of a photo in which nothing was found: median grey level, share washed out, long side [px], and
#: blur of its sharpest edges [px at 1024 px].
DARK, BRIGHT_SHARE, SMALL_PX, SOFT_ALL_PX = 28.0, 0.4, 1000, 2.2
_SMALL_COPY_PX = 1024
_MOST_PROFILES, _SAMPLES = 400, 41
#: Least contrast of an edge that tells of blur [grey levels].
_CONTRAST = 25.0
#: By how much a mask is widened at its own size at most [px].
_MOST_WIDENED = 24.0


def faults(
    photo: Photo, outlines: Sequence[Array], wire_px: float, reference_px: Array | None
) -> tuple[str, ...]:
    """Return codes of what could be better, most important first.

    Parameters
    ----------
    photo : Photo
        The photo.
    outlines : sequence of ndarray, each shape (2 M, 2)
        Strips of the fitted wire: along one side, and back along the other [px].
    wire_px : float
        Width of the wire [px].
    reference_px : ndarray, shape (N, 2), or None
        Outline of the reference [px].
    """
    box, wire, beside = _masks(photo.rgb, outlines, wire_px)
    part = photo.rgb[box]
    holds = {
        "blurred": edge_blur_px(photo.rgb, outlines, wire_px) > max(SOFT_PX, SOFT_SHARE * wire_px),
        "glare": washed_out_share(part, wire) > GLARE_SHARE,
        "shadow": black_share(part, beside) > SHADOW_SHARE,
        "far": FEW_PX <= wire_px < ENOUGH_PX
        and _fill(photo.rgb, outlines, reference_px) < LEAST_FILL,
    }
    return tuple(code for code, true in holds.items() if true)


def edge_blur_px(rgb: Pixels, outlines: Sequence[Array], wire_px: float) -> float:
    """Return the blur of the wire's sharper edges as the sigma of a Gaussian [px].

    A step blurred by sigma rises by its height over the steepest slope times sqrt(2 pi) sigma. The
    sharpest quarter of the edges counts: shading makes the others look softer than they are. From
    a seventh of the wire's width on the blur is told too small, for the edge has no room.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (H, W, 3)
        The photo.
    outlines, wire_px
        As for `faults`.
    """
    points, normals = _rims(outlines)
    if not len(points):
        return 0.0
    few = np.linspace(0, len(points) - 1, min(len(points), _MOST_PROFILES)).astype(int)
    reach = max(0.45 * wire_px, 4.0)
    at = np.linspace(-reach, reach, _SAMPLES)
    places = points[few][:, None] + at[None, :, None] * normals[few][:, None]
    box, corner = _box_of(places.reshape(-1, 2), rgb.shape)
    grey = cv2.cvtColor(rgb[box], cv2.COLOR_RGB2GRAY).astype(np.float64)
    local = places - corner
    lines = map_coordinates(grey, [local[..., 1], local[..., 0]], order=1, mode="nearest")
    step = at[1] - at[0]
    slope = np.abs(np.gradient(lines, step, axis=1)).max(axis=1)
    height = np.ptp(lines, axis=1)
    clear = height > _CONTRAST
    if clear.sum() < 10:
        return 0.0
    rise = height[clear] / np.maximum(slope[clear], 1e-6)
    return float(np.quantile(rise, 0.25) / np.sqrt(2.0 * np.pi))


def washed_out_share(rgb: Pixels, wire: Mask) -> float:
    """Return the share of the wire's pixels that are white to the brim [-]."""
    if not wire.any():
        return 0.0
    white = cv2.inRange(rgb, (WASHED_OUT,) * 3, (255,) * 3)
    return cv2.mean(white, wire.view(np.uint8))[0] / 255.0


def black_share(rgb: Pixels, beside: Mask) -> float:
    """Return the share of the pixels beside the wire that are black [-]."""
    if not beside.any():
        return 0.0
    dark = cv2.inRange(cv2.cvtColor(rgb, cv2.COLOR_RGB2GRAY), (0,), (BLACK,))
    return cv2.mean(dark, beside.view(np.uint8))[0] / 255.0


def explained(refusal: Refusal, photo: Photo) -> Refusal:
    """Return a refusal with what is plainly wrong with the photo put first in what to try.

    Parameters
    ----------
    refusal : Refusal
        Of a photo that was decoded.
    photo : Photo
        The photo.
    """
    factor = min(1.0, _SMALL_COPY_PX / max(photo.rgb.shape[:2]))
    small = cv2.resize(photo.rgb, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
    grey = np.asarray(cv2.cvtColor(small, cv2.COLOR_RGB2GRAY), np.uint8)
    holds = {
        "The photo is very dark: give it more light.": float(np.median(grey)) < DARK,
        "Much of the photo is washed out: move the lamp, or tap on the spring so that the camera "
        "sets its light by it.": float(np.mean(small.min(axis=2) >= WASHED_OUT)) > BRIGHT_SHARE,
        "The photo is not sharp: tap on the spring to focus, and hold still.": _blur_of_all(grey)
        > SOFT_ALL_PX,
        "The photo is small: use it as the camera saved it, not one sent by a messenger.": max(
            photo.rgb.shape[:2]
        )
        < SMALL_PX,
    }
    said = [sentence for sentence, true in holds.items() if true]
    return replace(refusal, try_this=" ".join([*said[:1], refusal.try_this])) if said else refusal


def _blur_of_all(grey: Pixels) -> float:
    """Return the blur of the sharpest edges of a whole picture as a Gaussian's sigma [px].

    Blurring by a known sigma s takes the steepest slope from 1/b to 1/sqrt(b^2 + s^2).
    """
    sharp = cv2.GaussianBlur(grey, (0, 0), 0.8).astype(np.float32)
    soft = cv2.GaussianBlur(grey, (0, 0), 3.0).astype(np.float32)
    slopes = [np.hypot(cv2.Sobel(g, -1, 1, 0), cv2.Sobel(g, -1, 0, 1)) for g in (sharp, soft)]
    steep = slopes[0] > np.quantile(slopes[0], 0.998)
    if not steep.any():
        return 0.0
    ratio = float(np.median(slopes[0][steep] / np.maximum(slopes[1][steep], 1e-3)))
    if ratio <= 1.0:
        return float("inf")
    # (b^2 + 9)/(b^2 + 0.64) = ratio^2.
    square = (9.0 - 0.64 * ratio**2) / (ratio**2 - 1.0)
    return float(np.sqrt(max(square, 0.0)))


def _rims(outlines: Sequence[Array]) -> tuple[Array, Array]:
    """Return points on both sides of every strip and their normals, each (N, 2)."""
    points, normals = [], []
    for strip in outlines:
        half = len(strip) // 2
        for side in (strip[:half], strip[half:]):
            if len(side) < 3:
                continue
            along = np.gradient(side, axis=0)
            length = np.linalg.norm(along, axis=1)
            kept = length > 1e-6
            across = np.column_stack([-along[:, 1], along[:, 0]])[kept] / length[kept][:, None]
            points.append(side[kept])
            normals.append(across)
    if not points:
        return np.empty((0, 2)), np.empty((0, 2))
    return np.vstack(points), np.vstack(normals)


def _box_of(points: Array, shape: tuple[int, ...]) -> tuple[tuple[slice, slice], Array]:
    low = np.clip(np.floor(points.min(axis=0)) - 1, 0, [shape[1] - 2, shape[0] - 2]).astype(int)
    high = np.clip(np.ceil(points.max(axis=0)) + 2, low + 2, [shape[1], shape[0]]).astype(int)
    return (slice(low[1], high[1]), slice(low[0], high[0])), low.astype(np.float64)


def _masks(
    rgb: Pixels, outlines: Sequence[Array], wire_px: float
) -> tuple[tuple[slice, slice], Mask, Mask]:
    """Return the part of the photo around the spring, and there the wire and what lies beside."""
    points = np.vstack(outlines)
    room = max(wire_px, 3.0)
    box, corner = _box_of(np.vstack([points - room, points + room]), rgb.shape)
    shape = (box[0].stop - box[0].start, box[1].stop - box[1].start)
    wire = np.zeros(shape, np.uint8)
    for strip in outlines:
        cv2.fillPoly(wire, [np.round(strip - corner).astype(np.int32)], (1,))
    near = _widened(wire, 0.6 * room)
    return box, np.asarray(wire > 0), np.asarray((near > 0) & (wire == 0))


def _widened(mask: NDArray[np.uint8], by_px: float) -> NDArray[np.uint8]:
    """Return a mask widened all round; of a small copy where by much, which would take long."""
    factor = min(1.0, _MOST_WIDENED / by_px)
    small = cv2.resize(mask, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
    size = 2 * round(factor * by_px) + 1
    wide = cv2.dilate(small, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size)))
    whole = cv2.resize(wide, mask.shape[::-1], interpolation=cv2.INTER_NEAREST)
    return np.asarray(whole, dtype=np.uint8)


def _fill(rgb: Pixels, outlines: Sequence[Array], reference_px: Array | None) -> float:
    """Return the share of the picture's long side that spring and reference fill [-]."""
    parts = [*outlines] + ([] if reference_px is None else [reference_px])
    return float(np.ptp(np.vstack(parts), axis=0).max() / max(rgb.shape[:2]))
