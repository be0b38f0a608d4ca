from dataclasses import replace

import numpy as np
import pytest

from tests.vision import made
from vision.camera import DoubtedCamera
from vision.camera_moves import moves_of_residuals
from vision.helix import centre_line
from vision.touching import Traced, across, seen, sight_lines, touch

#: What each cause moves alone at one standard uncertainty: focal length, middle, turn, place, lens.
CAUSES = np.diag([0.01, 9.0, 7.0, 0.02, 0.03, 0.05, 1.0, 2.0, 3.0, 0.02])
STEP = 1e-4


def points_near(spring, seen_by):
    middle = seen_by.project(centre_line(spring))
    aside = np.random.default_rng(4).uniform(-12.0, 12.0, middle.shape)
    return Traced.of(middle + aside, beyond_px=0.7)


def outside(seen_by, points, world, wire_mm):
    """Return how far outside the wire about points of the world lines of sight pass [px]."""
    spot = seen(seen_by, world)
    gap = np.linalg.norm(across(spot, sight_lines(seen_by, points.points_px)), axis=1)
    return (gap - 0.5 * wire_mm) * seen_by.focal_px / spot[:, 2] - points.beyond_px


@pytest.mark.parametrize("lens", [0.0, -0.06])
@pytest.mark.parametrize("off", [0.0, 1.3])
@pytest.mark.parametrize("cause", range(len(CAUSES)))
def test_moves_agree_with_differences(cause, off, lens):
    spring, shifts = made.helix(), np.full(len(CAUSES), off)
    camera = DoubtedCamera(replace(made.camera(20.0), lens=lens), CAUSES)
    here = camera.at(shifts)
    points, step = points_near(spring, here), STEP * np.eye(len(CAUSES))[cause]
    there = touch(spring, here, points)
    world = (there.point_mm - here.translation_mm) @ here.rotation
    after, before = (
        outside(camera.at(s), points, world, spring.wire_mm) for s in (shifts + step, shifts - step)
    )
    numeric = (after - before) / (2.0 * STEP)
    # Through the very middle of the wire a line of sight has no side to pass on.
    plain = np.linalg.norm(across(there.point_mm, there.sight), axis=1) > 0.1 * spring.wire_mm
    assert plain.sum() > 200
    moves = moves_of_residuals(camera, shifts, points, there)[plain, cause]
    assert np.abs(moves).max() > 0.05
    assert moves == pytest.approx(numeric[plain], abs=1e-4 * np.abs(moves).max())
