"""Torsion springs: angular rate, bending stress, and how the coil tightens.

References
----------
.. [1] Shigley, Mechanical Engineering Design, 10e, equations 10-43 to 10-51.
.. [2] Jindal, Machine Design, example 8-9; Bhandari, Design of Machine Elements, example 10.21.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from mechanics.check import (
    require_coil,
    require_dimension,
    require_index,
    require_not_negative,
    require_positive,
)
from mechanics.materials import Material
from mechanics.uncertainty import Quantity

Array = NDArray[np.float64]

#: E d^4 / (64 D n) a radian is 10.2 a turn; 10.8 counts friction between the coils.
THEORY_PER_TURN = 64.0 / (2.0 * np.pi)
PRACTICE_PER_TURN = 10.8


def torsion_active_coils(body: float, D: float, legs: tuple[float, float] = (0.0, 0.0)) -> float:
    """Return the turns that bend, legs counted [2]_: Nb + (l1 + l2) / (3 pi D).

    Parameters
    ----------
    body : float
        Turns of the body [-].
    D : float
        Mean coil diameter [mm].
    legs : (float, float)
        Straight legs, from the coil to the load [mm].

    Examples
    --------
    Jindal 8-9: legs of 20 mm on a 14.5 mm coil add 0.293 turn.

    >>> torsion_active_coils(4.25, 14.5, (20.0, 20.0))
    4.543
    """
    require_dimension("body_coils", body)
    require_dimension("mean_diameter_mm", D)
    for leg in legs:
        require_dimension("leg_mm", leg)
    return float(body + sum(legs) / (3.0 * np.pi * D))


def torsion_rate_per_turn(
    d: float, D: float, n: float, E: float, divisor: float = THEORY_PER_TURN
) -> float:
    """Return the moment of one turn of winding, E d^4 / (divisor D n), in N mm a turn.

    Parameters
    ----------
    d, D : float
        Wire diameter, mean coil diameter [mm].
    n : float
        Active coils [-].
    E : float
        Young's modulus [MPa].
    divisor : float
        10.19 by theory; 10.8 with friction between coils [-].

    Examples
    --------
    Bhandari 10.21: 3 N mm a radian with 393 coils of 1.6 mm wire, D 18, E 207 GPa.

    >>> torsion_rate_per_turn(1.6, 18.0, 393.0, 207e3) / (2 * 3.141592654)
    3.0
    """
    require_coil(d, D)
    require_positive(active_coils=n, youngs_modulus_MPa=E, divisor=divisor)
    return float(E * d**4 / (divisor * D * n))


def torsion_stress_factor(C: float) -> float:
    """Return Ki = (4 C^2 - C - 1) / (4 C (C - 1)), the inner side's bending factor [1]_.

    Parameters
    ----------
    C : float
        Spring index, above 1 [-].
    """
    require_index(C)
    return (4.0 * C**2 - C - 1.0) / (4.0 * C * (C - 1.0))


def bending_stress(M: float, d: float, factor: float = 1.0) -> float:
    """Return 32 K M / (pi d^3), in MPa.

    Parameters
    ----------
    M : float
        Moment [N mm].
    d : float
        Wire diameter [mm].
    factor : float
        Stress factor [-].
    """
    require_not_negative(moment_N_mm=M)
    require_positive(d=d, factor=factor)
    return float(factor * 32.0 * M / (np.pi * d**3))


def wound_diameter(D: float, body: float, turns: float) -> float:
    """Return the mean diameter after winding up, D Nb / (Nb + turns) [2]_, in mm.

    Parameters
    ----------
    D : float
        Mean coil diameter [mm].
    body : float
        Turns of the body [-].
    turns : float
        Turns of winding, in the closing direction [-].
    """
    require_positive(mean_diameter_mm=D, body_coils=body)
    require_not_negative(wound_turns=turns)
    return D * body / (body + turns)


@dataclass(frozen=True, slots=True)
class TorsionRate:
    """Angular rate: a degree [N mm/deg], a turn [N mm/turn]."""

    per_degree: Quantity
    per_turn: Quantity


@dataclass(frozen=True, slots=True)
class TorsionDraws:
    """Equally likely torsion springs, every array of shape (n,).

    Attributes
    ----------
    wire_diameter_mm, mean_diameter_mm : ndarray
        [mm].
    active_coils : ndarray
        Turns that bend, legs counted [-].
    per_turn : ndarray
        Angular rate [N mm/turn].
    """

    wire_diameter_mm: Array
    mean_diameter_mm: Array
    active_coils: Array
    per_turn: Array

    @property
    def rate(self) -> TorsionRate:
        """Angular rate with its bands."""
        per_degree = Quantity.from_draws(self.per_turn / 360.0)
        return TorsionRate(per_degree, Quantity.from_draws(self.per_turn))


def draw_torsion(
    wire: tuple[float, float],
    mean: tuple[float, float],
    active: tuple[float, float],
    material: Material,
    rng: np.random.Generator,
    size: int = 40_000,
) -> TorsionDraws:
    """Return equally likely torsion springs, between theory's divisor and practice's.

    Parameters
    ----------
    wire, mean, active : (float, float)
        Value and standard uncertainty of wire diameter [mm], mean diameter [mm] and active coils
        with the legs' share [-].
    material : Material
        Wire material; Young's modulus is drawn with the relative spread of its shear modulus.
    rng : numpy.random.Generator
        Source of the draws.
    size : int
        Draws [-].
    """
    require_coil(wire[0], mean[0])
    require_positive(active_coils=active[0])
    require_not_negative(u_wire=wire[1], u_mean=mean[1], u_active=active[1])
    d, D, n = (np.maximum(rng.normal(v, u, size), 0.2 * v) for v, u in (wire, mean, active))
    family = material.sample_family(size, rng)
    E = np.array([1000.0 * f.youngs_modulus_GPa for f in material.families])[family]
    spread = np.array([f.u_shear_modulus_GPa / f.shear_modulus_GPa for f in material.families])
    E = E * (1.0 + spread[family] * rng.standard_normal(size))
    divisor = rng.uniform(THEORY_PER_TURN, PRACTICE_PER_TURN, size)
    return TorsionDraws(d, D, n, np.asarray(E * d**4 / (divisor * D * n)))
