"""The wire map's network: read alike by OpenCV 4 and 5, for pictures of any size."""

from importlib.resources import files

import cv2
import numpy as np
import pytest

from vision.wire_map import sized, wire_map

WEIGHTS = (files("vision") / "data" / "wire-map.onnx").read_bytes()


def test_the_file_names_no_size_that_opencv_4_takes_for_one():
    # Its importer (modules/dnn/src/onnx/onnx_importer.cpp) knows no name's number; "h" and "w" are
    # what the export calls them, as fields of the message in which ONNX writes a size.
    assert len(sized(WEIGHTS)) == len(WEIGHTS)
    for name in (b"\x12\x01h", b"\x12\x01w"):
        assert name not in sized(WEIGHTS)[-400:]


def test_the_file_takes_less_than_six_megabytes():
    # Its weights are kept in half precision (fixtures/training/halves.py).
    assert len(WEIGHTS) < 6_000_000


def test_the_number_in_the_file_binds_no_picture():
    network = cv2.dnn.readNetFromONNX(np.frombuffer(sized(WEIGHTS), np.uint8))
    for height, width in ((64, 96), (128, 128), (256, 32)):
        network.setInput(np.zeros((1, 3, height, width), np.float32))
        assert network.forward().shape == (1, 3, height, width)


@pytest.mark.parametrize("size", [(96, 144), (50, 70), (17, 200)])
def test_a_map_is_as_large_as_its_picture_and_does_not_depend_on_the_one_before(size):
    picture = np.random.default_rng(3).integers(0, 256, (*size, 3), np.uint8)
    first = wire_map(picture)
    wire_map(np.zeros((128, 64, 3), np.uint8))
    again = wire_map(picture)
    assert first.shape == (3, *size)
    assert np.array_equal(first, again)
    assert first.min() >= 0.0
    assert first.max() <= 1.0


@pytest.mark.parametrize("size", [(832, 1216), (1216, 800)])
def test_a_large_picture_is_seen_in_parts_as_it_is_seen_whole(size, monkeypatch):
    """They overlap by what the network looks around for the most part: its memory is bounded."""
    rng = np.random.default_rng(2)
    coarse = rng.integers(0, 256, (size[0] // 16, size[1] // 16, 3), np.uint8)
    picture = np.asarray(cv2.resize(coarse, size[::-1], interpolation=cv2.INTER_CUBIC), np.uint8)
    parts = wire_map(picture)
    monkeypatch.setattr("vision.wire_map.MOST_PX", 10_000_000)
    whole = wire_map(picture)
    assert parts.shape == whole.shape == (3, *size)
    assert np.quantile(np.abs(parts - whole), 0.99) < 0.02
