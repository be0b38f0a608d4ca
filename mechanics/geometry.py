"""The spring's dimensions with their covariance: what a photo, or a caliper, hands over."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from mechanics.check import require_coil, require_dimension, require_not_negative
from mechanics.ends import Ends, end_rule
from mechanics.section import Rectangular, Round, Section

#: Order of values and covariance in every `SpringGeometry`.
NAMES = ("wire_diameter_mm", "mean_diameter_mm", "total_coils", "free_length_mm")


@dataclass(frozen=True, slots=True)
class Width:
    """The side across the axis of rectangular wire.

    Attributes
    ----------
    value_mm, u_mm : float
        Side and standard uncertainty [mm].
    with_mean_mm2 : float
        Its covariance with the mean diameter: a diameter read outside or inside becomes the
        mean one through this side [mm^2].

    Raises
    ------
    ValueError
        If no wire is like that; the message names the field.
    """

    value_mm: float
    u_mm: float = 0.0
    with_mean_mm2: float = 0.0

    def __post_init__(self) -> None:
        require_dimension("wire_width_mm", self.value_mm)
        require_not_negative(u_wire_width_mm=self.u_mm)


@dataclass(frozen=True, slots=True)
class SpringGeometry:
    """Dimensions of a free spring.

    Attributes
    ----------
    values : ndarray, shape (4,)
        In the order of `NAMES` [mm, mm, -, mm]. Of rectangular wire the first is its side along
        the axis.
    covariance : ndarray, shape (4, 4)
        Their covariance: errors of scale are common to the lengths, so never four loose bands.
    ends : Ends
        Kind of ends.
    small_end_ratio, u_small_end_ratio : float
        Mean diameter of a cone's small end over that of its large end, and its standard
        uncertainty [-]: 1 for a cylinder. The mean diameter in `values` is the large end's.
    width : Width or None
        Of rectangular wire its side across the axis; None for round wire.

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
    width: Width | None = None

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
        if self.width is not None:
            _require_flat(self.width.value_mm, D, self.ends, self.small_end_ratio)
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
    def section(self) -> Section:
        """The wire's section, its arrays of shape (1,)."""
        if self.width is None:
            return Round(self.values[:1])
        return Rectangular(np.array([self.width.value_mm]), self.values[:1])

    @property
    def with_width(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Values and covariance; of rectangular wire the side across the axis comes fifth."""
        if self.width is None:
            return self.values, self.covariance
        values, covariance = np.append(self.values, self.width.value_mm), np.zeros((5, 5))
        covariance[:4, :4] = self.covariance
        covariance[1, 4] = covariance[4, 1] = self.width.with_mean_mm2
        covariance[4, 4] = self.width.u_mm**2
        return values, covariance

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


def _require_flat(width: float, D: float, ends: Ends, ratio: float) -> None:
    """Refuse rectangular wire that does not go with its coil, or a form that is not reckoned."""
    require_coil(width, D, "wire_width_mm")
    if ratio < 1.0:
        raise ValueError("wire_width_mm: cones are reckoned for round wire only")
    if ends is Ends.HOOKS:
        raise ValueError("wire_width_mm: extension springs are reckoned for round wire only")


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
