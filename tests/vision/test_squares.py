"""The slant by squares on the table, on drawn pictures whose camera is known."""

import numpy as np
import pytest

from vision.references.squares import squares_told
from vision.references.view import view_of
from vision.scale import Scale, find_scale

SHAPE = (900, 1200)
FOCAL_PX = 26.0 / 43.2666 * float(np.hypot(*SHAPE))
GREEN, PALE, METAL = (70, 120, 90), (190, 215, 195), (205, 205, 200)


def lines(step_mm: float, axes: tuple[int, ...], half_mm: float = 0.3):
    """Return the signed distance to lines printed every so many millimetres along some axes."""

    def distance(points: np.ndarray) -> np.ndarray:
        away = np.abs(np.mod(points + step_mm / 2.0, step_mm) - step_mm / 2.0)
        return away[:, list(axes)].min(axis=1) - half_mm

    return distance


def coin(centre, diameter: float, height: float) -> list:
    def distance(points: np.ndarray) -> np.ndarray:
        return np.linalg.norm(points - centre, axis=1) - diameter / 2.0

    return [(distance, h, METAL) for h in np.linspace(0.0, height, 4)]


def mat(drawing, tilt, axes=(0, 1), more=()):
    """Return a photo of a cutting mat, or of lines in one direction only, and its camera."""
    camera = drawing.camera_over(FOCAL_PX, 200.0, SHAPE, (*tilt, 25.0))
    parts = [(lines(10.0, axes), 0.0, PALE), *more]
    return drawing.photo_of(
        drawing.draw(camera, SHAPE, parts, np.random.default_rng(4), table=GREEN)
    ), camera


@pytest.mark.parametrize("tilt", [(0.0, 1.0), (6.0, -8.0), (-14.0, 10.0)])
def test_squares_tell_the_slant_to_half_a_degree(drawing, tilt):
    photo, camera = mat(drawing, tilt)
    told = squares_told(view_of(photo))
    assert told is not None
    slant, cov = told.likeliest()
    off = slant - camera.rotation[:2, 2]
    assert np.linalg.norm(off) < np.radians(0.5)
    assert off @ np.linalg.solve(cov, off) < 6.0
    assert np.sqrt(np.trace(cov)) < np.radians(1.5)


def test_lines_in_one_direction_are_not_squares(drawing):
    photo, _ = mat(drawing, (6.0, -8.0), axes=(0,))
    assert squares_told(view_of(photo)) is None


def test_ribs_with_a_few_strokes_across_are_not_squares(drawing):
    """A cloth's waves run across its ribs, and are at right angles to them at no slant."""
    few = (lines(100.0, (1,)), 0.0, PALE)
    photo, _ = mat(drawing, (6.0, -8.0), axes=(0,), more=[few])
    assert squares_told(view_of(photo)) is None


def test_a_bare_table_has_no_squares(drawing):
    camera = drawing.camera_over(FOCAL_PX, 200.0, SHAPE, (6.0, -8.0, 25.0))
    rgb = drawing.draw(camera, SHAPE, coin((0, 0), 25.75, 2.2), np.random.default_rng(4))
    assert squares_told(view_of(drawing.photo_of(rgb))) is None


def test_a_lone_coin_on_a_mat_has_the_slant_of_its_squares(drawing):
    photo, camera = mat(drawing, (9.0, -7.0), more=coin((22.0, 14.0), 25.75, 2.2))
    scale = find_scale(photo, "coin:EUR-2")
    assert isinstance(scale, Scale)
    off = scale.camera.rotation[:2, 2] - camera.rotation[:2, 2]
    assert np.linalg.norm(off) < np.radians(1.0)
