"""Small rendered pictures with their truth (fixtures/scenes/photos.py, seeds from 3 000 000)."""

import json
from pathlib import Path

import numpy as np
import pytest

from ui.accuracy import reference_kind, score_photo

PICTURES = Path("fixtures/pictures")


def scored(name):
    path = PICTURES / f"{name}.jpg"
    truth = json.loads(path.with_suffix(".json").read_text())
    return score_photo(path, truth, reference_kind(truth))


@pytest.mark.parametrize("name", ["scene-3000000", "scene-3000007", "scene-3000009"])
def test_a_picture_is_measured(name):
    one = scored(name)
    assert not one.refused
    assert abs(one.errors["wire"]) < 0.04
    assert abs(one.errors["outside"]) < 0.02
    assert abs(one.errors["coils"]) < 0.25
    assert abs(one.errors["length"]) < 0.02
    assert one.right["hand"]
    assert one.right["kind"]


def test_the_truth_lies_in_most_bands():
    inside = [list(scored(n).inside.values()) for n in ("scene-3000000", "scene-3000009")]
    assert np.mean(inside) > 0.75


def test_a_far_ruler_without_readable_marks_is_refused_and_not_an_error():
    # Its marks gave no rhythm at all, which once ended in a traceback.
    assert scored("scene-3000005").refused or scored("scene-3000005").errors
