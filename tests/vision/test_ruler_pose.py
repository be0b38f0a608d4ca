"""The camera that explains graduations whose places are reckoned from a known one."""

from dataclasses import replace

import numpy as np
import pytest

from vision.reference import RULER_MM_REF
from vision.references.edges import Edge
from vision.references.finding import Finding
from vision.references.pose import focal_prior
from vision.references.ruler import explained
from vision.references.ticks import Ticks
from vision.references.view import View

SHAPE, FOCAL_PX, FAR_MM, HEIGHT_MM = (3024, 4032), 3261.0, 219.0, 0.7
SMALL = np.zeros((8, 8, 3), np.float32)


def seen(drawing, tilt: tuple[float, float], bend: float = 0.0) -> tuple[Finding, float]:
    """Return a ruler of 150 mm as explained and the true tilt; `bend` moves its ends along [mm]."""
    camera = drawing.camera_over(FOCAL_PX, FAR_MM, SHAPE, (*tilt, 90.0))
    number, across = np.arange(152), -10.0 - np.linspace(0.2, 3.0, 14)
    along = number - 76.0 + bend * ((number - 76.0) / 76.0) ** 3
    places = np.stack(
        np.broadcast_arrays(along[None], across[:, None], np.array(HEIGHT_MM)), axis=-1
    )
    noise = np.random.default_rng(4).normal(0.0, 0.05, (14, 152, 2))
    points = camera.project(places.reshape(-1, 3)).reshape(14, 152, 2) + noise
    ends = camera.project(np.array([[-74.0, -10.0, HEIGHT_MM], [74.0, -10.0, HEIGHT_MM]]))
    period = float(np.linalg.norm(points[0, -1] - points[0, 0])) / 151.0
    ticks = Ticks(number, points, np.full(152, 3.0), period, 0.05)
    view = View(np.zeros((*SHAPE, 3), np.uint8), SMALL, SMALL, 0.2, focal_prior(SHAPE, 28.0))
    reference = replace(RULER_MM_REF, thickness_mm=HEIGHT_MM)
    return explained(view, ticks, Edge(ends, 0.2, ends, 0.1), reference), camera.tilt_deg


@pytest.mark.parametrize("tilt", [(14.0, -20.0), (-18.0, -16.0), (18.0, 16.0), (2.0, 3.0)])
def test_a_ruler_seen_steeply_is_not_explained_by_a_camera_that_does_not_fit(drawing, tilt):
    finding, true = seen(drawing, tilt)
    assert finding.solution.camera.tilt_deg == pytest.approx(true, abs=0.5)
    assert not finding.misshapen


def test_marks_that_no_camera_explains_are_told_and_widen_the_band(drawing):
    straight, bent = (seen(drawing, (3.0, 2.0), bend)[0] for bend in (0.0, 4.0))
    assert bent.misshapen
    assert not straight.misshapen

    def doubt(finding: Finding) -> float:
        (moves,) = (m for cause, m in finding.solution.moves if cause == "edges")
        return float(np.linalg.norm(moves))

    assert doubt(bent) > 1.5 * doubt(straight)
