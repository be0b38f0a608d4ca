"""A hook's wire goes on beyond the turns; scraps on a screw's bare end do not."""

from dataclasses import replace

import numpy as np
import pytest

from mechanics.geometry import SpringGeometry
from tests.vision import made
from vision.beyond import hook_goes_on, lone_hook_mm
from vision.camera import DoubtedCamera
from vision.fitted import FittedSpring, wire_px
from vision.geometry import geometry_of
from vision.helix import along_axis, frame, turns_of
from vision.measure import MOST_SCATTER_PX, Measurement, measurement_of
from vision.photo import Photo
from vision.spring_fit import fit_spring


@pytest.fixture(scope="module")
def bar() -> FittedSpring:
    spring, seen_by = made.helix(log_pitch=np.log(1.2), start=-6.0, stop=14.0), made.camera()
    found = fit_spring(
        made.view(spring, seen_by, np.random.default_rng(3)), DoubtedCamera.of(seen_by)
    )
    assert isinstance(found, FittedSpring)
    assert found.touching
    return found


def with_wire_beyond(bar: FittedSpring, reach: float, gap: float, half: float) -> FittedSpring:
    """Return it with wire beyond its last turn, so far [outside diameters] and so wide [mm].

    A gap is left in it, in outside diameters from the turns.
    """
    middle, axes = frame(bar.helix)
    wide = 2.0 * bar.helix.radius_mm + bar.helix.wire_mm
    last = float(along_axis(bar.helix, turns_of(bar.helix))[-1])
    maps = np.pad(bar.view.maps, ((0, 0), (300, 300), (300, 300)))
    view = replace(bar.view, maps=maps, origin_px=bar.view.origin_px - 300.0)
    y, x = np.mgrid[: maps.shape[1], : maps.shape[2]]
    pixels = view.to_photo(np.column_stack([x.ravel(), y.ravel()]).astype(float))
    along, aside, _ = ((bar.camera.at_height(pixels, float(middle[2])) - middle) @ axes.T).T
    away = (along - last) / wide
    wire = (away > 0.0) & (away < reach) & (np.abs(aside) < half)
    wire &= np.abs(away - gap) > 0.1
    maps[0][wire.reshape(x.shape)] = 1.0
    return replace(bar, view=view)


@pytest.mark.parametrize(
    ("reach", "gap", "half", "hooked"),
    [
        (1.2, -1.0, 0.6, True),  # an eye seen from its side
        (1.2, -1.0, 4.0, True),  # one seen from its face
        (0.4, -1.0, 4.0, False),  # a bare end
        (1.2, 0.4, 4.0, False),  # scraps
        (1.2, -1.0, 0.15, False),  # a scratch
    ],
)
def test_only_wire_that_goes_on_is_a_hook(bar, reach, gap, half, hooked):
    assert hook_goes_on(with_wire_beyond(bar, reach, gap, half)) is hooked


def test_turns_alone_have_none(bar):
    assert not hook_goes_on(bar)


def test_turns_without_gaps_and_without_hooks_are_told(bar):
    """They may be those of a spring to be pressed, whose gaps lie in shade."""
    photo = Photo(np.zeros((1500, 2000, 3), np.uint8), "0421", "bar", None)
    hooked = with_wire_beyond(bar, 1.2, -1.0, 4.0)
    for found, told in ((bar, True), (hooked, False)):
        measured = measurement_of(photo, None, found)
        assert isinstance(measured, Measurement)
        assert ("turns-close" in measured.flags) is told


def with_hooks_of(bar: FittedSpring, *reach: float) -> FittedSpring:
    """Return it with wire seen so far beyond both ends of the turns [outside diameters]."""
    middle, axes = frame(bar.helix)
    ends = middle + along_axis(bar.helix, turns_of(bar.helix))[[0, -1], None] * axes[0]
    low, high = np.sort(ends[:, :2] @ bar.body.axis)
    wide = 2.0 * bar.helix.radius_mm + bar.helix.wire_mm
    return replace(bar, reach_mm=(low - reach[0] * wide, high + reach[1] * wide))


@pytest.mark.parametrize(
    ("reach", "lone"),
    [
        ((1.0, 0.1), 0.9),  # one was lost, or cut off
        ((0.1, 1.0), 0.9),
        ((1.0, 0.75), 0.25),  # part of one was
        ((1.0, 1.1), 0.0),  # both are seen
        ((0.2, 0.05), 0.0),  # scraps alone
    ],
)
def test_hooks_that_reach_unequally_far_widen_the_length_and_are_told(bar, reach, lone):
    wide = 2.0 * bar.helix.radius_mm + bar.helix.wire_mm
    found = with_hooks_of(bar, *reach)
    assert lone_hook_mm(found) == pytest.approx(lone * wide, abs=1e-6)
    photo = Photo(np.zeros((1500, 2000, 3), np.uint8), "0421", "bar", None)
    told, before = (measurement_of(photo, None, one) for one in (found, bar))
    assert isinstance(told, Measurement)
    assert isinstance(before, Measurement)
    assert ("hook-unseen" in told.flags) is (lone > 0.0)
    more = told.geometry.covariance[3, 3] - before.geometry.covariance[3, 3]
    assert more == pytest.approx((lone * wide) ** 2, abs=1e-6)


def test_a_bar_without_hooks_is_much_less_sure_of_its_wire(bar):
    """Of five kept for tuning one was no spring, and of two the gaps lay in shade."""
    hooked = with_wire_beyond(bar, 1.2, -1.0, 4.0)
    bare, sure = (geometry_of(one) for one in (bar, hooked))
    assert isinstance(bare, SpringGeometry)
    assert isinstance(sure, SpringGeometry)
    assert bare.covariance[0, 0] > 25.0 * sure.covariance[0, 0]
    assert np.sqrt(bare.covariance[0, 0]) > 0.15 * bare.values[0]


@pytest.mark.parametrize(
    ("scatter", "overlap", "rough"), [(0.12, 0.9, False), (0.12, 0.7, True), (0.2, 0.9, True)]
)
def test_a_hooked_bar_may_scatter_more(bar, scatter, overlap, rough):
    """Its outline holds its hooks, which lie off the turns."""
    hooked = with_wire_beyond(bar, 1.2, -1.0, 4.0)
    fit = replace(hooked.fit, rms_px=scatter * wire_px(hooked))
    photo = Photo(np.zeros((1500, 2000, 3), np.uint8), "0421", "bar", None)
    measured = measurement_of(photo, None, replace(hooked, fit=fit, overlap=overlap))
    assert isinstance(measured, Measurement)
    assert fit.rms_px > MOST_SCATTER_PX
    assert ("rough-fit" in measured.flags) is rough
