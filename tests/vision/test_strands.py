"""The row of a coil's strands, and how long a body is that is seen aslant."""

from dataclasses import replace

import numpy as np
import pytest

from tests.vision import made
from vision.camera import DoubtedCamera
from vision.fitted import FittedSpring, free_length_mm
from vision.helix import End, centre_line, is_upper, turns_of
from vision.row_ends import to_the_ends
from vision.spring_fit import fit_spring
from vision.strands import (
    Body,
    Strands,
    body_of,
    main_part,
    numbered,
    regular,
    unslanted,
)


@pytest.mark.parametrize(
    ("places", "numbers"),
    [
        ([0.0, 1.0, 2.0, 3.0], [0, 1, 2, 3]),
        ([0.0, 1.02, 1.98, 4.0, 5.0, 6.01], [0, 1, 2, 4, 5, 6]),
        ([0.0, 1.0, 2.0, 3.0, 6.0, 7.0, 8.0], [0, 1, 2, 3, 6, 7, 8]),
        ([0.0, 2.0, 3.0, 4.0, 5.0, 7.0], [0, 2, 3, 4, 5, 7]),
        ([0.0, 7.0], [0, 1]),
    ],
    ids=["all seen", "one not seen", "two not seen", "the second at each end", "two alone"],
)
def test_strands_that_were_not_seen_are_counted(places, numbers):
    assert numbered(np.array(places)).tolist() == numbers


def test_a_pitch_that_grows_leaves_out_no_number():
    gaps = np.linspace(1.0, 2.6, 12)
    places = np.concatenate([[0.0], np.cumsum(gaps)])
    assert numbered(places).tolist() == list(range(13))


def test_a_spring_two_of_whose_strands_the_map_has_lost_is_fitted():
    """Without their numbers the pitch came out as if the row had fewer turns."""
    spring = replace(made.helix(start=-0.1, stop=14.2), anchor=7.0, span=14.3)
    seen_by = made.camera(10.0)
    view = made.view(spring, seen_by, np.random.default_rng(2))
    turn = turns_of(spring)
    lost = made.view(spring, seen_by, np.random.default_rng(2)).maps.copy()
    for number in (4, 9):
        here = is_upper(turn) & (np.abs(turn - turn[is_upper(turn)][0] - number) < 0.5)
        x, y = view.to_map(seen_by.project(centre_line(spring, turn[here]))).T
        rows = slice(int(y.min()), int(y.max()) + 1), slice(int(x.min()), int(x.max()) + 1)
        lost[1][rows] *= 0.2
    found = fit_spring(replace(view, maps=lost), DoubtedCamera.of(seen_by), drawing=False)
    assert isinstance(found, FittedSpring)
    assert found.helix.turns == pytest.approx(14.3, abs=0.15)
    assert np.exp(found.helix["log_pitch"]) == pytest.approx(3.7, rel=0.01)


@pytest.mark.parametrize("tilt", [0.0, 12.0, 20.0])
def test_a_body_seen_aslant_is_as_long_as_its_spring(tilt):
    spring = made.helix(heading=1.5, ends=(End.CLOSED, End.CLOSED))
    seen_by = made.camera(tilt)
    view = made.view(spring, seen_by, np.random.default_rng(1), noise=0.0)
    body = body_of(view, main_part(view), seen_by, heading=1.5)
    true = free_length_mm(spring)
    told = unslanted(body, seen_by)
    assert told.length == pytest.approx(true, rel=0.05)
    if tilt > 10.0:  # its faces make it longer, or this would test nothing
        assert body.length > 1.04 * true


def test_a_row_goes_on_beyond_a_strand_that_was_not_seen():
    """The last regular strand may be parted from the others by a lost one."""
    places = np.array([0.0, 4.6, 9.2, 13.8, 18.4, 23.0, 32.2, 34.9])
    assert regular(places) == slice(0, 7)


def test_dead_turns_are_no_part_of_the_row():
    places = np.array([0.0, 0.9, 1.8, 4.5, 9.1, 13.7, 18.3, 21.0, 21.9])
    assert regular(places) == slice(2, 8)


def test_where_turns_stand_wide_apart_there_is_room_for_a_dead_one_only():
    """Room that is many wires wide holds no further turn where the turns are wider apart."""
    places = np.array([-15.0, -5.0, 5.0, 15.0])
    for length, found in ((42.0, False), (60.0, True)):
        body = Body(np.zeros(2), 0.0, length, 12.0, 2.0)
        longer = to_the_ends(Strands(1, places, 10.0, 0.2), body, 2.0)
        assert (longer is not None) is found


@pytest.mark.parametrize(("length", "more"), [(28.0, 2), (23.6, 0)], ids=["turns", "a dead turn"])
def test_a_row_goes_on_where_turns_nearly_touch(length, more):
    """They stand out less than those that stand apart; dead turns are none of the row."""
    places = np.array([-13.0, -8.2, -3.8, 0.2, 3.8, 7.0])
    body = Body(np.zeros(2), 0.0, length, 12.0, 2.0)
    longer = to_the_ends(Strands(1, places, 4.0, 0.2), body, 2.0)
    if not more:
        assert longer is None
        return
    assert longer is not None
    assert longer.places[: len(places)] == pytest.approx(places)
    assert len(longer.places) == len(places) + more
    assert np.diff(longer.places).min() >= 2.0
    assert longer.places[-1] <= 0.5 * (length - 2.0)
