"""Rulers that look unusual: broad marks, and a table of print in the ruler's own colour."""

import numpy as np
import pytest

from vision.photo import Photo
from vision.references.lines import Lines
from vision.scale import Scale, find_scale

SHAPE, FOCAL_PX, FAR_MM = (900, 1200), 901.4, 110.0
EDGE_MM, LENGTHS_MM = -6.2, ((10, 7.0), (5, 5.0), (1, 3.5))


def marks(half_mm: float):
    """Return the signed distance to marks at each millimetre, so broad to both sides [mm]."""

    def distance(points: np.ndarray) -> np.ndarray:
        number = np.clip(np.rint(points[:, 0]), -45, 45)
        length = np.zeros(len(points))
        for every, long in reversed(LENGTHS_MM):
            length = np.where(number % every == 0, long, length)
        across = np.maximum(points[:, 1] - EDGE_MM, EDGE_MM - length - points[:, 1])
        return np.maximum(np.abs(points[:, 0] - number) - half_mm, across)

    return distance


def print_of(points: np.ndarray) -> np.ndarray:
    """Return the signed distance, nearly, to blots of print all over a table [mm]."""
    x, y = points.T
    waves = ((1.9, 0.3, 0.0), (-0.4, 2.3, 1.0), (1.1, 1.6, 2.0), (2.7, -1.3, 0.5), (0.2, 3.1, 4.0))
    height = sum(np.sin(a * x + b * y + c) for a, b, c in waves)
    return np.asarray(1.1 - height) / 3.0


def photo_with(drawing, colours, half_mm: float, table, high=0.7, beside=()) -> tuple[Photo, float]:
    """Return a photo of a ruler and the true length of 300 px on the table [mm]."""
    camera = drawing.camera_over(FOCAL_PX, FAR_MM, SHAPE, (5.0, -4.0, 47.0))
    body = drawing.rounded_rectangle((0.3, -20.2), (100.0, 28.0), 0.0, 0.2)
    parts = [*beside, (body, high, colours[0]), (marks(half_mm), high, colours[1])]
    rgb = drawing.draw(camera, SHAPE, parts, np.random.default_rng(7), table=table)
    return drawing.photo_of(rgb), length(camera)


def length(camera) -> float:
    ends = camera.centre_px + np.array([[-150.0, 0.0], [150.0, 0.0]])
    return float(np.linalg.norm(np.ptp(camera.at_height(ends, 0.0), axis=0)))


@pytest.mark.parametrize("half_mm", [0.09, 0.36])
def test_marks_broader_than_their_gaps_are_read(drawing, half_mm):
    """Then it is the gaps that are narrow, and those are all of one length."""
    photo, true = photo_with(drawing, ((70, 68, 70), (250, 250, 250)), half_mm, (176, 190, 214))
    scale = find_scale(photo, "ruler:mm")
    assert isinstance(scale, Scale)
    assert length(scale.camera) == pytest.approx(true, rel=0.004)


def test_a_ruler_is_found_from_afar_where_print_leaves_no_edges_from_near(drawing, monkeypatch):
    """That of a tuning photo crowds them out; here they are left out, and its print is drawn."""
    none = Lines(np.zeros((0, 2)), np.zeros((0, 2)), np.zeros((0, 1)), 0.0)
    monkeypatch.setattr("vision.references.view.find_lines", lambda lab, smooth: none)
    ink = [(print_of, 0.0, (140, 140, 84))]
    colours = ((195, 213, 170), (40, 42, 40))
    photo, true = photo_with(drawing, colours, 0.09, (200, 201, 194), 2.2, ink)
    scale = find_scale(photo, "ruler:mm")
    assert isinstance(scale, Scale)
    assert length(scale.camera) == pytest.approx(true, rel=0.004)
