"""What is asked of OpenCV, whichever version it is."""

import numpy as np
import pytest

from vision._cv import enlarge_points, reduced, segments


@pytest.mark.parametrize("shape", [(1500, 2000), (1501, 1999), (1200, 2004), (300, 400)])
def test_a_reduced_copy_shows_everything_where_it_lay(shape):
    rgb = np.full((*shape, 3), 40, np.uint8)
    rgb[shape[0] // 4 : shape[0] // 2, shape[1] // 8 : shape[1] // 2] = 240
    small, factor = reduced(rgb, 400)
    assert max(small.shape) == 400
    assert factor == pytest.approx(400 / max(shape))
    assert float(small.mean()) == pytest.approx(float(rgb.mean()), abs=0.5)
    weight = small[:, :, 0].astype(float) - 40.0
    y, x = np.mgrid[: small.shape[0], : small.shape[1]]
    middle = np.array([[(weight * x).sum(), (weight * y).sum()]]) / weight.sum()
    ys, xs = np.nonzero(rgb[:, :, 0] == 240)
    assert enlarge_points(middle, factor)[0] == pytest.approx([xs.mean(), ys.mean()], abs=1.0)


def test_a_picture_that_is_small_enough_stays_as_it_is():
    rgb = np.zeros((30, 40, 3), np.uint8)
    small, factor = reduced(rgb, 400)
    assert small is rgb
    assert factor == 1.0


@pytest.mark.parametrize("size", [(300, 400), (301, 399)])
@pytest.mark.parametrize("step", [5.0, 0.0])
def test_a_faint_edge_is_seen_across_light_that_falls_off(size, step):
    """White paper on a white desk, lit from one side."""
    y, x = np.mgrid[: size[0], : size[1]].astype(np.float32)
    light = 60.0 + 0.08 * x + 0.03 * y + step * (x > 200.5)
    found = segments(np.stack([light, 0.0 * light, 0.0 * light], axis=2), 5.0)
    long = found[np.hypot(*(found[:, :2] - found[:, 2:]).T) > 200.0]
    assert bool(len(long)) is (step > 0.0)
    assert long[:, [0, 2]] == pytest.approx(200.5, abs=0.5)
