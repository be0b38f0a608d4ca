"""A kept spring in the units that its owner reads in."""

import math

from mechanics.uncertainty import Quantity
from mechanics.units import RATE_UNITS
from ui.collection.record import Spring
from ui.quantities import scaled
from ui.units import Units, moment_unit


def quantity(spring: Spring, name: str) -> Quantity:
    """Return one of a kept spring's values with its band; errors are taken as relative."""
    value, u = spring.values[spring.names.index(name)], spring.u(name)
    factor = math.exp(1.96 * u / value)
    return Quantity(value, u, value / factor, value * factor)


def outside_of(spring: Spring) -> Quantity:
    """Return a kept spring's outside diameter: wire and mean diameter share their errors.

    Of rectangular wire it is what was read, and the mean follows from it: its error is the mean's.
    """
    matrix = spring.covariance
    shared = 0.0 if spring.is_flat else matrix[0][0] + 2.0 * matrix[0][1]
    u = math.sqrt(max(matrix[1][1] + shared, 0.0))
    value = spring.outside_mm
    return Quantity(value, u, value - 1.96 * u, value + 1.96 * u)


def rate_unit(spring: Spring, units: Units) -> tuple[str, float]:
    """Return the unit of a kept spring's rate, and one of it in N/mm or N mm a degree."""
    if not spring.is_torsion:
        return units.rate, RATE_UNITS[units.rate]
    unit, newton_mm = moment_unit(units)
    return f"{unit} a degree", newton_mm


def rate_told(spring: Spring, units: Units) -> tuple[Quantity, str]:
    """Return a kept spring's rate with its band, and the unit it is in.

    A torsion spring has an angular rate, told for each degree.
    """
    unit, size = rate_unit(spring, units)
    return scaled(quantity(spring, spring.names[4]), 1.0 / size), unit


def dimensions_told(spring: Spring) -> dict[str, Quantity]:
    """Return a kept spring's dimensions by name [mm, -]; of a torsion spring those of its body."""
    told = {name: quantity(spring, name) for name in spring.names[:4]}
    told["outer_diameter_mm"] = outside_of(spring)
    if spring.is_flat:
        width, u = spring.wire_width_mm, spring.u_wire_width_mm
        told["wire_height_mm"] = told.pop("wire_diameter_mm")
        told["wire_width_mm"] = Quantity(width, u, width - 1.96 * u, width + 1.96 * u)
    if spring.is_torsion:
        told["body_coils"] = told.pop("total_coils")
        del told["free_length_mm"]
    return told
