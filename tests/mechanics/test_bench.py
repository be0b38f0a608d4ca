"""A rate from forces at deflections."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mechanics.bench import Gauge, fit_bench

FINE = Gauge(0.01, 0.01, None, 0.0)


@given(st.floats(0.05, 50), st.floats(0, 20), st.floats(-5, 5))
def test_preload_and_zero_do_not_matter(rate, preload, zero):
    s = np.array([1.0, 2.0, 4.0, 5.0])
    fit = fit_bench(s + zero, preload + rate * s, FINE)
    assert fit.rate_N_per_mm == pytest.approx(rate)
    assert fit.force_at_zero_N == pytest.approx(preload - rate * zero, abs=1e-9 + 1e-6 * rate)


def test_readings_at_the_upper_limit_are_left_out():
    s = np.arange(1.0, 9.0)
    F = np.minimum(2.0 * s, 10.0)
    fit = fit_bench(s, F, Gauge(0.1, 0.1, 10.0))
    assert fit.rate_N_per_mm == pytest.approx(2.0)
    assert fit.left_out == (4, 5, 6, 7)
    assert "upper limit" in fit.notes[0]


def test_only_the_middle_of_the_travel_counts():
    """Ends settle at first, coils close at last: 20 to 80 % is straight (common practice)."""
    s = np.linspace(0, 20, 21)
    F = 1.5 * s - 1.0 + np.exp(-s / 1.0) + 0.6 * np.maximum(s - 17, 0) ** 2
    fit = fit_bench(s, F, FINE, travel_mm=20.0)
    assert fit.rate_N_per_mm == pytest.approx(1.5, rel=2e-3)
    assert set(fit.used) == set(range(4, 17))


def test_start_shifts_the_middle():
    fit = fit_bench([0, 2, 4, 6], [3, 5, 7, 9], FINE, travel_mm=20.0, start_mm=10.0)
    assert fit.used == (0, 1, 2, 3)


def test_a_rising_rate_is_said_and_widens_the_band():
    s = np.linspace(0, 10, 11)
    straight, rising = fit_bench(s, 2 * s, FINE), fit_bench(s, 2 * s + 0.05 * s**2, FINE)
    assert "rises by 40%" in rising.notes[0]
    assert not straight.notes
    assert rising.u_N_per_mm > 10 * straight.u_N_per_mm


def test_claimed_error_is_the_actual_error():
    """Coarse gauge, many runs: rms error over claimed u within 0.8 and 1.2."""
    rng = np.random.default_rng(3)
    gauge, errors, claimed = Gauge(0.5, 0.2, None, 0.02), [], []
    for _ in range(600):
        rate, s = rng.uniform(0.5, 4), np.sort(rng.uniform(2, 20, 6))
        true = s + rng.uniform(-0.1, 0.1, 6)
        F = np.round(rate * true * (1 + 0.02 * rng.standard_normal()) / 0.5) * 0.5
        fit = fit_bench(s, F, gauge)
        errors.append(fit.rate_N_per_mm - rate)
        claimed.append(fit.u_N_per_mm)
    ratio = np.sqrt(np.mean(np.square(np.array(errors) / claimed)))
    assert 0.8 < ratio < 1.2


@pytest.mark.parametrize(
    ("s", "F", "said"),
    [
        ([1.0], [2.0], "two or more"),
        ([1, 2], [2.0], "same"),
        ([1, 1], [2, 3], "different deflections"),
        ([1, 2], [3, 2], "must rise"),
        ([1, 2], [-1, 2], "force_N"),
        ([1, float("nan")], [1, 2], "deflection_mm"),
    ],
)
def test_bad_readings_are_named(s, F, said):
    with pytest.raises(ValueError, match=said):
        fit_bench(s, F)


@pytest.mark.parametrize("field", ["force_step_N", "deflection_step_mm", "upper_limit_N"])
def test_a_gauge_without_steps_is_named(field):
    with pytest.raises(ValueError, match=field):
        Gauge(**{field: 0.0})
