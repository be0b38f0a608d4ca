"""Where the spring is looked for, and which looks are kept."""

import numpy as np
import pytest

import vision.region as region
from vision.map_view import MapView
from vision.proposals import Box, tiles

RGB = np.zeros((600, 800, 3), np.uint8)


@pytest.mark.parametrize("shape", [(600, 800), (800, 600), (500, 4000)])
def test_tiles_leave_nothing_out(shape):
    seen = np.zeros(shape, bool)
    for box in tiles(shape):
        assert box.left >= 0
        assert box.top >= 0
        seen[int(box.top) : round(box.bottom), int(box.left) : round(box.right)] = True
    assert seen.all()


def strands(scale: float, left_over: float) -> MapView:
    """Return the map of a row of strands 12 px wide in the photo, with a share of it left."""
    maps = np.zeros((3, int(200 * scale), int(300 * scale)), np.float32)
    wide = int(12 * scale)
    for at in range(int(20 * scale), int(280 * scale), int(30 * scale)):
        stop = int((20 + 160 * left_over) * scale)
        maps[:, int(20 * scale) : stop, at : at + wide] = 1.0
    return MapView(maps, np.array([250.0, 200.0]), scale)


@pytest.mark.parametrize(("left_over", "kept"), [(1.0, 20.0 / 12.0), (0.4, 1.0)])
def test_a_closer_look_that_loses_wire_is_not_taken(monkeypatch, left_over, kept):
    """A map breaks up where wire is enlarged too far: its pieces are narrower and lead on."""

    def look(rgb, box, scale):
        return strands(scale, 1.0 if scale < 1.2 else left_over)

    monkeypatch.setattr(region, "look", look)
    box = Box(250.0, 200.0, 550.0, 400.0)
    sighting = region.Sighting(box, strands(1.0, 1.0), 20.0, 1.0)
    assert region.close_look(RGB, sighting).scale == pytest.approx(kept, rel=0.12)


def test_a_coarser_look_reaches_farther_and_shows_the_wire_narrower(monkeypatch):
    asked = {}

    def look(rgb, box, scale):
        asked.update(box=box, scale=scale)
        return strands(scale, 1.0)

    monkeypatch.setattr(region, "look", look)
    view = strands(2.0, 1.0)
    region.coarser_look(RGB, view)
    assert 12.0 * asked["scale"] == pytest.approx(region.COARSE_WIRE_PX, rel=0.1)
    assert asked["box"].left == pytest.approx(250.0 - region.ROUND * 300.0, abs=1.0)
    assert asked["box"].bottom == pytest.approx(400.0 + region.ROUND * 300.0, abs=1.0)


def test_a_long_spring_that_is_proposed_by_its_end_is_followed_to_the_other(monkeypatch):
    """It runs out of one patch after another."""
    long = region.Box(100.0, 280.0, 780.0, 320.0)

    def look(rgb, box, scale):
        size = (int((box.bottom - box.top) * scale), int((box.right - box.left) * scale))
        maps = np.zeros((3, *size), np.float32)
        low = [int((v - at) * scale) for v, at in ((long.left, box.left), (long.top, box.top))]
        high = [int((v - at) * scale) for v, at in ((long.right, box.left), (long.bottom, box.top))]
        maps[:, max(low[1], 0) : high[1], max(low[0], 0) : high[0]] = 1.0
        return MapView(maps, np.array([box.left, box.top]), scale)

    monkeypatch.setattr(region, "look", look)
    end = region.Sighting(Box(100.0, 280.0, 250.0, 320.0), strands(1.0, 1.0), 10.0, 1.0)
    assert region.settle(RGB, end).box.right == pytest.approx(780.0, abs=6.0)
