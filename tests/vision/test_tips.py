"""Which ends go together: makers treat both alike, a cut leaves one open (common practice)."""

import pytest

from vision.helix import End
from vision.tips import _likely_pair

OPEN, CLOSED, GROUND = End.OPEN, End.CLOSED, End.GROUND


@pytest.mark.parametrize(
    ("start", "stop", "expected"),
    [
        # One end alone would be called closed, but both together speak for ground.
        ({OPEN: 90, CLOSED: 50, GROUND: 52}, {OPEN: 90, CLOSED: 60, GROUND: 50}, (GROUND, GROUND)),
        ({OPEN: 50, CLOSED: 90, GROUND: 90}, {OPEN: 52, CLOSED: 80, GROUND: 80}, (OPEN, OPEN)),
        # A spring that was cut: one end plainly open, the other plainly closed.
        ({OPEN: 20, CLOSED: 90, GROUND: 95}, {OPEN: 90, CLOSED: 20, GROUND: 40}, (OPEN, CLOSED)),
        # Not plainly: then alike.
        ({OPEN: 48, CLOSED: 52, GROUND: 70}, {OPEN: 60, CLOSED: 50, GROUND: 70}, (CLOSED, CLOSED)),
    ],
)
def test_pairs(start, stop, expected):
    assert _likely_pair(start, stop) == expected
