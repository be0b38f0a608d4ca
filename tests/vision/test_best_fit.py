"""Of fits the one that explains most is kept: from near or from afar, of one place or another."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import pytest

import vision.best_fit as best_fit
from tests.vision import made
from vision.camera import DoubtedCamera
from vision.fitted import FittedSpring, free_length_mm, wire_px
from vision.map_view import MapView
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
    monkeypatch.setattr(best_fit, "_from_near", lambda rgb, found, camera, wide: found)
    monkeypatch.setattr(best_fit, "_explained_in", lambda view, found: found.overlap)
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
    assert looks[:2] == [("close", False), ("coarse", False)]
    drawn = best_fit._explained(replace(spring, overlap=kept)) < best_fit.DRAWN_BELOW
    assert looks[2:] == ([("close", True), ("coarse", True)] if drawn else [])


@pytest.mark.parametrize(
    ("crisp", "drawn"), [(0.95, [("close", True), ("coarse", True)]), (0.85, [("coarse", True)])]
)
def test_what_is_badly_explained_is_drawn_where_the_map_is_sure(monkeypatch, spring, crisp, drawn):
    _, looks = looked(monkeypatch, spring, None, None, crisp)
    assert looks == [("close", False), ("coarse", False), *drawn]


def test_nothing_seen_from_near_or_far_is_refused(monkeypatch, spring):
    found, _ = looked(monkeypatch, spring, None, None)
    assert found is best_fit.NO_SPRING


def test_what_is_grainy_is_not_drawn(monkeypatch, spring):
    """Ribs and combs look like wire only in part, and drawing takes seconds."""
    _, looks = looked(monkeypatch, spring, 0.7, 0.9, crisp=0.6)
    assert looks == [("close", False), ("coarse", False)]


def _is_longer(found: FittedSpring) -> bool:
    """Tell whether `bar` made it plainly longer than its turns are."""
    width = 2.0 * found.helix.radius_mm + found.helix.wire_mm
    return found.body.length - free_length_mm(found.helix) > width


def chosen(monkeypatch, fits: dict[int, FittedSpring], seen: Sequence[int | Sighting]):
    """Return which of the sightings that were fitted so is kept, and which were looked at."""
    looks: list[int] = []

    def close_look(rgb, sighting):
        looks.append(round(sighting.wire_px))
        return looks[-1]

    monkeypatch.setattr(best_fit, "settle", lambda rgb, sighting: sighting)
    monkeypatch.setattr(best_fit, "close_look", close_look)
    monkeypatch.setattr(best_fit, "coarser_look", lambda rgb, view: view)
    monkeypatch.setattr(best_fit, "_from_near", lambda rgb, found, camera, wide: found)
    monkeypatch.setattr(best_fit, "_explained_in", lambda view, found: found.overlap)
    monkeypatch.setattr(best_fit, "hook_goes_on", _is_longer)
    monkeypatch.setattr(best_fit, "_holds", lambda large, small: False)
    monkeypatch.setattr(best_fit, "main_part", lambda view: None)
    monkeypatch.setattr(best_fit, "crispness", lambda view, keep: 0.95)
    monkeypatch.setattr(best_fit, "seen_in", lambda view, keep, s: view == round(s.wire_px))
    monkeypatch.setattr(best_fit, "fit_spring", lambda view, camera, drawing: fits[view])
    each = (one if isinstance(one, Sighting) else sighted(one) for one in seen)
    found = best_fit.best_fit(RGB, CAMERA, each, draw=1)
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


@pytest.mark.parametrize(("other", "kept"), [(0.86, 1), (0.89, 2)])
def test_of_two_that_are_alike_the_larger_is_kept(monkeypatch, spring, other, kept):
    """What a photo is taken of is larger in it than what lies by."""
    fits = {1: bar(spring, 0.85, 0.3), 2: bar(spring, other, 0.3)}
    assert chosen(monkeypatch, fits, [1, 2]) == (kept, [1, 2])


def test_a_sure_spring_ends_the_search(monkeypatch, spring):
    fits = {1: replace(spring, overlap=0.9), 2: replace(spring, overlap=0.99)}
    assert chosen(monkeypatch, fits, [1, 2]) == (1, [1])


def test_crumbs_are_not_tried_beside_a_spring(monkeypatch, spring):
    """A letter of the ruler, drawn as a coil, may explain itself better than a doubted bar."""
    fits = {1: bar(spring, 0.85, 0.3), 2: replace(spring, overlap=0.7)}
    crumb = replace(sighted(2), score=0.5 * best_fit.CRUMB)
    monkeypatch.setattr(best_fit, "_sureness", lambda found: found.overlap - 0.3 * found.touching)
    assert chosen(monkeypatch, fits, [sighted(1), crumb]) == (1, [1])


def test_crumbs_are_tried_beside_what_is_hardly_explained(monkeypatch, spring):
    """A comb whose end the picture cuts off may be all that is larger than a small spring."""
    fits = {1: replace(spring, overlap=0.64), 2: replace(spring, overlap=0.95)}
    crumb = replace(sighted(2), score=0.5 * best_fit.CRUMB)
    assert chosen(monkeypatch, fits, [sighted(1), crumb]) == (2, [1, 2])


@pytest.mark.parametrize(("share", "kept"), [(0.5 * best_fit.CRUMB, 1), (0.5, 2)])
def test_a_crumb_that_is_not_surely_a_spring_gives_way(monkeypatch, spring, share, kept):
    """The bend of a cable may look like turns that touch, better than a spring seen too near."""
    fits = {1: replace(spring, overlap=0.65), 2: replace(spring, overlap=0.72)}
    other = replace(sighted(2), score=share)
    assert chosen(monkeypatch, fits, [sighted(1), other]) == (kept, [1, 2])


def test_a_spring_that_was_seen_with_a_cable_is_tried_by_itself(monkeypatch, spring):
    """Together they turn like no coil; what has been tried whole is not tried again."""
    tried: list[bool] = []

    def fitted(rgb, view, camera, drawing):
        tried.append(view.beside)
        return (spring if view.beside else best_fit.NO_SPRING), False

    @dataclass(frozen=True)
    class Looked(MapView):
        beside: bool = False

    def close_look(rgb, sighting):
        return Looked(np.zeros((3, 100, 400), np.float32), np.zeros(2), 1.0, beside=sighting.beside)

    wide = np.zeros((100, 400), bool)
    wide[10:90, 10:390] = True
    monkeypatch.setattr(best_fit, "settle", lambda rgb, sighting: sighting)
    monkeypatch.setattr(best_fit, "close_look", close_look)
    monkeypatch.setattr(best_fit, "main_part", lambda view: wide)
    monkeypatch.setattr(best_fit, "crispness", lambda view, keep: 0.95)
    monkeypatch.setattr(best_fit, "seen_in", lambda view, keep, s: True)
    monkeypatch.setattr(best_fit, "_fitted", fitted)
    whole, part = sighted(1), replace(sighted(2), box=Box(100.0, 100.0, 300.0, 200.0))
    whole = replace(whole, box=Box(10.0, 10.0, 390.0, 90.0))
    assert best_fit.best_fit(RGB, CAMERA, iter([whole, whole, part])) is spring
    assert tried == [False, True]


def test_a_place_is_looked_at_once(monkeypatch, spring):
    fits = {1: bar(spring, 0.85, 0.3), 2: bar(spring, 0.7, 0.3)}
    assert chosen(monkeypatch, fits, [1, 1, 2, 1, 2]) == (1, [1, 2])


def test_of_two_that_cover_the_map_the_one_that_follows_its_outline_is_kept(monkeypatch, spring):
    loose = replace(spring.fit, rms_px=0.4 * wire_px(spring))
    fits = {1: replace(spring, overlap=0.95, fit=loose), 2: replace(spring, overlap=0.7)}
    assert chosen(monkeypatch, fits, [1, 2]) == (2, [1, 2])


def test_turns_without_gaps_may_be_a_screw_though_they_do_not_touch(monkeypatch, spring):
    pitch = float(np.log(1.1 * spring.helix.wire_mm))
    close = replace(spring, helix=spring.helix.with_values(log_pitch=pitch))
    fits = {1: replace(bar(close, 0.95, 0.3), touching=False), 2: replace(spring, overlap=0.8)}
    assert chosen(monkeypatch, fits, [1, 2]) == (2, [1, 2])


def test_what_can_be_no_spring_gives_way(monkeypatch, spring):
    told = {id(spring): best_fit.NOT_A_SPRING}
    other = replace(spring, overlap=0.7)
    monkeypatch.setattr(best_fit, "geometry_of", lambda found: told.get(id(found)))
    assert chosen(monkeypatch, {1: spring, 2: other}, [1, 2]) == (2, [1, 2])


def half_of(view: MapView) -> MapView:
    """Return the view without its right half."""
    half = view.maps.shape[2] // 2
    return replace(view, maps=view.maps[:, :, :half])


def test_two_looks_are_compared_by_what_the_one_from_afar_sees(monkeypatch, spring):
    """From near half a spring may be explained better than the whole of it from afar."""
    whole = made.view(made.helix(), made.camera(), np.random.default_rng(3))
    near = half_of(whole)
    half = fit_spring(near, CAMERA)
    assert isinstance(half, FittedSpring)
    assert half.helix.turns < spring.helix.turns - 2.0
    fits = {id(near): replace(half, overlap=0.79), id(whole): replace(spring, overlap=0.7)}
    monkeypatch.setattr(best_fit, "coarser_look", lambda rgb, view: whole)
    monkeypatch.setattr(best_fit, "_from_near", lambda rgb, found, camera, wide: found)
    monkeypatch.setattr(best_fit, "fit_spring", lambda view, camera, drawing: fits[id(view)])
    found, _ = best_fit._fitted(RGB, near, CAMERA, drawing=True)
    assert found is fits[id(whole)]


def test_half_a_spring_gives_way_to_the_whole_though_it_is_explained_better(monkeypatch, spring):
    """Each in its own place: the half's map has nothing of the rest."""
    view = made.view(made.helix(), made.camera(), np.random.default_rng(3))
    half = fit_spring(half_of(view), CAMERA)
    assert isinstance(half, FittedSpring)
    loose = replace(spring, fit=replace(spring.fit, rms_px=0.15 * wire_px(spring)))
    assert best_fit._sureness(half) > best_fit._sureness(loose)
    assert best_fit._surer(loose, half)
    assert not best_fit._surer(half, loose)


