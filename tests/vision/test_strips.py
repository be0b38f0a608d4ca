"""Strips along the wire, against the geometry of a rod and of a helix seen by a plain camera."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from tests.vision import made
from vision.camera import Camera
from vision.edge_reader import read_edges
from vision.helix import centre_line, is_upper, turns_of
from vision.sharpen import stations_of
from vision.strips import ACROSS, COLUMN, HALF, sample, stations_along, tile_places
from vision.touching import seen

FOCAL, CENTRE = 3000.0, np.array([400.0, 300.0])
#: The world's axes are the camera's.
AHEAD = Camera(FOCAL, CENTRE, np.eye(3), np.zeros(3))


def rod(radius: float, away: float = 200.0, aside: float = 0.0, camera: Camera = AHEAD):
    """Return stations along a straight rod that runs from left to right."""
    x = np.linspace(-15.0, 15.0, 300)
    line = np.column_stack([x, np.full(300, aside), np.full(300, away)])
    return stations_along(line, np.linspace(0, 1, 300), radius, camera)


@pytest.mark.parametrize("aside", [0.0, 25.0])
def test_edges_of_a_rod_are_where_lines_of_sight_touch_it(aside):
    found = rod(1.5, aside=aside)
    edges = found.edges_px(np.zeros((len(found.turn), 2)))
    # The sight line to either side makes this angle with the one to the rod's axis.
    half_angle = np.arcsin(1.5 / np.hypot(200.0, aside))
    middle = np.arctan2(aside, 200.0)
    expected = CENTRE[1] + FOCAL * np.tan(middle + np.array([-half_angle, half_angle]))
    assert np.sort(edges[5:-5, :, 1], axis=1) == pytest.approx(
        np.tile(expected, (len(edges) - 10, 1)), abs=1e-3
    )


def test_a_lens_that_bends_moves_the_edges_as_it_moves_points():
    bent = replace(AHEAD, lens=0.08)
    found = rod(1.5, aside=25.0, camera=bent)
    edges = found.edges_px(np.zeros((len(found.turn), 2)))
    rays = [bent.rays(edges[5:-5, side]) for side in (0, 1)]
    # Undone the bend, the edges are straight and where they were.
    for ray, sign in zip(rays, (-1, 1), strict=True):
        angle = np.arctan2(25.0, 200.0) + sign * np.arcsin(1.5 / np.hypot(200.0, 25.0))
        assert ray[:, 1] == pytest.approx(np.tan(angle), abs=2e-5)


def test_stations_lie_a_third_of_the_radius_apart():
    found = rod(1.5)
    steps = np.linalg.norm(np.diff(found.middle_px, axis=0), axis=1)
    assert steps == pytest.approx(found.half_px[1:] * COLUMN / HALF, rel=0.01)


def test_a_rod_alone_shows_both_edges_and_a_nearer_one_hides_them():
    assert rod(1.5).seen.all()
    across = np.linspace(-15.0, 15.0, 300)
    far = np.column_stack([across, np.zeros(300), np.full(300, 200.0)])
    near = np.column_stack([np.zeros(300), across, np.full(300, 190.0)])
    line = np.vstack([far, near])
    found = stations_along(line, np.linspace(0, 2, 600), 1.5, AHEAD)
    hidden = (found.turn < 0.98) & ~found.seen.any(axis=1)
    x = found.middle_px[hidden, 0] - CENTRE[0]
    assert hidden.any()
    assert np.abs(x).max() < 1.3 * found.half_px.max()
    alone = (found.turn > 1.05) & (found.turn < 1.95)
    assert found.seen[alone].all()


def test_upper_strands_hide_lower_ones_and_not_the_other_way():
    spring, camera = made.helix(), made.camera(0.0)
    found = stations_of(spring, camera)
    inner = (found.turn > spring["start"] + 1) & (found.turn < spring["stop"] - 1)
    height = np.cos(2 * np.pi * found.turn)
    top, bottom = inner & (height > 0.6), inner & (height < -0.6)
    assert found.seen[top].mean() > 0.95
    assert found.seen[bottom].mean() < found.seen[top].mean()
    line = seen(camera, centre_line(spring, turns_of(spring)))
    up = is_upper(turns_of(spring))
    assert line[up, 2].mean() < line[~up, 2].mean()


def test_a_strip_samples_the_photo_where_it_says():
    y, x = np.mgrid[0:600, 0:800].astype(float)
    rgb = np.clip(np.dstack([x / 4, y / 4, 0 * x + 7]), 0, 255).round().astype(np.uint8)
    found = rod(0.75)
    places = tile_places(found, 30, 10)
    assert places.shape == (ACROSS, 10 * COLUMN, 2)
    for half in (0.5 * HALF, 2.0 * HALF):  # as it is, and shrunk
        strip = sample(rgb, places, half)
        assert np.abs(strip[..., 0] - places[..., 0] / 4).max() < 1.5
        assert np.abs(strip[..., 1] - places[..., 1] / 4).max() < 1.5


def metal(u: np.ndarray) -> np.ndarray:
    """Return the light of a rod that mirrors one lamp in a dim room."""
    return 0.08 + 0.7 * np.exp(-(((u - 0.2) / 0.25) ** 2))


def painted(u: np.ndarray) -> np.ndarray:
    """Return the light of a dark matt rod under a lamp above (Lambert)."""
    return 0.02 + 0.1 * np.sqrt(1.0 - u**2)


def picture_of_rod(half_px, blur_px, rng, shade=metal, table=0.45):
    """Return a picture of a round rod on a cloudy table."""
    y = np.arange(600.0)[:, None] - CENTRE[1]
    cover = np.clip(half_px - np.abs(y) + 0.5, 0, 1)
    clouds = table * (1 + 0.1 * cv2.GaussianBlur(rng.normal(size=(600, 800)), None, 3.0))
    light = cover * shade(np.clip(y / half_px, -1, 1)) + (1 - cover) * clouds
    light = cv2.GaussianBlur(light, None, blur_px) + rng.normal(0, 0.004, light.shape)
    grey = 255 * np.clip(light, 0, 1) ** (1 / 2.2)
    return np.repeat(grey.round().astype(np.uint8)[..., None], 3, axis=2)


def width_read(rgb, width_px, off):
    """Return the width read of a rod that was expected to be `off` times as wide [px]."""
    radius = 200.0 * np.sin(np.arctan(0.5 * width_px / FOCAL))
    edges = read_edges(rgb, rod(off * radius))
    aside = edges.points_px[:, 1] - CENTRE[1]
    return np.median(aside[aside > 0]) - np.median(aside[aside < 0])


@pytest.mark.parametrize("shade", [metal, painted])
@pytest.mark.parametrize("width_px", [14.0, 20.0, 34.0])
@pytest.mark.parametrize("off", [0.93, 1.0, 1.08])
def test_the_width_of_a_rod_is_read_whatever_was_expected(shade, width_px, off):
    rgb = picture_of_rod(0.5 * width_px, 0.8, np.random.default_rng(2), shade)
    assert width_read(rgb, width_px, off) == pytest.approx(width_px, rel=0.04)


def test_a_blurred_rod_is_read_less_surely():
    rng = np.random.default_rng(2)
    stations = rod(200.0 * np.sin(np.arctan(9.0 / FOCAL)))
    sharp, soft = (read_edges(picture_of_rod(9.0, b, rng), stations) for b in (0.6, 3.5))
    assert np.median(soft.deviation_px) > 1.3 * np.median(sharp.deviation_px)
