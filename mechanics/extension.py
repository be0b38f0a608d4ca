"""Extension springs: initial tension as a range, load, and the stress in their hooks.

References
----------
.. [1] Shigley, Mechanical Engineering Design, 10e, equations 10-34 to 10-41 (from memory).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from mechanics.check import Floats, require_not_negative, require_positive
from mechanics.draws import SpringDraws
from mechanics.ends import Ends
from mechanics.load import force_at_stress, shear_stress
from mechanics.tensile import SHARES, tensile_strength
from mechanics.uncertainty import Quantity

Array = NDArray[np.float64]

#: Design limits in the hook, shares of the tensile strength (Shigley table 10-7, from memory).
_HOOK_BENDING_SHARE = 0.75
_HOOK_TORSION_SHARE = 0.40


def initial_stress_MPa(C: Floats) -> tuple[Floats, Floats]:
    """Return middle and half-range of the stress that initial tension usually makes [1]_.

    tau_i = 231 / exp(0.105 C) +- 6.9 (4 - (C - 3)/6.5), uncorrected, in MPa. Valid for C 4 to 16.

    Parameters
    ----------
    C : float
        Spring index [-].

    Examples
    --------
    At C 6.09 the source's formula gives 17.7 +- 3.5 kpsi:

    >>> middle, half = initial_stress_MPa(6.09)
    >>> float(middle) / 6.895, float(half) / 6.895
    (17.7, 3.5)
    """
    require_positive(spring_index=C)
    half = np.maximum(6.9 * (4.0 - (C - 3.0) / 6.5), 6.9)
    return 231.0 / np.exp(0.105 * C), half


def hook_bending_stress(F: Floats, d: Floats, D: Floats, r: Floats) -> Floats:
    """Return the bending stress where the hook leaves the last coil [1]_ (eq. 10-34), in MPa.

    Parameters
    ----------
    F : float
        Force [N].
    d, D : float
        Wire diameter, mean coil diameter [mm].
    r : float
        Mean radius of the hook there [mm]: D/2 for a full hook.
    """
    require_not_negative(force_N=F)
    require_positive(d=d, D=D, hook_radius_mm=r)
    C1 = 2.0 * r / d
    factor = (4.0 * C1**2 - C1 - 1.0) / (4.0 * C1 * (C1 - 1.0))
    return F * (factor * 16.0 * D / (np.pi * d**3) + 4.0 / (np.pi * d**2))


def hook_torsion_stress(F: Floats, d: Floats, D: Floats, r: Floats) -> Floats:
    """Return the torsional stress at the side of the hook [1]_ (eq. 10-36), in MPa.

    Parameters
    ----------
    F : float
        Force [N].
    d, D : float
        Wire diameter, mean coil diameter [mm].
    r : float
        Side radius of the bend into the hook [mm].
    """
    require_positive(hook_side_radius_mm=r)
    C2 = 2.0 * r / d
    return shear_stress(F, d, D, (4.0 * C2 - 1.0) / (4.0 * C2 - 4.0))


@dataclass(frozen=True, slots=True)
class Extension:
    """What an extension spring does.

    Attributes
    ----------
    initial_tension_N : Quantity
        Force at which its coils part: a range of what is usual, unless measured.
    rate_N_per_mm : Quantity
        Beyond that force.
    allowable_force_N : Quantity
        Least of the limits of body and hooks.
    hook_share : float
        Chance that the hook, and not the body, sets that limit [-].
    """

    initial_tension_N: Quantity
    rate_N_per_mm: Quantity
    allowable_force_N: Quantity
    hook_share: float


def describe_extension(draws: SpringDraws, rng: np.random.Generator) -> Extension:
    """Return initial tension, rate and allowable force of an extension spring with full hooks.

    Parameters
    ----------
    draws : SpringDraws
        The spring.
    rng : numpy.random.Generator
        Source of the draws of initial tension.

    Raises
    ------
    ValueError
        If its ends are not hooks.
    """
    if draws.ends is not Ends.HOOKS:
        raise ValueError(f"ends are {draws.ends.value}: initial tension needs hooks")
    body, hook = allowable_forces(draws)
    return Extension(
        Quantity.from_draws(draw_initial_tension(draws, rng)),
        Quantity.from_draws(draws.rate_N_per_mm),
        Quantity.from_draws(np.minimum(body, hook)),
        float(np.mean(hook < body)),
    )


def draw_initial_tension(draws: SpringDraws, rng: np.random.Generator) -> Array:
    """Return draws of the usual initial tension, rectangular over its range, in N."""
    d, D = draws.wire_diameter_mm, draws.mean_diameter_mm
    middle, half = initial_stress_MPa(D / d)
    stress = np.maximum(middle + half * rng.uniform(-1.0, 1.0, draws.size), 1.0)
    return np.asarray(force_at_stress(stress, d, D, 1.0))


def allowable_forces(draws: SpringDraws) -> tuple[Array, Array]:
    """Return the allowable forces of body and hooks, shape (n,), in N."""
    d, D = draws.wire_diameter_mm, draws.mean_diameter_mm
    size = float(np.median(d))
    names = [family.name for family in draws.material.families]
    low = np.array([tensile_strength(name, size).low_MPa for name in names])[draws.family]
    share = np.array([SHARES[name].allowable for name in names])[draws.family]
    body = force_at_stress(share * low, d, D, draws.bergstraesser_factor)
    one = np.ones(draws.size)
    bending = _HOOK_BENDING_SHARE * low / hook_bending_stress(one, d, D, D / 2.0)
    # The bend beside the coil: twice the wire as its side radius is usual (from memory).
    torsion = _HOOK_TORSION_SHARE * low / hook_torsion_stress(one, d, D, 2.0 * d)
    return np.asarray(body), np.minimum(np.asarray(bending), np.asarray(torsion))
