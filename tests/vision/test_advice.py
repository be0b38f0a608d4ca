"""What could be better about a photo is measured, not guessed."""

import cv2
import numpy as np
import pytest

from vision.advice import (
    SOFT_PX,
    _widened,
    black_share,
    edge_blur_px,
    explained,
    faults,
    washed_out_share,
)
from vision.flags import _ORDER, FLAGS, in_order
from vision.photo import Photo
from vision.refusal import Refusal

WIRE = 20.0
NO = Refusal("no-spring", "view", "No spring.", "Lay it on its side.")


def strips(turns=8, wire=WIRE):
    """Straight slanting bars side by side, as strips of a fitted wire."""
    out = []
    for k in range(turns):
        y = np.linspace(100.0, 400.0, 25)
        x = 200.0 + 2.2 * wire * k + 0.1 * (y - 100.0)
        along = np.array([0.1, 1.0]) / np.hypot(0.1, 1.0)
        side = 0.5 * wire * np.array([along[1], -along[0]])
        line = np.column_stack([x, y])
        out.append(np.vstack([line + side, (line - side)[::-1]]))
    return tuple(out)


def picture(outlines, wire_level=60, table_level=150, blur=0.0, shape=(500, 900)):
    """Bars of one level on a table of another, blurred by a Gaussian, drawn at four times size."""
    big = np.full((4 * shape[0], 4 * shape[1]), float(table_level))
    for strip in outlines:
        at = np.round(16 * (4 * strip + 1.5)).astype(np.int32)
        cv2.fillPoly(big, [at], float(wire_level), shift=4)
    grey = cv2.resize(big, shape[::-1], interpolation=cv2.INTER_AREA)
    if blur:
        grey = cv2.GaussianBlur(grey, (0, 0), blur)
    noise = np.random.default_rng(1).normal(0.0, 1.0, grey.shape)
    return np.repeat(np.clip(grey + noise, 0, 255).astype(np.uint8)[..., None], 3, axis=2)


def taken(rgb):
    return Photo(rgb, "0" * 64, "a.jpg", 26.0)


def codes(rgb, outlines=None, wire=WIRE, reference=None):
    outlines = outlines or strips(wire=wire)
    return faults(taken(rgb), outlines, wire, reference)


@pytest.mark.parametrize("blur", [1.0, 2.0, 3.0])
def test_blur_is_the_gaussians_sigma(blur):
    """A pixel's own width adds a twelfth to the variance, and noise takes a little off."""
    outlines = strips()
    measured = edge_blur_px(picture(outlines, blur=blur), outlines, WIRE)
    assert measured == pytest.approx(np.hypot(blur, 12**-0.5), rel=0.12)


def test_a_sharp_photo_in_even_light_has_no_fault():
    assert codes(picture(strips(), blur=0.7)) == ()


def test_a_blurred_photo_is_told():
    assert codes(picture(strips(), blur=3.0)) == ("blurred",)
    assert edge_blur_px(picture(strips(), blur=0.7), strips(), WIRE) < 0.8 * SOFT_PX


def test_a_washed_out_wire_is_told():
    assert "glare" in codes(picture(strips(), 255, 120, 0.7))
    mask = np.array([[True, True], [False, False]])
    rgb = np.array([[[255] * 3, [255, 255, 100]], [[255] * 3, [255] * 3]], np.uint8)
    assert washed_out_share(rgb, mask) == 0.5


def test_a_table_in_deep_shadow_is_told():
    assert "shadow" in codes(picture(strips(), 90, 5, 0.7))
    rgb = np.zeros((2, 2, 3), np.uint8)
    rgb[0, 0] = 100
    assert black_share(rgb, np.ones((2, 2), bool)) == 0.75


def test_little_of_the_picture_used_is_told_where_it_costs_pixels():
    thin = strips(4, 13.0)
    rgb = picture(thin, blur=0.6, shape=(900, 1600))
    assert "far" in codes(rgb, thin, 13.0)
    whole = np.array([[10.0, 10], [1590, 10], [1590, 890], [10, 890]])
    assert "far" not in codes(rgb, thin, 13.0, whole)
    assert "far" not in codes(rgb, thin, 30.0)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda rgb: (0.1 * rgb).astype(np.uint8), "very dark"),
        (lambda rgb: np.clip(3.0 * rgb.astype(float), 0, 255).astype(np.uint8), "washed out"),
        (lambda rgb: cv2.GaussianBlur(rgb, (0, 0), 6.0), "not sharp"),
        (lambda rgb: rgb[:500, :800], "small"),
    ],
)
def test_a_refusal_says_first_what_is_plainly_wrong(change, said):
    sharp = picture(strips(), blur=0.7, shape=(900, 1600))
    assert explained(NO, taken(sharp)) == NO
    told = explained(NO, taken(change(sharp)))
    assert said in told.try_this.split(":")[0]
    assert told.try_this.endswith(NO.try_this)
    assert told.message == NO.message


def test_every_flag_has_its_place_and_none_is_told_twice():
    assert set(_ORDER) == set(FLAGS)
    assert len(set(_ORDER)) == len(_ORDER)
    assert in_order(["hand-unknown", "blurred", "cut-off", "new", "blurred"]) == (
        "cut-off",
        "blurred",
        "hand-unknown",
        "new",
    )


@pytest.mark.parametrize("flag", FLAGS.values(), ids=lambda flag: flag.code)
def test_every_flag_says_what_to_do_in_one_sentence(flag):
    assert flag.try_this.endswith(".")
    assert flag.sentence.endswith((".", "?"))
    assert ". " not in flag.try_this


@pytest.mark.parametrize("by_px", [3.0, 60.0])
def test_a_mask_is_widened_by_as_much_whether_near_or_far(by_px):
    mask = np.zeros((400, 500), np.uint8)
    mask[180:220, 200:300] = 1
    wide = _widened(mask, by_px)
    y, x = np.nonzero(wide)
    assert (x.min(), x.max()) == pytest.approx((200 - by_px, 299 + by_px), abs=0.06 * by_px + 1)
    assert (y.min(), y.max()) == pytest.approx((180 - by_px, 219 + by_px), abs=0.06 * by_px + 1)
