"""The JSON contract: keys that other programs rely on."""

import json
from dataclasses import replace

import numpy as np
import pytest

from mechanics.draws import draw_spring
from mechanics.geometry import NAMES
from mechanics.materials import find_material
from ui.answer import answer_of
from ui.contract import measured_object, proportions_object, refused_object
from ui.quantities import proportions
from vision.refusal import Refusal

GEOMETRY = (
    "wire_diameter_mm",
    "outer_diameter_mm",
    "mean_diameter_mm",
    "pitch_mm",
    "total_coils",
    "active_coils",
    "free_length_mm",
)
MUSIC = find_material("music wire")


def measured(seen):
    return json.loads(json.dumps(measured_object("a.jpg", seen, answer_of(seen.geometry, MUSIC))))


def test_a_measured_photo_has_every_agreed_key(seen):
    told = measured(seen)
    assert told["photo"] == "a.jpg"
    assert told["status"] == "measured"
    assert (told["kind"], told["hand"], told["ends"]) == ("compression", "right", "closed")
    assert told["reference"]["kind"] == "card"
    assert told["flags"] == ["tilted"]
    assert told["timings_ms"] == {"decode": 101.3, "fit": 402.0}
    assert told["shear_modulus_GPa"] == pytest.approx(80.35)
    for q in [*(told["geometry"][key] for key in GEOMETRY), told["rate_N_per_mm"]]:
        assert set(q) == {"value", "u", "low", "high"}
        assert q["low"] < q["value"] < q["high"]
    assert "taper" not in told


def test_the_covariance_is_told_with_its_names(seen):
    told = measured(seen)["covariance"]
    assert told["names"] == list(NAMES)
    assert np.array(told["matrix"]) == pytest.approx(seen.geometry.covariance)


def test_dimensions_follow_from_each_other(seen):
    told = {name: q["value"] for name, q in measured(seen)["geometry"].items()}
    assert told["outer_diameter_mm"] == pytest.approx(13.2)
    assert told["inner_diameter_mm"] == pytest.approx(10.8)
    assert told["active_coils"] == pytest.approx(7.25)
    assert told["solid_length_mm"] == pytest.approx(1.2 * 10.25)


def test_outside_diameter_keeps_the_shared_error_of_scale(seen):
    told = measured(seen)["geometry"]["outer_diameter_mm"]
    # 0.4 % of scale on 13.2 mm and the dimensions' own errors, added in squares.
    assert told["u"] == pytest.approx(np.hypot(0.004 * 13.2, np.hypot(0.01, 0.02)), rel=0.03)


def test_a_cone_tells_its_taper(seen):
    assert measured(replace(seen, kind="conical", taper=0.7))["taper"] == 0.7


def test_proportions_need_no_scale(seen):
    rng = np.random.default_rng(1)
    told = proportions(seen.geometry, draw_spring(seen.geometry, MUSIC, rng))
    out = json.loads(json.dumps(proportions_object("a.jpg", replace(seen, scale=None), told)))
    assert out["status"] == "proportions"
    assert out["spring_index"]["value"] == pytest.approx(10.0)
    assert out["length_over_outside"]["value"] == pytest.approx(40.0 / 13.2, rel=1e-5)
    assert out["pitch_over_wire"]["value"] == pytest.approx((40.0 / 1.2 - 3.0) / 7.25, rel=1e-5)
    assert out["total_coils"]["value"] == 9.25
    assert not {"rate_N_per_mm", "geometry", "reference"} & set(out)
    # The error of scale, 0.4 %, has dropped out of a ratio of lengths.
    assert out["spring_index"]["u"] == pytest.approx(10 * np.hypot(1 / 120, 1 / 600), rel=0.03)


def test_a_refused_photo_says_why_and_what_to_do():
    refusal = Refusal("no-reference", "scale", "Nothing of known size.", "Lay a card beside it.")
    assert refused_object("b.jpg", refusal) == {
        "photo": "b.jpg",
        "status": "refused",
        "reason": "no-reference",
        "stage": "scale",
        "message": "Nothing of known size.",
        "try": "Lay a card beside it.",
    }
