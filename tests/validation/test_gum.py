"""The guide's own worked examples: JCGM 100 H.1 and H.2, JCGM 101 clause 9.

Inputs as printed in the guides (read in the examples of open metrology packages). Where a figure is
marked "from memory" it is the guide's printed one, otherwise it was computed apart from this
code with four million trials; tolerances are those of 400 000 draws.
"""

import numpy as np
import pytest
from scipy import stats

from mechanics.inference import find_peak, importance_sample, resample
from mechanics.uncertainty import (
    Quantity,
    coverage_factor,
    effective_dof,
    propagate_linear,
    shortest_interval,
    weighted_mean,
)

DRAWS = 400_000


def rng():
    return np.random.default_rng(20081)


def end_gauge(x):
    """Length of an end gauge, H.1: ls, d, alpha_s, theta, d_alpha, d_theta."""
    ls, d, alpha, theta, d_alpha, d_theta = x
    return ls + d - ls * (d_alpha * theta + alpha * d_theta)


def test_h1_end_gauge():
    x = np.array([50_000_623.0, 215.0, 11.5e-6, -0.1, 0.0, 0.0])
    u = np.array([25.0, np.sqrt(5.8**2 + 3.9**2 + 6.7**2), 1.2e-6, 0.41, 0.58e-6, 0.029])
    out = propagate_linear(end_gauge, x, np.diag(u**2))
    assert out.value == pytest.approx(50_000_838)
    assert out.u == pytest.approx(31.7, abs=0.05)
    # d_alpha enters through theta's best value, -0.1 K, as well as through its spread.
    assert out.parts == pytest.approx([25, 9.7, 0, 0, 2.9, 16.6], abs=0.08)
    assert out.u_second_order == pytest.approx(33.9, abs=0.1)
    # Of d alone 25.4 computed apart; the guide prints 25.6 from unrounded data.
    assert effective_dof([5.8, 3.9, 6.7], [24, 5, 8]) == pytest.approx(25.4, abs=0.1)
    dof = effective_dof([25, 9.7, 2.9, 16.6], [18, 25.6, 50, 2])
    assert dof == pytest.approx(16.7, abs=0.2)
    assert coverage_factor(dof, 0.99) == pytest.approx(2.92, abs=0.005)
    assert coverage_factor(dof, 0.99) * 32 == pytest.approx(93, abs=0.6)


def test_h2_impedance_from_correlated_readings():
    volt = np.array([5.007, 4.994, 5.005, 4.990, 4.999])
    ampere = np.array([19.663, 19.639, 19.640, 19.685, 19.678]) * 1e-3
    angle = np.array([1.0456, 1.0438, 1.0468, 1.0428, 1.0433])
    data = np.array([volt, ampere, angle])
    mean, covariance = data.mean(axis=1), np.cov(data) / 5
    u, r = np.sqrt(np.diag(covariance)), np.corrcoef(data)
    assert mean == pytest.approx([4.9990, 19.6610e-3, 1.04446], rel=1e-5)
    assert u == pytest.approx([0.0032, 0.0095e-3, 0.00075], rel=0.02)
    assert [r[0, 1], r[0, 2], r[1, 2]] == pytest.approx([-0.36, 0.86, -0.65], abs=6e-3)
    models = {
        "R": (lambda x: x[0] / x[1] * np.cos(x[2]), 127.732, 0.071),
        "X": (lambda x: x[0] / x[1] * np.sin(x[2]), 219.847, 0.2955),
        "Z": (lambda x: x[0] / x[1], 254.260, 0.236),
    }
    for name, (model, value, u) in models.items():
        out = propagate_linear(model, mean, covariance)
        assert out.value == pytest.approx(value, abs=6e-4), name
        assert out.u == pytest.approx(u, abs=8e-4), name


def test_h2_results_are_correlated_as_printed():
    """r(R, X) -0.588, r(R, Z) -0.485, r(X, Z) 0.993, from draws of the correlated means."""
    volt = np.array([5.007, 4.994, 5.005, 4.990, 4.999])
    ampere = np.array([19.663, 19.639, 19.640, 19.685, 19.678]) * 1e-3
    angle = np.array([1.0456, 1.0438, 1.0468, 1.0428, 1.0433])
    data = np.array([volt, ampere, angle])
    V, A, phi = rng().multivariate_normal(data.mean(axis=1), np.cov(data) / 5, DRAWS).T
    r = np.corrcoef([V / A * np.cos(phi), V / A * np.sin(phi), V / A])
    assert [r[0, 1], r[0, 2], r[1, 2]] == pytest.approx([-0.588, -0.485, 0.993], abs=4e-3)


