import numpy as np
import pytest

from tests.vision import made
from vision.camera import DoubtedCamera
from vision.helix import NAMES
from vision.strands import main_part, outline_of
from vision.tube_fit import residuals, slopes_of


def outline(spring, seen_by):
    view = made.view(spring, seen_by, np.random.default_rng(1), noise=0.0)
    return outline_of(view, main_part(view))


def test_the_true_tube_touches_its_outline():
    spring, seen_by = made.helix(), made.camera(12.0)
    r = residuals(spring, seen_by, outline(spring, seen_by))
    assert np.median(np.abs(r)) < 0.1


@pytest.mark.parametrize(
    "name", ["x", "heading", "log_radius", "log_wire", "log_pitch", "ramp", "bow"]
)
def test_slopes_agree_with_differences(name):
    spring, seen_by = made.helix(), made.camera(12.0)
    points = outline(spring, seen_by)[::40]
    r, slopes = slopes_of(spring, DoubtedCamera.of(seen_by), np.zeros(0), points)
    moved = residuals(spring.with_values(**{name: spring[name] + 1e-4}), seen_by, points)
    numeric = (moved - r) / 1e-4
    steady = np.abs(numeric - np.median(numeric)) < 50 * np.abs(numeric).mean()
    wrong = np.abs(slopes[:, NAMES.index(name)] - numeric)[steady]
    assert np.median(wrong) < 0.02 * np.abs(numeric).mean() + 1e-3


def test_slopes_on_the_cameras_doubts_agree_with_differences():
    spring, seen_by = made.helix(), made.camera(12.0)
    doubted = DoubtedCamera.of(seen_by, [made.camera(15.0)])
    points = outline(spring, seen_by)[::40]
    r, slopes = slopes_of(spring, doubted, np.zeros(1), points)
    moved = residuals(spring, doubted.at(np.array([1e-3])), points)
    assert (
        np.median(np.abs(slopes[:, -1] - (moved - r) / 1e-3)) < 0.02 * np.abs(slopes[:, -1]).mean()
    )


def test_a_doubt_of_one_standard_uncertainty_is_its_variant():
    other = made.camera(15.0)
    there = DoubtedCamera.of(made.camera(12.0), [other]).at(np.ones(1))
    points = np.array([[3.0, -7.0, 1.0], [20.0, 11.0, 5.0]])
    assert there.project(points) == pytest.approx(other.project(points), abs=1e-6)
