"""What a round-wire compression spring bears: stress, solid, clearance, buckling, frequency, mass.

Functions take the standard symbols and work on single values or on draws alike. A loaded spring
stores energy: `stored_energy_mJ` says how much.

References
----------
.. [1] Shigley, Mechanical Engineering Design, 10e, chapter 10.
.. [2] EN 13906-1 (body text from memory).
.. [3] roymech.co.uk, Springs stability (same constants as Shigley, eq. 10-10 to 10-13).
"""

from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from mechanics.check import Floats, require_not_negative, require_positive

#: Poisson's ratio of the wire, all metals here: 0.29 to 0.31 (from memory).
POISSON = 0.3


class Seating(StrEnum):
    """How the ends of a spring are held."""

    FLAT = "both ends on flat plates"
    FLAT_HINGED = "one end flat, one hinged"
    HINGED = "both ends hinged"
    FREE = "one end held, one free"


#: Effective length over length [1]_ (table 10-2), [3]_.
_END_CONSTANT = {
    Seating.FLAT: 0.5,
    Seating.FLAT_HINGED: 0.707,
    Seating.HINGED: 1.0,
    Seating.FREE: 2.0,
}


def shear_stress(F: Floats, d: Floats, D: Floats, factor: Floats) -> Floats:
    """Return tau = K 8 F D / (pi d^3) [1]_ (eq. 10-7), in MPa.

    Parameters
    ----------
    F : float
        Force [N].
    d, D : float
        Wire diameter, mean coil diameter [mm].
    factor : float
        Stress factor K: Wahl's, Bergstraesser's or 1 + 0.5/C [-].

    Examples
    --------
    Bhavikatti example 6.6.22 (no factor): 450 N on 12 mm wire, 150 mm coil.

    >>> shear_stress(450.0, 12.0, 150.0, 1.0)
    99.47
    """
    require_not_negative(force_N=F)
    require_positive(d=d, D=D, factor=factor)
    return factor * 8.0 * F * D / (np.pi * d**3)


def force_at_stress(tau: Floats, d: Floats, D: Floats, factor: Floats) -> Floats:
    """Return the force that raises a shear stress, in N: `shear_stress` solved back.

    Parameters
    ----------
    tau : float
        Shear stress [MPa].
    d, D : float
        Wire diameter, mean coil diameter [mm].
    factor : float
        Stress factor [-].
    """
    require_positive(stress_MPa=tau, d=d, D=D, factor=factor)
    return tau * np.pi * d**3 / (factor * 8.0 * D)


def direct_shear_factor(C: Floats) -> Floats:
    """Return Ks = 1 + 0.5/C: no curvature, as for a static load [1]_.

    Parameters
    ----------
    C : float
        Spring index [-].
    """
    require_positive(spring_index=C)
    return 1.0 + 0.5 / C


def clearance_needed(d: Floats, D: Floats, n: Floats) -> Floats:
    """Return the smallest sum of gaps to leave under the highest static load [2]_, in mm.

    Sa = n (0.0015 D^2/d + 0.1 d), cold coiled. One and a half times that for moving loads.

    Parameters
    ----------
    d, D : float
        Wire diameter, mean coil diameter [mm].
    n : float
        Active coils [-].
    """
    require_positive(d=d, D=D, n=n)
    return n * (0.0015 * D**2 / d + 0.1 * d)


def outside_growth(d: Floats, D: Floats, p: Floats) -> Floats:
    """Return the growth of the outside diameter when pressed solid, ends seated [2]_, in mm.

    Parameters
    ----------
    d, D : float
        Wire diameter, mean coil diameter [mm].
    p : float
        Pitch [mm].
    """
    require_positive(d=d, D=D, p=p)
    return np.maximum(0.1 * (p**2 - 0.8 * p * d - 0.2 * d**2) / D, 0.0)


