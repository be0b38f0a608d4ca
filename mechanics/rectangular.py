"""Springs of rectangular wire (die springs), by the wire's two sides.

R = 4 G J / (pi D^3 n) with J the torsion constant of the section, which for a round wire is
pi d^4/32 and gives the usual rate.

References
----------
.. [1] Timoshenko and Goodier, Theory of Elasticity: torsion of a rectangular bar, as a series.
.. [2] Machinery's Handbook, 31e, table 4 (from memory): deflection of a coil of rectangular
   wire 2.45 P D^3 / (G t^3 (b - 0.56 t)).
"""

from dataclasses import dataclass

import numpy as np

from mechanics.check import (
    INDEX_RANGE,
    require_dimension,
    require_not_negative,
    require_positive,
)
from mechanics.ends import Ends, end_rule
from mechanics.materials import Material
from mechanics.uncertainty import Quantity

_TERMS = np.arange(1, 40, 2)


def _sides(width: float, height: float) -> tuple[float, float]:
    require_positive(wire_width_mm=width, wire_height_mm=height)
    return max(width, height), min(width, height)


def torsion_constant(width: float, height: float) -> float:
    """Return J of a rectangular section [1]_, in mm^4.

    J = b t^3 (1/3 - 64 t/(pi^5 b) sum over odd k of tanh(k pi b/(2 t)) / k^5), t the short side.

    Parameters
    ----------
    width, height : float
        The two sides, in either order [mm].

    Examples
    --------
    A square of side 1 has 0.1406 (Timoshenko's table):

    >>> torsion_constant(1.0, 1.0)
    0.1406
    """
    b, t = _sides(width, height)
    series = float((np.tanh(_TERMS * np.pi * b / (2.0 * t)) / _TERMS**5.0).sum())
    return b * t**3 * (1.0 / 3.0 - 64.0 * t / (np.pi**5 * b) * series)


def torsion_modulus(width: float, height: float) -> float:
    """Return W of a rectangular section, moment over highest shear stress [1]_, in mm^3.

    Parameters
    ----------
    width, height : float
        The two sides, in either order [mm].

    Examples
    --------
    A square of side 1 has 0.208 (Timoshenko's table):

    >>> torsion_modulus(1.0, 1.0)
    0.208
    """
    b, t = _sides(width, height)
    series = float((1.0 / (_TERMS**2.0 * np.cosh(_TERMS * np.pi * b / (2.0 * t)))).sum())
    return torsion_constant(b, t) / (t * (1.0 - 8.0 / np.pi**2 * series))


def rectangular_rate(width: float, height: float, D: float, n: float, G: float) -> float:
    """Return the rate of a spring of rectangular wire, in N/mm.

    Parameters
    ----------
    width, height : float
        Sides of the wire across and along the spring's axis [mm].
    D : float
        Mean coil diameter [mm].
    n : float
        Active coils [-].
    G : float
        Shear modulus [MPa].

    Raises
    ------
    ValueError
        If a value is not positive, or the wire is as wide as the coil.

    Notes
    -----
    Curvature is left out: 1 to 3 % at index 4, which the estimate's band carries.
    """
    require_positive(mean_diameter_mm=D, active_coils=n, shear_modulus_MPa=G)
    if width >= D:
        raise ValueError(
            f"wire_width_mm ({width:g}) must be smaller than the mean diameter ({D:g})"
        )
    return float(4.0 * G * torsion_constant(width, height) / (np.pi * D**3 * n))


def rectangular_solid(height: float, n_t: float, ends: Ends) -> float:
    """Return the solid length of a spring of rectangular wire, in mm.

    Parameters
    ----------
    height : float
        Side of the wire along the spring's axis [mm].
    n_t : float
        Total coils [-].
    ends : Ends
        Kind of ends [-].
    """
    require_positive(wire_height_mm=height, total_coils=n_t)
    return height * (n_t + end_rule(ends).solid_extra_wires)


