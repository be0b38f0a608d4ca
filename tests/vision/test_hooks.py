"""Hooks go on from turns that touch as a lone, faint wire."""

import numpy as np
import pytest

import vision.hooks as hooks
from tests.vision import made
from vision.camera import DoubtedCamera
from vision.fitted import FittedSpring, free_length_mm
from vision.helix import along_axis, frame, turns_of
from vision.map_view import MapView
from vision.spring_fit import fit_spring

RGB = np.zeros((1500, 2000, 3), np.uint8)


def touching() -> FittedSpring:
    spring = made.helix(log_pitch=np.log(1.2), start=-6.0, stop=14.0)
    seen_by = made.camera()
    found = fit_spring(
        made.view(spring, seen_by, np.random.default_rng(3)), DoubtedCamera.of(seen_by)
    )
    assert isinstance(found, FittedSpring)
    assert found.touching
    return found


def lone(beyond, aside, hook_mm):
    """Tell where a hook seen from its edge is, by how far beyond the turns and aside [mm]."""
    return aside < 0.6


def bow(beyond, aside, hook_mm):
    """Tell where a hook seen from its face is: two strands that a third joins."""
    return (aside < 3.6) & ((aside > 2.4) | (beyond > hook_mm - 1.2))


def line(beyond, aside, hook_mm):
    """Tell where the same bow is that is no broader than a table's line where it is faint."""
    return bow(beyond, aside, hook_mm) & ((beyond < 3.0) | (np.abs(aside - 3.0) < 0.15))


def bar_with_hooks(found, hook_mm, sure, wire=lone, faint=0.0):
    """Return a look that sees the turns as a bar, and from both its faces a wire, less surely.

    From 3 mm on the wire is `faint`, where that is not nought.
    """
    middle, axes = frame(found.helix)
    x = along_axis(found.helix, turns_of(found.helix))[[0, -1]]
    wide = found.helix.radius_mm + 0.5 * found.helix.wire_mm

    def look(rgb, box, scale):
        size = (int((box.bottom - box.top) * scale), int((box.right - box.left) * scale))
        view = MapView(np.zeros((3, *size), np.float32), np.array([box.left, box.top]), scale)
        y, across = np.mgrid[: size[0], : size[1]]
        pixels = view.to_photo(np.column_stack([across.ravel(), y.ravel()]).astype(float))
        world = found.camera.at_height(pixels, float(middle[2])) - middle
        along, aside = (world @ axes[:2].T).T
        bar = (along > x[0]) & (along < x[1]) & (np.abs(aside) < wide)
        beyond = np.maximum(x[0] - along, along - x[1])
        told = np.where((beyond > 3.0) & (faint > 0.0), faint, sure)
        hook = (beyond < hook_mm) & wire(beyond, np.abs(aside), hook_mm)
        view.maps[:] = np.where(bar, 1.0, np.where(hook, told, 0.0)).reshape(size)
        return view

    return look


@pytest.mark.parametrize(("sure", "longer"), [(0.9, 14.0), (0.2, 14.0), (0.01, 0.0)])
def test_faint_wire_beyond_the_turns_is_a_hook(monkeypatch, sure, longer):
    found = touching()
    monkeypatch.setattr(hooks, "look", bar_with_hooks(found, 7.0, sure))
    told = hooks.with_hooks(RGB, found)
    turns = free_length_mm(found.helix) - found.helix.wire_mm
    assert told.body.length == pytest.approx(turns + longer, abs=0.8)
    assert told.helix is found.helix
    ends = hooks.length_px(told)
    assert (ends is None) == (longer == 0.0)
    if ends is not None:
        middle, axes = frame(found.helix)
        x = along_axis(found.helix, turns_of(found.helix))[[0, -1]] + [-7.0, 7.0]
        assert ends == pytest.approx(found.camera.project(middle + x[:, None] * axes[0]), abs=6.0)


@pytest.mark.parametrize(
    ("wire", "faint", "longer"),
    [(bow, 0.05, 14.0), (bow, 0.005, 6.0), (line, 0.05, 6.0), (lone, 0.05, 6.0)],
)
def test_a_hook_is_followed_where_the_map_all_but_loses_its_bow(monkeypatch, wire, faint, longer):
    """Not where next to nothing is left, and no line or patch that hangs on one end of it."""
    found = touching()
    monkeypatch.setattr(hooks, "look", bar_with_hooks(found, 7.0, 0.9, wire, faint))
    told = hooks.with_hooks(RGB, found)
    turns = free_length_mm(found.helix) - found.helix.wire_mm
    assert told.body.length == pytest.approx(turns + longer, abs=0.9)


def test_turns_that_stand_apart_have_no_hooks(monkeypatch):
    spring, seen_by = made.helix(), made.camera()
    found = fit_spring(
        made.view(spring, seen_by, np.random.default_rng(3)), DoubtedCamera.of(seen_by)
    )
    monkeypatch.setattr(hooks, "look", None)
    assert hooks.with_hooks(RGB, found) is found
