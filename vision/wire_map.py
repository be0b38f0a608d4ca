"""The learned wire map: which pixels are wire, which of it lies in the coil's upper half.

The weights, `vision/data/wire-map.onnx`, were trained on rendered scenes alone; see their card,
`vision/data/wire-map.md`.
"""

from functools import lru_cache
from importlib.resources import files
from threading import Lock

import cv2
import numpy as np
from numpy.typing import NDArray

#: The network halves its input five times.
MULTIPLE = 32
#: How many pixels it is given at once, and how far around it looks, a multiple of the above [px].
MOST_PX, AROUND_PX = 900_000, 128
#: Width of the wire at which the map is sharpest [px]: within what it was trained on, 3 to 48.
BEST_WIRE_PX = 20.0

#: A picture's size in the file: three channels, then height and width by name, or 128 each.
_BY_NAME = b"\n\x02\x08\x03\n\x03\x12\x01h\n\x03\x12\x01w"
_BY_NUMBER = b"\n\x02\x08\x03\n\x03\x08\x80\x01\n\x03\x08\x80\x01"

_ONE_AT_A_TIME = Lock()  # a network holds its own buffers


def sized(weights: bytes) -> bytes:
    """Return a network's file with a number where the height and width of pictures are names.

    OpenCV 4 follows the sizes through the layers as it reads, takes a name for 1, and then finds
    halves that do not join. Any number will do, to both OpenCV 4 and 5: each picture that is put
    in sets the sizes anew. The number is as long as the name, so that nothing else moves.
    """
    return weights.replace(_BY_NAME, _BY_NUMBER)


@lru_cache(maxsize=1)
def _network() -> cv2.dnn.Net:
    path = files("vision") / "data" / "wire-map.onnx"
    return cv2.dnn.readNetFromONNX(np.frombuffer(sized(path.read_bytes()), dtype=np.uint8))


def wire_map(rgb: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Return the maps of a picture, shape (3, H, W), 0 to 1.

    The first is the coverage of each pixel by wire; the second its coverage by strands of the
    coil's upper half, as far as it can tell; the third how squarely the wire's surface faces the
    camera: one at the middle of a strand and nought at its rims, which parts touching turns.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (H, W, 3)
        A picture in which the wire is 8 to 40 px wide.
    """
    height, width = rgb.shape[:2]
    if height * width <= MOST_PX:
        return _maps(rgb)
    # In halves that overlap by what the network sees around, for its memory goes with the picture.
    across = int(width >= height)  # the axis along which it is cut
    half = max(height, width) // 2 // MULTIPLE * MULTIPLE
    first, second = np.split(np.moveaxis(rgb, across, 0), [half])
    near = [
        np.moveaxis(np.concatenate(parts), 0, across)
        for parts in ((first, second[:AROUND_PX]), (first[-AROUND_PX:], second))
    ]
    before, after = (np.moveaxis(wire_map(part), 1 + across, 1) for part in near)
    whole = np.concatenate([before[:, :half], after[:, AROUND_PX:]], axis=1)
    return np.ascontiguousarray(np.moveaxis(whole, 1, 1 + across))


def _maps(rgb: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Return the maps of a picture as a whole."""
    height, width = rgb.shape[:2]
    padded = cv2.copyMakeBorder(
        rgb, 0, -height % MULTIPLE, 0, -width % MULTIPLE, cv2.BORDER_REPLICATE
    )
    with _ONE_AT_A_TIME:
        network = _network()
        network.setInput(cv2.dnn.blobFromImage(padded, 1.0 / 255.0))
        maps = network.forward()[0, :, :height, :width].copy()
    return np.asarray(maps, dtype=np.float32)
