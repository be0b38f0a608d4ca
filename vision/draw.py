"""A drawing of what was seen, over the photo: evidence that a person can check at a glance.

Two views, one above the other: the spring close up, its axis turned level, with its dimensions;
and the part of the photo with spring and reference, as it was taken.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont
from scipy.interpolate import CubicSpline
from skimage.measure import find_contours

Array = NDArray[np.float64]
Pixels = NDArray[np.uint8]
Colour = tuple[int, int, int]

WIDTH_PX = 1200
TALLEST_PX = 1300
#: Legible where 1200 px shrink to a phone's 390.
TEXT_PX, SMALL_TEXT_PX = 44, 38
LINE_PX, HALO_PX = 4, 9
TOP, BOTTOM, SIDE = 130, 130, 110
GAP_PX = 12

# Orange and blue stay apart for every common kind of colour blindness; the halo parts them
# from bright and dark wire alike.
WIRE: Colour = (255, 176, 0)
REFERENCE: Colour = (86, 180, 233)
INK: Colour = (255, 255, 255)
HALO: Colour = (16, 24, 30)


@dataclass(frozen=True, slots=True)
class Sketch:
    """What to draw, in the photo's pixels (x, y).

    Attributes
    ----------
    outline_px : tuple of ndarray, each shape (2 M, 2)
        Strips of the fitted wire: along one side, and back along the other.
    axis_px : ndarray, shape (2, 2)
        Ends of the spring's axis.
    length_px : ndarray, shape (2, 2), or None
        Ends of its free length on the axis, where they are not those of the drawn turns.
    reference_px : ndarray, shape (M, 2), or None
        Closed outline of the reference.
    wire, outside, length, reference : str
        What to write beside each; nothing is drawn for an empty one.
    """

    outline_px: tuple[Array, ...]
    axis_px: Array
    reference_px: Array | None = None
    wire: str = ""
    outside: str = ""
    length: str = ""
    reference: str = ""
    length_px: Array | None = None

    @property
    def points_px(self) -> Array:
        """All that is the spring's, (N, 2) [px]."""
        length = () if self.length_px is None else (self.length_px,)
        return np.vstack([*self.outline_px, self.axis_px, *length])


def draw(rgb: Pixels, sketch: Sketch) -> Pixels:
    """Return the drawing, shape (H, 1200, 3): close-up above, the photo's own view below.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (H, W, 3)
        The photo.
    sketch : Sketch
        What was seen in it.
    """
    views = [close_up(rgb, sketch)]
    if sketch.reference_px is not None:
        gap = np.full((GAP_PX, WIDTH_PX, 3), HALO, np.uint8)
        views += [gap, whole(rgb, sketch)]
    return np.vstack(views)


def close_up(rgb: Pixels, sketch: Sketch, number: str = "") -> Pixels:
    """Return the spring with its axis level, its outline, axis and dimensions; 1200 px wide."""
    to_view, box = _level(sketch)
    size = (WIDTH_PX, int(np.ceil(box[1, 1] + BOTTOM)))
    turned = cv2.warpAffine(
        rgb, to_view, size, flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_CONSTANT, borderValue=HALO
    )
    view = np.asarray(turned, np.uint8)
    strips = [_moved(line, to_view) for line in sketch.outline_px]
    _polylines(view, _silhouette(strips, view.shape[:2]), WIRE)
    _dashes(view, *_moved(sketch.axis_px, to_view))
    view = _dimensions(view, sketch, strips, box)
    return _written(view, [(number, (0.0, float(TEXT_PX)))], TEXT_PX)


def whole(rgb: Pixels, sketch: Sketch) -> Pixels:
    """Return the part of the photo with spring and reference, both outlined; 1200 px wide."""
    return overview(rgb, [sketch])


