"""Extension springs: initial tension as a range, load, and the stress in their hooks.

References
----------
.. [1] Shigley, Mechanical Engineering Design, 10e, equations 10-34 to 10-41 (from memory).
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from mechanics.check import Floats, require_not_negative, require_positive
from mechanics.draws import SpringDraws
from mechanics.ends import Ends
from mechanics.load import force_at_stress, shear_stress, stored_energy_mJ
from mechanics.tensile import SHARES, tensile_strength
from mechanics.uncertainty import Quantity

Array = NDArray[np.float64]

#: Design limits in the hook, shares of the tensile strength (Shigley table 10-7, from memory).
_HOOK_BENDING_SHARE = 0.75
_HOOK_TORSION_SHARE = 0.40
#: Side radius of the bend into the hook, in wires: twice is usual (from memory).
_SIDE_BEND_WIRES = 2.0


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
    allowable_extension_mm : Quantity
        How far it may be pulled from its free length.
    mass_g : Quantity
        With its hooks.
    hook_share : float
        Chance that the hook, and not the body, sets that limit [-].
    """

    initial_tension_N: Quantity
    rate_N_per_mm: Quantity
    allowable_force_N: Quantity
    allowable_extension_mm: Quantity
    mass_g: Quantity
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
    allowed, tension = np.minimum(body, hook), draw_initial_tension(draws, rng)
    return Extension(
        Quantity.from_draws(tension),
        Quantity.from_draws(draws.rate_N_per_mm),
        Quantity.from_draws(allowed),
        Quantity.from_draws(np.maximum(allowed - tension, 0.0) / draws.rate_N_per_mm),
        Quantity.from_draws(draws.mass_g),
        float(np.mean(hook < body)),
    )


def pulled(
    draws: SpringDraws, extension_mm: float, rng: np.random.Generator
) -> Mapping[str, Quantity]:
    """Return force, stresses of body and hooks, and energy at one extension, by name and unit.

    Parameters
    ----------
    draws : SpringDraws
        Extension spring with full hooks.
    extension_mm : float
        From its free length [mm].
    rng : numpy.random.Generator
        Source of the draws of initial tension.

    Raises
    ------
    ValueError
        If its ends are not hooks, or the extension is negative.
    """
    require_not_negative(extension_mm=extension_mm)
    if draws.ends is not Ends.HOOKS:
        raise ValueError(f"ends are {draws.ends.value}: initial tension needs hooks")
    d, D, R = draws.wire_diameter_mm, draws.mean_diameter_mm, draws.rate_N_per_mm
    tension = draw_initial_tension(draws, rng)
    force = tension + R * extension_mm
    found = {
        "force_N": force,
        "stress_MPa": shear_stress(force, d, D, draws.stress_factor),
        "hook_bending_stress_MPa": hook_bending_stress(force, d, D, D / 2.0),
        "hook_torsion_stress_MPa": hook_torsion_stress(force, d, D, _SIDE_BEND_WIRES * d),
        "energy_mJ": stored_energy_mJ(R, extension_mm, tension),
    }
    return MappingProxyType(
        {name: Quantity.from_draws(np.asarray(value)) for name, value in found.items()}
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
    body = force_at_stress(share * low, d, D, draws.stress_factor)
    one = np.ones(draws.size)
    bending = _HOOK_BENDING_SHARE * low / hook_bending_stress(one, d, D, D / 2.0)
    torsion = _HOOK_TORSION_SHARE * low / hook_torsion_stress(one, d, D, _SIDE_BEND_WIRES * d)
    return np.asarray(body), np.minimum(np.asarray(bending), np.asarray(torsion))
