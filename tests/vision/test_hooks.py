"""Hooks go on from turns that touch as a lone, faint wire."""

import cv2
import numpy as np
import pytest

import vision.hooks as hooks
from tests.vision import made
from vision.beyond import lone_hook_mm
from vision.camera import DoubtedCamera
from vision.fitted import FittedSpring, free_length_mm
from vision.helix import along_axis, frame, turns_of
from vision.map_view import MapView
from vision.spring_fit import fit_spring

RGB = np.zeros((1500, 2000, 3), np.uint8)


def touching(heading: float = 0.4) -> FittedSpring:
    spring = made.helix(log_pitch=np.log(1.2), start=-6.0, stop=14.0, heading=heading)
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


def bar_with_hooks(found, hook_mm, sure, wire=lone, faint=0.0, last_mm=None):
    """Return a photo, (H, W), of the turns as a bar, and beyond both faces of a wire, less bright.

    From 3 mm on the wire is `faint`, where that is not nought; that beyond the last turn may reach
    `last_mm` alone.
    """
    middle, axes = frame(found.helix)
    x = along_axis(found.helix, turns_of(found.helix))[[0, -1]]
    wide = found.helix.radius_mm + 0.5 * found.helix.wire_mm
    y, across = np.mgrid[: RGB.shape[0], : RGB.shape[1]]
    pixels = np.column_stack([across.ravel(), y.ravel()]).astype(float)
    world = found.camera.at_height(pixels, float(middle[2])) - middle
    along, aside = (world @ axes[:2].T).T
    bar = (along > x[0]) & (along < x[1]) & (np.abs(aside) < wide)
    beyond = np.maximum(x[0] - along, along - x[1])
    told = np.where((beyond > 3.0) & (faint > 0.0), faint, sure)
    hook = (beyond < hook_mm) & wire(beyond, np.abs(aside), hook_mm)
    if last_mm is not None:
        hook &= along < x[1] + last_mm
    light = np.where(bar, 1.0, np.where(hook, told, 0.0))
    return np.round(255.0 * light).astype(np.uint8).reshape(RGB.shape[:2])


def photo_of(*channels):
    """Return a photo of up to three pictures, a channel each."""
    return np.stack([*channels, *[channels[0]] * (3 - len(channels))], axis=2)


def seen_at(channel):
    """Return a look that takes light for wire, in a channel that goes with the scale."""

    def look(rgb, box, scale):
        left, top = int(box.left), int(box.top)
        part = rgb[top : int(np.ceil(box.bottom)), left : int(np.ceil(box.right)), channel(scale)]
        size = [max(16, round(side * scale)) for side in part.shape[::-1]]
        wire = cv2.resize(part, size, interpolation=cv2.INTER_AREA).astype(np.float32) / 255.0
        return MapView(np.stack([wire] * 3), np.array([left, top]), size[0] / part.shape[1])

    return look


@pytest.mark.parametrize(("sure", "longer"), [(0.9, 14.0), (0.2, 14.0), (0.01, 0.0)])
def test_faint_wire_beyond_the_turns_is_a_hook(monkeypatch, sure, longer):
    found = touching()
    monkeypatch.setattr(hooks, "look", seen_at(lambda scale: 0))
    told = hooks.with_hooks(photo_of(bar_with_hooks(found, 7.0, sure)), found)
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
    monkeypatch.setattr(hooks, "look", seen_at(lambda scale: 0))
    told = hooks.with_hooks(photo_of(bar_with_hooks(found, 7.0, 0.9, wire, faint)), found)
    turns = free_length_mm(found.helix) - found.helix.wire_mm
    assert told.body.length == pytest.approx(turns + longer, abs=0.9)


@pytest.mark.parametrize(
    ("far_mm", "longer", "lone"),
    [(7.0, 14.0, 0.0), (4.0, 11.0, 3.0), (2.0, 10.0, 4.0)],
)
def test_a_hook_that_reaches_less_far_is_looked_at_from_farther_away(
    monkeypatch, far_mm, longer, lone
):
    """What shows there is taken where it makes the hooks more alike, and a loss is not."""
    found = touching()
    near, far = (bar_with_hooks(found, 7.0, 0.9, last_mm=reach) for reach in (3.0, far_mm))
    scales = []
    monkeypatch.setattr(
        hooks, "look", seen_at(lambda scale: scales.append(scale) or int(scale < scales[0]))
    )
    told = hooks.with_hooks(photo_of(near, far), found)
    turns = free_length_mm(found.helix) - found.helix.wire_mm
    assert told.body.length == pytest.approx(turns + longer, abs=0.8)
    assert lone_hook_mm(told) == pytest.approx(lone, abs=0.8)


@pytest.mark.parametrize(("heading", "turned"), [(0.0, False), (0.7, True)])
def test_a_spring_that_lies_askew_is_looked_at_turned(heading, turned):
    """So it is seen from nearer: less of the table is in view."""
    found = touching(heading)
    view = hooks._view_of_hooks(photo_of(bar_with_hooks(found, 7.0, 0.9)), found)
    assert (view.angle != 0.0) is turned


def test_turns_that_stand_apart_have_no_hooks(monkeypatch):
    spring, seen_by = made.helix(), made.camera()
    found = fit_spring(
        made.view(spring, seen_by, np.random.default_rng(3)), DoubtedCamera.of(seen_by)
    )
    monkeypatch.setattr(hooks, "look", None)
    assert hooks.with_hooks(RGB, found) is found
