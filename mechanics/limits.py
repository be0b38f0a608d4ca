"""How far a compression spring may go: every limit with its 95 % band, and what to beware of."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from mechanics.check import require_not_negative
from mechanics.coils import CoilPlan, Runs
from mechanics.curve import force_onward, is_cone, plan_draws
from mechanics.draws import SpringDraws
from mechanics.ends import Ends, end_rule
from mechanics.load import (
    Seating,
    buckling_deflection,
    clearance_needed,
    outside_growth,
    surging_Hz,
)
from mechanics.rate import wahl_factor
from mechanics.tensile import SHARES, tensile_strength
from mechanics.uncertainty import Quantity

Array = NDArray[np.float64]

#: Stored energy from which a slipping spring can hurt badly [mJ]: half a joule, a judgement.
_DANGEROUS_MJ = 500.0
_CONE_DRAWS = 1_000
RECTANGULAR = (
    "For rectangular wire no rule is known here for the gap to keep to solid or for its growth "
    "outside: the usable travel leaves no gap. Its strength is taken as that of round wire of "
    "equal area."
)


@dataclass(frozen=True, slots=True)
class Limits:
    """What a spring bears.

    Attributes
    ----------
    quantities : mapping of str to Quantity
        By name with its unit. Allowable, set and buckling deflections are infinite where
        the spring is solid before.
    chance_sets_before_solid, chance_buckles_before_solid : float
        Chance that it takes a set, or buckles, before it is solid [-].
    cautions : tuple of str
        Plain sentences.
    """

    quantities: Mapping[str, Quantity]
    chance_sets_before_solid: float
    chance_buckles_before_solid: float
    cautions: tuple[str, ...]


def find_limits(
    draws: SpringDraws,
    rng: np.random.Generator,
    seating: Seating = Seating.FLAT,
    runs: Runs = (),
) -> Limits:
    """Return what a compression spring bears.

    Parameters
    ----------
    draws : SpringDraws
        The spring.
    rng : numpy.random.Generator
        Source of the draws of strength and solid length.
    seating : Seating
        How its ends are held [-].
    runs : sequence of (float, float)
        Turns [-] and pitch [mm] of each stretch, where the pitch changes along the spring.

    Raises
    ------
    ValueError
        If it is an extension spring, or solid when free.
    """
    draws, solid, plan = _planned(draws, rng, runs)
    stress = _stress_limits(draws, plan, rng)
    reach = _reach(draws, plan.travel_mm, stress["allowable_deflection_mm"], seating)
    found: dict[str, Array] = {
        "rate_N_per_mm": draws.rate_N_per_mm,
        "spring_index": draws.spring_index,
        **_factors(draws),
        "solid_length_mm": solid,
        "travel_to_solid_mm": plan.travel_mm,
        "force_at_solid_N": plan.solid_N,
        **stress,
        **reach,
        "natural_frequency_Hz": _frequency(draws),
        "mass_g": draws.mass_g,
        "energy_to_solid_mJ": plan.energy_mJ,
    }
    quantities = {name: Quantity.from_draws(value) for name, value in found.items()}
    sets = float(np.mean(np.isfinite(stress["set_deflection_mm"])))
    bends = float(np.mean(np.isfinite(reach["buckling_deflection_mm"])))
    said = _cautions(draws, quantities, sets, bends)
    return Limits(MappingProxyType(quantities), sets, bends, said)


def _planned(
    draws: SpringDraws, rng: np.random.Generator, runs: Runs
) -> tuple[SpringDraws, Array, CoilPlan]:
    """Return the draws reckoned with, their solid lengths and their coils."""
    if draws.ends is Ends.HOOKS:
        raise ValueError("ends are hooks: an extension spring has no solid length or buckling")
    if is_cone(draws):
        draws = draws.take(np.arange(min(draws.size, _CONE_DRAWS)))
    solid = draw_solid_length(draws, rng)
    if float(np.median(draws.free_length_mm - solid)) <= 0.0:
        raise ValueError("free_length_mm leaves no travel: the coils touch already")
    return draws, solid, plan_draws(draws, np.maximum(draws.free_length_mm - solid, 1e-6), runs)


def load_at(
    draws: SpringDraws, deflection_mm: float, rng: np.random.Generator, runs: Runs = ()
) -> Mapping[str, Quantity]:
    """Return force, stress, energy and length at one deflection, by name with its unit.

    Parameters
    ----------
    draws : SpringDraws
        Compression spring.
    deflection_mm : float
        From free [mm].
    rng : numpy.random.Generator
        Source of the spread of the solid length.
    runs : sequence of (float, float)
        As in `find_limits`.

    Raises
    ------
    ValueError
        If the deflection is negative, or the spring is solid before.
    """
    require_not_negative(deflection_mm=deflection_mm)
    draws, _, plan = _planned(draws, rng, runs)
    travel = float(np.median(plan.travel_mm))
    if deflection_mm > travel:
        raise ValueError(
            f"deflection_mm ({deflection_mm:g}) is more than the {travel:.3g} mm to solid"
        )
    at = np.array([deflection_mm])
    rows = [force_onward(at, s, F)[0] for s, F in zip(*plan.knots(), strict=True)]
    force = np.array(rows)
    found = {
        "force_N": force,
        "stress_MPa": plan.stress_MPa(force),
        "energy_mJ": plan.stored_mJ(force),
        "length_mm": draws.free_length_mm - deflection_mm,
    }
    return MappingProxyType({name: Quantity.from_draws(value) for name, value in found.items()})


def _stress_limits(
    draws: SpringDraws, plan: CoilPlan, rng: np.random.Generator
) -> dict[str, Array]:
    tensile, allowable, elastic = _strengths(draws, rng)
    allowed = plan.force_reaching(allowable)
    return {
        "stress_at_solid_MPa": plan.solid_stress_MPa,
        "tensile_strength_MPa": tensile,
        "allowable_stress_MPa": allowable,
        "allowable_force_N": allowed,
        "allowable_deflection_mm": _deflection(plan, allowed),
        "set_deflection_mm": _deflection(plan, plan.force_reaching(elastic)),
    }


def _reach(
    draws: SpringDraws, travel: Array, allowable: Array, seating: Seating
) -> dict[str, Array]:
    d, D, length = draws.wire_diameter_mm, draws.mean_diameter_mm, draws.free_length_mm
    E, G, wire = _youngs(draws), draws.shear_modulus_MPa, draws.section
    buckles = buckling_deflection(length, D, seating, E, G, wire.torsion_over_bending)
    # The formula goes past solid; a spring does not.
    bends = np.where(buckles < travel, buckles, np.inf)
    found = {"buckling_deflection_mm": bends}
    clearance = np.zeros(draws.size)
    # The standard's rules for the gap and for the growth are for round wire.
    if draws.wire_width_mm is None:
        clearance = np.asarray(clearance_needed(d, D, draws.active_coils))
        found["clearance_mm"] = clearance
        found["outside_growth_mm"] = np.asarray(outside_growth(d, D, draws.pitch_mm))
    usable = np.minimum.reduce([travel - clearance, allowable, bends])
    return {"usable_deflection_mm": np.maximum(usable, 0.0), **found}


def _factors(draws: SpringDraws) -> dict[str, Array]:
    if draws.wire_width_mm is not None:
        return {"stress_factor": draws.stress_factor}
    wahl = np.asarray(wahl_factor(draws.spring_index))
    return {"wahl_factor": wahl, "bergstraesser_factor": draws.stress_factor}


def draw_solid_length(draws: SpringDraws, rng: np.random.Generator) -> Array:
    """Return the solid length with the spread of its ends, shape (n,), in mm."""
    spread = end_rule(draws.ends).u_solid_wires * draws.wire_diameter_mm
    coat = 2.0 * draws.coat_mm * draws.total_coils
    return draws.solid_length_mm + coat + spread * rng.standard_normal(draws.size)


def _deflection(plan: CoilPlan, force: Array) -> Array:
    """Return the deflection under one force a draw, infinite where the force is, in mm."""
    reached = plan.deflection(np.where(np.isfinite(force), force, 0.0)[:, None])[:, 0]
    return np.where(np.isfinite(force), reached, np.inf)


def equal_round_mm(draws: SpringDraws) -> float:
    """Return the diameter by which the strength is looked up [mm].

    The tables are of round wire: of rectangular wire it is the round one of equal area (a
    judgement, no source; strength goes with the size to the power of -0.1 to -0.2).
    """
    return float(np.median(np.sqrt(4.0 / np.pi * draws.section.area)))


def _strengths(draws: SpringDraws, rng: np.random.Generator) -> tuple[Array, Array, Array]:
    """Return draws of tensile strength, allowable and elastic shear stress [MPa]."""
    d = equal_round_mm(draws)
    tensile, allowable, elastic = (np.empty(draws.size) for _ in range(3))
    for place, family in enumerate(draws.material.families):
        mine = draws.family == place
        count = int(mine.sum())
        made, share = tensile_strength(family.name, d), SHARES[family.name]
        tensile[mine] = rng.uniform(made.low_MPa, made.high_MPa, count)
        allowable[mine] = share.allowable * made.low_MPa
        limit = rng.uniform(share.elastic_low, share.elastic_high, count)
        elastic[mine] = limit * tensile[mine]
    return tensile, allowable, elastic


def _youngs(draws: SpringDraws) -> Array:
    E = np.array([1000.0 * f.youngs_modulus_GPa for f in draws.material.families])
    # Buckling needs E > G; the two vary together, so E keeps its family's ratio to G.
    G = np.array([1000.0 * f.shear_modulus_GPa for f in draws.material.families])
    return np.asarray((E / G)[draws.family] * draws.shear_modulus_MPa)


def _frequency(draws: SpringDraws) -> Array:
    middle = 0.5 * (1.0 + draws.small_end_ratio) * draws.mean_diameter_mm
    length = np.pi * middle * draws.active_coils
    working = 1e-3 * draws.density_g_cm3 * draws.section.area * length
    return np.asarray(surging_Hz(draws.rate_N_per_mm, working))


def _cautions(
    draws: SpringDraws, told: Mapping[str, Quantity], sets: float, bends: float
) -> tuple[str, ...]:
    said = []
    if sets > 0.05:
        said.append(
            f"Pressed solid it may take a set (chance {sets:.0%}): from about "
            f"{told['set_deflection_mm'].low:.3g} mm on it can stay shorter."
        )
    if bends > 0.05:
        said.append(
            f"It may buckle from about {told['buckling_deflection_mm'].low:.3g} mm on "
            f"(chance {bends:.0%} before solid): guide it on a rod or in a tube."
        )
    if told["energy_to_solid_mJ"].high > _DANGEROUS_MJ:
        said.append(
            f"Pressed solid it stores up to {told['energy_to_solid_mJ'].high / 1000:.2g} J: "
            "guide it and wear eye protection."
        )
    if float(np.median(draws.active_coils)) < 4.0:
        said.append("Fewer than four coils work: the ends decide, so measure the force to be sure.")
    C = told["spring_index"].value
    if not 4.0 <= C <= 20.0:
        said.append(f"Its index {C:.3g} is outside 4 to 20, where the formulas are usual.")
    if draws.wire_width_mm is not None:
        said.append(RECTANGULAR)
    return tuple(said)
