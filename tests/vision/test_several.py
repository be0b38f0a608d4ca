"""Several springs in one photo: each is measured once, and nothing else is."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from vision.measure import measure
from vision.photo import read
from vision.refusal import Refusal
from vision.several import measure_all

PICTURES = Path(__file__).parents[2] / "fixtures" / "pictures"


def test_two_springs_are_measured_and_numbered_from_left_to_right():
    """A rendered photo with its truth: what one spring's photo must reach, at twice the error."""
    found = measure_all(read(PICTURES / "two-springs.jpg"), "coin:USD-0.25")
    truth = json.loads((PICTURES / "two-springs.json").read_text())["springs"]
    truth.sort(key=lambda one: np.mean(one["axis_px"], axis=0)[0])
    assert len(found) == len(truth) == 2
    for spring, true in zip(found, truth, strict=True):
        middle = spring.axis_px.mean(axis=0)
        assert np.linalg.norm(middle - np.mean(true["axis_px"], axis=0)) < spring.wire_px
        d, D, turns, length = spring.geometry.values
        assert d == pytest.approx(true["wire_diameter_mm"], rel=0.06)
        assert D == pytest.approx(true["mean_diameter_mm"], rel=0.025)
        assert turns == pytest.approx(true["total_coils"], abs=0.5)
        assert length == pytest.approx(true["free_length_mm"], rel=0.06)
        assert (spring.kind, spring.hand) == (true["kind"], true["hand"])


def test_one_spring_is_found_once():
    sample = read(PICTURES / "sample.jpg")
    found = measure_all(sample, "card")
    assert len(found) == 1
    # The same look at the same wire.
    alone = measure(sample, "card").geometry.values
    assert found[0].geometry.values == pytest.approx(alone, rel=0.01)


def test_a_bare_table_holds_no_spring():
    sample = read(PICTURES / "sample.jpg")
    bare = np.random.default_rng(3).normal(150, 3, sample.rgb.shape).astype(np.uint8)
    found = measure_all(replace(sample, rgb=bare), "none")
    assert isinstance(found, Refusal)
    assert found.reason == "no-spring"
    assert measure_all(replace(sample, rgb=bare), "card").stage == "scale"
