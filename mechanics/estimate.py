"""From geometry and material to the rate with its band and its budget.

Monte Carlo for the band, after JCGM 101; first order for the budget, after JCGM 100.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from mechanics.draws import draw_spring, few_coil_u
from mechanics.ends import end_rule
from mechanics.geometry import SpringGeometry
from mechanics.materials import Material
from mechanics.rate import cone_factor, helix_angle_deg
from mechanics.rectangular import powers
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
    wire, D = geometry.section, geometry.values[1:2]
    turn = wire.turn_compliance(D, np.array([1000.0 * material.shear_modulus_GPa]))
    psi = wire.softness(D, np.array([_angle(geometry)]))
    one = float((turn * psi)[0]) * geometry.active_coils
    rate = float(cone_factor(geometry.small_end_ratio)) / one
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
    n, ratio = geometry.active_coils, geometry.small_end_ratio
    slope, covariance = _slopes(geometry), geometry.with_width[1]
    separate = slope * np.sqrt(np.diag(covariance))
    common = float(slope @ covariance @ slope) - float(separate @ separate)
    # d ln(cone_factor)/d ratio
    taper = (1.0 + 2.0 * ratio + 3.0 * ratio**2) / ((1.0 + ratio) * (1.0 + ratio**2))
    parts = [
        *_wire_parts(separate),
        Contribution("coil diameter", float(abs(separate[1]))),
        Contribution("turns counted", float(abs(separate[2]))),
        # Signed: a shared error of scale enters the wire and the coil in opposite directions.
        Contribution("shared by dimensions", float(np.sign(common) * abs(common) ** 0.5)),
        Contribution("end coils", end_rule(geometry.ends).u_dead_coils / n),
        Contribution("few coils", float(few_coil_u(n))),
        Contribution("material", material.u_shear_modulus_GPa / material.shear_modulus_GPa),
        Contribution("formula", _formula_u(geometry)),
        Contribution("taper", taper * geometry.u_small_end_ratio),
    ]
    return tuple(sorted(parts, key=lambda part: -abs(part.u_relative)))


def _slopes(geometry: SpringGeometry) -> NDArray[np.float64]:
    """Return d ln rate by each value of `SpringGeometry.with_width` [1/its unit]."""
    d, D, _, _ = (float(v) for v in geometry.values)
    n = geometry.active_coils
    if geometry.width is None:
        return np.array([4.0 / d, -3.0 / D, -1.0 / n, 0.0])
    wide = geometry.width.value_mm
    along, across = powers(d, wide), powers(wide, d)
    return np.array([along / d, -3.0 / D, -1.0 / n, 0.0, across / wide])


def _wire_parts(separate: NDArray[np.float64]) -> list[Contribution]:
    if separate.size == 4:
        return [Contribution("wire diameter", float(abs(separate[0])))]
    sides = {"wire along the axis": separate[0], "wire across the axis": separate[4]}
    return [Contribution(name, float(abs(part))) for name, part in sides.items()]


def _formula_u(geometry: SpringGeometry) -> float:
    angle = np.array([_angle(geometry)])
    return float(geometry.section.formula_u(geometry.values[1:2], angle)[0])
