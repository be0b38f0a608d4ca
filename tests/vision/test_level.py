"""A spring askew is seen in a turned photo, and where it is in the photo is known all the same."""

import cv2
import numpy as np
import pytest

import vision.closer as closer
from vision.level import levelled
from vision.map_view import MapView
from vision.proposals import Box
from vision.region import Sighting

MIDDLE = np.array([400.0, 300.0])


def strands(angle, middle=MIDDLE):
    """Return a picture of strands across an axis askew, points on them, and the axis's ends."""
    along, across = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    rgb, points = np.zeros((600, 800, 3), np.uint8), []
    for k in np.linspace(-150.0, 150.0, 11):
        one, other = (middle + k * along + side * across for side in (-40.0, 40.0))
        ends = [tuple(int(v) for v in np.round(end * 16)) for end in (one, other)]
        cv2.line(rgb, *ends, (255, 255, 255), 12, cv2.LINE_AA, 4)
        points += [one, middle + k * along, other]
    return rgb, np.array(points), middle + np.array([[-150.0], [150.0]]) * along


def seen(rgb, box, scale):
    """Return what is white in a part of a picture as wire."""
    x0, y0 = int(box.left), int(box.top)
    part = rgb[y0 : int(np.ceil(box.bottom)), x0 : int(np.ceil(box.right))]
    size = round(part.shape[1] * scale), round(part.shape[0] * scale)
    white = cv2.resize(part, size, interpolation=cv2.INTER_AREA)[:, :, 0].astype(np.float32) / 255
    return MapView(np.stack([white] * 3), np.array([x0, y0], float), size[0] / part.shape[1])


def sighting_of(points):
    box = Box(*(points.min(axis=0) - 6.0), *(points.max(axis=0) + 6.0))
    return Sighting(box, points, 12.0, 1.0)


@pytest.mark.parametrize("degrees", [-63.0, -30.0, 24.0, 44.0, 88.0])
def test_what_lies_askew_is_seen_level_and_where_it_is(monkeypatch, degrees):
    monkeypatch.setattr(closer, "look", seen)
    rgb, points, ends = strands(np.radians(degrees))
    view = closer.close_look(rgb, sighting_of(points))
    upright = closer._close_look(rgb, sighting_of(points))
    askew = min(abs(degrees), 90.0 - abs(degrees)) > 15.0
    assert (view.angle != 0.0) == askew
    assert (view.maps[0].size < 0.8 * upright.maps[0].size) == askew
    y, x = np.nonzero(view.maps[0] > 0.5)
    wire = view.to_photo(np.column_stack([x, y]).astype(float))
    assert wire.mean(axis=0) == pytest.approx(MIDDLE, abs=0.3)
    way = (ends[1] - ends[0]) / 300.0
    assert np.ptp(wire @ way) == pytest.approx(312.0, abs=2.0)
    assert view.to_map(view.to_photo(np.array([[3.0, 5.0]]))) == pytest.approx(np.array([[3, 5]]))


def test_turned_pixels_are_those_of_the_photo():
    rgb, points, _ = strands(np.radians(30.0))
    level = levelled(rgb, points, 20.0, 800.0 * 600.0)
    assert level is not None
    x, y = np.round(level.of(points)).astype(int).T
    assert (level.rgb[y, x, 0] > 100).all()
    assert np.ptp(level.of(points)[:, 0]) == pytest.approx(300.0, abs=4.0)


@pytest.mark.parametrize(
    ("middle", "area"), [(MIDDLE, 45_000.0), (np.array([160.0, 120.0]), 480_000.0)]
)
def test_it_is_not_turned_for_little_nor_where_it_lies_at_the_rim(middle, area):
    rgb, points, _ = strands(np.radians(30.0), middle)
    assert levelled(rgb, points, 30.0, area) is None


def test_wire_that_runs_out_of_what_was_turned_is_seen_upright(monkeypatch):
    monkeypatch.setattr(closer, "look", seen)
    rgb, points, ends = strands(np.radians(30.0))
    near = points[np.linalg.norm(points - ends[0], axis=1) < 170.0]
    view = closer.close_look(rgb, sighting_of(near))
    y, x = np.nonzero(view.maps[0] > 0.5)
    wire = view.to_photo(np.column_stack([x, y]).astype(float))
    assert view.angle == 0.0
    assert np.ptp(wire @ ((ends[1] - ends[0]) / 300.0)) == pytest.approx(312.0, abs=3.0)
