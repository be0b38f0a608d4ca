import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from vision.camera import Camera


def test_a_point_comes_back_from_its_pixel():
    turn = Rotation.from_euler("xyz", [180 - 17, 8, 40], degrees=True).as_matrix()
    camera = Camera(2900.0, np.array([2015.5, 1511.5]), turn, np.array([3.0, -8.0, 210.0]))
    points = np.array([[10.0, -20.0, 6.0], [-31.0, 14.0, 6.0]])
    assert camera.at_height(camera.project(points), 6.0) == pytest.approx(points)


def test_tilt_is_the_angle_off_the_vertical():
    turn = Rotation.from_euler("x", 180 - 17, degrees=True).as_matrix()
    camera = Camera(2900.0, np.zeros(2), turn, np.array([0.0, 0.0, 200.0]))
    assert camera.tilt_deg == pytest.approx(17.0)
    assert camera.position_mm[2] > 0.0
