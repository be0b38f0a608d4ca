"""The page's sample photo measured for real, from the file to the rate: nothing is made up here.

Truth is what the picture was rendered from; tolerances are those agreed for nine in ten photos.
"""

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

pytest.importorskip("vision.measure")

from ui.accuracy import score_photo
from ui.cli import app

SAMPLE = Path(__file__).parents[2] / "fixtures" / "pictures" / "sample.jpg"
TRUTH = json.loads(SAMPLE.with_suffix(".json").read_text())


def measure(*arguments):
    done = CliRunner().invoke(app, ["measure", "--json", *arguments, str(SAMPLE)])
    assert done.exit_code == 0
    return json.loads(done.stdout)


def test_the_card_is_found_and_the_spring_measured_within_the_agreed_errors():
    score = score_photo(SAMPLE, TRUTH, "auto")
    assert not score.refused
    assert score.right == {"hand": True, "kind": True, "ends": True}
    limits = {"wire": 0.03, "outside": 0.012, "coils": 0.25, "length": 0.012, "rate": 0.12}
    for name, limit in limits.items():
        assert abs(score.errors[name]) < limit
        assert score.inside[name]


def test_a_reading_of_the_outside_scales_the_wire():
    told = measure("--reference", f"self:outside={TRUTH['outer_diameter_mm']}")
    assert told["status"] == "measured"
    wire = told["geometry"]["wire_diameter_mm"]["value"]
    assert wire == pytest.approx(TRUTH["wire_diameter_mm"], rel=0.03)


def test_without_a_scale_the_proportions_are_right():
    told = measure("--reference", "none")
    assert told["status"] == "proportions"
    index = TRUTH["mean_diameter_mm"] / TRUTH["wire_diameter_mm"]
    assert told["spring_index"]["value"] == pytest.approx(index, rel=0.03)
    assert told["total_coils"]["value"] == pytest.approx(TRUTH["total_coils"], abs=0.25)