#: JCGM 101 clause 9.2: quantiles of the four inputs, then u and the 95 % half-width.
ADDITIVE = {
    "9.2.2 four normal": ([stats.norm()] * 4, 2.0, 3.92),
    "9.2.3 four rectangular": ([stats.uniform(-(3**0.5), 2 * 3**0.5)] * 4, 2.0, 3.88),
    "9.2.4 one wide rectangle": (
        [stats.uniform(-(3**0.5), 2 * 3**0.5)] * 3 + [stats.uniform(-10 * 3**0.5, 20 * 3**0.5)],
        10.15,
        17.0,
    ),
}


@pytest.mark.parametrize("name", ADDITIVE)
def test_101_additive_model(name):
    inputs, u, half = ADDITIVE[name]
    scores = rng().standard_normal((DRAWS, 4))
    y = sum(one.ppf(stats.norm.cdf(scores[:, i])) for i, one in enumerate(inputs))
    band = Quantity.from_draws(y)
    assert band.u == pytest.approx(u, rel=5e-3)
    assert [band.low, band.high] == pytest.approx([-half, half], rel=0.01)
    # What a Gaussian of the same u would give: 3.92, and 19.9 where one rectangle decides.
    assert stats.norm.ppf(0.975) * u == pytest.approx(19.9 if u > 5 else 3.92, abs=0.01)


def mass(x):
    reference, dm, air, weight, standard = x
    return (reference + dm) * (1 + (air - 1.2) * (1 / weight - 1 / standard)) - 1e5


MASS_INPUTS = (
    stats.norm(1e5, 0.050),
    stats.norm(1.234, 0.020),
    stats.uniform(1.10, 0.20),
    stats.uniform(7000, 2000),
    stats.uniform(7950, 100),
)


def test_101_mass_calibration():
    """9.3. First order misses the product of the two spreads; Monte Carlo does not."""
    x = np.array([one.mean() for one in MASS_INPUTS])
    first = propagate_linear(mass, x, np.diag([one.var() for one in MASS_INPUTS]))
    assert first.u == pytest.approx(0.0539, abs=1e-4)  # printed, from memory
    assert first.u_second_order == pytest.approx(0.0750, abs=6e-4)  # printed, from memory
    generator = rng()
    y = mass(np.array([one.rvs(DRAWS, random_state=generator) for one in MASS_INPUTS]))
    assert y.mean() == pytest.approx(1.2340, abs=6e-4)
    assert y.std() == pytest.approx(0.0755, abs=4e-4)
    assert shortest_interval(y) == pytest.approx((1.085, 1.384), abs=5e-3)


@pytest.mark.parametrize(
    ("x1", "mean", "u", "low", "high"),
    [(0.050, 2550e-6, 503e-6, 1592e-6, 3549e-6), (0.0, 50e-6, 50e-6, 0.0, 150e-6)],
)
def test_101_comparison_loss(x1, mean, u, low, high):
    """9.4. x1^2 + x2^2 with u 0.005: at zero the first order gives u 0, which is wrong."""
    x = rng().normal([x1, 0.0], 0.005, (DRAWS, 2)).T
    y = x[0] ** 2 + x[1] ** 2
    first = propagate_linear(
        lambda v: v[0] ** 2 + v[1] ** 2, np.array([x1, 0.0]), 25e-6 * np.eye(2)
    )
    assert first.u == pytest.approx(2 * x1 * 0.005, abs=1e-9)
    assert y.mean() == pytest.approx(mean, rel=5e-3)
    assert y.std() == pytest.approx(u, rel=0.01)
    assert shortest_interval(y) == pytest.approx((low, high), abs=8e-6)


