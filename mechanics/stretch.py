"""What happens if a spring is pulled longer for good: before and after, with bands and cautions.

References
----------
.. [1] One pulled about 20 mm longer for good changed by -2 % (common practice, no source).
"""

from dataclasses import replace

import numpy as np

from mechanics.check import require_positive
from mechanics.curve import is_cone
from mechanics.draws import SpringDraws
from mechanics.limits import draw_solid_length, equal_round_mm
from mechanics.tensile import SHARES, tensile_strength
from mechanics.uncertainty import Quantity
from mechanics.whatif import LARGE_MM, LICENSED, Change, describe, require_pressed

STRETCHING = (
    "A stretched spring settles back in use, most of all when pressed solid: press it solid a few "
    "times, then measure its free length again.",
    "Pull it evenly and unloaded at both ends, with eye protection: a slipping end flies.",
)
#: A stretch leaves the rate within this (relative standard uncertainty) [1]_: coils tighten a
#: little, end coils open a little.
_STRETCH_U = 0.02
#: Why cones are not stretched here.
_CONE_STRETCH = (
    "pulled, a cone's largest turns give first and its shape changes, so no one rate holds"
)


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
    if is_cone(draws):
        raise ValueError(f"small_end_ratio is below 1: {_CONE_STRETCH}")
    require_pressed(draws)
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
    if float(np.median(draws.mean_diameter_mm)) > LARGE_MM:
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
    d = equal_round_mm(draws)
    names = [family.name for family in draws.material.families]
    low = np.array([tensile_strength(n, d).low_MPa * SHARES[n].elastic_low for n in names])
    high = np.array([tensile_strength(n, d).high_MPa * SHARES[n].elastic_high for n in names])
    limit = rng.uniform(low[draws.family], high[draws.family])
    force = limit / draws.section.stress_per_newton(draws.mean_diameter_mm)
    travel = draws.free_length_mm - draw_solid_length(draws, rng)
    return float(np.mean(travel * draws.rate_N_per_mm > force))
