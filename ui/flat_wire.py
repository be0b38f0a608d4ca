"""A spring of rectangular wire by its readings: what is told of it, from caliper or photo."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from mechanics.ends import Ends
from mechanics.geometry import SpringGeometry
from mechanics.materials import Material
from mechanics.rectangular import estimate_rectangular
from mechanics.uncertainty import Quantity
from ui.answer import SEED

#: Of a side by a hand-held caliper, rounded corners and all (a judgement, no source) [mm].
U_SIDE_MM = 0.03


@dataclass(frozen=True, slots=True)
class FlatReadings:
    """What was read off a spring of rectangular wire, each with its standard uncertainty.

    Attributes
    ----------
    radial_mm, axial_mm : (float, float)
        Sides of the wire across and along the spring's axis [mm].
    mean_mm : (float, float)
        Mean coil diameter [mm].
    coils : (float, float)
        Total coils [-].
    ends : Ends
        Kind of ends.
    """

    radial_mm: tuple[float, float]
    axial_mm: tuple[float, float]
    mean_mm: tuple[float, float]
    coils: tuple[float, float]
    ends: Ends = Ends.UNKNOWN


def flat_told(readings: FlatReadings, material: Material) -> Mapping[str, Quantity]:
    """Return the rate and the dimensions by name [N/mm, mm, -].

    Raises
    ------
    ValueError
        If no spring is like that; the message names the field.
    """
    found = estimate_rectangular(
        readings.radial_mm,
        readings.axial_mm,
        readings.mean_mm,
        readings.coils,
        readings.ends,
        material,
        np.random.default_rng(SEED),
    )
    (radial, u_radial), (mean, u_mean) = readings.radial_mm, readings.mean_mm
    told = {
        "rate_N_per_mm": found.rate_N_per_mm,
        "wire_width_mm": _banded(radial, u_radial),
        "wire_height_mm": _banded(*readings.axial_mm),
        "outer_diameter_mm": _banded(mean + radial, float(np.hypot(u_mean, u_radial))),
        "mean_diameter_mm": _banded(mean, u_mean),
        "total_coils": _banded(*readings.coils),
        "active_coils": found.active_coils,
        "solid_length_mm": found.solid_length_mm,
    }
    return MappingProxyType(told)


def seen_as_flat(
    geometry: SpringGeometry, radial_mm: float, axial_mm: float | None
) -> FlatReadings:
    """Return what a photo showed as round wire as rectangular wire of these sides.

    The outline's outside diameter stands; what it shows of the wire is its side along the axis.

    Parameters
    ----------
    geometry : SpringGeometry
        As seen.
    radial_mm : float
        Side across the axis, by caliper [mm].
    axial_mm : float or None
        Side along the axis, None to take what was seen [mm].
    """
    values, cov = geometry.values, geometry.covariance
    outside = float(values[0] + values[1])
    u_outside = float(cov[0, 0] + cov[1, 1] + 2.0 * cov[0, 1]) ** 0.5
    axial = (float(values[0]), float(cov[0, 0]) ** 0.5)
    return FlatReadings(
        (radial_mm, U_SIDE_MM),
        axial if axial_mm is None else (axial_mm, U_SIDE_MM),
        (outside - radial_mm, float(np.hypot(u_outside, U_SIDE_MM))),
        (float(values[2]), float(cov[2, 2]) ** 0.5),
        geometry.ends,
    )


def _banded(value: float, u: float) -> Quantity:
    return Quantity(value, u, value - 1.96 * u, value + 1.96 * u)
