"""More readings of the same spring, and the answer that all of them give together."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np

from mechanics.bench import BenchFit, Gauge, fit_bench
from mechanics.conflicts import reconcile
from mechanics.estimate import RateEstimate
from mechanics.evidence import case_of
from mechanics.not_round import ASK, asks_if_flat
from mechanics.readings import (
    Coat,
    active_reading,
    coat_reading,
    count_reading,
    free_length_reading,
    inside_reading,
    mean_reading,
    outside_reading,
    small_end_reading,
    touching_reading,
    weight_reading,
    width_reading,
    wire_reading,
)
from mechanics.slips import Reading
from ui.answer import SEED, Answer
from ui.caliper import Across, Count, Readings
from ui.quantities import posterior_dimensions, shear_modulus

#: A reading taken as exact still has the last digit of its display [mm, -].
_LEAST_U = 1e-4


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of reading that a person can add.

    Attributes
    ----------
    label : str
        What it is called.
    entry : str
        Label of its field, with the unit.
    u : float
        Usual standard uncertainty [unit of the field].
    step : float
        Of the field's buttons [unit of the field].
    build : callable
        From value and u to the reading.
    """

    label: str
    entry: str
    u: float
    step: float
    build: Callable[[float, float], Reading]


#: A reading that only rectangular wire has.
ACROSS = "across"
KINDS = MappingProxyType(
    {
        "weight": Kind("Weight", "Weight, g", 0.05, 0.1, weight_reading),
        "micrometer": Kind(
            "Wire, micrometer",
            "Wire by micrometer, mm",
            0.004,
            0.01,
            lambda value, u: wire_reading(value, u, "wire, micrometer"),
        ),
        "caliper": Kind("Wire, caliper", "Wire by caliper, mm", 0.02, 0.01, wire_reading),
        ACROSS: Kind("Wire across", "Wire across the axis, mm", 0.02, 0.01, width_reading),
        "outside": Kind("Outside", "Outside diameter, mm", 0.05, 0.1, outside_reading),
        "inside": Kind("Inside", "Inside diameter, mm", 0.06, 0.1, inside_reading),
        "length": Kind("Length", "Free length, mm", 0.2, 0.5, free_length_reading),
        "paint": Kind("Paint, plating", "Its thickness on one side, mm", 0.01, 0.01, coat_reading),
        "turns": Kind("Turns", "Turns, tip to tip", 0.1, 0.25, count_reading),
    }
)


def kinds_of(flat: bool) -> dict[str, Kind]:
    """Return the kinds of reading of round or of rectangular wire, by name.

    Parameters
    ----------
    flat : bool
        Whether the wire is rectangular: what is read of it has a side then.
    """
    if not flat:
        return {key: kind for key, kind in KINDS.items() if key != ACROSS}
    along = {
        key: replace(
            KINDS[key],
            label=KINDS[key].label.replace("Wire,", "Wire along,"),
            entry=KINDS[key].entry.replace("Wire by", "Wire along the axis by"),
        )
        for key in ("micrometer", "caliper")
    }
    return {**KINDS, **along}


def pressed_coils(length_mm: float, coils: int) -> Reading:
    """Return a reading over coils pressed together; u is a caliper's [mm]."""
    return touching_reading(length_mm, coils)


def load_test(
    travel_mm: Sequence[float],
    force_newton: Sequence[float],
    gauge: Gauge | None = None,
    to_solid_mm: float | None = None,
) -> BenchFit:
    """Return the rate of a load test by hand.

    Parameters
    ----------
    travel_mm, force_newton : sequence of float
        Pairs, from any preload.
    gauge : Gauge, optional
        How they were read; a scale of a tenth of a newton and a caliper, if left out.
    to_solid_mm : float, optional
        Travel from free to solid, where the travel was counted from free: only the middle of it
        counts then [mm].

    Raises
    ------
    ValueError
        If the points give no rate.
    """
    return fit_bench(travel_mm, force_newton, gauge or Gauge(), to_solid_mm)


def evidence_of(readings: Readings) -> tuple[Reading, ...]:
    """Return caliper readings as evidence."""
    u_wire, u_diameter = max(readings.u_wire_mm, _LEAST_U), max(readings.u_diameter_mm, _LEAST_U)
    u_coils = max(readings.u_coils, _LEAST_U)
    diameter, wire = readings.diameter_mm, readings.wire_mm
    across = {
        Across.OUTSIDE: outside_reading(diameter, u_diameter),
        Across.INSIDE: inside_reading(diameter, u_diameter),
        Across.MEAN: mean_reading(diameter, u_diameter),
    }[readings.across]
    counted = count_reading if readings.count is Count.TOTAL else active_reading
    out = [wire_reading(wire, u_wire), across, counted(readings.coils, u_coils)]
    if readings.small_end_mm is not None:
        step = {Across.OUTSIDE: 0.0, Across.MEAN: 1.0, Across.INSIDE: 2.0}[readings.across]
        out.append(small_end_reading(readings.small_end_mm + step * wire, u_diameter))
    if readings.width_mm is not None:
        out.append(width_reading(readings.width_mm, max(readings.u_width_mm, _LEAST_U)))
    if readings.free_length_mm is not None:
        u_length = max(readings.u_free_length_mm, _LEAST_U)
        out.append(free_length_reading(readings.free_length_mm, u_length))
    return tuple(out)


def improved(
    answer: Answer, base: Sequence[Reading], more: Sequence[Reading], coat: Coat = Coat.BARE
) -> Answer:
    """Return the answer of all readings together; contradictions stand in its notes.

    Parameters
    ----------
    answer : Answer
        Without the further readings; its material and ends are stated, not read.
    base, more : sequence of Reading
        What it rests on, and what comes on top.
    coat : Coat
        What covers the wire.

    Raises
    ------
    ValueError
        If the readings leave the rate open.
    """
    readings = [*base, *more]
    case = case_of(readings, answer.material, answer.draws.ends, coat)
    found = reconcile(readings, case, np.random.default_rng(SEED))
    asked = (ASK,) if asks_if_flat(found.conflicts, case) else ()
    draws, rate = found.mixture.draws, found.mixture.rate_N_per_mm
    told = posterior_dimensions(draws)
    for name in set(told) - set(answer.told):
        del told[name]
    told["shear_modulus_GPa"] = shear_modulus(draws)
    told["rate_N_per_mm"] = rate
    return replace(
        answer,
        material=draws.material,
        rate=RateEstimate(rate.value, rate.u, rate.low, rate.high, ()),
        told=MappingProxyType(told),
        draws=draws,
        notes=(*(conflict.sentence for conflict in found.conflicts), *asked),
    )
