"""What a helix covers: held against discs drawn densely along its wire, and a disc that is cut."""

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.vision import made
from vision.fitted import wire_px_of
from vision.helix import End, along_axis, turns_of
from vision.silhouette import WIRE_PX, Silhouette, _reach, edges_of
from vision.tips import faces_apart

QUIET = {"noise": 0.0}


def drawn_and_seen(spring, tilt):
    camera = made.camera(tilt)
    view = made.view(spring, camera, np.random.default_rng(1), **QUIET)
    zoom = min(1.0, WIRE_PX / (wire_px_of(spring, camera) * view.scale))
    size = (round(view.maps.shape[2] * zoom), round(view.maps.shape[1] * zoom))
    seen = cv2.resize(view.maps[0], size, interpolation=cv2.INTER_AREA)
    return Silhouette.of(spring, camera, view, zoom).drawn(seen.shape), seen


@pytest.mark.parametrize("tilt", [0.0, 18.0])
def test_a_drawing_covers_what_the_wire_does_and_no_more(tilt):
    """A drawing wider by a pixel, as thick lines of OpenCV are, would cover an eighth too much."""
    drawn, seen = drawn_and_seen(made.helix(), tilt)
    assert drawn.sum() == pytest.approx(seen.sum(), rel=0.01)
    assert np.minimum(drawn, seen).sum() > 0.965 * np.maximum(drawn, seen).sum()


@given(depth=st.floats(-0.99, 0.99), angle=st.floats(0.0, 2.0 * np.pi))
def test_a_cut_disc_reaches_as_far_as_its_furthest_point(depth, angle):
    around = np.linspace(0.0, 2.0 * np.pi, 200_001)
    disc = np.column_stack([np.minimum(np.cos(around), depth), np.sin(around)])
    disc = disc[np.hypot(*disc.T) <= 1.0 + 1e-12]
    furthest = (disc @ np.array([np.cos(angle), np.sin(angle)])).max()
    told = _reach(np.array([np.cos(angle)]), np.ones(1), np.array([depth]))[0]
    assert told == pytest.approx(furthest, abs=1e-3)


def test_ground_wire_ends_at_its_face():
    spring = made.helix(ends=(End.GROUND, End.GROUND))
    axis = np.array([np.cos(spring["heading"]), np.sin(spring["heading"]), 0.0])
    edges = np.vstack(edges_of(spring, made.camera()))
    x = along_axis(spring, turns_of(spring))
    along = (edges - np.array([spring["x"], spring["y"], 0.0])) @ axis
    # Little stands beyond the faces; round wire would, by its half: 0.6 mm.
    assert along.max() < x[-1] + 0.15
    assert along.min() > x[0] - 0.15


def test_faces_are_apart_by_what_was_ground_off():
    closed = made.helix(ends=(End.CLOSED, End.CLOSED))
    ground = made.helix(ends=(End.GROUND, End.GROUND))
    camera = made.camera(6.0)
    view = made.view(closed, camera, np.random.default_rng(1), **QUIET)
    keep = np.ones(view.maps.shape[1:], dtype=bool)
    wire = wire_px_of(closed, camera) * view.scale
    assert faces_apart(closed, camera, view, keep, wire) < 0.12  # tips are round in this map
    assert faces_apart(ground, camera, view, keep, wire) > 0.3


def test_a_drawing_is_the_same_wherever_its_corner_lies():
    spring, camera = made.helix(ends=(End.CLOSED, End.CLOSED)), made.camera(6.0)
    view = made.view(spring, camera, np.random.default_rng(1), **QUIET)
    drawing = Silhouette.of(spring, camera, view, 0.4)
    shape = (round(0.4 * view.maps.shape[1]), round(0.4 * view.maps.shape[2]))
    whole = drawing.drawn_at((slice(0, shape[0]), slice(0, shape[1])))
    where = drawing.place(shape)
    assert where != (slice(0, shape[0]), slice(0, shape[1]))
    assert (drawing.drawn_at(where) == whole[where]).all()
    assert drawing.drawn(shape) == pytest.approx(whole)


def test_a_part_of_a_drawing_is_that_of_its_turns():
    spring, camera = made.helix(), made.camera(6.0)
    view = made.view(spring, camera, np.random.default_rng(1), **QUIET)
    shape = view.maps.shape[1:]
    whole = Silhouette.of(spring, camera, view, 1.0).drawn(shape)
    part = Silhouette.of(spring, camera, view, 1.0, (-np.inf, 2.0)).drawn(shape)
    rest = Silhouette.of(spring, camera, view, 1.0, (2.0, np.inf)).drawn(shape)
    assert 0.2 < part.sum() / whole.sum() < 0.6
    assert np.mean(np.maximum(part, rest) != whole) < 1e-3
    nothing = Silhouette.of(spring, camera, view, 1.0, (90.0, np.inf))
    assert not nothing.drawn(shape).any()


@pytest.mark.parametrize("away", [{"x": 500.0}, {"y": 500.0}, {"y": -500.0}])
def test_what_lies_beside_the_picture_covers_nothing(away):
    """OpenCV refuses to draw on a picture without rows."""
    view = made.view(made.helix(), made.camera(6.0), np.random.default_rng(1), **QUIET)
    drawing = Silhouette.of(made.helix(**away), made.camera(6.0), view, 0.4)
    assert not drawing.drawn((100, 120)).any()
