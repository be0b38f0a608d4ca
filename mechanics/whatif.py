"""What happens if a spring is cut or stretched: before and after, with bands and cautions.

References
----------
.. [1] Cut turns: R' = R n / n' (the rate formula). A closed and ground spring cut at its middle
   turn gave 2.05 times the force over the same 10 mm; one pulled about 20 mm longer for good
   changed by -2 % (common practice, no source).
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from mechanics.check import require_not_negative, require_positive
from mechanics.curve import is_cone
from mechanics.draws import SpringDraws
from mechanics.ends import Ends, cut_ends, end_rule
from mechanics.limits import draw_solid_length
from mechanics.load import force_at_stress
from mechanics.tensile import SHARES, tensile_strength
from mechanics.uncertainty import Quantity

Array = NDArray[np.float64]

CUTTING = (
    "Cut it only unloaded and out of the vehicle, held in a vice; hard wire needs hard-wire "
    "cutters or an abrasive disc, side cutters chip: wear eye protection.",
    "No flame and no blue colour near the working coils: heat softens the wire. Cool it as you go.",
    "A cut cannot be undone: take off less than reckoned, measure, then go on.",
)
LICENSED = (
    "Springs of road vehicles, doors and lifting gear store enough to kill: leave them to people "
    "licensed for that work."
)
STRETCHING = (
    "A stretched spring settles back in use, most of all when pressed solid: press it solid a few "
    "times, then measure its free length again.",
    "Pull it evenly and unloaded at both ends, with eye protection: a slipping end flies.",
)
#: A stretch leaves the rate within this (relative standard uncertainty) [1]_: coils tighten a
#: little, end coils open a little.
_STRETCH_U = 0.02
#: Why cones are not cut or stretched here.
_CONE_CUT = (
    "no two turns of a cone are alike, so what a cut does depends on the end and the place; "
    "cut a little off the small end and measure it anew"
)
_CONE_STRETCH = (
    "pulled, a cone's largest turns give first and its shape changes, so no one rate holds"
)
#: Below this many working turns a cut spring is no longer what the formulas describe.
FEWEST_ACTIVE = 3.0
#: Mean diameter from which a spring is taken for one of a vehicle or a door [mm]: a judgement.
_LARGE_MM = 60.0


@dataclass(frozen=True, slots=True)
class Change:
    """Before and after.

    Attributes
    ----------
    title : str
        What was changed.
    before, after : mapping of str to Quantity
        By name with its unit, the same names on both sides.
    ratio : Quantity
        Rate after over rate before [-]: what they share cancels.
    spring : SpringDraws
        The changed spring.
    cautions : tuple of str
        Plain sentences.
    """

    title: str
    before: Mapping[str, Quantity]
    after: Mapping[str, Quantity]
    ratio: Quantity
    spring: SpringDraws
    cautions: tuple[str, ...]


def describe(draws: SpringDraws, rng: np.random.Generator) -> Mapping[str, Quantity]:
    """Return what a change is shown by: rate, turns, lengths, force at solid.

    Parameters
    ----------
    draws : SpringDraws
        Compression spring.
    rng : numpy.random.Generator
        Source of the spread of the solid length.
    """
    solid = draw_solid_length(draws, rng)
    travel = np.maximum(draws.free_length_mm - solid, 0.0)
    told = {
        "rate_N_per_mm": draws.rate_N_per_mm,
        "active_coils": draws.active_coils,
        "total_coils": draws.total_coils,
        "free_length_mm": draws.free_length_mm,
        "solid_length_mm": solid,
        "travel_to_solid_mm": travel,
        "force_at_solid_N": travel * draws.rate_N_per_mm,
    }
    return MappingProxyType({name: Quantity.from_draws(value) for name, value in told.items()})


def _require_cylinder(draws: SpringDraws, why: str) -> None:
    if is_cone(draws):
        raise ValueError(f"small_end_ratio is below 1: {why}")
    if draws.ends is Ends.HOOKS:
        raise ValueError("ends are hooks: this change is reckoned for compression springs only")


def cut(draws: SpringDraws, turns: float, rng: np.random.Generator) -> Change:
    """Return the spring with turns cut off one end; a closed end goes first and stays lost.

    Parameters
    ----------
    draws : SpringDraws
        The spring.
    turns : float
        Turns of wire cut off [-].
    rng : numpy.random.Generator
        Source of the cut end's spread.

    Raises
    ------
    ValueError
        If it has hooks or tapers, or too few turns would be left.
    """
    require_positive(turns_cut=turns)
    _require_cylinder(draws, _CONE_CUT)
    after = _cut_draws(draws, turns, rng)
    left = float(np.median(after.active_coils))
    if left < 1.0:
        raise ValueError(
            f"turns_cut ({turns:g}) leaves {max(left, 0.0):.1f} working turns: no spring is left"
        )
    cautions = list(CUTTING)
    if left < FEWEST_ACTIVE:
        cautions.insert(
            0, f"Only {left:.1f} turns would work: the ends decide then, and the wire may overload."
        )
    if float(np.median(draws.mean_diameter_mm)) > _LARGE_MM:
        cautions.append(LICENSED)
    if draws.ends in (Ends.CLOSED, Ends.CLOSED_GROUND, Ends.UNKNOWN):
        cautions.append("The cut end no longer stands flat: put it on a shaped seat, or it tilts.")
    ratio = Quantity.from_draws(after.rate_N_per_mm / draws.rate_N_per_mm)
    title = f"cut off {turns:g} turns"
    return Change(title, describe(draws, rng), describe(after, rng), ratio, after, tuple(cautions))


def _cut_draws(draws: SpringDraws, turns: float, rng: np.random.Generator) -> SpringDraws:
    ends = cut_ends(draws.ends)
    old, new = end_rule(draws.ends), end_rule(ends)
    # The kept end keeps its own dead turns; the cut one starts afresh.
    first_cut = ends is not draws.ends
    lost = old.dead_coils - new.dead_coils if first_cut else 0.0
    spread = max(new.u_dead_coils**2 - 0.5 * old.u_dead_coils**2, 0.0) ** 0.5
    if first_cut:
        kept = new.dead_coils + (draws.dead_coils - old.dead_coils) / 2.0**0.5
        dead = kept + spread * rng.standard_normal(draws.size)
    else:
        dead = draws.dead_coils
    # The dead turn gives up the height that its end adds, a working turn gives up a pitch.
    dead_share = min(turns / lost, 1.0) if lost > 0.0 else 0.0
    end_wires = old.free_length_wires - new.free_length_wires
    height = dead_share * end_wires * draws.wire_diameter_mm
    height = height + (turns - dead_share * lost) * draws.pitch_mm
    if ends is Ends.UNKNOWN:
        height = turns * (draws.free_length_mm - draws.wire_diameter_mm) / draws.total_coils
    total = draws.total_coils - turns
    return replace(
        draws,
        ends=ends,
        total_coils=total,
        dead_coils=np.minimum(dead, total - 0.2),
        free_length_mm=np.maximum(draws.free_length_mm - height, draws.wire_diameter_mm),
        extra_turns=new.wire_turns + (draws.extra_turns - old.wire_turns) / 2.0**0.5,
    )


@dataclass(frozen=True, slots=True)
class CutPlan:
    """How much to cut for a rate.

    Attributes
    ----------
    exact_turns : Quantity
        Turns to cut off for the target rate [-].
    safe_turns : float or None
        Nearest quarter turn below that leaves `FEWEST_ACTIVE` working turns and does not press
        the spring solid under the load; None if there is none [-].
    whole_turns : int or None
        The same in whole turns, so that the new tip lies where the old one did [-].
    change : Change or None
        What the cut to the quarter turn does.
    reason : str
        Why the cut is less than asked for, or empty.
    """

    exact_turns: Quantity
    safe_turns: float | None
    whole_turns: int | None
    change: Change | None
    reason: str


def plan_cut(
    draws: SpringDraws, target_N_per_mm: float, rng: np.random.Generator, load_N: float = 0.0
) -> CutPlan:
    """Return how many turns to cut off for a target rate, and the nearest safe cut.

    Parameters
    ----------
    draws : SpringDraws
        The spring.
    target_N_per_mm : float
        Rate wanted [N/mm].
    rng : numpy.random.Generator
        Source of the cut end's spread.
    load_N : float
        Highest force that it must bear without going solid [N].

    Raises
    ------
    ValueError
        If the target is softer than the spring is: a cut only stiffens.
    """
    require_positive(target_rate=target_N_per_mm)
    require_not_negative(load_N=load_N)
    _require_cylinder(draws, _CONE_CUT)
    now = draws.rate_N_per_mm
    if target_N_per_mm <= float(np.median(now)):
        raise ValueError(
            f"target_rate ({target_N_per_mm:g} N/mm) is not above the spring's own "
            f"({np.median(now):.3g} N/mm): a cut only stiffens a spring"
        )
    wanted = draws.active_coils * now / target_N_per_mm
    lost = end_rule(draws.ends).dead_coils - end_rule(cut_ends(draws.ends)).dead_coils
    exact = Quantity.from_draws(draws.active_coils - wanted + lost)
    best = np.floor(4.0 * exact.value) / 4.0
    for turns in np.arange(best, 0.0, -0.25):
        after = _cut_draws(draws, float(turns), rng)
        if _safe(after, load_N, rng):
            reason = "" if turns == best else "a deeper cut leaves too few turns, or goes solid"
            whole = int(turns) or None
            return CutPlan(exact, float(turns), whole, cut(draws, float(turns), rng), reason)
    return CutPlan(exact, None, None, None, "no cut leaves enough turns and travel for that load")


def _safe(after: SpringDraws, load: float, rng: np.random.Generator) -> bool:
    if float(np.median(after.active_coils)) < FEWEST_ACTIVE:
        return False
    travel = after.free_length_mm - draw_solid_length(after, rng)
    return bool(np.quantile(travel - load / after.rate_N_per_mm, 0.025) > 0.0)


def stretch(
    draws: SpringDraws, longer_mm: float, rng: np.random.Generator, seat_mm: float | None = None
) -> Change:
    """Return the spring pulled longer for good: the same rate, more preload at the same seat [1]_.

    Parameters
    ----------
    draws : SpringDraws
        The spring.
    longer_mm : float
        Gain in free length that stays [mm].
    rng : numpy.random.Generator
        Source of the rate's small change.
    seat_mm : float, optional
        Distance of its seats at rest: with it the preload is told before and after [mm].

    Raises
    ------
    ValueError
        If it has hooks or tapers, or would be pulled nearly straight.
    """
    require_positive(longer_mm=longer_mm)
    _require_cylinder(draws, _CONE_STRETCH)
    length = draws.free_length_mm + longer_mm
    steep = float(np.median(length / (np.pi * draws.mean_diameter_mm * draws.active_coils)))
    if steep > 0.5:
        raise ValueError(
            f"longer_mm ({longer_mm:g}) would pull the coils nearly straight: no spring is left"
        )
    factor = np.exp(_STRETCH_U * rng.standard_normal(draws.size))
    after = replace(draws, free_length_mm=length, formula_factor=draws.formula_factor * factor)
    cautions = list(STRETCHING)
    share = _solid_share(after, rng)
    if share > 0.05:
        cautions.insert(
            0,
            f"Pressed solid it would take a set again (chance {share:.0%}): the gain may not last.",
        )
    if float(np.median(draws.mean_diameter_mm)) > _LARGE_MM:
        cautions.append(LICENSED)
    ratio = Quantity.from_draws(after.rate_N_per_mm / draws.rate_N_per_mm)
    title = f"stretched {longer_mm:g} mm longer"
    told = [{**describe(s, rng), **_preload(s, seat_mm)} for s in (draws, after)]
    return Change(title, told[0], told[1], ratio, after, tuple(cautions))


def _preload(draws: SpringDraws, seat_mm: float | None) -> dict[str, Quantity]:
    if seat_mm is None:
        return {}
    require_positive(seat_length_mm=seat_mm)
    pressed = np.maximum(draws.free_length_mm - seat_mm, 0.0)
    return {
        "preload_N": Quantity.from_draws(draws.rate_N_per_mm * pressed),
        "preload_deflection_mm": Quantity.from_draws(pressed),
    }


def _solid_share(draws: SpringDraws, rng: np.random.Generator) -> float:
    """Return the chance that pressing solid exceeds the elastic limit [-]."""
    d = float(np.median(draws.wire_diameter_mm))
    names = [family.name for family in draws.material.families]
    low = np.array([tensile_strength(n, d).low_MPa * SHARES[n].elastic_low for n in names])
    high = np.array([tensile_strength(n, d).high_MPa * SHARES[n].elastic_high for n in names])
    limit = rng.uniform(low[draws.family], high[draws.family])
    force = force_at_stress(
        limit, draws.wire_diameter_mm, draws.mean_diameter_mm, draws.bergstraesser_factor
    )
    travel = draws.free_length_mm - draw_solid_length(draws, rng)
    return float(np.mean(travel * draws.rate_N_per_mm > force))
