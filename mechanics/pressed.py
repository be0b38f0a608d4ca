"""Drawn compression springs pressed to a length or by a force, whether their rate is one or rises.

A cylinder's force is its rate times its deflection. A cone's coils close one after another, so its
force is read off its coils (`mechanics.coils`), draw by draw.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from mechanics.coils import CoilPlan
from mechanics.curve import force_onward, is_cone, plan_draws
from mechanics.draws import SpringDraws
from mechanics.ends import Ends

Array = NDArray[np.float64]

#: Coil by coil is slower: so many draws give a cone's band to 3 % of itself.
_CONE_DRAWS = 1_000
RISES = "A cone's coils close one after another: its rate rises on the way in."


@dataclass(frozen=True, slots=True)
class Pressed:
    """Springs that can be pressed; every array has one place a draw.

    Attributes
    ----------
    draws : SpringDraws
        The springs; of cones the first thousand.
    coils : CoilPlan or None
        Their coils where they taper.
    """

    draws: SpringDraws
    coils: CoilPlan | None

    def force(self, deflection: Array) -> Array:
        """Return the force at deflections of shape (n,), in N.

        Parameters
        ----------
        deflection : ndarray, shape (n,)
            From free [mm]; beyond solid the force goes on as steeply.
        """
        if self.coils is None:
            return np.asarray(self.draws.rate_N_per_mm * deflection)
        knots = zip(deflection, *self.coils.knots(), strict=True)
        return np.array([force_onward(np.array([at]), s, F)[0] for at, s, F in knots])

    def deflection(self, force: Array) -> Array:
        """Return the deflection under forces of shape (n,), in mm; a cone's ends at solid.

        Parameters
        ----------
        force : ndarray, shape (n,)
            [N].
        """
        if self.coils is None:
            return np.asarray(force / self.draws.rate_N_per_mm)
        return np.asarray(self.coils.deflection(force[:, None])[:, 0])

    def rate(self, force: Array) -> Array:
        """Return the slope at forces of shape (n,), in N/mm.

        Parameters
        ----------
        force : ndarray, shape (n,)
            [N].
        """
        if self.coils is None:
            return self.draws.rate_N_per_mm
        # Of a spring gone solid, that of its last coil.
        last = np.maximum(0.999 * self.coils.solid_N, 0.0)
        still_open = self.coils.closing_force > np.minimum(force, last)[:, None]
        share = self.coils.turns * self.coils.compliance
        return np.asarray(1.0 / (share * still_open).sum(axis=-1))

    def energy_mJ(self, deflection: Array, force: Array) -> Array:
        """Return the energy stored at deflections [mm] under their forces [N], in mJ."""
        if self.coils is None:
            return np.asarray(0.5 * deflection * force)
        return self.coils.stored_mJ(force)

    def travel_mm(self, solid_mm: Array) -> Array:
        """Return the deflection to solid, shape (n,), in mm; a cone's follows from its coils.

        Parameters
        ----------
        solid_mm : ndarray, shape (n,)
            Solid length of a cylinder [mm].
        """
        if self.coils is not None:
            return self.coils.travel_mm
        return np.asarray(np.maximum(self.draws.free_length_mm - solid_mm, 0.0))

    def solid_N(self, solid_mm: Array) -> Array:
        """Return the force that presses the springs solid, shape (n,), in N.

        Parameters
        ----------
        solid_mm : ndarray, shape (n,)
            Solid length of a cylinder [mm].
        """
        if self.coils is not None:
            return self.coils.solid_N
        return self.force(self.travel_mm(solid_mm))

    @property
    def cautions(self) -> tuple[str, ...]:
        """What is said of springs whose rate rises."""
        return () if self.coils is None else (RISES,)


def press(draws: SpringDraws) -> Pressed:
    """Return drawn springs made ready to be pressed.

    Parameters
    ----------
    draws : SpringDraws
        Compression springs, cylinders or cones.

    Raises
    ------
    ValueError
        If they are extension springs.
    """
    if draws.ends is Ends.HOOKS:
        raise ValueError("ends are hooks: an extension spring does not go between seats")
    if not is_cone(draws):
        return Pressed(draws, None)
    few = draws.take(np.arange(min(draws.size, _CONE_DRAWS)))
    # A cone's travel follows from its coils, not from this length.
    return Pressed(few, plan_draws(few, few.free_length_mm))


def paired(first: SpringDraws, second: SpringDraws) -> tuple[Pressed, Pressed]:
    """Return two springs with as many draws each, paired in their order.

    Parameters
    ----------
    first, second : SpringDraws
        Compression springs.
    """
    one, two = press(first), press(second)
    at = np.arange(min(one.draws.size, two.draws.size))
    return press(one.draws.take(at)), press(two.draws.take(at))
