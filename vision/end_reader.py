"""The learned end reader: how the wire ends at either end of a spring, and where its face lies.

A ground face, a turn that lies against its neighbour, a tip that stands free: a picture of the last
turns shows which, where their outline alone may tell them no better than by a hair.

The weights, `vision/data/end-reader.onnx`, were trained on rendered scenes alone; see their card,
`vision/data/end-reader.md`.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from importlib.resources import files
from threading import Lock

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.camera import Camera
from vision.helix import PAIRS, End, Helix, frame, radius_at
from vision.map_view import MapView

Array = NDArray[np.float64]

#: Samples across and along, and the reach of both from where the face is thought to lie [outside
#: diameters]: inwards and outwards along the axis.
ACROSS, ALONG, ASIDE, REACH = 96, 112, 0.625, (-1.1, 0.36)
#: The kinds of ends in the order in which the network tells them.
KINDS = (End.OPEN, End.CLOSED, End.GROUND)
#: Least mean deviation of the face that may be claimed [outside diameters].
FLOOR = 0.004
#: How seldom a spring is one that was cut: makers treat both ends alike (common practice, no
#: source).
CUT = 0.05
#: Where the outside diameter is larger than this it is shrunk to it before it is sampled [map px].
WIDE_PX = 100.0
#: What of the wire lies beyond the face that is thought: a share of it.
BEYOND = 0.002

_ONE_AT_A_TIME = Lock()  # a network holds its own buffers


@dataclass(frozen=True, slots=True)
class EndRead:
    """What was read of one end.

    Attributes
    ----------
    odds : mapping of End to float
        Probability of each kind; one together.
    face_px : ndarray, shape (2,)
        Where its axis meets its outermost wire [px].
    deviation : float
        Mean deviation claimed of that along the axis [wires].
    """

    odds: Mapping[End, float]
    face_px: Array
    deviation: float


@lru_cache(maxsize=1)
def _network() -> cv2.dnn.Net:
    path = files("vision") / "data" / "end-reader.onnx"
    return cv2.dnn.readNetFromONNX(np.frombuffer(path.read_bytes(), dtype=np.uint8))


def pairs_read(reads: tuple[EndRead, EndRead] | None) -> dict[tuple[End, End], float]:
    """Return the probabilities of pairs of ends: of both alike, or of one that a cut has opened.

    Where nothing was read, each is as likely as another.
    """
    if reads is None:
        return dict.fromkeys(PAIRS, 1.0 / len(PAIRS))
    one, other = (read.odds for read in reads)
    shares = [one[a] * other[b] * (1.0 if a is b else CUT) for a, b in PAIRS]
    return {pair: share / sum(shares) for pair, share in zip(PAIRS, shares, strict=True)}


def places_mm(face_mm: Array, ways: Array, width_mm: float) -> Array:
    """Return where an end is sampled, shape (ACROSS, ALONG, 3): level with its axis [mm].

    Parameters
    ----------
    face_mm : ndarray, shape (3,)
        Where its face is thought to lie, on the axis.
    ways : ndarray, shape (2 or more, 3)
        Outwards along the axis and across it, as rows.
    width_mm : float
        Outside diameter there.
    """
    along = np.linspace(*REACH, ALONG)[None, :, None] * ways[0]
    across = np.linspace(-ASIDE, ASIDE, ACROSS)[:, None, None] * ways[1]
    return np.asarray(face_mm + width_mm * (along + across))


def told_besides(
    face_mm: Array, ways: Array, width_mm: float, wire_mm: float, lens_mm: Array
) -> Array:
    """Return what is told of an end besides its picture (3,).

    The logarithm of its width in wires, and how far outwards and across the camera stands, of its
    height above the axis; `lens_mm` is where that is (3,).
    """
    sight = lens_mm - face_mm
    up = np.cross(ways[0], ways[1])
    return np.array([np.log(width_mm / wire_mm), *(ways[:2] @ sight) / (up @ sight)])


def read_ends(
    helix: Helix, camera: Camera, view: MapView, wire: NDArray[np.bool_]
) -> tuple[EndRead, EndRead]:
    """Return how the wire's start and its stop look.

    Parameters
    ----------
    helix : Helix
        Whose axis and size are right; where it ends is not heeded.
    camera, view : Camera, MapView
        Through which it was seen, and what of it, picture and maps.
    wire : ndarray of bool, shape (H, W)
        Which of the view is the spring's wire; some is.
    """
    middle, axes = frame(helix)
    ends = []
    for x, way in zip(_extent(middle, axes[0], camera, view, wire), (-1.0, 1.0), strict=True):
        width = 2.0 * float(radius_at(helix, np.array([x]))[0]) + helix.wire_mm
        ends.append(_End(middle + x * axes[0], way * axes[:2], width))
    # Where its wire seems to end is off by what the map has lost or has too much, so it is read
    # once more about the face that was read first.
    for mirrored in (False, True):
        told = _told([_layers(end, helix.wire_mm, camera, view) for end in ends], mirrored)
        ends = [end.moved(answer[3]) for end, answer in zip(ends, told, strict=True)]
    one, other = (
        EndRead(
            _odds(answer[:3]),
            camera.project(end.face_mm[None])[0],
            end.width_mm / helix.wire_mm * (FLOOR + float(np.exp(np.clip(answer[4], -7.0, 3.0)))),
        )
        for answer, end in zip(told, ends, strict=True)
    )
    return one, other


@dataclass(frozen=True, slots=True)
class _End:
    """Where an end is thought to lie, outwards and across its axis, and how wide it is there."""

    face_mm: Array
    ways: Array
    width_mm: float

    def moved(self, widths: float) -> "_End":
        return replace(self, face_mm=self.face_mm + widths * self.width_mm * self.ways[0])


def _told(ends: list[NDArray[np.float32]], mirrored: bool) -> Array:
    """Return what the network tells of ends (9, ACROSS, ALONG): (N, 5), mirrored as well or not."""
    given = np.stack(ends)
    if mirrored:
        other = given[:, :, ::-1].copy()
        other[:, -1] *= -1.0  # what is told last is how far across the lens stands
        given = np.concatenate([given, other])
    with _ONE_AT_A_TIME:
        network = _network()
        network.setInput(given)
        told = np.asarray(network.forward(), dtype=float)
    return np.asarray(told.reshape(-1, len(ends), told.shape[1]).mean(axis=0))


def _odds(logits: Array) -> Mapping[End, float]:
    odds = np.exp(logits - logits.max())
    return dict(zip(KINDS, (odds / odds.sum()).tolist(), strict=True))


def _extent(
    middle: Array, axis: Array, camera: Camera, view: MapView, wire: NDArray[np.bool_]
) -> tuple[float, float]:
    """Return between which places along the axis there is wire [mm from its middle]."""
    y, x = np.nonzero(wire)
    pixels = view.to_photo(np.column_stack([x, y]).astype(float))
    along = (camera.at_height(pixels, middle[2]) - middle) @ axis
    low, high = np.quantile(along, [BEYOND, 1.0 - BEYOND])
    return float(low), float(high)


def _layers(end: _End, wire_mm: float, camera: Camera, view: MapView) -> NDArray[np.float32]:
    """Return picture, maps and what is told besides of an end, (9, ACROSS, ALONG)."""
    places = places_mm(end.face_mm, end.ways, end.width_mm)
    besides = told_besides(end.face_mm, end.ways, end.width_mm, wire_mm, camera.position_mm)
    rest = np.broadcast_to(besides[:, None, None], (len(besides), ACROSS, ALONG))
    return np.concatenate([_sampled(places, camera, view), rest], dtype=np.float32)


def _sampled(places: Array, camera: Camera, view: MapView) -> NDArray[np.float32]:
    """Return picture and maps of a view at places (ACROSS, ALONG, 3), shape (6, ACROSS, ALONG)."""
    pixels = view.to_map(camera.project(places.reshape(-1, 3))).reshape(ACROSS, ALONG, 2)
    across = pixels[-1, 0] - pixels[0, 0]
    wide_px = float(np.hypot(*across)) / (2.0 * ASIDE)
    room = 2.0 + 0.05 * wide_px
    shape = np.array(view.maps.shape[:0:-1])
    low = np.clip(np.floor(pixels.min(axis=(0, 1)) - room), 0, shape - 2).astype(int)
    high = np.clip(np.ceil(pixels.max(axis=(0, 1)) + room), low + 2, shape).astype(int)
    rows, columns = slice(low[1], high[1]), slice(low[0], high[0])
    zoom = np.maximum(np.round((high - low) * min(1.0, WIDE_PX / wide_px)), 1.0) / (high - low)
    size = np.round(zoom * (high - low)).astype(int).tolist()
    at_x, at_y = np.moveaxis((pixels - low + 0.5) * zoom - 0.5, 2, 0).astype(np.float32)
    assert view.picture is not None
    picture = np.moveaxis(view.picture[rows, columns] / np.float32(255.0), 2, 0)
    out = []
    for layer in (*picture, *view.maps[:, rows, columns]):
        small = cv2.resize(layer, size, interpolation=cv2.INTER_AREA)
        out.append(cv2.remap(small, at_x, at_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE))
    return np.stack(out)
