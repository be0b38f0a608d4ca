"""What happens if a spring is cut: before and after, with bands and cautions.

References
----------
.. [1] Cut turns: R' = R n / n' (the rate formula). A closed and ground spring cut at its middle
   turn gave 2.05 times the force over the same 10 mm (common practice, no source).
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
from mechanics.pressed import press
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
#: What is said of a cone that is cut.
_CONE_CUT = (
    "A cone's small turns are its stiff ones: cut there, its rate rises little; cut "
    "at the large end, it loses its softest turns first."
)
#: Cuts between which that of a cone for a rate is found [-].
_CUTS_TRIED = 33
#: Below this many working turns a cut spring is no longer what the formulas describe.
FEWEST_ACTIVE = 3.0
#: Mean diameter from which a spring is taken for one of a vehicle or a door [mm]: a judgement.
LARGE_MM = 60.0


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
    spring = press(draws)
    draws = spring.draws
    solid = draw_solid_length(draws, rng)
    told = {
        "rate_N_per_mm": draws.rate_N_per_mm,
        "active_coils": draws.active_coils,
        "total_coils": draws.total_coils,
        "free_length_mm": draws.free_length_mm,
        "solid_length_mm": solid,
        "travel_to_solid_mm": spring.travel_mm(solid),
        "force_at_solid_N": spring.solid_N(solid),
    }
    return MappingProxyType({name: Quantity.from_draws(value) for name, value in told.items()})


def require_pressed(draws: SpringDraws) -> None:
    """Refuse extension springs.

    Raises
    ------
    ValueError
        If the ends are hooks.
    """
    if draws.ends is Ends.HOOKS:
        raise ValueError("ends are hooks: this change is reckoned for compression springs only")


def cut(
    draws: SpringDraws, turns: float, rng: np.random.Generator, large_end: bool = False
) -> Change:
    """Return the spring with turns cut off one end; a closed end goes first and stays lost.

    A cone of constant pitch and taper stays one, its new end as wide as it was at the cut.

    Parameters
    ----------
    draws : SpringDraws
        The spring.
    turns : float
        Turns of wire cut off [-].
    rng : numpy.random.Generator
        Source of the cut end's spread.
    large_end : bool
        Whether a cone is cut at its large end, not at its small one [-].

    Raises
    ------
    ValueError
        If it has hooks, or too few turns would be left.
    """
    require_positive(turns_cut=turns)
    require_pressed(draws)
    draws = press(draws).draws
    after = _cut_draws(draws, turns, rng.standard_normal(draws.size), large_end)
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
    if float(np.median(draws.mean_diameter_mm)) > LARGE_MM:
        cautions.append(LICENSED)
    if draws.ends in (Ends.CLOSED, Ends.CLOSED_GROUND, Ends.UNKNOWN):
        cautions.append("The cut end no longer stands flat: put it on a shaped seat, or it tilts.")
    if is_cone(draws):
        cautions.append(_CONE_CUT)
    ratio = Quantity.from_draws(after.rate_N_per_mm / draws.rate_N_per_mm)
    title = f"cut off {turns:g} turns"
    return Change(title, describe(draws, rng), describe(after, rng), ratio, after, tuple(cautions))


def _cut_draws(draws: SpringDraws, turns: float, scores: Array, large_end: bool) -> SpringDraws:
    """Return the springs that a cut leaves; scores of shape (n,) are the cut end's doubt."""
    ends = cut_ends(draws.ends)
    old, new = end_rule(draws.ends), end_rule(ends)
    # The kept end keeps its own dead turns; the cut one starts afresh.
    first_cut = ends is not draws.ends
    lost = old.dead_coils - new.dead_coils if first_cut else 0.0
    spread = max(new.u_dead_coils**2 - 0.5 * old.u_dead_coils**2, 0.0) ** 0.5
    if first_cut:
        kept = new.dead_coils + (draws.dead_coils - old.dead_coils) / 2.0**0.5
        dead = kept + spread * scores
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
    large, ratio = _tapered(draws, turns, large_end)
    return replace(
        draws,
        ends=ends,
        mean_diameter_mm=large,
        small_end_ratio=ratio,
        total_coils=total,
        dead_coils=np.minimum(dead, total - 0.2),
        free_length_mm=np.maximum(draws.free_length_mm - height, draws.wire_diameter_mm),
        extra_turns=new.wire_turns + (draws.extra_turns - old.wire_turns) / 2.0**0.5,
    )


