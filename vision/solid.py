"""Turns that touch: the body that they make, how wide their wire is, and how they beat."""

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, label

from vision.camera import Camera
from vision.map_view import MapView, turning
from vision.strands import Body, Strands, typical_half_width, upper_sheet

Array = NDArray[np.float64]

#: Share of the wire that must be left of a close-wound spring without its hooks.
SOLID_SHARE = 0.55
#: Least outside diameter of a coil [wires]: common practice, no source.
LEAST_WIDTHS = 4.0
#: Turns that touch lie no farther apart than this [wires as wide as the map has them].
MOST_SPACED = 3.0
#: An end of a solid part narrower than this share of its width is a hook where both together are
#: longer than this share of the rest, and than so many wires.
NARROW, HOOK_SHARE, HOOK_WIRES = 0.6, 0.2, 2.5


def solid_part(view: MapView, keep: NDArray[np.bool_]) -> NDArray[np.bool_] | None:
    """Return the body of a close-wound spring without its hooks, or None where turns stand apart.

    Turns that touch leave no gap, so their body outlasts being opened by far more than a wire.
    """
    mask = (keep & (view.maps[0] > 0.5)).astype(np.uint8)
    # Where the wire fills the view the ridge of its depth tells nothing of one strand's width; the
    # squareness does: it falls to nought between turns.
    width = 2.0 * typical_half_width(mask.astype(bool) & (view.maps[2] > 0.45))
    side = int(np.clip(3.2 * width, 9, 0.5 * min(mask.shape)))
    whole = cv2.morphologyEx(mask, cv2.MORPH_CLOSE, np.ones((5, 5), np.uint8))
    opened = cv2.morphologyEx(whole, cv2.MORPH_OPEN, np.ones((side, side), np.uint8))
    if not opened.any() or opened.sum() < SOLID_SHARE * mask.sum():
        return None
    # A square that stands askew to the coil loses the corners of its last turns.
    follow = _across_strands(view, opened > 0)
    level, back = _turned(whole > 0, follow)
    opened = cv2.morphologyEx(level, cv2.MORPH_OPEN, np.ones((side, side), np.uint8))
    # Each turn's round flank stands out of the square's straight one by up to half a wire.
    rim = np.ones((2 * round(0.5 * width) + 1, 1), np.uint8)
    opened = np.minimum(level, cv2.dilate(opened, rim))
    opened = cv2.warpAffine(opened, back, mask.shape[::-1], flags=cv2.INTER_NEAREST)
    if not opened.any():
        return None
    # What else lies near by is no part of it, even where both are joined by a hook.
    _, labels, stats, _ = cv2.connectedComponentsWithStats(opened)
    largest = labels == 1 + int(np.argmax(stats[1:, cv2.CC_STAT_AREA]))
    body = _without_narrow_ends(largest, follow, width).astype(np.uint8)
    return cv2.dilate(body, np.ones((5, 5), np.uint8)).astype(bool)


def _across_strands(view: MapView, part: NDArray[np.bool_]) -> float:
    """Return the direction in which the strands of a part (H, W) follow each other [rad]."""
    x, y = (cv2.Scharr(view.maps[2], cv2.CV_64F, *way) for way in ((1, 0), (0, 1)))
    x, y = x[part], y[part]
    return float(0.5 * np.arctan2(2.0 * (x * y).sum(), (x * x - y * y).sum()))


def _turned(mask: NDArray[np.bool_], angle: float) -> tuple[NDArray[np.uint8], Array]:
    """Return a mask (H, W) with a direction [rad] of it laid level, and how it is turned back."""
    h, w = mask.shape
    size = int(np.ceil(np.hypot(h, w))) + 2
    turn = turning(angle).T
    move = 0.5 * (size - 1) - turn @ np.array([0.5 * (w - 1), 0.5 * (h - 1)])
    turn = np.column_stack([turn, move])
    level = cv2.warpAffine(mask.astype(np.uint8), turn, (size, size), flags=cv2.INTER_NEAREST)
    return np.asarray(level, dtype=np.uint8), np.asarray(cv2.invertAffineTransform(turn))


