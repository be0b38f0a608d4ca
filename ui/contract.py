"""What the command line prints with ``--json``: one object a line, keys as agreed."""

from typing import Any

import numpy as np

from mechanics.estimate import RateEstimate, estimate_rate
from mechanics.materials import Material
from ui.caliper import Count, Readings, geometry_of, working_geometry
from ui.quantities import (
    Quantity,
    dimensions,
    quantity,
    rate_quantity,
    shear_modulus,
    stress_factors,
)

#: One seed for all: the same spring gives the same band, on the page and on the command line.
SEED = 20_260_101


def reckon(readings: Readings, material: Material) -> tuple[RateEstimate, dict[str, Quantity]]:
    """Return the rate of a spring measured by hand, and everything that is told about it.

    Raises
    ------
    ValueError
        If a reading is impossible; the message is a sentence for the person.
    """
    told = dimensions(geometry_of(readings), np.random.default_rng(SEED))
    if readings.count is Count.ACTIVE:
        rng = np.random.default_rng(SEED)
        told["active_coils"] = quantity(
            readings.coils, rng.normal(readings.coils, readings.u_coils, 20_000)
        )
    if readings.free_length_mm is None:
        del told["free_length_mm"], told["pitch_mm"]
    told |= stress_factors(told["spring_index"])
    told["shear_modulus_GPa"] = shear_modulus(material, np.random.default_rng(SEED))
    rate = estimate_rate(working_geometry(readings), material, np.random.default_rng(SEED))
    told["rate_N_per_mm"] = rate_quantity(rate)
    return rate, told


def rate_object(
    rate: RateEstimate, told: dict[str, Quantity], material: Material
) -> dict[str, Any]:
    """Return the object that ``coilreckon rate --json`` prints."""
    return {
        "status": "reckoned",
        "material": material.name,
        **{name: q.as_json() for name, q in told.items()},
        "budget": [
            {"cause": part.cause, "u_relative": float(f"{part.u_relative:.4g}")}
            for part in rate.budget
        ],
    }
