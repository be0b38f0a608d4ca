"""Marks set by hand are seeds: the fit finds the sides, the rim and the wire near them."""

import json
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest

from vision.marks import Marks
from vision.measure import Measurement, measure
from vision.photo import Photo, decode
from vision.refusal import Refusal
from vision.scale import marked_scale

PICTURES = Path(__file__).parents[2] / "fixtures" / "pictures"
CARD = ((1560.0, 618.0), (485.0, 682.0), (547.0, 1328.0), (1574.0, 1269.0))
#: Ends of the same photo's spring, read off it as the card's corners are.
SPRING = ((736.0, 464.0), (1189.0, 462.0))
#: Taps of a thumb, off by some pixels each way.
OFF = np.random.default_rng(3).normal(0.0, 9.0, (4, 2))


def picture(name: str) -> tuple[Photo, dict]:
    photo = decode((PICTURES / f"{name}.jpg").read_bytes(), name)
    assert isinstance(photo, Photo)
    return photo, json.loads((PICTURES / f"{name}.json").read_text())


def points(near: np.ndarray) -> tuple[tuple[float, float], ...]:
    return tuple((float(x), float(y)) for x, y in near)


@pytest.mark.parametrize("order", [(0, 1, 2, 3), (2, 0, 3, 1)])
def test_corners_in_any_order_find_the_card_s_sides(order):
    photo, _ = picture("sample")
    taps = np.array(CARD) + OFF
    scale = marked_scale(photo, "auto", Marks(reference_px=points(taps[list(order)])))
    assert not isinstance(scale, Refusal)
    assert scale.reference.kind == "card"
    middle = np.array(CARD).mean(axis=0)
    assert np.linalg.norm(scale.outline_px.mean(axis=0) - middle) < 3.0
    # Nearer to the true tilt than taps alone would bring it.
    assert scale.camera.tilt_deg == pytest.approx(6.0, abs=0.5)


def test_a_coin_s_rim_is_found_near_two_taps_and_the_spring_measured():
    photo, truth = picture("scene-3000001")
    marks = Marks(reference_px=((631.0, 970.0), (1010.0, 960.0)))
    seen = measure(photo, "coin:EUR-1", marks)
    assert isinstance(seen, Measurement)
    assert "marked-by-hand" not in seen.flags
    assert seen.geometry.values[0] == pytest.approx(truth["wire_diameter_mm"], rel=0.03)


def test_two_points_of_known_distance_are_a_scale_with_an_honest_band():
    photo, truth = picture("scene-3000001")
    marks = Marks(reference_px=((627.0, 970.0), (1014.0, 960.0)), distance_mm=23.25)
    seen = measure(photo, "auto", marks)
    assert isinstance(seen, Measurement)
    assert "marked-by-hand" in seen.flags
    u = np.sqrt(np.diag(seen.geometry.covariance))
    for k, name in enumerate(("wire_diameter_mm", "mean_diameter_mm")):
        assert abs(seen.geometry.values[k] - truth[name]) < 2.0 * u[k]
    # Two taps and no slant: never as sure as a card.
    assert u[1] / seen.geometry.values[1] > 0.01


def test_the_marked_one_of_two_springs_is_measured():
    photo, truth = picture("sample")
    alone = np.array(SPRING)
    # A second, larger spring beside it: the first one, enlarged, above the photo.
    larger = cv2.resize(photo.rgb[330:600, 700:1240], None, fx=2.0, fy=2.0)
    both = cv2.copyMakeBorder(photo.rgb, 540, 0, 0, 0, cv2.BORDER_REFLECT)
    both[:540] = np.median(photo.rgb[:200].reshape(-1, 3), axis=0)
    both[:540, 300:1380] = larger
    crowded = replace(photo, rgb=np.asarray(both, np.uint8))
    smaller = alone + np.array([0.0, 540.0])
    there = (alone - np.array([700.0, 330.0])) * 2.0 + np.array([300.0, 0.0])
    ends = points(there + OFF[:2])
    seen = measure(crowded, "none", Marks(spring_px=ends))
    assert isinstance(seen, Measurement)
    assert np.linalg.norm(seen.axis_px.mean(axis=0) - there.mean(axis=0)) < 25.0
    # Left to itself it takes the one that is not blurred by being enlarged.
    unmarked = measure(crowded, "none")
    assert isinstance(unmarked, Measurement)
    assert np.linalg.norm(unmarked.axis_px.mean(axis=0) - smaller.mean(axis=0)) < 25.0
    assert seen.geometry.values[2] == pytest.approx(truth["total_coils"], abs=0.25)


def test_marks_that_do_not_suit_are_one_plain_sentence():
    photo, _ = picture("sample")
    found = marked_scale(photo, "ruler:mm", Marks(reference_px=CARD[:2]))
    assert isinstance(found, Refusal)
    assert "type their distance" in found.try_this
    with pytest.raises(ValueError, match="fall together"):
        Marks(spring_px=((10.0, 10.0), (11.0, 10.0)))
    with pytest.raises(ValueError, match="two ends"):
        Marks(spring_px=((10.0, 10.0),))
