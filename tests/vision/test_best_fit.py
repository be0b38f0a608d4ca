"""A fit that explains its view badly is tried from farther away; the better one is kept."""

from dataclasses import replace

import numpy as np
import pytest

import vision.best_fit as best_fit
from tests.vision import made
from vision.camera import DoubtedCamera
from vision.fitted import FittedSpring
from vision.proposals import Box
from vision.region import Sighting
from vision.spring_fit import fit_spring

RGB = np.zeros((1500, 2000, 3), np.uint8)
CAMERA = DoubtedCamera.of(made.camera())
BOX = Box(100.0, 100.0, 300.0, 200.0)


@pytest.fixture(scope="module")
def spring() -> FittedSpring:
    view = made.view(made.helix(), made.camera(), np.random.default_rng(3))
    found = fit_spring(view, CAMERA)
    assert isinstance(found, FittedSpring)
    return found


def looked(monkeypatch, spring: FittedSpring, close: float | None, coarse: float | None):
    """Return the answer where the close and the coarser look are explained so well, and looks."""
    looks: list[tuple[str, bool]] = []

    def fitted(view, camera, drawing=True):
        looks.append((view, drawing))
        overlap = {"close": close, "coarse": coarse}[view]
        return best_fit.NO_SPRING if overlap is None else replace(spring, overlap=overlap)

    monkeypatch.setattr(best_fit, "settle", lambda rgb, sighting: sighting)
    monkeypatch.setattr(best_fit, "close_look", lambda rgb, sighting: "close")
    monkeypatch.setattr(best_fit, "coarser_look", lambda rgb, view: "coarse")
    monkeypatch.setattr(best_fit, "wire_box", lambda view: BOX)
    monkeypatch.setattr(best_fit, "fit_spring", fitted)
    sighting = Sighting(BOX, spring.view, 20.0, 1.0)
    return best_fit.best_fit(RGB, CAMERA, [sighting], draw=1), looks


def test_a_good_fit_is_looked_at_once(monkeypatch, spring):
    found, looks = looked(monkeypatch, spring, 0.92, 0.95)
    assert found.overlap == 0.92
    assert looks == [("close", False)]


@pytest.mark.parametrize(
    ("close", "coarse", "kept"), [(0.7, 0.9, 0.9), (0.8, 0.7, 0.8), (None, 0.7, 0.7)]
)
def test_of_two_looks_the_better_explained_is_kept(monkeypatch, spring, close, coarse, kept):
    found, looks = looked(monkeypatch, spring, close, coarse)
    assert found.overlap == kept
    assert looks == [("close", False), ("coarse", True)]


def test_nothing_seen_from_near_or_far_is_refused(monkeypatch, spring):
    found, _ = looked(monkeypatch, spring, None, None)
    assert found is best_fit.NO_SPRING