def buckling_deflection(
    L0: Floats,
    D: Floats,
    seating: Seating,
    E: Floats = 207e3,
    G: Floats = 79.3e3,
    torsion_over_bending: tuple[Floats, Floats] = (2.0, 2.0),
) -> Floats:
    """Return the deflection at which the spring buckles [3]_, in mm; infinite if it never does.

    Parameters
    ----------
    L0 : float
        Free length [mm].
    D : float
        Mean coil diameter [mm].
    seating : Seating
        How the ends are held [-].
    E, G : float
        Young's and shear modulus, generic steel unless given (Shigley table A-5) [MPa].
    torsion_over_bending : (float, float)
        Torsion constant of the wire over its second moments within a coil's plane and out of
        it: 2 and 2 for round wire [-].

    Notes
    -----
    Any section by the column's own stiffnesses: within a coil's plane it is sheared, out of it
    bent (Haringx; Timoshenko and Gere, Theory of Elastic Stability, both from memory). For round
    wire that is [3]_ itself.

    Straight cylinder, centred load, no friction on a guide. Pressed by hand it goes earlier.
    """
    require_positive(free_length_mm=L0, D=D, E=E, G=G)
    slender = _END_CONSTANT[seating] * L0 / D
    within, out_of = torsion_over_bending
    sheared = 1.0 - 0.5 * within * G / E
    first = 0.5 / sheared
    second = 2.0 * np.pi**2 * sheared / (1.0 + out_of * G / E)
    inside = 1.0 - second / slender**2
    with np.errstate(invalid="ignore"):
        deflection = L0 * first * (1.0 - np.sqrt(np.maximum(inside, 0.0)))
    out: NDArray[np.float64] = np.where(inside >= 0.0, deflection, np.inf)
    return out if out.ndim else float(out)


def stable_free_length(D: float, seating: Seating, E: float = 207e3, G: float = 79.3e3) -> float:
    """Return the free length below which the spring cannot buckle, in mm [1]_ (eq. 10-12).

    Parameters
    ----------
    D : float
        Mean coil diameter [mm].
    seating : Seating
        How the ends are held [-].
    E, G : float
        Young's and shear modulus, generic steel unless given (Shigley table A-5) [MPa].
    """
    require_positive(D=D, E=E, G=G)
    second = 2.0 * np.pi**2 * (E - G) / (2.0 * G + E)
    return float(second**0.5 * D / _END_CONSTANT[seating])


def wire_length(D: Floats, turns: Floats, rise: Floats) -> Floats:
    """Return the length of wire in a helix, in mm.

    Parameters
    ----------
    D : float
        Mean coil diameter [mm].
    turns : float
        Turns of wire [-].
    rise : float
        Height from one end of the wire's centre line to the other [mm].
    """
    require_positive(D=D, turns=turns)
    return np.hypot(np.pi * D * turns, rise)


def wire_mass_g(d: Floats, length: Floats, density: Floats) -> Floats:
    """Return the mass of round wire, in g.

    Parameters
    ----------
    d : float
        Wire diameter [mm].
    length : float
        Length of wire [mm].
    density : float
        Density [g/cm^3].

    Examples
    --------
    EN 10270-1 prints 0.555 kg a kilometre for 0.30 mm:

    >>> wire_mass_g(0.30, 1e6, 7.85)
    555.
    """
    require_positive(d=d, length=length, density=density)
    return density * 1e-3 * np.pi / 4.0 * d**2 * length


def natural_frequency_Hz(
    d: Floats, D: Floats, n: Floats, G: Floats, density: Floats, one_end_free: bool = False
) -> Floats:
    """Return the first frequency of surging [1]_ (eq. 10-25, 10-26), in Hz.

    f = 1/2 sqrt(k/m) with both ends seated, half of it with one end free.

    Parameters
    ----------
    d, D : float
        Wire diameter, mean coil diameter [mm].
    n : float
        Active coils [-].
    G : float
        Shear modulus [MPa].
    density : float
        Density [g/cm^3].
    one_end_free : bool
        One end free [-].

    Examples
    --------
    EN 13906-1 (from memory): 3560 d / (n D^2) sqrt(G / rho) with d 1, D 10, n 10:

    >>> float(natural_frequency_Hz(1.0, 10.0, 10.0, 81.5e3, 7.85))
    362.6
    """
    require_positive(d=d, D=D, n=n, G=G, density=density)
    rate = G * d**4 / (8.0 * D**3 * n)
    return surging_Hz(rate, wire_mass_g(d, np.pi * D * n, density), one_end_free)


def surging_Hz(rate: Floats, mass_g: Floats, one_end_free: bool = False) -> Floats:
    """Return the first frequency of surging from rate and working mass [1]_, in Hz.

    Parameters
    ----------
    rate : float
        [N/mm].
    mass_g : float
        Of the working turns [g].
    one_end_free : bool
        One end free [-].
    """
    require_positive(rate=rate, mass_g=mass_g)
    return (0.25 if one_end_free else 0.5) * np.sqrt(1e6 * rate / mass_g)


def stored_energy_mJ(rate: Floats, deflection: Floats, preload: Floats = 0.0) -> Floats:
    """Return the energy stored on the way to a deflection, in mJ (N mm).

    Parameters
    ----------
    rate : float
        [N/mm].
    deflection : float
        From where the force is the preload [mm].
    preload : float
        Force at the start [N].
    """
    require_positive(rate=rate)
    require_not_negative(deflection_mm=deflection, preload_N=preload)
    return preload * deflection + 0.5 * rate * deflection**2