def test_a_look_that_needs_no_drawing_leaves_it_to_the_next(monkeypatch, spring):
    """What lies on the coin may be explained at once, and be no spring."""
    drawn: list[object] = []

    def fitted(rgb, view, camera, drawing):
        drawn.append(drawing)
        return bar(spring, 0.85, 0.3), False

    monkeypatch.setattr(best_fit, "_fitted", fitted)
    monkeypatch.setattr(best_fit, "settle", lambda rgb, sighting: sighting)
    monkeypatch.setattr(best_fit, "close_look", lambda rgb, sighting: sighting)
    monkeypatch.setattr(best_fit, "main_part", lambda view: None)
    monkeypatch.setattr(best_fit, "crispness", lambda view, keep: 0.95)
    monkeypatch.setattr(best_fit, "seen_in", lambda view, keep, s: False)
    monkeypatch.setattr(best_fit, "_surer", lambda found, best, crumb: False)
    best_fit.best_fit(RGB, CAMERA, map(sighted, [1, 2, 3]), draw=1)
    assert drawn == [True, True, True]


def test_a_spring_that_was_drawn_from_afar_is_fitted_from_near_as_it_was_found(monkeypatch, spring):
    """From near, a short coil shows no row of strands either."""
    afar = replace(spring, view=replace(spring.view, scale=0.4), overlap=0.8)
    monkeypatch.setattr(best_fit, "whole_look", lambda rgb, box, scale: (spring.view, False))
    monkeypatch.setattr(best_fit, "fit_spring", lambda view, camera, drawing: best_fit.NO_SPRING)
    askew = afar.helix.with_values(log_wire=afar.helix["log_wire"] + 0.05)
    found = best_fit._from_near(RGB, replace(afar, helix=askew), CAMERA, spring.view)
    assert found.view is spring.view
    assert found.helix.wire_mm == pytest.approx(spring.helix.wire_mm, rel=0.01)


