"""From geometry and material to the rate with its band and its budget.

Monte Carlo for the band, after JCGM 101; first order for the budget, after JCGM 100.
"""

from dataclasses import dataclass

import numpy as np

from mechanics.ends import end_rule
from mechanics.geometry import SpringGeometry
from mechanics.materials import Material
from mechanics.rate import helix_angle_deg, softness, spring_index, spring_rate

DRAWS = 40_000


@dataclass(frozen=True, slots=True)
class Contribution:
    """One cause's share of the uncertainty: relative standard uncertainty of the rate [-]."""

    cause: str
    u_relative: float


@dataclass(frozen=True, slots=True)
class RateEstimate:
    """The rate, its standard uncertainty and its 95 % band [N/mm], with the budget by cause."""

    rate_N_per_mm: float
    u_N_per_mm: float
    low_N_per_mm: float
    high_N_per_mm: float
    budget: tuple[Contribution, ...]


def few_coil_u(n: float) -> float:
    """Return the relative standard uncertainty that end effects add below five active coils.

    Bench tests of 18 springs with 2.5 to 3 active coils (Acta Mechanica et Automatica 2025,
    doi 10.2478/ama-2025-0055) found the basic formula 3 to 19 % low: u is 10 % at three active
    coils and below, and falls to nothing at five. The taper is a judgement, no source.

    Parameters
    ----------
    n : float
        Active coils [-].
    """
    return 0.10 * float(np.clip((5.0 - n) / 2.0, 0.0, 1.0))


def estimate_rate(
    geometry: SpringGeometry, material: Material, rng: np.random.Generator
) -> RateEstimate:
    """Return the rate of a spring with its 95 % band and its budget.

    Parameters
    ----------
    geometry : SpringGeometry
        Dimensions with covariance.
    material : Material
        Wire material.
    rng : numpy.random.Generator
        Source of the draws; the same seed gives the same band.

    Raises
    ------
    ValueError
        If the ends leave no active coil.
    """
    d, D, _, _ = (float(v) for v in geometry.values)
    n = geometry.active_coils
    C = spring_index(d, D)
    alpha = helix_angle_deg(D, geometry.pitch_mm) if geometry.pitch_mm > 0.0 else 0.0
    psi = softness(C, alpha)
    rate = spring_rate(d, D, n, 1000.0 * material.shear_modulus_GPa) / psi
    model_u = _model_u(C, alpha)

    drawn = rng.multivariate_normal(geometry.values, geometry.covariance, DRAWS, method="eigh")
    rule = end_rule(geometry.ends)
    dead = rng.normal(rule.dead_coils, rule.u_dead_coils, DRAWS)
    active = drawn[:, 2] - dead
    G = 1000.0 * material.sample_GPa(DRAWS, rng)
    extra = np.exp(rng.normal(0.0, np.hypot(few_coil_u(n), model_u), DRAWS))
    # A draw without working coils is no spring: the band is conditional on there being one.
    possible = (active > 0.2 * n) & (drawn[:, 0] > 0.0) & (drawn[:, 1] > drawn[:, 0])
    rates = (G * drawn[:, 0] ** 4 / (8.0 * drawn[:, 1] ** 3 * active) * extra / psi)[possible]
    low, high = np.quantile(rates, [0.025, 0.975])
    return RateEstimate(
        rate, float(rates.std()), float(low), float(high), _budget(geometry, material, model_u)
    )


def _model_u(C: float, alpha_deg: float) -> float:
    """Spread between published curvature and pitch terms, relative.

    The quoted pitch coefficient 1.269 exceeds the rod's by 1; a quarter of that difference and of
    the curvature term are carried as standard uncertainties.
    """
    tan2 = np.tan(np.radians(alpha_deg)) ** 2
    return float(np.hypot(0.25 * 3.0 / (16.0 * C**2), 0.25 * tan2))


def _budget(
    geometry: SpringGeometry, material: Material, model_u: float
) -> tuple[Contribution, ...]:
    d, D, _, _ = (float(v) for v in geometry.values)
    n = geometry.active_coils
    u = np.sqrt(np.diag(geometry.covariance))
    slope = np.array([4.0 / d, -3.0 / D, -1.0 / n, 0.0])
    separate = slope * u
    common = float(slope @ geometry.covariance @ slope) - float(separate @ separate)
    parts = [
        Contribution("wire diameter", float(abs(separate[0]))),
        Contribution("coil diameter", float(abs(separate[1]))),
        Contribution("turns counted", float(abs(separate[2]))),
        # Signed: a shared error of scale enters the wire and the coil in opposite directions.
        Contribution("shared by dimensions", float(np.sign(common) * abs(common) ** 0.5)),
        Contribution("end coils", end_rule(geometry.ends).u_dead_coils / n),
        Contribution("few coils", few_coil_u(n)),
        Contribution("material", material.u_shear_modulus_GPa / material.shear_modulus_GPa),
        Contribution("formula", model_u),
    ]
    return tuple(sorted(parts, key=lambda part: -abs(part.u_relative)))