def _without_narrow_ends(part: NDArray[np.bool_], follow: float, wire: float) -> NDArray[np.bool_]:
    """Return the wide run of a part (H, W): a hook seen from its side is a narrow end of it.

    Its turns, of a `wire` [px], follow each other in the direction `follow` [rad]: the longest way
    of a short body is askew where hooks lean.
    """
    y, x = np.nonzero(part)
    along = np.round(x * np.cos(follow) + y * np.sin(follow)).astype(int)
    along -= along.min()
    width = gaussian_filter1d(np.bincount(along).astype(float), 3.0)
    wide = width > NARROW * np.quantile(width, 0.8)
    labels, count = label(wide)
    longest = 1 + int(np.argmax(np.bincount(labels[wide], minlength=count + 1)[1:]))
    run = np.nonzero(labels == longest)[0]
    if len(wide) - len(run) < max(HOOK_SHARE * len(run), HOOK_WIRES * wire):
        return part  # round ends are narrow, too, and parts of a turn, but short
    out = part.copy()
    out[y, x] = (along >= run[0]) & (along <= run[-1])
    return out


def strand_width(view: MapView, keep: NDArray[np.bool_]) -> float:
    """Return how wide a lone strand of what is kept (H, W) is [map px].

    Turns without a gap are parted by where their surface turns away: at half its squareness a
    round wire still shows 0.87 of its width. Else the coil's width tells the most that it can be.
    """
    mask = keep & (view.maps[0] > 0.5)
    if solid_part(view, keep) is None:
        return 2.0 * typical_half_width(mask)
    width = 2.0 * typical_half_width(mask & (view.maps[2] > 0.5)) / np.sqrt(0.75)
    y, x = np.nonzero(mask)
    _, sides, _ = cv2.minAreaRect(np.column_stack([x, y]).astype(np.float32))
    return float(min(width, min(sides) / LEAST_WIDTHS))


def touching_strands(view: MapView, body: Body, camera: Camera) -> tuple[Strands, float]:
    """Return the strands of turns that touch, and how much better their hand suits than the other.

    Their spacing is that at which the sheared surface repeats most strongly; single strands may
    be lost in a highlight, the beat of all of them is not.
    """
    step = body.wire / 10.0
    radius = 0.5 * (body.width - body.wire)
    if radius < 0.5 * body.wire:  # narrower than any coil
        return Strands(1, np.empty(0), body.wire, 0.0), 1.0
    along = np.arange(-0.45 * body.length, 0.45 * body.length, step)
    across = np.linspace(-0.8, 0.8, 33) * radius
    sheet = upper_sheet(view, body, camera, along, across, radius)
    smooth = 0.15 * body.width
    sheet = sheet - gaussian_filter1d(sheet, smooth / step, axis=1)
    window = np.hanning(len(along))
    # Beyond that, the beat would be that of light along the coil.
    widest = min(body.width / 2.2, MOST_SPACED * body.wire)
    pitches = np.geomspace(0.8 * body.wire, widest, 240)
    rows = (sheet * window) @ np.exp(-2j * np.pi * along[:, None] / pitches)
    # Sheared by its share of a pitch, a row's beat is turned by the same angle whatever the pitch.
    turn = 1j * np.arcsin(across / radius)
    powers = {hand: np.abs(np.exp(-hand * turn) @ rows) for hand in (1, -1)}
    hand = max(powers, key=lambda one: float(powers[one].max()))
    power, pitch = float(powers[hand].max()), float(pitches[powers[hand].argmax()])
    places = np.arange(-0.5 * body.length + pitch, 0.5 * body.length - 0.5 * pitch, pitch)
    odds = power / max(float(powers[-hand].max()), 1e-9)
    return Strands(hand, places, pitch, power), odds
