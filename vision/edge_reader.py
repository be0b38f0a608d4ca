"""The learned edge reader: where the two edges of a strand lie, and how surely that is seen.

The weights, `vision/data/edge-reader.onnx`, were trained on rendered scenes alone; see their card,
`vision/data/edge-reader.md`.
"""

from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from threading import Lock

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.strips import ACROSS, COLUMN, HALF, Stations, sample, tile_places

Array = NDArray[np.float64]
Pixels = NDArray[np.uint8]

#: Stations in a tile, as in training, and how many of them at either end lie too near its border.
STATIONS, RIM = 24, 4
#: Most tiles of one spring: more cost time and tell little new.
MOST_TILES = 72
#: Least mean deviation that may be claimed, as in training [half wires].
FLOOR = 0.004

_ONE_AT_A_TIME = Lock()  # a network holds its own buffers


@dataclass(frozen=True, slots=True)
class Edges:
    """Points on the edges of the wire, as read from the photo.

    Attributes
    ----------
    points_px : ndarray, shape (N, 2)
        Where they lie [px].
    turn : ndarray, shape (N,)
        Turn of the wire at each.
    deviation_px : ndarray, shape (N,)
        Mean deviation claimed for each [px].
    """

    points_px: Array
    turn: Array
    deviation_px: Array


@lru_cache(maxsize=1)
def _network() -> cv2.dnn.Net:
    path = files("vision") / "data" / "edge-reader.onnx"
    return cv2.dnn.readNetFromONNX(np.frombuffer(path.read_bytes(), dtype=np.uint8))


def read_edges(rgb: Pixels, stations: Stations) -> Edges:
    """Return the edges of the wire that are in sight.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (H, W, 3)
        The photo.
    stations : Stations
        Along the wire, as it is expected: right to within a third of its width.
    """
    firsts = _tiles(stations)
    if not firsts:
        return Edges(np.empty((0, 2)), np.empty(0), np.empty(0))
    told = _told([_strip(rgb, stations, first) for first in firsts])
    points, turns, deviations = [], [], []
    for first, (offset, spread) in zip(firsts, told, strict=True):
        inner = np.arange(first + RIM, first + STATIONS - RIM)
        inner = inner[(inner >= 0) & (inner < len(stations.turn))]
        at = inner - first
        both = stations.edges_px(_everywhere(offset, first, len(stations.turn)))[inner]
        seen = stations.seen[inner]
        points.append(both[seen])
        turns.append(np.repeat(stations.turn[inner], seen.sum(axis=1)))
        deviations.append((spread[:, at].T * stations.half_px[inner, None])[seen])
    return Edges(np.vstack(points), np.concatenate(turns), np.concatenate(deviations))


def _everywhere(offset: Array, first: int, count: int) -> Array:
    """Return a tile's offsets (2, S) at their stations among all (count, 2)."""
    out = np.zeros((count, 2))
    low, high = max(first, 0), min(first + STATIONS, count)
    out[low:high] = offset[:, low - first : high - first].T
    return out


def _tiles(stations: Stations) -> list[int]:
    """Return the first station of each tile that shows some edge; evenly fewer if they are many."""
    step = STATIONS - 2 * RIM
    starts = range(-RIM, len(stations.turn) - RIM, step)
    some = [s for s in starts if stations.seen[max(s + RIM, 0) : s + RIM + step].any()]
    if len(some) <= MOST_TILES:
        return some
    return [some[k] for k in np.linspace(0, len(some) - 1, MOST_TILES).astype(int)]


def _strip(rgb: Pixels, stations: Stations, first: int) -> NDArray[np.float32]:
    """Return the strip of a tile (5, ACROSS, COLUMN * STATIONS) as the network sees it."""
    near = stations.half_px[max(first, 0) : first + STATIONS]
    half = float(near.mean())
    places = tile_places(stations, first, STATIONS)
    colours = sample(rgb, places, half).astype(np.float32).transpose(2, 0, 1) / 255.0
    out = np.empty((5, ACROSS, COLUMN * STATIONS), dtype=np.float32)
    out[:3] = colours
    out[3] = np.linspace(-1.0, 1.0, ACROSS)[:, None]
    out[4] = np.log(max(half, 0.5) / HALF)
    return out


def _told(strips: list[NDArray[np.float32]]) -> list[tuple[Array, Array]]:
    """Return for each strip the offsets (2, S) and mean deviations (2, S) [half wires]."""
    with _ONE_AT_A_TIME:
        network = _network()
        network.setInput(np.stack(strips))
        told = np.asarray(network.forward(), dtype=float)
    return [(t[:2], FLOOR + np.exp(np.clip(t[2:], -7.0, 3.0))) for t in told]
