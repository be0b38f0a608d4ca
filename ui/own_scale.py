"""The owner's own reading of the spring as the scale: ``self:outside=14.2``."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from mechanics.geometry import SpringGeometry

#: What may be read, as weights of the geometry's values (wire, mean diameter, coils, length).
READABLE = {
    "outside": np.array([1.0, 1.0, 0.0, 0.0]),
    "wire": np.array([1.0, 0.0, 0.0, 0.0]),
    "length": np.array([0.0, 0.0, 0.0, 1.0]),
}
#: Hand-held caliper, standard uncertainty: a judgement, no source [mm].
USUAL_U_MM = 0.03


@dataclass(frozen=True, slots=True)
class OwnReading:
    """One dimension that the owner read.

    Attributes
    ----------
    what : str
        ``wire``, ``outside`` or ``length``.
    value_mm, u_mm : float
        The reading and its standard uncertainty [mm].
    """

    what: str
    value_mm: float
    u_mm: float = USUAL_U_MM


def parse_own_reading(kind: str, u_mm: float = USUAL_U_MM) -> OwnReading:
    """Return the reading that a reference's name carries.

    Parameters
    ----------
    kind : str
        Such as ``self:outside=14.2``.
    u_mm : float
        Its standard uncertainty [mm].

    Raises
    ------
    ValueError
        If the name is not of that form.

    Examples
    --------
    >>> parse_own_reading("self:outside=14.2")
    OwnReading(what='outside', value_mm=14.2, u_mm=0.03)
    """
    what, _, number = kind.removeprefix("self:").partition("=")
    try:
        value = float(number)
    except ValueError:
        value = -1.0
    if what not in READABLE or not (np.isfinite(value) and value > 0.0):
        raise ValueError(
            f"{kind!r} names no reading; write self:outside=14.2, self:length=40 or "
            "self:wire=1.2, in mm"
        )
    if not (np.isfinite(u_mm) and u_mm >= 0.0):
        raise ValueError("the uncertainty of the reading must be 0 or a number above it, in mm")
    return OwnReading(what, value, u_mm)


def scaled_by_reading(geometry: SpringGeometry, reading: OwnReading) -> SpringGeometry:
    """Return a geometry known up to its size, brought to the size that was read.

    Every length is the reading times its ratio to the dimension read, so the ratio's own error
    cancels in that dimension and the reading's error is common to all lengths.

    Parameters
    ----------
    geometry : SpringGeometry
        Proportions, in any unit of length.
    reading : OwnReading
        What the owner read [mm].

    Raises
    ------
    ValueError
        If no spring has the dimensions that follow.
    """
    weights = READABLE[reading.what]
    read = float(weights @ geometry.values)
    factor = reading.value_mm / read
    is_length = np.array([1.0, 1.0, 0.0, 1.0])
    grown: NDArray[np.float64] = np.where(is_length > 0.0, factor, 1.0) * geometry.values
    # d(x_i * R / r) = (R / r) dx_i - x_i (R / r^2) dr, and + (x_i / r) dR for the reading.
    jacobian = np.diag(np.where(is_length > 0.0, factor, 1.0))
    jacobian -= np.outer(is_length * grown, weights) / read
    out = replace(geometry, values=grown)
    common = effect_of_reading(out, reading)
    covariance = jacobian @ geometry.covariance @ jacobian.T + np.outer(common, common)
    return replace(out, covariance=(covariance + covariance.T) / 2.0)


def effect_of_reading(geometry: SpringGeometry, reading: OwnReading) -> NDArray[np.float64]:
    """Return what the reading's standard uncertainty does to the values, shape (4,).

    Parameters
    ----------
    geometry : SpringGeometry
        Brought to the size that was read.
    reading : OwnReading
        What the owner read [mm].
    """
    is_length = np.array([1.0, 1.0, 0.0, 1.0])
    return np.asarray(is_length * geometry.values / reading.value_mm * reading.u_mm)
