from dataclasses import replace

import numpy as np
import pytest

import vision.scale
from vision.draw import (
    BOTTOM,
    INK,
    LINE_PX,
    REFERENCE,
    TALLEST_PX,
    WIDTH_PX,
    WIRE,
    Sketch,
    close_up,
    draw,
    whole,
)
from vision.flags import FLAGS, find_flag


def sketch(start, end, radius=40.0, turns=6, wire=10.0, reference=None):
    """A made-up spring along an axis, at places that are no integer pixels."""
    start, end = np.array(start, float), np.array(end, float)
    along = (end - start) / np.linalg.norm(end - start)
    across = np.array([-along[1], along[0]])
    at = np.linspace(0.0, 1.0, 24 * turns + 1)[:, None]
    wave = np.cos(2 * np.pi * turns * at)
    line = start + at * (end - start) + (radius - wire / 2) * across * wave
    slope = np.gradient(line, axis=0)
    side = np.column_stack([-slope[:, 1], slope[:, 0]])
    side *= wire / 2 / np.linalg.norm(side, axis=1)[:, None]
    strip = np.vstack([line + side, (line - side)[::-1]])
    labels = ("wire 1.2 mm", "outside 12 mm", "free length 45 mm", "card")
    return Sketch((strip,), np.array([start, end]), reference, *labels)


def where(view, colour, slack=30):
    rows, columns = np.nonzero((abs(view.astype(int) - colour) <= slack).all(axis=2))
    return np.column_stack([columns, rows]).astype(float)


PHOTO = np.full((900, 1600, 3), 90, np.uint8)
CARD = np.array([[250.4, 500.2], [750.1, 520.7], [740.3, 830.5], [240.9, 810.8]])


@pytest.mark.parametrize(
    ("start", "end"), [((200, 300), (700, 310)), ((800, 700), (790, 200)), ((100, 100), (400, 600))]
)
def test_close_up_lays_any_spring_level_and_whole(start, end):
    view = close_up(PHOTO, sketch(start, end))
    drawn = where(view, WIRE)
    assert view.shape[1] == WIDTH_PX
    width, height = np.ptp(drawn, axis=0) - LINE_PX  # half a stroke sticks out on each side
    length, outside = np.hypot(*np.subtract(end, start)) + 10.0, 80.0  # a wire more than the axis
    assert width / height == pytest.approx(length / outside, rel=0.02)
    assert drawn.min() > 0
    assert (drawn.max(axis=0) < [WIDTH_PX, view.shape[0]]).all()


def test_hooks_beyond_the_turns_are_in_the_picture_and_the_length_runs_from_end_to_end():
    photo = PHOTO.copy()
    photo[290:310, 90:110] = photo[300:320, 890:910] = (255, 0, 0)  # the hooks' ends
    turns = sketch((300, 305), (700, 305))
    hooked = replace(turns, length_px=np.array([[100.0, 305.0], [900.0, 305.0]]))
    for view in (close_up(photo, hooked), whole(photo, hooked)):
        red = where(view, (255, 0, 0))
        assert red[:, 0].min() < 0.2 * WIDTH_PX
        assert red[:, 0].max() > 0.8 * WIDTH_PX
    assert not len(where(close_up(photo, turns), (255, 0, 0)))
    view = close_up(photo, hooked)
    red, line = (
        where(view, (255, 0, 0))[:, 0],
        where(view[-BOTTOM + 38 - 2 : -BOTTOM + 38 + 2], INK),
    )
    middles = red[red < 600].mean(), red[red > 600].mean()
    assert (line[:, 0].min(), line[:, 0].max()) == pytest.approx(middles, abs=8)


def test_a_short_wide_spring_stays_within_the_height():
    view = close_up(PHOTO, sketch((700, 400), (760, 400), radius=300.0))
    assert view.shape[0] <= TALLEST_PX + 1


def test_whole_view_draws_each_outline_where_it_lies_in_the_photo():
    photo = PHOTO.copy()
    photo[560:580, 400:420] = (255, 0, 0)
    seen = sketch((300.3, 300.6), (700.2, 310.1), reference=CARD)
    view = whole(photo, seen)
    card = where(view, REFERENCE)
    red = where(view, (255, 0, 0)).mean(axis=0)
    scale = np.ptp(card[:, 0]) / np.ptp(CARD[:, 0])
    expected = card.min(axis=0) + scale * (np.array([409.5, 569.5]) - CARD.min(axis=0))
    assert red == pytest.approx(expected, abs=4.0)


def test_the_reference_view_is_left_out_where_there_is_none():
    seen = sketch((200, 300), (700, 310))
    assert draw(PHOTO, seen).shape == close_up(PHOTO, seen).shape
    both = draw(PHOTO, sketch((200, 300), (700, 310), reference=CARD))
    assert both.shape[0] > close_up(PHOTO, seen).shape[0]


def test_a_spring_at_the_edge_and_an_outline_outside_the_photo_still_draw():
    assert draw(PHOTO, sketch((-50, 20), (400, 10), reference=CARD)).shape[1] == WIDTH_PX


def test_the_photo_itself_is_left_alone():
    photo = PHOTO.copy()
    photo.setflags(write=False)
    draw(photo, sketch((200, 300), (700, 310), reference=CARD))
    assert (photo == PHOTO).all()


def test_every_flag_says_what_it_means_and_what_to_do():
    for code, flag in FLAGS.items():
        assert find_flag(code) is flag
        assert flag.sentence.endswith((".", "?"))
        assert flag.try_this.endswith(".")
        assert len(flag.short) < 40


def test_every_flag_of_the_scale_is_in_words():
    assert set(vision.scale.FLAGS) <= set(FLAGS)