def overview(rgb: Pixels, sketches: Sequence[Sketch], labels: Sequence[str] = ()) -> Pixels:
    """Return the part of the photo with all springs and their reference; 1200 px wide.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (H, W, 3)
        The photo.
    sketches : sequence of Sketch
        At least one; the reference is the first one's.
    labels : sequence of str
        What to write beside each spring, if anything.
    """
    parts = [one.points_px for one in sketches]
    reference_px = sketches[0].reference_px
    if reference_px is not None:
        parts.append(reference_px)
    points = np.vstack(parts)
    low, high = points.min(axis=0), points.max(axis=0)
    edge = (0.12 if labels else 0.05) * float((high - low).max())
    last = np.array([rgb.shape[1] - 1, rgb.shape[0] - 1])
    low, high = np.clip(low - edge, 0, last), np.clip(high + edge, 0, last)
    (x0, y0), (x1, y1) = np.floor(low).astype(int), np.ceil(high).astype(int) + 1
    crop = rgb[y0:y1, x0:x1]
    scale = min(WIDTH_PX / crop.shape[1], TALLEST_PX / crop.shape[0])
    shape = (max(1, round(crop.shape[1] * scale)), max(1, round(crop.shape[0] * scale)))
    way = cv2.INTER_AREA if scale < 1.0 else cv2.INTER_CUBIC
    view = np.full((shape[1], WIDTH_PX, 3), HALO, np.uint8)
    left = (WIDTH_PX - shape[0]) // 2
    view[:, left : left + shape[0]] = cv2.resize(crop, shape, interpolation=way)
    # Pixel centres are at integers, so half a pixel moves with the scale.
    shift = np.array([left, 0.0]) + 0.5 * scale - 0.5
    to_view = np.column_stack([scale * np.eye(2), shift - scale * np.array([x0, y0])])
    strips = [_moved(line, to_view) for one in sketches for line in one.outline_px]
    _polylines(view, _silhouette(strips, view.shape[:2]), WIRE, thin=True)
    written = [
        (text, _beside(one, to_view)) for one, text in zip(sketches, labels, strict=False) if text
    ]
    if reference_px is not None:
        reference = _moved(reference_px, to_view)
        _polylines(view, [reference], REFERENCE, closed=True)
        corner = _free_corner(reference, strips)
        view = _written(view, [(sketches[0].reference, corner)], SMALL_TEXT_PX)
    return _written(view, written, TEXT_PX)


def _beside(sketch: Sketch, to_view: Array) -> tuple[float, float]:
    """Return a place just beyond the spring's upper end, where its number hides nothing of it."""
    lower, upper = sorted(_moved(sketch.axis_px, to_view), key=lambda end: -end[1])
    away = upper - lower
    place = upper + 1.3 * TEXT_PX * away / max(float(np.linalg.norm(away)), 1e-9)
    return float(place[0]), float(place[1])


def _free_corner(reference: Array, strips: Sequence[Array]) -> tuple[float, float]:
    """Return a place within the reference and away from the spring."""
    middle = reference.mean(axis=0)
    spring = np.vstack(strips).mean(axis=0) if strips else middle
    farthest = reference[np.argmax(np.linalg.norm(reference - spring, axis=1))]
    x, y = (middle + farthest) / 2.0
    return float(x), float(y)


def _silhouette(strips: Sequence[Array], shape: tuple[int, ...]) -> list[Array]:
    """Return the outline of all strips together: closed lines, each (N, 2), holes included.

    A tube's outline is the envelope of discs along its middle, so discs are what is joined.
    """
    mask = np.zeros(shape, np.uint8)
    for strip in strips:
        for x, y, radius in _discs(strip):
            centre = (round(16.0 * x), round(16.0 * y))
            cv2.circle(mask, centre, max(round(16.0 * radius), 1), 255, -1, shift=4)
    soft = cv2.GaussianBlur(mask, (0, 0), 1.0)
    return [line[:, ::-1] for line in find_contours(np.asarray(soft, np.float64), 127.5)]


def _discs(strip: Array, step_px: float = 2.0) -> Array:
    """Return discs (N, 3) of x, y and radius along a strip, at most two pixels apart."""
    half = len(strip) // 2
    one, other = strip[:half], strip[::-1][:half]
    middle, radius = (one + other) / 2.0, np.linalg.norm(one - other, axis=1) / 2.0
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(middle, axis=0), axis=1))])
    if half < 4 or along[-1] <= 0.0:
        return np.column_stack([middle, radius])
    kept = np.concatenate([[True], np.diff(along) > 1e-9])
    fine = np.linspace(0.0, along[-1], int(along[-1] / step_px) + 2)
    curve = CubicSpline(along[kept], np.column_stack([middle, radius])[kept])
    return np.asarray(curve(fine))


def _level(sketch: Sketch) -> tuple[Array, Array]:
    """Return the affine map (2, 3) to the close-up and the spring's box there (2, 2)."""
    first, last = sketch.axis_px
    if last[0] < first[0]:
        first, last = last, first
    along = (last - first) / max(float(np.linalg.norm(last - first)), 1e-9)
    turn = np.array([along, [-along[1], along[0]]])
    points = sketch.points_px @ turn.T
    low, high = points.min(axis=0), points.max(axis=0)
    span = np.maximum(high - low, 1.0)
    scale = min((WIDTH_PX - 2 * SIDE) / span[0], (TALLEST_PX - TOP - BOTTOM) / span[1])
    start = np.array([(WIDTH_PX - scale * span[0]) / 2.0, TOP])
    to_view = np.column_stack([scale * turn, start - scale * low])
    return to_view, np.array([start, start + scale * span])


