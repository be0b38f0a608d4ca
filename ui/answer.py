"""The answer about one spring: its rate with band and budget, and everything else told of it."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np

from mechanics.draws import SpringDraws, draw_spring
from mechanics.estimate import RateEstimate, estimate_rate
from mechanics.geometry import SpringGeometry
from mechanics.materials import Material
from mechanics.uncertainty import Quantity
from ui.caliper import Count, Readings, geometry_of, working_geometry
from ui.quantities import dimensions, rate_quantity, shear_modulus

#: One seed for all: the same spring gives the same band, on the page and on the command line.
SEED = 20_260_101


@dataclass(frozen=True, slots=True)
class Answer:
    """What is told about one spring.

    Attributes
    ----------
    geometry : SpringGeometry
        What the rate was reckoned from.
    material : Material
        Wire material.
    rate : RateEstimate
        Rate with its budget by cause.
    told : mapping of str to Quantity
        By the contract's names, rate and shear modulus among them.
    draws : SpringDraws
        Equally likely springs behind the bands.
    notes : tuple of str
        What the readings say against each other, in sentences.
    """

    geometry: SpringGeometry
    material: Material
    rate: RateEstimate
    told: Mapping[str, Quantity]
    draws: SpringDraws
    notes: tuple[str, ...] = ()


def answer_of(geometry: SpringGeometry, material: Material) -> Answer:
    """Return the answer for a geometry, however it was come by.

    Raises
    ------
    ValueError
        If the ends leave no active coil.
    """
    draws = draw_spring(geometry, material, np.random.default_rng(SEED))
    rate = estimate_rate(geometry, material, np.random.default_rng(SEED))
    told = dimensions(geometry, draws)
    told["shear_modulus_GPa"] = shear_modulus(draws)
    told["rate_N_per_mm"] = rate_quantity(rate)
    return Answer(geometry, material, rate, MappingProxyType(told), draws)


def answer_of_readings(readings: Readings, material: Material) -> Answer:
    """Return the answer for a spring measured by hand; what was not measured is not told.

    Raises
    ------
    ValueError
        If a reading is impossible; the message is a sentence for the person.
    """
    full = answer_of(geometry_of(readings), material)
    told, draws = dict(full.told), full.draws
    working = working_geometry(readings)
    rate = estimate_rate(working, material, np.random.default_rng(SEED))
    told["rate_N_per_mm"] = rate_quantity(rate)
    if readings.count is Count.ACTIVE:
        counted = np.random.default_rng(SEED).normal(readings.coils, readings.u_coils, draws.size)
        draws = replace(draws, dead_coils=draws.total_coils - counted)
        told["active_coils"] = Quantity.from_draws(counted, readings.coils)
    if readings.free_length_mm is None:
        del told["free_length_mm"], told["pitch_mm"]
    return Answer(working, material, rate, MappingProxyType(told), draws)
