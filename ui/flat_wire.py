"""A spring seen in a photo whose wire is rectangular: what the photo and its owner know of it."""

from dataclasses import replace

import numpy as np

from mechanics.geometry import SpringGeometry, Width
from mechanics.readings import width_reading, wire_reading
from mechanics.slips import Reading
from mechanics.whole_readings import photo_reading
from ui.caliper import U_SIDE_MM


def seen_as_flat(
    geometry: SpringGeometry, radial_mm: float, axial_mm: float | None
) -> tuple[SpringGeometry, tuple[Reading, ...]]:
    """Return what a photo showed as round wire as rectangular wire, and what that rests on.

    The outline's outside diameter stands; what it shows of the wire is its side along the axis.

    Parameters
    ----------
    geometry : SpringGeometry
        As seen.
    radial_mm : float
        Side across the axis, by caliper [mm].
    axial_mm : float or None
        Side along the axis, None to take what was seen [mm].

    Raises
    ------
    ValueError
        If no spring is like that; the message names the field.
    """
    # From wire and mean diameter as seen to the side along the axis and the new mean diameter.
    turn = np.eye(4)
    turn[1, 0] = 1.0
    values, covariance = turn @ geometry.values, turn @ geometry.covariance @ turn.T
    values[1] -= radial_mm
    covariance[1, 1] += U_SIDE_MM**2
    base = [photo_reading(geometry), width_reading(radial_mm, U_SIDE_MM)]
    if axial_mm is not None:
        values[0] = axial_mm
        covariance[0, :] = covariance[:, 0] = 0.0
        covariance[0, 0] = U_SIDE_MM**2
        base.append(wire_reading(axial_mm, U_SIDE_MM, "wire along the axis"))
    width = Width(radial_mm, U_SIDE_MM, -(U_SIDE_MM**2))
    flat = replace(geometry, values=values, covariance=covariance, width=width)
    return flat, tuple(base)
