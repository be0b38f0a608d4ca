"""A card's sides end at its corners, a grid's go on."""

import cv2
import numpy as np
import pytest

from vision._cv import lab
from vision.references.running_on import MOST_RUNNING_ON, TOGETHER, running_on

CARD = np.array([[150.0, 120.0], [350.0, 120.0], [350.0, 246.0], [150.0, 246.0]])


def picture(draw) -> np.ndarray:
    rgb = np.full((400, 500, 3), 120, np.uint8)
    draw(rgb)
    return lab(cv2.GaussianBlur(rgb, None, 1.0))


def card(rgb):
    cv2.rectangle(rgb, (150, 120), (350, 246), (220, 210, 90), -1)


def bars(rgb):
    """Draw what goes on along two of the sides, as broad stripes of a table do."""
    rgb[120:246] = (220, 210, 90)


def test_sides_that_end_are_told_from_those_that_go_on():
    alone, going_on = (float(running_on(picture(d), CARD[None])[0]) for d in (card, bars))
    assert alone < 0.1 < MOST_RUNNING_ON
    # Of its four sides two go on, both ways.
    assert going_on == pytest.approx(0.5, abs=0.05)
    assert going_on > MOST_RUNNING_ON


@pytest.mark.parametrize("count", [0, 1, TOGETHER + 3])
def test_each_of_many_is_told_as_it_is_alone(count):
    rng = np.random.default_rng(0)
    quads = CARD + rng.normal(0.0, 12.0, (count, 4, 2))
    lab_of_card = picture(card)
    told = running_on(lab_of_card, quads)
    assert told.shape == (count,)
    few = [float(running_on(lab_of_card, quad[None])[0]) for quad in quads[:20]]
    assert told[:20] == pytest.approx(few)


def test_a_shape_that_fills_the_picture_comes_after_those_that_are_seen_to_end():
    whole = np.array([[4.0, 4.0], [495.0, 4.0], [495.0, 395.0], [4.0, 395.0]])
    assert running_on(picture(card), whole[None]) == pytest.approx(0.5 * MOST_RUNNING_ON)