def _tapered(draws: SpringDraws, turns: float, large_end: bool) -> tuple[Array, Array]:
    """Return large end [mm] and small end over it of what a cut leaves, each of shape (n,).

    As the rate has it, the working turns taper; a dead turn is as wide as its end.
    """
    D, ratio = draws.mean_diameter_mm, draws.small_end_ratio
    dead = end_rule(draws.ends).dead_coils - end_rule(cut_ends(draws.ends)).dead_coils
    worked = max(turns - dead, 0.0)
    lost = np.clip(worked / draws.active_coils, 0.0, 1.0) * (1.0 - ratio)
    if large_end:
        return D * (1.0 - lost), ratio / (1.0 - lost)
    return D, ratio + lost


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
    draws: SpringDraws,
    target_N_per_mm: float,
    rng: np.random.Generator,
    load_N: float = 0.0,
    large_end: bool = False,
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
    large_end : bool
        As in `cut` [-].

    Raises
    ------
    ValueError
        If the target is softer than the spring is: a cut only stiffens.
    """
    require_positive(target_rate=target_N_per_mm)
    require_not_negative(load_N=load_N)
    require_pressed(draws)
    draws = press(draws).draws
    now = draws.rate_N_per_mm
    if target_N_per_mm <= float(np.median(now)):
        raise ValueError(
            f"target_rate ({target_N_per_mm:g} N/mm) is not above the spring's own "
            f"({np.median(now):.3g} N/mm): a cut only stiffens a spring"
        )
    scores = rng.standard_normal(draws.size)
    exact = Quantity.from_draws(_exact_turns(draws, target_N_per_mm, scores, large_end))
    best = np.floor(4.0 * exact.value) / 4.0
    for turns in np.arange(best, 0.0, -0.25):
        after = _cut_draws(draws, float(turns), scores, large_end)
        if _safe(after, load_N, rng):
            reason = "" if turns == best else "a deeper cut leaves too few turns, or goes solid"
            done = cut(draws, float(turns), rng, large_end)
            return CutPlan(exact, float(turns), int(turns) or None, done, reason)
    return CutPlan(exact, None, None, None, "no cut leaves enough turns and travel for that load")


def _exact_turns(draws: SpringDraws, target: float, scores: Array, large_end: bool) -> Array:
    """Return the turns to cut off for a rate, shape (n,)."""
    lost = end_rule(draws.ends).dead_coils - end_rule(cut_ends(draws.ends)).dead_coils
    if not is_cone(draws):
        return draws.active_coils * (1.0 - draws.rate_N_per_mm / target) + lost
    # No two turns are alike: cut by cut, then between the cuts.
    most = float(np.median(draws.active_coils)) - 1.0 + lost
    turns = np.linspace(lost, max(most, lost + 0.25), _CUTS_TRIED)
    rates = [_cut_draws(draws, float(t), scores, large_end).rate_N_per_mm for t in turns]
    rising = np.maximum.accumulate(np.array(rates), axis=0)
    return np.array([np.interp(target, rates, turns) for rates in rising.T])


def _safe(after: SpringDraws, load: float, rng: np.random.Generator) -> bool:
    if float(np.median(after.active_coils)) < FEWEST_ACTIVE:
        return False
    bears = press(after).solid_N(draw_solid_length(after, rng))
    return bool(np.quantile(bears - load, 0.025) > 0.0)
