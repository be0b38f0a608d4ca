"""How a sighted spring is looked at from near and from farther away."""

import numpy as np
import pytest

import vision.closer as closer
from tests.vision import made
from vision.map_view import MapView
from vision.proposals import Box
from vision.region import Sighting

RGB = np.zeros((600, 800, 3), np.uint8)


def strands(scale: float, left_over: float, wide_px: float = 12.0) -> MapView:
    """Return the map of a row of strands so wide in the photo, with a share of it left."""
    maps = np.zeros((3, int(200 * scale), int(300 * scale)), np.float32)
    wide = round(wide_px * scale)
    for at in range(int(20 * scale), int(280 * scale), int(30 * scale)):
        stop = int((20 + 160 * left_over) * scale)
        maps[:, int(20 * scale) : stop, at : at + wide] = 1.0
    return MapView(maps, np.array([250.0, 200.0]), scale)


@pytest.mark.parametrize(("left_over", "kept"), [(1.0, 20.0 / 12.0), (0.4, 1.0)])
def test_a_closer_look_that_loses_wire_is_not_taken(monkeypatch, left_over, kept):
    """A map breaks up where wire is enlarged too far: its pieces are narrower and lead on."""

    def look(rgb, box, scale):
        return strands(scale, 1.0 if scale < 1.2 else left_over)

    monkeypatch.setattr(closer, "look", look)
    box = Box(250.0, 200.0, 550.0, 400.0)
    sighting = Sighting(box, np.array([[400.0, 300.0]]), 20.0, 1.0)
    assert closer.close_look(RGB, sighting).scale == pytest.approx(kept, rel=0.12)


@pytest.mark.parametrize(("guessed_px", "looks"), [(15.0, 1), (17.0, 2), (10.0, 2)])
def test_wire_a_little_too_fine_in_the_map_is_not_looked_at_again(monkeypatch, guessed_px, looks):
    """Its edges are read from the photo later; what is too wide, or far too fine, is seen anew."""
    scales = []

    def look(rgb, box, scale):
        scales.append(scale)
        return strands(scale, 1.0)

    monkeypatch.setattr(closer, "look", look)
    sighting = Sighting(Box(250.0, 200.0, 550.0, 400.0), np.array([[400.0, 300.0]]), guessed_px, 1)
    view = closer.close_look(RGB, sighting)
    assert len(scales) == looks
    too_wide = 12.0 * view.scale / closer.BEST_WIRE_PX
    assert 1.0 / closer.TOO_FINE - 0.05 < too_wide < closer.TOO_WIDE + 0.05


def test_gaps_that_open_from_near_are_no_lost_wire(monkeypatch):
    """From afar turns run together: their wire is then taken for twice as wide as it is."""

    def look(rgb, box, scale):
        return strands(scale, 1.0, 12.0 if scale > 0.6 else 28.0)

    monkeypatch.setattr(closer, "look", look)
    sighting = Sighting(Box(250.0, 200.0, 550.0, 400.0), np.array([[400.0, 300.0]]), 40.0, 1)
    assert closer.close_look(RGB, sighting).scale > 0.6


def test_a_coarser_look_reaches_farther_and_shows_the_wire_narrower(monkeypatch):
    asked = {}

    def look(rgb, box, scale):
        asked.update(box=box, scale=scale)
        return strands(scale, 1.0)

    monkeypatch.setattr(closer, "look", look)
    view = strands(2.0, 1.0)
    closer.coarser_look(RGB, view)
    assert 12.0 * asked["scale"] == pytest.approx(closer.COARSE_WIRE_PX, rel=0.1)
    assert asked["box"].left == pytest.approx(250.0 - closer.ROUND * 300.0, abs=1.0)
    assert asked["box"].bottom == pytest.approx(400.0 + closer.ROUND * 300.0, abs=1.0)


def test_wire_that_breaks_up_from_near_is_looked_at_from_no_nearer(monkeypatch):
    """The map loses the middle of wire that is too wide for it, and the rest looks ever finer."""
    scales = []

    def look(rgb, box, scale):
        scales.append(scale)
        return strands(scale, 1.0, 12.0 * (scales[0] / scale) ** 0.3)

    monkeypatch.setattr(closer, "look", look)
    sighting = Sighting(Box(250.0, 200.0, 550.0, 400.0), np.array([[400.0, 300.0]]), 24.0, 1)
    view = closer.close_look(RGB, sighting)
    assert len(scales) == 2
    assert 12.0 * view.scale == pytest.approx(closer.BEST_WIRE_PX, rel=0.1)


def test_what_lies_around_a_view_is_no_part_of_the_coarser_one(monkeypatch):
    """A coin's rim beside a spring may hold more wire than the spring."""
    spring, rim = Box(100.0, 100.0, 200.0, 160.0), Box(270.0, 20.0, 315.0, 240.0)

    def look(rgb, box, scale):
        return made.pieces((spring, rim), box, scale)

    monkeypatch.setattr(closer, "look", look)
    monkeypatch.setattr(closer, "ROUND", 1.0)
    near = look(RGB, Box(90.0, 90.0, 210.0, 170.0), 1.0)
    coarser = closer.coarser_look(RGB, near)
    y, x = np.nonzero(coarser.maps[0] > 0.5)
    assert coarser.to_photo(np.array([[x.max(), y.max()]], float))[0, 0] < rim.left


def test_what_lies_beside_the_sighted_wire_is_no_part_of_the_view(monkeypatch):
    """A larger screw may lie a little farther off."""
    screw, spring = Box(100.0, 100.0, 300.0, 200.0), Box(390.0, 120.0, 450.0, 180.0)

    def look(rgb, box, scale):
        return made.pieces((screw, spring), box, scale)

    monkeypatch.setattr(closer, "look", look)
    both, points = Box(90.0, 90.0, 460.0, 210.0), np.array([spring.middle])
    view = closer.close_look(RGB, Sighting(both, points, 20.0, 1.0, beside=True))
    y, x = np.nonzero(view.maps[0] > 0.5)
    assert view.to_photo(np.array([[x.min(), y.min()]], float))[0, 0] > screw.right


@pytest.mark.parametrize(("left", "ran_out"), [(230.0, False), (420.0, True)])
def test_where_wire_runs_out_of_a_view_the_look_goes_on(monkeypatch, left, ran_out):
    """What is faint from afar may be plain from near: a fit of the rest is no reason to stop."""
    bars = np.zeros(RGB.shape[:2], np.float32)
    for at in range(270, 530, 30):
        bars[220:380, at : at + 12] = 1.0
    looks = []

    def look(rgb, box, scale):
        looks.append(box)
        whole = np.array([box.left, box.top, box.right, box.bottom]).astype(int)
        part = bars[whole[1] : whole[3], whole[0] : whole[2]]
        return MapView(np.stack([part] * 3), whole[:2].astype(float), 1.0)

    monkeypatch.setattr(closer, "look", look)
    view, out = closer.whole_look(RGB, Box(left, 170.0, 570.0, 430.0), 1.0)
    assert out is ran_out
    assert (len(looks) > 1) is ran_out
    assert view.maps[0].sum() == bars.sum()
