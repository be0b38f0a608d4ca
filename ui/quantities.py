"""Everything that is told about a spring, each with its standard uncertainty and 95 % band.

Drawn from the geometry's covariance (Monte Carlo, after JCGM 101), so what is computed from
several dimensions keeps the error that they share.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from mechanics.ends import end_rule
from mechanics.estimate import RateEstimate
from mechanics.geometry import NAMES, SpringGeometry
from mechanics.materials import Material
from mechanics.rate import bergstraesser_factor, wahl_factor

DRAWS = 20_000


@dataclass(frozen=True, slots=True)
class Quantity:
    """A value, its standard uncertainty and the ends of its 95 % band, all in one unit."""

    value: float
    u: float
    low: float
    high: float

    def scaled(self, factor: float) -> "Quantity":
        """Return the same quantity in another unit; `factor` is positive [-]."""
        return Quantity(self.value * factor, self.u * factor, self.low * factor, self.high * factor)

    def as_json(self) -> dict[str, float]:
        """Return the four numbers by the contract's names, to six significant digits."""
        named = {"value": self.value, "u": self.u, "low": self.low, "high": self.high}
        return {name: float(f"{number:.6g}") for name, number in named.items()}


def quantity(value: float, draws: NDArray[np.float64]) -> Quantity:
    """Return a value with the spread of its draws, shape (N,)."""
    low, high = np.quantile(draws, [0.025, 0.975])
    return Quantity(value, float(draws.std()), float(low), float(high))


def dimensions(geometry: SpringGeometry, rng: np.random.Generator) -> dict[str, Quantity]:
    """Return the dimensions by the contract's names [mm, -].

    Parameters
    ----------
    geometry : SpringGeometry
        Dimensions with covariance.
    rng : numpy.random.Generator
        Source of the draws.

    Raises
    ------
    ValueError
        If the ends leave no active coil.
    """
    rule = end_rule(geometry.ends)
    drawn = rng.multivariate_normal(geometry.values, geometry.covariance, DRAWS, method="eigh")
    dead = rng.normal(rule.dead_coils, rule.u_dead_coils, DRAWS)
    # The rate's own rule: the band is conditional on there being a spring.
    drawn, dead = _possible(drawn, dead, geometry.active_coils)
    d, D, total, length = drawn.T
    value = dict(zip(NAMES, (float(v) for v in geometry.values), strict=True))
    wire, mean = value["wire_diameter_mm"], value["mean_diameter_mm"]
    pitch = (length - rule.free_length_wires * d) / (total - dead)
    solid = wire * (value["total_coils"] + rule.solid_extra_wires)
    return {
        "wire_diameter_mm": quantity(wire, d),
        "outer_diameter_mm": quantity(mean + wire, D + d),
        "mean_diameter_mm": quantity(mean, D),
        "inner_diameter_mm": quantity(mean - wire, D - d),
        "pitch_mm": quantity(geometry.pitch_mm, pitch),
        "total_coils": quantity(value["total_coils"], total),
        "active_coils": quantity(geometry.active_coils, total - dead),
        "free_length_mm": quantity(value["free_length_mm"], length),
        "solid_length_mm": quantity(solid, d * (total + rule.solid_extra_wires)),
        "spring_index": quantity(mean / wire, D / d),
    }


def stress_factors(index: Quantity) -> dict[str, Quantity]:
    """Return Wahl's and Bergstraesser's factors; both fall as the index rises [-]."""
    out = {}
    for name, factor in (
        ("wahl_factor", wahl_factor),
        ("bergstraesser_factor", bergstraesser_factor),
    ):
        low, high = factor(index.high), factor(max(index.low, 1.01))
        step = max(index.u, 1e-9)
        slope = (factor(index.value + step) - factor(index.value)) / step
        out[name] = Quantity(factor(index.value), abs(slope) * index.u, low, high)
    return out


def rate_quantity(rate: RateEstimate) -> Quantity:
    """Return the rate in the common form [N/mm]."""
    return Quantity(rate.rate_N_per_mm, rate.u_N_per_mm, rate.low_N_per_mm, rate.high_N_per_mm)


def shear_modulus(material: Material, rng: np.random.Generator) -> Quantity:
    """Return a material's shear modulus [GPa]."""
    return quantity(material.shear_modulus_GPa, material.sample_GPa(DRAWS, rng))


def _possible(
    drawn: NDArray[np.float64], dead: NDArray[np.float64], active: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    good = (drawn[:, 2] - dead > 0.2 * active) & (drawn[:, 0] > 0.0) & (drawn[:, 1] > drawn[:, 0])
    return drawn[good], dead[good]


def relabelled(
    quantities: Mapping[str, Quantity], names: Mapping[str, str]
) -> list[tuple[str, Quantity]]:
    """Return the quantities that have a label, in the labels' order."""
    return [(label, quantities[name]) for name, label in names.items() if name in quantities]
