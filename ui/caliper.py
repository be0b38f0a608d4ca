"""From numbers read off a caliper to a geometry with its covariance."""

from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from mechanics.ends import Ends, end_rule
from mechanics.geometry import SpringGeometry, Width

#: Steepest helix that compression springs are usually wound to [deg]: common practice, no source.
STEEPEST_HELIX_DEG = 9.0
#: Of a side of rectangular wire by a hand-held caliper, rounded corners and all (a judgement, no
#: source) [mm].
U_SIDE_MM = 0.03


class Across(StrEnum):
    """Which diameter of the coil was read."""

    OUTSIDE = "outside"
    MEAN = "mean"
    INSIDE = "inside"


#: Wire diameters from the diameter that was read to the mean one.
_STEP = {Across.OUTSIDE: -1.0, Across.MEAN: 0.0, Across.INSIDE: 1.0}


class Count(StrEnum):
    """Which coils were counted."""

    TOTAL = "total"
    ACTIVE = "active"


@dataclass(frozen=True, slots=True)
class Readings:
    """What a person read off a spring, each with its standard uncertainty.

    Attributes
    ----------
    wire_mm, diameter_mm : float
        Wire diameter, of rectangular wire its side along the axis; and the diameter named by
        `across` [mm].
    coils : float
        The coils named by `count` [-].
    free_length_mm : float or None
        None where it was not measured: it hardly enters the rate [mm].
    ends : Ends
        Kind of ends.
    u_wire_mm, u_diameter_mm, u_coils, u_free_length_mm : float
        Standard uncertainties. The wire's is that of a hand-held caliper on a round wire; the
        others are a judgement, no source.
    small_end_mm : float or None
        The diameter named by `across` at a cone's small end [mm].
    width_mm : float or None
        Side across the axis of rectangular wire; None for round wire [mm].
    u_width_mm : float
        Its standard uncertainty [mm].
    """

    wire_mm: float
    diameter_mm: float
    coils: float
    free_length_mm: float | None = None
    across: Across = Across.OUTSIDE
    count: Count = Count.TOTAL
    ends: Ends = Ends.UNKNOWN
    u_wire_mm: float = 0.02
    u_diameter_mm: float = 0.05
    u_coils: float = 0.1
    u_free_length_mm: float = 0.2
    small_end_mm: float | None = None
    width_mm: float | None = None
    u_width_mm: float = U_SIDE_MM

    @property
    def radial_mm(self) -> float:
        """What the wire takes across the axis [mm]."""
        return self.wire_mm if self.width_mm is None else self.width_mm

    @property
    def mean_mm(self) -> float:
        """Mean coil diameter [mm]."""
        return self.diameter_mm + _STEP[self.across] * self.radial_mm

    @property
    def u_mean_mm(self) -> float:
        """Its standard uncertainty [mm]."""
        u_radial = self.u_wire_mm if self.width_mm is None else self.u_width_mm
        return float(np.hypot(self.u_diameter_mm, _STEP[self.across] * u_radial))


def geometry_of(readings: Readings) -> SpringGeometry:
    """Return the geometry that the readings describe.

    An outside or inside diameter becomes the mean one through the wire, so their errors are
    correlated. Where active coils were counted, the ends' own doubt is already in the total.

    Raises
    ------
    ValueError
        If a reading is impossible; the message says which and why, in one sentence.
    """
    _check(readings)
    step, mean = _STEP[readings.across], readings.mean_mm
    if mean <= readings.radial_mm:
        raise ValueError(
            f"a wire of {readings.radial_mm:g} mm does not fit in a coil of "
            f"{readings.diameter_mm:g} mm {readings.across} diameter; check the two readings "
            "and which diameter was read"
        )
    total, var_coils = _total_coils(readings)
    length, u_length = _free_length(readings, mean, total)
    var_wire = readings.u_wire_mm**2
    covariance = np.diag([var_wire, readings.u_mean_mm**2, var_coils, u_length**2])
    width = None
    if readings.width_mm is None:
        covariance[0, 1] = covariance[1, 0] = step * var_wire
    else:
        u = readings.u_width_mm
        width = Width(readings.width_mm, u, step * u**2)
    values = np.array([readings.wire_mm, mean, total, length])
    return SpringGeometry(values, covariance, readings.ends, *_small_end(readings, mean), width)


