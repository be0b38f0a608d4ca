"""From geometry and material to the rate with its band and its budget.

Monte Carlo for the band, after JCGM 101; first order for the budget, after JCGM 100.
"""

from dataclasses import dataclass

import numpy as np

from mechanics.draws import draw_spring, few_coil_u, formula_u
from mechanics.ends import end_rule
from mechanics.geometry import SpringGeometry
from mechanics.materials import Material
from mechanics.rate import cone_factor, helix_angle_deg, softness, spring_index, spring_rate
from mechanics.uncertainty import Quantity

__all__ = ["Contribution", "RateEstimate", "estimate_rate", "few_coil_u", "rate_budget"]


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
    d, D = (float(v) for v in geometry.values[:2])
    psi = softness(spring_index(d, D), _angle(geometry))
    rate = spring_rate(d, D, geometry.active_coils, 1000.0 * material.shear_modulus_GPa)
    rate = float(rate * cone_factor(geometry.small_end_ratio) / psi)
    band = Quantity.from_draws(draw_spring(geometry, material, rng).rate_N_per_mm, rate)
    return RateEstimate(rate, band.u, band.low, band.high, rate_budget(geometry, material))


def _angle(geometry: SpringGeometry) -> float:
    D, pitch = float(geometry.values[1]), geometry.pitch_mm
    return float(helix_angle_deg(D, pitch)) if pitch > 0.0 else 0.0


def rate_budget(geometry: SpringGeometry, material: Material) -> tuple[Contribution, ...]:
    """Return each cause's share of the rate's uncertainty, to first order, largest first.

    Parameters
    ----------
    geometry : SpringGeometry
        Dimensions with covariance.
    material : Material
        Wire material.
    """
    d, D, _, _ = (float(v) for v in geometry.values)
    n, ratio = geometry.active_coils, geometry.small_end_ratio
    u = np.sqrt(np.diag(geometry.covariance))
    slope = np.array([4.0 / d, -3.0 / D, -1.0 / n, 0.0])
    separate = slope * u
    common = float(slope @ geometry.covariance @ slope) - float(separate @ separate)
    # d ln(cone_factor)/d ratio
    taper = (1.0 + 2.0 * ratio + 3.0 * ratio**2) / ((1.0 + ratio) * (1.0 + ratio**2))
    parts = [
        Contribution("wire diameter", float(abs(separate[0]))),
        Contribution("coil diameter", float(abs(separate[1]))),
        Contribution("turns counted", float(abs(separate[2]))),
        # Signed: a shared error of scale enters the wire and the coil in opposite directions.
        Contribution("shared by dimensions", float(np.sign(common) * abs(common) ** 0.5)),
        Contribution("end coils", end_rule(geometry.ends).u_dead_coils / n),
        Contribution("few coils", float(few_coil_u(n))),
        Contribution("material", material.u_shear_modulus_GPa / material.shear_modulus_GPa),
        Contribution("formula", float(formula_u(D / d, _angle(geometry)))),
        Contribution("taper", taper * geometry.u_small_end_ratio),
    ]
    return tuple(sorted(parts, key=lambda part: -abs(part.u_relative)))
