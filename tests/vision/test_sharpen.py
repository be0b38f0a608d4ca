"""Strand by strand, the wire is read better than by the map alone: on the committed pictures."""

import json
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from tests.vision import made
from vision.camera import DoubtedCamera
from vision.fitted import free_length_mm, has_hooks
from vision.helix import End
from vision.measure import measure
from vision.photo import read
from vision.sharpen import sharpen, stations_of

PICTURES = Path(__file__).parents[2] / "fixtures" / "pictures"


def test_the_sample_photo_is_measured_sharply():
    truth = json.loads((PICTURES / "sample.json").read_text())
    found = measure(read(PICTURES / "sample.jpg"), "card")
    wire = found.geometry.values[0]
    assert wire == pytest.approx(truth["wire_diameter_mm"], rel=0.03)
    assert found.timings_ms["edges"] > 0


def test_turns_that_touch_stay_so_where_nothing_tells_the_slant():
    """Seen aslant they look narrower than their pitch, as turns that stand apart do."""
    bar = SimpleNamespace(touching=True)
    picture = np.zeros((20, 20, 3), np.uint8)
    camera = DoubtedCamera.of(made.camera(0.0))
    assert sharpen(picture, bar, camera, scaled=False) is bar


def test_turns_that_touch_stay_so_where_hooks_go_on_beyond_them():
    """Hooks are of extension springs: without them the spring would be told two coils too short."""
    helix = made.helix(log_pitch=np.log(1.2), start=0.0, stop=15.0)
    length, width = free_length_mm(helix), 12.2
    picture = np.zeros((20, 20, 3), np.uint8)
    camera = DoubtedCamera.of(made.camera(0.0))
    for hooks, there in ((0.0, False), (0.6 * width, False), (1.7 * width, True)):
        bar = SimpleNamespace(
            touching=True, helix=helix, body=SimpleNamespace(length=length + hooks)
        )
        assert has_hooks(bar) is there
    assert sharpen(picture, bar, camera) is bar


def test_ground_wire_is_not_read_as_round():
    spring = made.helix(ends=(End.GROUND, End.OPEN))
    found = stations_of(spring, DoubtedCamera.of(made.camera(5.0)).best)
    assert not found.seen[found.turn < spring["start"] + 0.7].any()
    assert found.seen[found.turn > spring["stop"] - 0.7].any()
    assert np.isfinite(found.half_px[found.seen.any(axis=1)]).all()