@pytest.mark.parametrize(
    ("wire_px", "near", "kept"), [(20.0, 0.0, 0), (8.0, 0.9, 1), (8.0, 0.1, 0)]
)
def test_what_was_found_from_afar_is_looked_at_from_near(monkeypatch, spring, wire_px, near, kept):
    """Where that shows it plainly larger, and explains it better."""
    scale = wire_px / best_fit.wire_px(spring)
    afar = replace(spring, view=replace(spring.view, scale=scale))
    other = replace(spring, overlap=0.99)
    told = {id(afar): 0.5, id(other): near}
    monkeypatch.setattr(best_fit, "seen_nearer", lambda view, found, camera: other)
    monkeypatch.setattr(best_fit, "whole_look", lambda rgb, box, scale: (spring.view, False))
    monkeypatch.setattr(best_fit, "fit_spring", lambda view, camera, drawing: other)
    monkeypatch.setattr(best_fit, "_explained_in", lambda view, found: told[id(found)])
    found = best_fit._from_near(RGB, afar, CAMERA, spring.view)
    assert found is (afar, other)[kept]


@pytest.mark.parametrize("ran_out", [False, True])
def test_turns_that_are_lost_from_afar_count_where_the_near_look_ran_out(
    monkeypatch, spring, ran_out
):
    """The map from afar had lost some, so it explains the fit without them better."""
    wide = replace(spring.view, scale=0.4)
    afar, whole = replace(spring, view=wide), replace(spring, overlap=0.99)
    monkeypatch.setattr(best_fit, "whole_look", lambda rgb, box, scale: (spring.view, ran_out))
    monkeypatch.setattr(best_fit, "fit_spring", lambda view, camera, drawing: whole)
    monkeypatch.setattr(best_fit, "seen_nearer", lambda view, found, camera: found)

    def explained(view, found):
        return {(True, True): 0.8, (True, False): 0.7, (False, True): 0.5, (False, False): 0.9}[
            view is wide, found is afar
        ]

    monkeypatch.setattr(best_fit, "_explained_in", explained)
    found = best_fit._from_near(RGB, afar, CAMERA, wide)
    assert found is (whole if ran_out else afar)


@pytest.mark.parametrize("angle", [0.0, np.pi / 4])
def test_wire_seen_in_a_turned_view_is_no_more_than_was_sighted(angle):
    """Along its axis a spring askew is longer than the upright box around it."""
    maps = np.ones((3, 60, 400), np.float32)
    view = MapView(maps, np.array([300.0, 300.0]), 1.0, angle)
    tried = best_fit._Tried(view, maps[0] > 0.5, found=False)
    low, high = view.corners_px.min(axis=0), view.corners_px.max(axis=0)
    assert not tried.holds_more_than(Sighting(Box(*low, *high), view.corners_px, 10.0, 1.0))
    part = Box(*low, *(low + 0.7 * (high - low)))
    assert tried.holds_more_than(Sighting(part, view.corners_px, 10.0, 1.0))
