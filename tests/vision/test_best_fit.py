"""Of fits the one that explains most is kept: from near or from afar, of one place or another."""

from dataclasses import replace

import numpy as np
import pytest

import vision.best_fit as best_fit
from tests.vision import made
from vision.camera import DoubtedCamera
from vision.fitted import FittedSpring, free_length_mm, wire_px
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


def sighted(number: int) -> Sighting:
    """Return a sighting that tells which it is by its width of wire."""
    return Sighting(BOX, np.zeros((1, 2)), float(number), 1.0)


def looked(
    monkeypatch,
    spring: FittedSpring,
    close: float | None,
    coarse: float | None,
    crisp: float = 0.95,
):
    """Return the answer where the close and the coarser look are explained so well, and looks."""
    looks: list[tuple[str, bool]] = []

    def fitted(view, camera, drawing=True):
        looks.append((view, drawing))
        overlap = {"close": close, "coarse": coarse}[view]
        return best_fit.NO_SPRING if overlap is None else replace(spring, overlap=overlap)

    monkeypatch.setattr(best_fit, "settle", lambda rgb, sighting: sighting)
    monkeypatch.setattr(best_fit, "close_look", lambda rgb, sighting: "close")
    monkeypatch.setattr(best_fit, "coarser_look", lambda rgb, view: "coarse")
    monkeypatch.setattr(best_fit, "main_part", lambda view: None)
    monkeypatch.setattr(best_fit, "crispness", lambda view, keep: crisp)
    monkeypatch.setattr(best_fit, "fit_spring", fitted)
    return best_fit.best_fit(RGB, CAMERA, iter([sighted(1)]), draw=1), looks


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


def test_what_is_grainy_is_not_drawn(monkeypatch, spring):
    """Ribs and combs look like wire only in part, and drawing takes seconds."""
    _, looks = looked(monkeypatch, spring, 0.7, 0.9, crisp=0.6)
    assert looks == [("close", False), ("coarse", False)]


def chosen(monkeypatch, fits: dict[int, FittedSpring], seen: list[int]):
    """Return which of the sightings that were fitted so is kept, and which were looked at."""
    looks: list[int] = []

    def close_look(rgb, sighting):
        looks.append(round(sighting.wire_px))
        return looks[-1]

    monkeypatch.setattr(best_fit, "settle", lambda rgb, sighting: sighting)
    monkeypatch.setattr(best_fit, "close_look", close_look)
    monkeypatch.setattr(best_fit, "coarser_look", lambda rgb, view: view)
    monkeypatch.setattr(best_fit, "main_part", lambda view: None)
    monkeypatch.setattr(best_fit, "crispness", lambda view, keep: 0.95)
    monkeypatch.setattr(best_fit, "seen_in", lambda view, keep, s: view == round(s.wire_px))
    monkeypatch.setattr(best_fit, "fit_spring", lambda view, camera, drawing: fits[view])
    found = best_fit.best_fit(RGB, CAMERA, map(sighted, seen), draw=1)
    return next(k for k, fit in fits.items() if fit is found), looks


def bar(spring: FittedSpring, overlap: float, beyond: float) -> FittedSpring:
    """Return it as turns that touch, with so much beyond them [outside diameters]."""
    length = free_length_mm(spring.helix)
    length += beyond * (2.0 * spring.helix.radius_mm + spring.helix.wire_mm)
    body = replace(spring.body, length=length)
    return replace(spring, overlap=overlap, touching=True, body=body)


def test_a_screw_gives_way_to_a_spring_with_hooks(monkeypatch, spring):
    fits = {1: bar(spring, 0.85, 0.3), 2: bar(spring, 0.8, 1.8)}
    assert chosen(monkeypatch, fits, [1, 2]) == (2, [1, 2])


def test_a_sure_spring_ends_the_search(monkeypatch, spring):
    fits = {1: replace(spring, overlap=0.9), 2: replace(spring, overlap=0.99)}
    assert chosen(monkeypatch, fits, [1, 2]) == (1, [1])


def test_a_place_is_looked_at_once(monkeypatch, spring):
    fits = {1: bar(spring, 0.85, 0.3), 2: bar(spring, 0.7, 0.3)}
    assert chosen(monkeypatch, fits, [1, 1, 2, 1, 2]) == (1, [1, 2])


def test_of_two_that_cover_the_map_the_one_that_follows_its_outline_is_kept(monkeypatch, spring):
    loose = replace(spring.fit, rms_px=0.4 * wire_px(spring))
    fits = {1: replace(spring, overlap=0.95, fit=loose), 2: replace(spring, overlap=0.7)}
    assert chosen(monkeypatch, fits, [1, 2]) == (2, [1, 2])
