"""The learned rim reader: where the rim and the outline of a coin lie on all rays from its middle.

Seen at a slant, a coin shows its wall on the side of the camera: there its outline is the foot of
the wall and its rim an edge within; on the far side both are one. How far they lie apart tells the
slant to first order, and on which side its sign, where the outline alone tells neither.

The weights, `vision/data/rim-reader.onnx`, were trained on rendered coins alone; see their card,
`vision/data/rim-reader.md`.
"""

from dataclasses import dataclass, replace
from functools import lru_cache
from importlib.resources import files
from threading import Lock

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.references.circles import Ring, weights
from vision.strips import COLUMN, HALF, sample

Array = NDArray[np.float64]
Pixels = NDArray[np.uint8]

#: Samples along a ray, between these parts of the radius; stations all round, and so many beyond
#: where the round closes, so that the network sees no end; neighbouring rays whose mean is one
#: column.
ACROSS, SPAN, STATIONS, WRAP, BESIDE = 128, (0.84, 1.12), 64, 12, 4
#: What the network tells in [parts of the radius], and the least mean deviation it may claim.
UNIT, FLOOR = 0.03, 0.015
#: What is added to the mean deviation of what lies beyond the photo [parts of the radius].
BEYOND = 1.0
#: A usual radius, of which the network is told how much the coin's is; larger ones than the other
#: are seen shrunk to it [px].
USUAL_PX, LARGEST_PX = 160.0, 330.0

#: Where a rim is sought beyond a ring, of its radius, outermost first, and the most that the reader
#: may claim there [of the radius]: at the rims around two rings of a face 0.0014 and 0.0025, beyond
#: eight rims 0.005 and more (around fifty others none was read).
BEYOND_PARTS, SURELY = (1.88, 1.18, -0.07), 0.003

#: Where else a rim is read: its middle and its size moved by so much of the radius.
AROUND = 0.01 * np.array(
    [
        [0, 0, 0, 0, 0],
        [0, 1, 1, 0, 0],
        [0, -1, 1, 0, 0],
        [0, 1, -1, 0, 0],
        [0, -1, -1, 0, 0],
    ]
)

_ONE_AT_A_TIME = Lock()  # a network holds its own buffers


@dataclass(frozen=True, slots=True)
class Rims:
    """The rim and the outline of a coin at stations all round.

    Attributes
    ----------
    angle : ndarray, shape (S,)
        Of the rays from the centre of the ring that was given [rad].
    rim_px, outline_px : ndarray, shape (S,)
        Radius of the widest circle of the upper edge, and of the outline, on them [px].
    u_rim_px, u_outline_px : ndarray, shape (S,)
        Mean deviations claimed [px].
    """

    angle: Array
    rim_px: Array
    outline_px: Array
    u_rim_px: Array
    u_outline_px: Array

    def upper(self, ring: Ring) -> Ring:
        """Return the rim as a ring; `ring` is that along which it was read."""
        weight = 1.0 / self.u_rim_px
        basis = weights(self.angle)
        for _ in range(3):
            root = np.sqrt(weight)
            shape = np.linalg.lstsq(basis * root[:, None], self.rim_px * root, rcond=None)[0]
            off = self.rim_px - basis @ shape
            # Least absolute deviations, each by what it claims.
            weight = 1.0 / (self.u_rim_px * np.maximum(np.abs(off), 0.5 * self.u_rim_px))
        ray = np.column_stack([np.cos(self.angle), np.sin(self.angle)])
        points = ring.centre + self.rim_px[:, None] * ray
        rms = float(np.sqrt(np.average(off**2, weights=weight)))
        return Ring(ring.centre, np.asarray(shape), points, rms, ring.seen)

    def in_pairs(self) -> "Rims":
        """Return the means of neighbouring stations, which err together: half as many."""
        told = (self.angle, self.rim_px, self.outline_px, self.u_rim_px, self.u_outline_px)
        return Rims(*(one.reshape(-1, 2).mean(axis=1) for one in told))


@lru_cache(maxsize=1)
def _network() -> cv2.dnn.Net:
    path = files("vision") / "data" / "rim-reader.onnx"
    return cv2.dnn.readNetFromONNX(np.frombuffer(path.read_bytes(), dtype=np.uint8))


