"""Derivatives of the centre line, held against differences."""

import numpy as np
import pytest

from tests.vision import made
from vision.helix import NAMES, End, centre_line, turns_of
from vision.helix_moves import moves_of_line

UNEVEN = {"ramp": 0.1, "bulge": 0.02, "dead_start": 0.9, "dead_stop": 1.1}
KINDS = {
    "open": (1, (End.OPEN, End.OPEN), {"bow": 0.03}),
    "closed cone": (-1, (End.CLOSED, End.GROUND), {"taper": 0.3}),
    "one end open": (1, (End.OPEN, End.GROUND), {"taper": -0.2, "bow": 0.02}),
}


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("name", NAMES)
def test_moves_agree_with_differences(kind, name):
    hand, ends, values = KINDS[kind]
    spring = made.helix(hand, ends, **UNEVEN, **values)
    share = np.linspace(0.0, 1.0, len(turns_of(spring)))
    lines = []
    for step in (1e-5, -1e-5):
        moved = spring.with_values(**{name: spring[name] + step})
        lines.append(centre_line(moved, moved["start"] + share * moved.turns))
    numeric = (lines[0] - lines[1]).T / 2e-5
    told = moves_of_line(spring)[:, :, NAMES.index(name)]
    # How far samples lie apart along the wire is followed to the second order only.
    fine = 2e-4 if name in ("start", "stop") else 1e-6
    assert told == pytest.approx(numeric, abs=fine * max(1.0, np.abs(numeric).max()))


def test_of_an_open_end_dead_turns_move_nothing():
    spring = made.helix(ends=(End.OPEN, End.CLOSED))
    moves = moves_of_line(spring)
    idle = [NAMES.index(name) for name in ("log_pitch_start", "dead_start")]
    assert not moves[:, :, idle].any()
    assert moves[:, :, NAMES.index("dead_stop")].any()
