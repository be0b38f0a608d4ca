"""The spring's dimensions with their covariance: what a photo, or a caliper, hands over."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from mechanics.check import require_coil, require_dimension, require_not_negative
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
    small_end_ratio, u_small_end_ratio : float
        Mean diameter of a cone's small end over that of its large end, and its standard
        uncertainty [-]: 1 for a cylinder. The mean diameter in `values` is the large end's.

    Raises
    ------
    ValueError
        If a value is not positive or no spring has it, the wire is thicker than the coil, the
        turns cannot fit in the free length, or the covariance is not a symmetric positive
        semi-definite matrix of that shape. The message names the field.
    """

    values: NDArray[np.float64]
    covariance: NDArray[np.float64]
    ends: Ends = Ends.UNKNOWN
    small_end_ratio: float = 1.0
    u_small_end_ratio: float = 0.0

    def __post_init__(self) -> None:
        values = np.array(self.values, dtype=np.float64)
        covariance = np.array(self.covariance, dtype=np.float64)
        if values.shape != (4,) or covariance.shape != (4, 4):
            raise ValueError("a geometry has four values and a 4 x 4 covariance")
        for name, value in zip(NAMES, values, strict=True):
            require_dimension(name, float(value))
        if not 0.05 <= self.small_end_ratio <= 1.0:
            raise ValueError(f"small_end_ratio must be 0.05 to 1, not {self.small_end_ratio!r}")
        require_not_negative(u_small_end_ratio=self.u_small_end_ratio)
        d, D, n_t, length = (float(v) for v in values)
        require_coil(d, D)
        _require_length(d, D, n_t, length, self.small_end_ratio)
        if not bool(np.isfinite(covariance).all()):
            raise ValueError("the covariance must hold numbers only")
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
        """Pitch of the active coils, from the free length and the ends [mm].

        The coils of an extension spring touch; its free length holds the hooks as well.
        """
        if self.ends is Ends.HOOKS:
            return float(self.values[0])
        d, length = float(self.values[0]), float(self.values[3])
        rule = end_rule(self.ends)
        return (length - rule.free_length_wires * d) / (self.active_coils + rule.extra_pitches)


def _require_length(d: float, D: float, n_t: float, length: float, ratio: float) -> None:
    """Refuse a free length that the turns cannot have, with room for uncertain readings."""
    if ratio == 1.0 and length < 0.7 * d * n_t:
        raise ValueError(
            f"free_length_mm ({length:g}) is less than {n_t:g} turns of {d:g} mm wire pressed "
            "solid: check the turns, and whether the length is in millimetres"
        )
    if length > 3.5 * D * max(n_t, 1.0) + 2.0 * D:
        raise ValueError(
            f"free_length_mm ({length:g}) is too long for {n_t:g} turns of {D:g} mm diameter: "
            "check the turns, and whether the lengths are in one unit"
        )
