"""Coils that others are sought from: as long and of as many turns, with ends of the other kinds."""

from dataclasses import replace

import numpy as np
import pytest

from tests.vision import made
from vision.camera import DoubtedCamera
from vision.guesses import FEW_TURNS, with_other_ends
from vision.helix import End, Helix, along_axis, turns_of
from vision.search import Target, search


def short(end: End, wire: float = 1.2, pitch: float = 3.7, turns: float = 3.2) -> Helix:
    """Return a coil of a few turns."""
    coil = made.helix(
        ends=(end, end),
        start=0.3,
        stop=0.3 + turns,
        log_wire=np.log(0.5 * wire),
        log_pitch=np.log(pitch),
        log_pitch_start=np.log(wire),
        log_pitch_stop=np.log(wire),
    )
    return replace(coil, anchor=0.3 + 0.5 * turns, span=turns)


def line_mm(coil: Helix) -> float:
    return float(np.ptp(along_axis(coil, turns_of(coil))))


@pytest.mark.parametrize("end", list(End))
def test_other_ends_leave_turns_and_length(end):
    coil = short(end)
    others = with_other_ends(coil)
    assert {one.ends for one in others} == {(e, e) for e in End if e is not end}
    for one in others:
        assert one.turns == pytest.approx(coil.turns)
        assert line_mm(one) == pytest.approx(line_mm(coil), rel=0.06)


def test_a_wire_too_thick_for_dead_turns_is_drawn_thinner():
    for one in with_other_ends(short(End.OPEN, wire=2.8, pitch=2.6)):
        assert one.wire_mm < np.exp(one["log_pitch"])


def test_many_turns_are_drawn_with_the_ends_that_they_have():
    assert with_other_ends(short(End.OPEN, turns=FEW_TURNS + 0.5)) == []


def test_dead_turns_are_found_from_turns_that_were_drawn_without(monkeypatch):
    """Of three turns two are dead: no small step leads there from three that are evenly apart."""
    spring = short(End.CLOSED, wire=2.0, pitch=4.5, turns=3.0)
    seen_by = made.camera(3.0)
    view = made.view(spring, seen_by, np.random.default_rng(0))
    target = Target.of(view, np.ones(view.maps.shape[1:], bool), seen_by, 20.0)
    camera = DoubtedCamera.of(seen_by)
    even = short(End.OPEN, wire=1.9, pitch=line_mm(spring) / 3.0, turns=3.0)
    best = search([(even, np.zeros(camera.causes))], target, camera)[0]
    assert best.helix.ends != (End.OPEN, End.OPEN)
    assert best.likeness > target.likeness(spring) - 0.03
    monkeypatch.setattr("vision.search.with_other_ends", lambda helix: [])
    alone = search([(even, np.zeros(camera.causes))], target, camera)[0]
    assert alone.likeness < best.likeness - 0.05
