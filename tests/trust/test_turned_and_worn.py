"""The sample photo turned, mirrored and worn: measured with the right hand, or refused plainly."""

import functools
import io

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from tests.trust.fuzzing import fuzz, value_or_none
from tests.trust.pictures import assert_plain, photo_of, sample
from ui.screens.by_photo import SAMPLE
from vision.marks import Marks
from vision.measure import Measurement, measure
from vision.photo import Photo, decode
from vision.reference import kinds as reference_kinds
from vision.refusal import Refusal

TURNS = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_90,
    7: Image.Transpose.TRANSVERSE,
}


@functools.cache
def measured(shape, pixels):
    """Measure a picture, once however often it comes."""
    return measure(photo_of(np.frombuffer(pixels, np.uint8).reshape(shape)))


@pytest.mark.parametrize("turn", TURNS)
def test_mirrored_and_turned_photos_keep_the_hand(turn):
    """The picture is stored so that its orientation tag (CIPA DC-008) makes it right again.

    Without loss, so that each is the same picture to the last pixel; one that is not turned right
    is another, and is measured as it is.
    """
    exif = Image.Exif()
    exif[0x0112] = turn
    out = io.BytesIO()
    stored = Image.open(SAMPLE).transpose(TURNS[turn])
    stored.save(out, "PNG", compress_level=1, exif=exif)
    photo = decode(out.getvalue(), "selfie.png")
    assert isinstance(photo, Photo)
    found = measured(photo.rgb.shape, photo.rgb.tobytes())
    assert isinstance(found, Measurement)
    assert found.hand == "right"
    assert found.geometry.values[0] == pytest.approx(1.39, rel=0.01)


def test_a_mirror_image_without_a_tag_is_a_spring_of_the_other_hand():
    """Nothing in it tells that it is one: docs/photos.md warns of front cameras."""
    found = measure(photo_of(sample()[:, ::-1]))
    assert found.hand == "left"


#: What happened to the sample photo: turned, stretched, moved, cut, and worn.
WORN = st.fixed_dictionaries(
    {
        "turn": st.floats(-3.2, 3.2),
        "size": st.floats(0.2, 2.5),
        "stretch": st.floats(0.5, 2.0),
        "slant": st.tuples(st.floats(-3e-4, 3e-4), st.floats(-3e-4, 3e-4)),
        "frame": st.tuples(st.integers(240, 1600), st.integers(240, 1600)),
        "border": st.sampled_from([cv2.BORDER_CONSTANT, cv2.BORDER_REPLICATE, cv2.BORDER_REFLECT]),
        "wear": st.sampled_from(["none", "negative", "noise", "blur", "few greys", "glare"]),
        "much": st.floats(0.0, 1.0),
    }
)
AT = st.tuples(st.floats(-50.0, 1700.0), st.floats(-50.0, 1700.0))
MARKED = st.tuples(
    st.one_of(st.just(()), st.tuples(AT, AT)),
    st.one_of(st.just(()), st.tuples(AT, AT), st.tuples(AT, AT, AT, AT)),
    st.one_of(st.none(), st.floats(0.5, 2000.0)),
)


def worn(how):
    picture, (wide, tall) = sample(), how["frame"]
    c, s = how["size"] * np.cos(how["turn"]), how["size"] * np.sin(how["turn"])
    move = np.eye(3)
    move[:2, :2] = np.array([[c, -s], [s, c]]) @ np.diag([1.0, how["stretch"]])
    move[2, :2] = how["slant"]
    middle = np.array(picture.shape[1::-1]) / 2.0
    move[:2, 2] = np.array([wide, tall]) / 2.0 - move[:2, :2] @ middle
    picture = cv2.warpPerspective(picture, move, (wide, tall), borderMode=how["border"])
    much, deep = how["much"], np.asarray(picture, float)
    rng = np.random.default_rng(4)
    return {
        "none": lambda: picture,
        "negative": lambda: 255 - picture,
        "noise": lambda: np.clip(deep + rng.normal(0.0, 1 + 80 * much, deep.shape), 0, 255),
        "blur": lambda: cv2.GaussianBlur(picture, (0, 0), 0.3 + 20 * much),
        "few greys": lambda: deep // (16 + 150 * much) * (16 + 80 * much),
        "glare": lambda: np.clip(deep * (1 + 8 * much), 0, 255),
    }[how["wear"]]()


@fuzz(0.06)
@given(WORN, st.sampled_from(["auto", "none", *reference_kinds()]), MARKED)
def test_worn_photos_are_measured_or_refused(how, reference, marked):
    marks = value_or_none(Marks, *marked)
    if marks is None:
        return
    found = measure(photo_of(worn(how)), reference, marks)
    if isinstance(found, Refusal):
        assert_plain(found)
    else:
        assert np.isfinite(found.geometry.values).all()