def station_angles() -> Array:
    """Return the angles of the stations, shape (STATIONS,) [rad]."""
    return np.asarray(2.0 * np.pi * (np.arange(STATIONS) + 0.5) / STATIONS)


def ray_angles() -> Array:
    """Return the angle of each ray of a strip [rad]; they begin before the round and end after.

    Shape (BESIDE * COLUMN * (STATIONS + 2 * WRAP),).
    """
    rays = np.arange(BESIDE * COLUMN * (STATIONS + 2 * WRAP)) + 0.5
    return np.asarray(2.0 * np.pi * (rays / (BESIDE * COLUMN) - WRAP) / STATIONS)


def places_of(centre: Array, shape: Array) -> Array:
    """Return where a strip samples the photo (ACROSS, N, 2) on its N rays [px].

    Parameters
    ----------
    centre, shape : ndarray, shapes (2,) and (5,)
        Those of a ring: see `circles.Ring`.
    """
    angle = ray_angles()
    parts = np.linspace(*SPAN, ACROSS)
    reach = parts[:, None] * (weights(angle) @ shape)
    places = np.empty((*reach.shape, 2))
    for k, way in enumerate((np.cos(angle), np.sin(angle))):  # at once takes twice as long
        np.add(reach * way, centre[k], out=places[..., k])
    return places


def rim_beyond(rgb: Pixels, ring: Ring) -> Ring | None:
    """Return the rim of a coin around a ring of its face, or None where none is read there.

    On a table of its own colour a coin's outline is fainter than the rings of its face; the reader
    knows one from a table by more than its edge, and claims to be sure of it alone.
    """
    for part in np.arange(*BEYOND_PARTS):
        near = _grown(ring, float(part))
        for _ in range(2):
            read = read_rims(rgb, near)
            if float(np.median(read.u_rim_px)) > SURELY * near.radius_px:
                break
            near = replace(read.upper(near), centre=near.centre)
        else:
            return near
    return None


def _grown(ring: Ring, part: float) -> Ring:
    """Return a ring about the middle of another, as oval and so many times as large."""
    shape = part * ring.shape * np.array([1.0, 0.0, 0.0, 1.0, 1.0])
    return replace(ring, centre=ring.middle, shape=shape)


def read_all_round(rgb: Pixels, ring: Ring) -> Rims:
    """Return the mean of what is read along a ring and four about it, each off in its way."""
    moves = AROUND * ring.radius_px
    read = [read_rims(rgb, replace(ring, shape=ring.shape + move)) for move in moves]
    angle = read[0].angle
    told = np.mean([[r.rim_px, r.outline_px, r.u_rim_px, r.u_outline_px] for r in read], axis=0)
    return Rims(angle, *told)


def read_rims(rgb: Pixels, ring: Ring) -> Rims:
    """Return the rim and the outline of a coin near a ring.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (H, W, 3)
        Whole photo.
    ring : Ring
        Where its rim, or its outline, is expected: right to within a thirtieth of its radius.
    """
    places = places_of(ring.centre, ring.shape)
    colours = sample(rgb, places, ring.radius_px * HALF / LARGEST_PX)
    beside = [colours[:, k::BESIDE].astype(np.float32) for k in range(BESIDE)]
    columns = np.sum(beside, axis=0) / (255.0 * BESIDE)
    strip = np.empty((5, *columns.shape[:2]), dtype=np.float32)
    strip[:3] = columns.transpose(2, 0, 1)
    strip[3] = np.linspace(-1.0, 1.0, ACROSS)[:, None]
    strip[4] = np.log(min(ring.radius_px, LARGEST_PX) / USUAL_PX)
    with _ONE_AT_A_TIME:
        network = _network()
        network.setInput(strip[None])
        told = np.asarray(network.forward(), dtype=float)[0, :, WRAP:-WRAP]
    angle = station_angles()
    expected = weights(angle) @ ring.shape
    at = expected * (1.0 + UNIT * told[:2])
    spread = expected * UNIT * (FLOOR + np.exp(np.clip(told[2:], -7.0, 3.0)))
    ends = ring.centre + expected[:, None] * np.column_stack([np.cos(angle), np.sin(angle)])
    beyond = ((ends < 0) | (ends > np.array(rgb.shape[1::-1]) - 1.0)).any(axis=1)
    spread[:, beyond] += BEYOND * ring.radius_px
    return Rims(angle, at[0], at[1], spread[0], spread[1])
