"""The spring's dimensions with their covariance: what a photo, or a caliper, hands over."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from mechanics.ends import Ends, end_rule

#: Order of values and covariance in every `SpringGeometry`.
NAMES = ("wire_diameter_mm", "mean_diameter_mm", "total_coils", "free_length_mm")


@dataclass(frozen=True, slots=True)
class SpringGeometry:
    """Dimensions of a free spring.

    Attributes
    ----------
    values : ndarray, shape (4,)
        In the order of `NAMES` [mm, mm, -, mm].
    covariance : ndarray, shape (4, 4)
        Their covariance: errors of scale are common to the lengths, so never four loose bands.
    ends : Ends
        Kind of ends.

    Raises
    ------
    ValueError
        If a value is not positive, the wire is thicker than the coil, or the covariance is not
        a symmetric positive semi-definite matrix of that shape.
    """

    values: NDArray[np.float64]
    covariance: NDArray[np.float64]
    ends: Ends = Ends.UNKNOWN

    def __post_init__(self) -> None:
        values = np.array(self.values, dtype=np.float64)
        covariance = np.array(self.covariance, dtype=np.float64)
        if values.shape != (4,) or covariance.shape != (4, 4):
            raise ValueError("a geometry has four values and a 4 x 4 covariance")
        for name, value in zip(NAMES, values, strict=True):
            if not (np.isfinite(value) and value > 0.0):
                raise ValueError(f"{name} must be a positive number, not {value!r}")
        if values[0] >= values[1]:
            raise ValueError("wire_diameter_mm must be smaller than mean_diameter_mm")
        scale = np.abs(covariance).max() or 1.0
        if not np.allclose(covariance, covariance.T, atol=1e-9 * scale):
            raise ValueError("the covariance must be symmetric")
        if np.linalg.eigvalsh(covariance).min() < -1e-9 * scale:
            raise ValueError("the covariance must have no negative eigenvalue")
        for array in (values, covariance):
            array.setflags(write=False)
        object.__setattr__(self, "values", values)
        object.__setattr__(self, "covariance", covariance)

    @property
    def active_coils(self) -> float:
        """Total coils less those that the ends keep from working [-].

        Raises
        ------
        ValueError
            If the ends leave no coil to work.
        """
        active = float(self.values[2]) - end_rule(self.ends).dead_coils
        if active <= 0.0:
            raise ValueError(f"{self.values[2]:g} total coils leave no active coil")
        return active

    @property
    def pitch_mm(self) -> float:
        """Pitch of the active coils, from the free length and the ends [mm]."""
        d, length = float(self.values[0]), float(self.values[3])
        return (length - end_rule(self.ends).free_length_wires * d) / self.active_coils
