import numpy as np
import pytest

from tests.vision import made
from vision.helix import NAMES
from vision.strands import main_part, outline_of
from vision.tube_fit import residuals, sight_lines


def outline(spring, seen_by):
    view = made.view(spring, seen_by, np.random.default_rng(1), noise=0.0)
    return outline_of(view, main_part(view))


def test_the_true_tube_touches_its_outline():
    spring, seen_by = made.helix(), made.camera(12.0)
    r, _ = residuals(spring, seen_by, sight_lines(seen_by, outline(spring, seen_by)), False)
    assert np.median(np.abs(r)) < 0.1


@pytest.mark.parametrize("name", ["x", "heading", "log_radius", "log_wire", "log_pitch", "ramp"])
def test_slopes_agree_with_differences(name):
    spring, seen_by = made.helix(), made.camera(12.0)
    sight = sight_lines(seen_by, outline(spring, seen_by)[::40])
    r, slopes = residuals(spring, seen_by, sight, True)
    moved, _ = residuals(spring.with_values(**{name: spring[name] + 1e-4}), seen_by, sight, False)
    numeric = (moved - r) / 1e-4
    steady = np.abs(numeric - np.median(numeric)) < 50 * np.abs(numeric).mean()
    wrong = np.abs(slopes[:, NAMES.index(name)] - numeric)[steady]
    assert np.median(wrong) < 0.02 * np.abs(numeric).mean() + 1e-3
