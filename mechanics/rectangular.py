"""Rectangular wire (die springs), by its two sides: torsion of the bar, straight and in a coil.

R = 4 G J / (pi D^3 n) with J the torsion constant of the section, which for a round wire is
pi d^4/32 and gives the usual rate; in a coil a few per cent more, by `mechanics.ring_sector`.

References
----------
.. [1] Timoshenko and Goodier, Theory of Elasticity: torsion of a rectangular bar, as a series.
.. [2] Machinery's Handbook, 31e, table 4 (from memory): deflection of a coil of rectangular
   wire 2.45 P D^3 / (G t^3 (b - 0.56 t)).
"""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from mechanics.check import Real, require_positive
from mechanics.load import POISSON
from mechanics.ring_sector import rectangle, solve_turn

Array = NDArray[np.float64]

_TERMS = np.arange(1, 40, 2)
#: Of the sides over the coil: what curvature does changes by less than 2e-4 within the last digit,
#: and nearly equal springs need not be solved anew [-].
_DIGITS = 3


def _sides(width: Real, height: Real) -> tuple[Real, Real, Array]:
    """Return the long side, the short one, and odd multiples of pi b/(2 t) along a last axis."""
    require_positive(wire_width_mm=width, wire_height_mm=height)
    b: Real = np.maximum(width, height)
    t: Real = np.minimum(width, height)
    return b, t, np.asarray(np.asarray(b / t)[..., None] * _TERMS * np.pi / 2.0)


def torsion_constant(width: Real, height: Real) -> Real:
    """Return J of a rectangular section [1]_, in mm^4.

    J = b t^3 (1/3 - 64 t/(pi^5 b) sum over odd k of tanh(k pi b/(2 t)) / k^5), t the short side.

    Parameters
    ----------
    width, height : float
        The two sides, in either order [mm].

    Examples
    --------
    A square of side 1 has 0.1406 (Timoshenko's table):

    >>> float(torsion_constant(1.0, 1.0))
    0.1406
    """
    b, t, arms = _sides(width, height)
    series = (np.tanh(arms) / _TERMS**5.0).sum(axis=-1)
    J: Real = b * t**3 * (1.0 / 3.0 - 64.0 * t / (np.pi**5 * b) * series)
    return J


def torsion_modulus(width: Real, height: Real) -> Real:
    """Return W of a rectangular section, moment over highest shear stress [1]_, in mm^3.

    Parameters
    ----------
    width, height : float
        The two sides, in either order [mm].

    Examples
    --------
    A square of side 1 has 0.208 (Timoshenko's table):

    >>> float(torsion_modulus(1.0, 1.0))
    0.208
    """
    b, t, arms = _sides(width, height)
    # Beyond 350 its inverse is nothing, and the number itself overflows.
    series = (1.0 / (_TERMS**2.0 * np.cosh(np.minimum(arms, 350.0)))).sum(axis=-1)
    W: Real = torsion_constant(b, t) / (t * (1.0 - 8.0 / np.pi**2 * series))
    return W


def powers(side: float, other: float) -> float:
    """Return with which power of a side the torsion constant goes, d ln J / d ln side [-].

    Parameters
    ----------
    side, other : float
        The two sides [mm].

    Examples
    --------
    A square goes with the fourth power of both sides, half of it each:

    >>> powers(2.0, 2.0)
    2.0
    """
    more, less = (float(torsion_constant(side * f, other)) for f in (1.001, 0.999))
    return float(np.log(more / less) / np.log(1.001 / 0.999))


def pitch_terms(width: Real, height: Real, alpha_deg: Real) -> tuple[Real, Real]:
    """Return what the helix angle divides the rate by, ends free to turn and held [-].

    Slender rod: sec a (cos^2 a + g sin^2 a) free, sec a g/(sin^2 a + g cos^2 a) held, with g the
    twist's stiffness over that of bending within the coil's plane. Round wire has g = 1/(1 + nu),
    which gives the usual terms; of wide wire g is small, so much depends on the ends.

    Parameters
    ----------
    width, height : float
        Sides of the wire across and along the coil's axis [mm].
    alpha_deg : float
        Helix angle [deg].
    """
    within = height * width**3 / 12.0
    g = torsion_constant(width, height) / (2.0 * (1.0 + POISSON) * within)
    sin2 = np.sin(np.radians(alpha_deg)) ** 2
    slant = 1.0 / np.sqrt(1.0 - sin2)
    free: Real = slant * (1.0 - sin2 + g * sin2)
    held: Real = slant * g / (sin2 + g * (1.0 - sin2))
    return free, held


def curved(width: float, height: float, D: float) -> tuple[float, float]:
    """Return rate and highest stress of a bar in a coil over those of the straight one [-].

    Parameters
    ----------
    width, height : float
        Sides of the wire across and along the coil's axis [mm].
    D : float
        Mean coil diameter [mm].

    Raises
    ------
    ValueError
        If the wire is as wide as the coil.

    Examples
    --------
    A square at index 4: the stress by Wahl's 1 + 1.2/C + 0.56/C^2 + 0.5/C^3 (from memory) is 1.343.

    >>> [float(x) for x in curved(1.0, 1.0, 4.0)]
    [1.020, 1.344]
    """
    require_positive(wire_width_mm=width, wire_height_mm=height, mean_diameter_mm=D)
    if width >= D:
        raise ValueError(
            f"wire_width_mm ({width:g}) must be smaller than the mean diameter ({D:g})"
        )
    return _curved(round(width / D, _DIGITS), round(height / D, _DIGITS))


@lru_cache(maxsize=256)
def _curved(width: float, height: float) -> tuple[float, float]:
    """Return the same for a coil of mean diameter 1."""
    width, height = max(width, 1e-3), max(height, 1e-3)
    bubble, places = rectangle(width, height)
    turn = solve_turn(bubble, places, 0.5, (0.5 * width, 0.5 * height))
    stiffer = np.pi / (4.0 * float(torsion_constant(width, height)) * turn.compliance)
    stress = turn.stress * float(torsion_modulus(width, height)) / 0.5
    return float(stiffer), float(stress)


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
    """
    require_positive(active_coils=n, shear_modulus_MPa=G)
    straight = 4.0 * G * float(torsion_constant(width, height)) / (np.pi * D**3 * n)
    return float(straight * curved(width, height, D)[0])