@dataclass(frozen=True, slots=True)
class RectangularEstimate:
    """What is told of a spring of rectangular wire.

    Attributes
    ----------
    rate_N_per_mm : Quantity
        [N/mm].
    active_coils : Quantity
        Turns that work [-].
    solid_length_mm : Quantity
        Length with all coils touching, with the spread of its ends [mm].
    """

    rate_N_per_mm: Quantity
    active_coils: Quantity
    solid_length_mm: Quantity


def estimate_rectangular(
    width: tuple[float, float],
    height: tuple[float, float],
    mean: tuple[float, float],
    total: tuple[float, float],
    ends: Ends,
    material: Material,
    rng: np.random.Generator,
    size: int = 20_000,
) -> RectangularEstimate:
    """Return what a spring of rectangular wire does, with 95 % bands.

    Parameters
    ----------
    width, height, mean : (float, float)
        Value and standard uncertainty of the wire's sides and the mean diameter [mm].
    total : (float, float)
        The same for the total coils [-].
    ends : Ends
        Kind of ends [-].
    material : Material
        Wire material.
    rng : numpy.random.Generator
        Source of the draws.
    size : int
        Draws [-].

    Raises
    ------
    ValueError
        If a value is not positive, the wire as wide as the coil, or no coil works.
    """
    for name, (_, u) in {"width": width, "height": height, "mean": mean, "total": total}.items():
        require_not_negative(**{f"u_{name}": u})
    _require_spring(width[0], height[0], mean[0], total[0])
    rule = end_rule(ends)
    n = total[0] - rule.dead_coils
    if n <= 0.0:
        raise ValueError(f"total_coils ({total[0]:g}) leave no active coil")
    rate = rectangular_rate(width[0], height[0], mean[0], n, 1000.0 * material.shear_modulus_GPa)
    # The torsion constant goes with the sides to powers that add up to four: take them here.
    power_b = _power(width[0], height[0], 0)
    power_t = _power(width[0], height[0], 1)
    b, t, D, turns = (v + u * rng.standard_normal(size) for v, u in (width, height, mean, total))
    active = turns - rng.normal(rule.dead_coils, rule.u_dead_coils, size)
    G = material.sample_GPa(size, rng) / material.shear_modulus_GPa
    # Curvature and rolled, rounded corners: 3 % (common practice, no source).
    model = np.exp(0.03 * rng.standard_normal(size))
    spread = rule.u_solid_wires * rng.standard_normal(size)
    possible = (active > 0.2 * n) & (b > 0.0) & (t > 0.0) & (b < D)
    ratio = np.zeros(size)
    ratio[possible] = (b[possible] / width[0]) ** power_b * (t[possible] / height[0]) ** power_t
    drawn = rate * ratio * (D / mean[0]) ** -3.0 * G * model * n / active
    solid = t * (turns + rule.solid_extra_wires + spread)
    return RectangularEstimate(
        Quantity.from_draws(drawn[possible], rate),
        Quantity.from_draws(active[possible], n),
        Quantity.from_draws(solid[possible], rectangular_solid(height[0], total[0], ends)),
    )


def _require_spring(width: float, height: float, D: float, total: float) -> None:
    named = {"wire_width_mm": width, "wire_height_mm": height, "mean_diameter_mm": D}
    for name, value in {**named, "total_coils": total}.items():
        require_dimension(name, value)
    low, high = INDEX_RANGE
    if width < D and not low <= D / width <= high:
        raise ValueError(
            f"wire_width_mm ({width:g}) does not go with mean_diameter_mm ({D:g}): their ratio "
            f"{D / width:.3g} is outside {low:g} to {high:g}; is one of them in inches?"
        )
    if height >= D:
        raise ValueError(
            f"wire_height_mm ({height:g}) must be smaller than the mean diameter ({D:g})"
        )


def _power(width: float, height: float, which: int) -> float:
    """Return d ln J / d ln side, by a small step."""
    step = np.exp([1e-4 if which == 0 else 0.0, 1e-4 if which == 1 else 0.0])
    moved = torsion_constant(width * step[0], height * step[1])
    return float(np.log(moved / torsion_constant(width, height)) / 1e-4)
