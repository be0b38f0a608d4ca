"""Turns that touch end where their hooks begin, not where the bends of those end."""

import numpy as np
import pytest

from fixtures.scenes.spring import Spring, centre_line
from tests.vision import made
from vision.helix import centre_line as turns_line
from vision.hook_bends import Bend, between_hooks, hook_line, moved
from vision.map_view import MapView
from vision.silhouette import Silhouette

WIRE, MEAN, TURNS, BENT = 1.2, 11.0, 8.3, 114
CAMERA = made.camera(tilt_deg=6.0)
BLANK = MapView(np.zeros((3, 500, 700), dtype=np.float32), np.array([650.0, 500.0]), 1.0)


def turns(hand, start):
    """Return touching turns that start at a phase."""
    values = {"log_pitch": np.log(WIRE), "start": start, "stop": start + TURNS}
    return made.helix(hand, x=0.0, y=0.0, heading=0.5, **values)


def view_of(*lines):
    """Return the map of wire about lines (N, 3) [mm]."""
    drawn = [Silhouette.of_line(line, WIRE, CAMERA, BLANK, 1.0) for line in lines]
    wire = np.max([one.drawn(BLANK.maps.shape[1:]) for one in drawn], axis=0)
    return MapView(np.stack([wire] * 3), BLANK.origin_px, 1.0)


def ends_found(helix, view, off):
    """Return where turns are told to end that were thought to end farther out or in, less where."""
    wire_px = WIRE * CAMERA.focal_px / 180.0
    away = moved(moved(helix, 0, off), 1, off)
    keep = np.ones(view.maps.shape[1:], dtype=bool)
    found = between_hooks(away, CAMERA, view, keep, wire_px)
    return [found[name] - helix[name] for name in ("start", "stop")]


@pytest.mark.parametrize("hand", [1, -1])
@pytest.mark.parametrize("start", [-1.1, -0.8, -0.6, -0.35])
def test_a_bend_across_to_the_middle_is_no_turn(hand, start):
    """The hooks of rendered springs, drawn by the code that renders them."""
    spring = Spring(
        "extension", WIRE, MEAN, MEAN, TURNS, WIRE, 0.0, "hooks", "right" if hand > 0 else "left"
    )
    line = centre_line(spring)
    helix = turns(hand, start)
    # The made-up spring starts on top of its axis, x; here it starts at a phase of its turn.
    body = line[BENT:-BENT]
    placed = _placed(line, body, helix)
    for off in (0.0, 0.3):
        assert ends_found(helix, view_of(placed), off) == pytest.approx([0.0, 0.0], abs=0.07)


def _placed(line, body, helix):
    """Return a line (N, 3) moved as its body lies on the turns of a helix."""
    there = turns_line(helix, np.linspace(helix["start"], helix["stop"], len(body)))
    a, b = body.mean(axis=0), there.mean(axis=0)
    u, _, v = np.linalg.svd((body - a).T @ (there - b))
    return (line - a) @ (u @ np.diag([1.0, 1.0, np.linalg.det(u @ v)]) @ v) + b


@pytest.mark.parametrize("start", [-1.1, -0.6, -0.3])
def test_a_kink_on_the_rim_is_no_turn(start):
    helix = turns(1, start)
    hooks = [hook_line(helix, which, Bend.ON_THE_RIM) for which in (0, 1)]
    view = view_of(turns_line(helix), *hooks)
    assert ends_found(helix, view, 0.2) == pytest.approx([0.0, 0.0], abs=0.07)


@pytest.mark.parametrize("bend", list(Bend))
def test_a_hook_goes_on_where_the_turns_end(bend):
    helix = turns(-1, -0.4)
    for which in (0, 1):
        line, body = hook_line(helix, which, bend), turns_line(helix)
        tip, before = (body[-1], body[-2]) if which else (body[0], body[1])
        assert line[0] == pytest.approx(tip, abs=1e-9)
        ahead, way = line[1] - line[0], tip - before
        assert ahead @ way / np.linalg.norm(ahead) / np.linalg.norm(way) > 0.8
