"""Which ends go together: makers treat both alike, a cut leaves one open (common practice)."""

from dataclasses import replace

import numpy as np
import pytest

from tests.vision import made
from vision.helix import End
from vision.silhouette import Silhouette, shrink
from vision.tips import STEP, _EndSeen, _likely_pair, find_tips

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


@pytest.mark.parametrize("counted", [0.4, 0.7])
def test_a_closed_tip_is_found_before_a_strand_that_was_counted_as_regular(counted):
    """A dead turn's strand next to the last active one may look like one more of those."""
    spring = made.helix(ends=(CLOSED, CLOSED))
    camera = made.camera(8.0)
    view = made.view(spring, camera, np.random.default_rng(0))
    # The strands run from 0.5 turns within the start to so much beyond the stop.
    first, last = spring["start"] + 0.5, spring["stop"] + counted
    thought = replace(spring, anchor=3.0, span=2.0 * max(3.0 - first, last - 3.0))
    keep = np.ones(view.maps.shape[1:], dtype=bool)
    found = find_tips(thought, camera, view, keep, 1.2 * camera.focal_px / 180.0)[0]
    assert found.ends == (CLOSED, CLOSED)
    assert found["stop"] == pytest.approx(spring["stop"], abs=0.1)


@pytest.mark.parametrize("which", [0, 1])
@pytest.mark.parametrize("end", [OPEN, CLOSED, GROUND])
def test_drawn_in_parts_a_trial_differs_from_the_map_as_drawn_whole(end, which):
    """What all trials have is drawn once: it must not tell which of them is likeliest."""
    spring, camera = made.helix(ends=(end, end)), made.camera(8.0)
    view = made.view(spring, camera, np.random.default_rng(0))
    keep = np.ones(view.maps.shape[1:], dtype=bool)
    zoom, target = shrink(view, keep, 1.2 * camera.focal_px / 180.0)
    end_seen = _EndSeen.of(spring, camera, view, which, zoom, target)
    name = ("start", "stop")[which]
    trials = [spring.with_values(**{name: spring[name] + k * STEP}) for k in range(-4, 5)]
    whole = [
        float(
            (
                np.abs(Silhouette.of(t, camera, view, zoom).drawn(target.shape) - target)
                * end_seen.window
            ).sum()
        )
        for t in trials
    ]
    cost, likeliest = end_seen.likeliest(trials)
    assert likeliest is trials[int(np.argmin(whole))]
    assert cost == pytest.approx(min(whole), rel=0.02)
    assert max(whole) > 1.3 * min(whole)
