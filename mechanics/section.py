"""The wire's section, round or rectangular: how a turn of it gives way, and what it bears.

Every array has one place a drawn spring, shape (n,) or (n, 1). Diameters and forces go with it.
"""

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from mechanics.rate import bergstraesser_factor, softness
from mechanics.rectangular import curved, pitch_terms, torsion_constant, torsion_modulus

Array = NDArray[np.float64]

#: Rolled, rounded corners of rectangular wire, relative standard uncertainty of the rate: common
#: practice, no source [-].
RECTANGULAR_U = 0.03


class Section(Protocol):
    """What is asked of a section; lengths in mm, forces in N, moduli in MPa."""

    @property
    def radial(self) -> Array:
        """Side across the coil's axis [mm]."""

    @property
    def axial(self) -> Array:
        """Side along it [mm]."""

    @property
    def area(self) -> Array:
        """[mm^2]."""

    @property
    def perimeter(self) -> Array:
        """[mm]."""

    @property
    def torsion_over_bending(self) -> tuple[Array, Array]:
        """Torsion constant over the second moments within a coil's plane and out of it [-]."""

    def softness(self, D: Array, alpha_deg: Array) -> Array:
        """By what the straight bar's rate is divided for curvature and pitch [-]."""

    def formula_u(self, D: Array, alpha_deg: Array) -> Array:
        """Relative standard uncertainty of those terms and of what they leave out [-]."""

    def turn_compliance(self, D: Array, G: Array) -> Array:
        """Deflection of a turn under unit force as a straight bar [mm/N]."""

    def stress_factor(self, D: Array) -> Array:
        """Highest stress over that of the straight bar [-]."""

    def stress_per_newton(self, D: Array) -> Array:
        """Highest shear stress under unit force [MPa/N]."""

    def column(self) -> "Section":
        """Return the same with a second axis, to go with steps along the wire."""


@dataclass(frozen=True, slots=True)
class Round:
    """Round wire, by its diameter [mm]."""

    diameter: Array

    @property
    def radial(self) -> Array:
        """Side across the coil's axis [mm]."""
        return self.diameter

    @property
    def axial(self) -> Array:
        """Side along it [mm]."""
        return self.diameter

    @property
    def area(self) -> Array:
        """[mm^2]."""
        return np.asarray(np.pi / 4.0 * self.diameter**2)

    @property
    def perimeter(self) -> Array:
        """[mm]."""
        return np.asarray(np.pi * self.diameter)

    @property
    def torsion_over_bending(self) -> tuple[Array, Array]:
        """Torsion constant over the second moments within a coil's plane and out of it [-]."""
        two = np.full_like(self.diameter, 2.0)
        return two, two

    def softness(self, D: Array, alpha_deg: Array) -> Array:
        """By what the straight bar's rate is divided for curvature and pitch [-]."""
        return np.asarray(softness(D / self.diameter, alpha_deg))

    def formula_u(self, D: Array, alpha_deg: Array) -> Array:
        """Relative standard uncertainty of those terms [-].

        The often quoted pitch coefficient 1.269 exceeds the rod's by 1; a quarter of that
        difference and of the curvature term are carried as standard uncertainties.
        """
        tan2 = np.tan(np.radians(alpha_deg)) ** 2
        return np.asarray(np.hypot(0.25 * 3.0 / (16.0 * (D / self.diameter) ** 2), 0.25 * tan2))

    def turn_compliance(self, D: Array, G: Array) -> Array:
        """Deflection of a turn under unit force as a straight bar, 8 D^3/(G d^4) [mm/N]."""
        return np.asarray(8.0 * D**3 / (G * self.diameter**4))

    def stress_factor(self, D: Array) -> Array:
        """Bergstraesser's [-]."""
        return np.asarray(bergstraesser_factor(D / self.diameter))

    def stress_per_newton(self, D: Array) -> Array:
        """Highest shear stress under unit force [MPa/N]."""
        return np.asarray(self.stress_factor(D) * 8.0 * D / (np.pi * self.diameter**3))

    def column(self) -> "Round":
        """Return the same with a second axis, to go with steps along the wire."""
        return Round(self.diameter[:, None])


@dataclass(frozen=True, slots=True)
class Rectangular:
    """Rectangular wire, by its sides across and along the coil's axis [mm].

    What curvature does is reckoned once, at the middle of the draws: it varies slowly.
    """

    width: Array
    height: Array

    @property
    def radial(self) -> Array:
        """Side across the coil's axis [mm]."""
        return self.width

    @property
    def axial(self) -> Array:
        """Side along it [mm]."""
        return self.height

    @property
    def area(self) -> Array:
        """[mm^2]; corners are taken as sharp."""
        return self.width * self.height

    @property
    def perimeter(self) -> Array:
        """[mm]."""
        return 2.0 * (self.width + self.height)

    @property
    def torsion_over_bending(self) -> tuple[Array, Array]:
        """Torsion constant over the second moments within a coil's plane and out of it [-]."""
        J = torsion_constant(self.width, self.height)
        within = self.height * self.width**3 / 12.0
        return np.asarray(J / within), np.asarray(J / (self.width * self.height**3 / 12.0))

    def softness(self, D: Array, alpha_deg: Array) -> Array:
        """By what the straight bar's rate is divided for curvature and pitch [-].

        The pitch term is midway between ends held against turning and free to turn.
        """
        free, held = pitch_terms(self.width, self.height, alpha_deg)
        return np.asarray(0.5 * (free + held) / self._curved(D)[0])

    def formula_u(self, D: Array, alpha_deg: Array) -> Array:
        """Relative standard uncertainty [-]: rolled corners, and how the ends are held."""
        free, held = pitch_terms(self.width, self.height, alpha_deg)
        ends = np.abs(free - held) / (free + held) / 3.0**0.5
        return np.asarray(np.hypot(RECTANGULAR_U, ends))

    def turn_compliance(self, D: Array, G: Array) -> Array:
        """Deflection of a turn under unit force as a straight bar, pi D^3/(4 G J) [mm/N]."""
        return np.asarray(np.pi * D**3 / (4.0 * G * torsion_constant(self.width, self.height)))

    def stress_factor(self, D: Array) -> Array:
        """Highest stress over that of the straight bar [-]."""
        return np.full(np.broadcast(D, self.width).shape, self._curved(D)[1])

    def stress_per_newton(self, D: Array) -> Array:
        """Highest shear stress under unit force [MPa/N]."""
        straight = 0.5 * D / torsion_modulus(self.width, self.height)
        return np.asarray(self._curved(D)[1] * straight)

    def column(self) -> "Rectangular":
        """Return the same with a second axis, to go with steps along the wire."""
        return Rectangular(self.width[:, None], self.height[:, None])

    def _curved(self, D: Array) -> tuple[float, float]:
        middle = (float(np.median(a)) for a in (self.width, self.height, D))
        return curved(*middle)
