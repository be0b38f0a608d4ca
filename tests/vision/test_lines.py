"""Long straight lines in a picture's colours."""

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from vision._cv import blurred
from vision.references.lines import LEAST_STEP, find_lines, usual_step


@pytest.mark.parametrize("seed", range(3))
def test_a_long_faint_side_is_seen_on_a_blotched_table(seed):
    """The side of a beige card on a beige cloth, whose blotches differ by more, but at random."""
    rng = np.random.default_rng(seed)
    blotches = gaussian_filter(rng.standard_normal((400, 500, 3)), (6, 6, 0))
    blotches *= np.array([2.5, 0.375, 0.375]) / blotches.std(axis=(0, 1))
    lab = (np.array([60.0, 5.0, 10.0]) + blotches).astype(np.float32)
    lab[100:300, 150:350, 2] += 3.0
    smooth = blurred(lab, 1.2)
    assert LEAST_STEP + 2.0 * usual_step(smooth) > 3.0
    lines = find_lines(lab, smooth)
    upright = np.abs(lines.way[:, 1]) > 0.999
    there = upright & (np.abs(lines.point[:, 0] - 149.5) < 1.5)
    assert lines.covered[there, -1].max(initial=0.0) > 140.0
