import numpy as np
import pytest

from mechanics.geometry import SpringGeometry
from ui.own_scale import OwnReading, parse_own_reading, scaled_by_reading

VALUES = np.array([1.2, 12.0, 14.0, 45.0])


def proportions(unit=0.37):
    """A spring seen in a unit of its own, with a common error and errors of each dimension."""
    values = VALUES * [unit, unit, 1.0, unit]
    common = 0.1 * values * [1, 1, 0, 1]
    own = np.array([0.01, 0.002, 0.005, 0.003]) * values
    return SpringGeometry(values, np.outer(common, common) + np.diag(own**2))


@pytest.mark.parametrize(
    "reading",
    [OwnReading("outside", 13.2), OwnReading("wire", 1.2), OwnReading("length", 45.0)],
)
def test_any_reading_brings_the_spring_to_its_size(reading):
    assert scaled_by_reading(proportions(), reading).values == pytest.approx(VALUES)


def test_what_was_read_has_the_error_of_the_reading_and_no_other():
    seen = scaled_by_reading(proportions(), OwnReading("length", 45.0, 0.03))
    assert seen.covariance[3, 3] ** 0.5 == pytest.approx(0.03)


def test_the_unknown_unit_drops_out():
    """A pure error of scale, here 10 %, must vanish; what is left is computed by hand."""
    seen = scaled_by_reading(proportions(), OwnReading("length", 45.0, 0.0))
    relative_wire = seen.covariance[0, 0] ** 0.5 / 1.2
    assert relative_wire == pytest.approx(np.hypot(0.01, 0.003), rel=1e-6)


def test_covariance_agrees_with_drawn_springs():
    start, reading = proportions(0.5), OwnReading("outside", 13.2, 0.2)
    rng = np.random.default_rng(4)
    x = rng.multivariate_normal(start.values, start.covariance, 200_000, method="eigh")
    r = rng.normal(13.2, 0.2, len(x)) / (x[:, 0] + x[:, 1])
    drawn = x * np.column_stack([r, r, np.ones_like(r), r])
    expected = np.cov(drawn.T)
    # In correlations, so that entries near zero are judged on the same footing.
    u = np.sqrt(np.diag(expected))
    got = scaled_by_reading(start, reading).covariance / np.outer(u, u)
    assert got == pytest.approx(expected / np.outer(u, u), abs=0.02)


@pytest.mark.parametrize("kind", ["self:", "self:outside", "self:girth=3", "self:wire=-1"])
def test_a_name_without_a_reading_is_refused(kind):
    with pytest.raises(ValueError, match="names no reading"):
        parse_own_reading(kind)