def test_101_gauge_block():
    """9.5. Student lengths, arcsine temperature, curvilinear trapezoids: 838, 35.8, [744, 932]."""
    g = rng()

    def trapezoid(half, blur):
        return g.uniform(-1, 1, DRAWS) * (half + blur * g.uniform(-1, 1, DRAWS))

    ls = 50_000_623 + 25 * g.standard_t(18, DRAWS)
    d = 215 + sum(s * g.standard_t(nu, DRAWS) for s, nu in ((6, 24), (4, 5), (7, 8)))
    theta = g.normal(-0.1, 0.2, DRAWS) + 0.5 * np.sin(g.uniform(0, 2 * np.pi, DRAWS))
    alpha = g.uniform(9.5e-6, 13.5e-6, DRAWS)
    y = end_gauge(np.array([ls, d, alpha, theta, trapezoid(1e-6, 1e-7), trapezoid(0.05, 0.025)]))
    y -= 5e7
    assert y.mean() == pytest.approx(838, abs=0.3)
    assert y.std() == pytest.approx(35.8, rel=0.01)
    assert shortest_interval(y, 0.99) == pytest.approx((744, 932), abs=3)
    # First order: 838, 32 and [745, 931] (printed, from memory), by Student's factor of H.1.
    half = coverage_factor(16, 0.99) * 32
    assert (838 - half, 838 + half) == pytest.approx((745, 931), abs=1)


def no_readings(z):
    return np.zeros((len(z), 0))


def test_sampler_without_readings_gives_back_the_mass_calibration():
    """9.3 again, as scores through the sampler that the evidence uses."""
    g = rng()
    sample = importance_sample(no_readings, find_peak(no_readings, np.zeros(5)), DRAWS, g)
    z = resample(sample, DRAWS, g)
    y = mass(np.array([one.ppf(stats.norm.cdf(z[:, i])) for i, one in enumerate(MASS_INPUTS)]))
    assert sample.log_evidence == pytest.approx(0.0, abs=0.01)
    assert y.mean() == pytest.approx(1.2340, abs=8e-4)
    assert y.std() == pytest.approx(0.0755, abs=6e-4)
    assert shortest_interval(y) == pytest.approx((1.085, 1.384), abs=8e-3)


def test_sampler_with_a_curved_reading():
    """A reading of 9.4's y = x1^2 + x2^2, checked by summing the posterior over a grid."""

    def residuals(z):
        x = 0.05 + 0.02 * z
        return ((x**2).sum(axis=1) - 0.006)[:, None] / 0.0008

    axis = np.linspace(-7, 7, 801)
    grid = np.array(np.meshgrid(axis, axis)).reshape(2, -1).T
    density = np.exp(-0.5 * ((residuals(grid) ** 2).sum(axis=1) + (grid**2).sum(axis=1)))
    mean = (density[:, None] * grid).sum(axis=0) / density.sum()
    evidence = density.sum() * (axis[1] - axis[0]) ** 2 / (2 * np.pi) ** 1.5
    peak = find_peak(residuals, np.array([0.3, 0.1]))
    sample = importance_sample(residuals, peak, DRAWS, rng())
    assert peak.converged
    assert (sample.weight[:, None] * sample.z).sum(axis=0) == pytest.approx(mean, abs=0.01)
    assert sample.log_evidence == pytest.approx(np.log(evidence), abs=0.01)
    assert sample.effective > 0.2 * DRAWS


def test_gauss_newton_is_exact_for_a_linear_model():
    """Two readings of one length against prior knowledge: weighted mean, its u and evidence."""
    values, u = np.array([10.02, 9.97, 10.00]), np.array([0.02, 0.03, 0.05])
    mean, u_mean, chance = weighted_mean(values, u)

    def residuals(z):
        return (10.0 + 0.05 * z[:, :1] - values[:2]) / u[:2]

    peak = find_peak(residuals, np.zeros(1))
    assert 10.0 + 0.05 * peak.z[0] == pytest.approx(mean, abs=1e-9)
    assert 0.05 * peak.covariance[0, 0] ** 0.5 == pytest.approx(u_mean, rel=1e-6)
    assert 0.05 < chance < 1
    sample = importance_sample(residuals, peak, DRAWS, rng())
    assert sample.log_evidence == pytest.approx(peak.log_evidence, abs=0.01)


def test_scattered_readings_are_called_inconsistent():
    """Cox's test at its printed 95 % points of chi-squared: 3.841 for one degree of freedom."""
    at_limit = np.array([0.0, (2 * 3.841) ** 0.5])
    assert weighted_mean(at_limit, np.ones(2))[2] == pytest.approx(0.05, abs=1e-4)
    assert weighted_mean(1.01 * at_limit, np.ones(2))[2] < 0.05