def _dimensions(view: Pixels, sketch: Sketch, outlines: Sequence[Array], box: Array) -> Pixels:
    (left, top), (right, bottom) = box
    labels: list[tuple[str, tuple[float, float]]] = []
    if sketch.length:
        y = bottom + 38.0
        _measure_line(view, (left, y), (right, y))
        labels.append((sketch.length, ((left + right) / 2.0, y + 52.0)))
    if sketch.outside:
        x = right + 45.0
        _measure_line(view, (x, top), (x, bottom))
        labels.append((sketch.outside, (WIDTH_PX, top - 75.0)))
    if sketch.wire and outlines:
        tip = _leader_tip(outlines, left + 0.3 * (right - left))
        root = (float(tip[0]) - 40.0, top - 75.0)
        _stroke(view, np.array([tip, root]), INK)
        cv2.circle(view, _whole_px(tip), 9, HALO, -1, cv2.LINE_AA)
        cv2.circle(view, _whole_px(tip), 6, INK, -1, cv2.LINE_AA)
        labels.append((sketch.wire, root))
    return _written(view, labels, TEXT_PX)


def _leader_tip(outlines: Sequence[Array], x: float) -> Array:
    """Return the top of the outline whose top lies nearest to x."""
    tops = np.array([line[np.argmin(line[:, 1])] for line in outlines])
    return np.asarray(tops[np.argmin(abs(tops[:, 0] - x))])


def _measure_line(view: Pixels, start: tuple[float, float], end: tuple[float, float]) -> None:
    """Draw a dimension line with a tick across each end."""
    a, b = np.array(start), np.array(end)
    along = (b - a) / max(float(np.linalg.norm(b - a)), 1e-9)
    tick = 22.0 * np.array([-along[1], along[0]])
    for line in ((a, b), (a - tick, a + tick), (b - tick, b + tick)):
        _stroke(view, np.array(line), INK)


def _dashes(view: Pixels, start: Array, end: Array) -> None:
    count = max(int(np.linalg.norm(end - start) / 36.0), 1)
    stops = np.linspace(0.0, 1.0, 2 * count)[:, None]
    points = start + stops * (end - start)
    for a, b in zip(points[::2], points[1::2], strict=True):
        _stroke(view, np.array([a, b]), INK, thin=True)


def _polylines(
    view: Pixels, lines: Sequence[Array], colour: Colour, closed: bool = False, thin: bool = False
) -> None:
    # All halos first: a later line's halo must not bury an earlier line.
    for line in lines:
        _trace(view, line, HALO, 5 if thin else HALO_PX, closed)
    for line in lines:
        _trace(view, line, colour, 2 if thin else LINE_PX, closed)


def _stroke(view: Pixels, line: Array, colour: Colour, thin: bool = False) -> None:
    _polylines(view, [line], colour, thin=thin)


def _trace(view: Pixels, line: Array, colour: Colour, thickness: int, closed: bool) -> None:
    sixteenths = np.round(line * 16.0).astype(np.int32)
    cv2.polylines(view, [sixteenths], closed, colour, thickness, cv2.LINE_AA, shift=4)


def _whole_px(point: Array) -> tuple[int, int]:
    return round(float(point[0])), round(float(point[1]))


def _moved(points: Array, to_view: Array) -> Array:
    return np.asarray(points @ to_view[:, :2].T + to_view[:, 2])


def _written(view: Pixels, labels: Sequence[tuple[str, tuple[float, float]]], size: int) -> Pixels:
    """Write each label centred on its point, moved so that it stays in the picture."""
    picture = Image.fromarray(view)
    pen = ImageDraw.Draw(picture)
    font = ImageFont.load_default(size)
    for text, (x, y) in labels:
        if not text:
            continue
        x0, y0, x1, y1 = pen.textbbox((0, 0), text, font=font)
        half, tall, pad = (x1 - x0) / 2.0, (y1 - y0) / 2.0, 12.0
        x = min(max(x, half + pad + 4), picture.width - half - pad - 4)
        y = min(max(y, tall + pad + 4), picture.height - tall - pad - 4)
        frame = (x - half - pad, y - tall - pad, x + half + pad, y + tall + pad)
        pen.rounded_rectangle(frame, 10, fill=HALO)
        pen.text((x - half - x0, y - tall - y0), text, font=font, fill=INK)
    return np.asarray(picture)