def working_geometry(readings: Readings) -> SpringGeometry:
    """Return the geometry to reckon the rate from.

    A person who counted the active coils has settled how many work: then only the working part
    counts, as a spring with plain ends, whose own end doubt of a tenth of a coil is the least.
    """
    full = geometry_of(readings)
    if readings.count is Count.TOTAL:
        return full
    plain = end_rule(Ends.OPEN)
    spare = end_rule(readings.ends).free_length_wires - plain.free_length_wires
    values, covariance = full.values.copy(), full.covariance.copy()
    values[2] = readings.coils
    values[3] = max(values[3] - spare * values[0], values[0])
    covariance[2, 2] = max(readings.u_coils**2 - plain.u_dead_coils**2, 0.0)
    return replace(full, values=values, covariance=covariance, ends=Ends.OPEN)


def without_doubt(readings: Readings) -> Readings:
    """Return the readings taken as exact, as in a textbook's example."""
    return replace(
        readings,
        u_wire_mm=0.0,
        u_diameter_mm=0.0,
        u_coils=0.0,
        u_free_length_mm=0.0,
        u_width_mm=0.0,
    )


def _small_end(readings: Readings, mean: float) -> tuple[float, float]:
    """Return small end over large end, of mean diameters, and its standard uncertainty."""
    if readings.small_end_mm is None:
        return 1.0, 0.0
    ratio = (readings.small_end_mm + _STEP[readings.across] * readings.wire_mm) / mean
    if not 0.05 <= ratio <= 1.0:
        raise ValueError(
            f"the small end ({readings.small_end_mm:g} mm) must lie between the wire and the large "
            f"end ({readings.diameter_mm:g} mm); check both readings"
        )
    return ratio, readings.u_diameter_mm / mean * (1.0 + ratio**2) ** 0.5


def _total_coils(readings: Readings) -> tuple[float, float]:
    rule = end_rule(readings.ends)
    if readings.count is Count.TOTAL:
        if readings.coils <= rule.dead_coils:
            raise ValueError(
                f"{readings.coils:g} total coils leave none to work with {readings.ends} ends, "
                f"which take {rule.dead_coils:g}; count again or name other ends"
            )
        return readings.coils, readings.u_coils**2
    return readings.coils + rule.dead_coils, readings.u_coils**2 + rule.u_dead_coils**2


def _free_length(readings: Readings, mean: float, total: float) -> tuple[float, float]:
    rule = end_rule(readings.ends)
    solid = readings.wire_mm * (total + rule.solid_extra_wires)
    if readings.free_length_mm is not None:
        # A caliper's slip apart, no spring is shorter than its wire laid coil on coil.
        if readings.free_length_mm < 0.95 * solid:
            raise ValueError(
                f"a free length of {readings.free_length_mm:g} mm is shorter than the "
                f"{solid:.3g} mm that {total:g} coils of this wire take when they touch; "
                "check the length, the wire and the count"
            )
        return readings.free_length_mm, readings.u_free_length_mm
    steepest = np.pi * mean * np.tan(np.radians(STEEPEST_HELIX_DEG))
    pitch = max(float(steepest), readings.wire_mm)
    longest = pitch * (total - rule.dead_coils) + rule.free_length_wires * readings.wire_mm
    longest = max(longest, solid)
    return (solid + longest) / 2.0, (longest - solid) / 2.0 / 3.0**0.5


def _check(readings: Readings) -> None:
    named = {
        "wire diameter": (readings.wire_mm, readings.u_wire_mm),
        f"{readings.across} diameter": (readings.diameter_mm, readings.u_diameter_mm),
        f"number of {readings.count} coils": (readings.coils, readings.u_coils),
    }
    if readings.width_mm is not None:
        named["wire's side across the axis"] = (readings.width_mm, readings.u_width_mm)
    if readings.free_length_mm is not None:
        named["free length"] = (readings.free_length_mm, readings.u_free_length_mm)
    if readings.small_end_mm is not None:
        named["small end"] = (readings.small_end_mm, readings.u_diameter_mm)
    for name, (value, u) in named.items():
        if not (np.isfinite(value) and value > 0.0):
            raise ValueError(f"the {name} must be a number above 0, not {value:g}")
        if not (np.isfinite(u) and u >= 0.0):
            raise ValueError(f"the uncertainty of the {name} must be 0 or above it, not {u:g}")
        if u >= value:
            raise ValueError(
                f"an uncertainty of {u:g} is as large as the {name} itself, {value:g}: such a "
                "reading says nothing; type how far it may be off"
            )
