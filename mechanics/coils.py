"""The working coils of a spring, step by step: what each gives way, and when it closes.

The working wire is cut into short steps. Each has its own coil diameter, so its own compliance,
and its own gap, so its own closing force; under a force F the spring gives the sum over steps of
min(F, closing force) times compliance. Cylinders, cones and springs of changing pitch are one case.

References
----------
.. [1] Local-coil argument, computed; the same idea as Rodriguez, Paredes and Sartor, J. Mech.
   Design 128, 2006 (from memory).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from mechanics.check import Floats, require_coil, require_positive
from mechanics.section import Round, Section

Array = NDArray[np.float64]

#: Turns [-] and pitch [mm] of each stretch of working coils, for a pitch that changes along it.
Runs = Sequence[tuple[float, float]]

_STEPS_PER_TURN = 24
_MAX_STEPS = 480
#: Deflections that lie closer than this share of the whole are one.
_ROUNDING = 1e-11


@dataclass(frozen=True, slots=True)
class CoilPlan:
    """The working coils in steps, every array of shape (..., m).

    Attributes
    ----------
    stress_per_newton : ndarray
        Highest shear stress of each step under unit force, with its factor [MPa/N].
    turns : ndarray
        Turns in each step [-].
    compliance : ndarray
        Deflection of a turn under unit force there [mm/N].
    closing_force : ndarray
        Force at which that part touches its neighbour [N].
    """

    stress_per_newton: Array
    turns: Array
    compliance: Array
    closing_force: Array

    def deflection(self, force: Array) -> Array:
        """Return the deflection under forces of shape (..., k), in mm.

        Parameters
        ----------
        force : ndarray, shape (..., k)
            [N].
        """
        limited = np.minimum(force[..., :, None], self.closing_force[..., None, :])
        share = self.turns * self.compliance
        return np.asarray((limited * share[..., None, :]).sum(axis=-1))

    @property
    def rate(self) -> Array:
        """Rate before any coil closes [N/mm]."""
        return np.asarray(1.0 / (self.turns * self.compliance).sum(axis=-1))

    @property
    def first_contact_N(self) -> Array:
        """Force at which the first working coil closes [N]."""
        return np.asarray(self.closing_force.min(axis=-1))

    @property
    def solid_N(self) -> Array:
        """Force at which the last working coil closes [N]."""
        return np.asarray(self.closing_force.max(axis=-1))

    @property
    def travel_mm(self) -> Array:
        """Deflection with every working coil closed [mm]."""
        return np.asarray((self.turns * self.compliance * self.closing_force).sum(axis=-1))

    @property
    def energy_mJ(self) -> Array:
        """Energy stored with every working coil closed [mJ]."""
        return self.stored_mJ(self.solid_N)

    def stored_mJ(self, force: Array) -> Array:
        """Return the energy stored under one force a spring, in mJ.

        Parameters
        ----------
        force : ndarray, shape (...)
            [N].
        """
        borne = np.minimum(force[..., None], self.closing_force)
        return np.asarray((0.5 * self.turns * self.compliance * borne**2).sum(axis=-1))

    def knots(self) -> tuple[Array, Array]:
        """Return deflections [mm] and forces [N] at which coils close, shape (..., m + 1).

        They start at nothing; between them a spring is straight.
        """
        order = np.argsort(self.closing_force, axis=-1)
        force = np.take_along_axis(self.closing_force, order, axis=-1)
        share = np.take_along_axis(self.turns * self.compliance, order, axis=-1)
        still_open = np.cumsum(share[..., ::-1], axis=-1)[..., ::-1]
        steps = np.diff(force, axis=-1, prepend=0.0) * still_open
        nothing = np.zeros((*force.shape[:-1], 1))
        deflection = np.concatenate([nothing, np.cumsum(steps, axis=-1)], axis=-1)
        return deflection, np.concatenate([nothing, force], axis=-1)

    def force_reaching(self, tau: Array) -> Array:
        """Return the lowest force at which some coil bears a shear stress; infinite if none does.

        A closed coil bears no more than at its closing.

        Parameters
        ----------
        tau : ndarray, shape (...)
            Shear stress [MPa].
        """
        needed = tau[..., None] / self.stress_per_newton
        reached = needed <= self.closing_force
        return np.asarray(np.where(reached, needed, np.inf).min(axis=-1))

    @property
    def solid_stress_MPa(self) -> Array:
        """Highest stress with every working coil closed [MPa]."""
        return self.stress_MPa(self.solid_N)

    def stress_MPa(self, force: Array) -> Array:
        """Return the highest stress under one force a spring, in MPa.

        Parameters
        ----------
        force : ndarray, shape (...)
            [N].
        """
        borne = np.minimum(force[..., None], self.closing_force)
        return np.asarray((borne * self.stress_per_newton).max(axis=-1))


def plan_coils(wire: Section, D: Array, p: Array, gap: Array, turns: Array, G: Array) -> CoilPlan:
    """Return the plan of working coils; arrays that go together by broadcasting.

    Parameters
    ----------
    wire : Section
        Of the wire, its arrays of shape (..., m) or (..., 1).
    D, p : ndarray, shape (..., m)
        Local mean diameter, local pitch [mm].
    gap : ndarray, shape (..., m)
        How far a turn goes until it touches [mm].
    turns : ndarray, shape (..., m)
        Turns in each step [-].
    G : ndarray, shape (..., m)
        Shear modulus [MPa].
    """
    require_positive(d=wire.radial, D=D, p=p, turns=turns, G=G)
    angle = np.degrees(np.arctan(p / (np.pi * D)))
    compliance = wire.turn_compliance(D, G) * wire.softness(D, angle)
    closing = np.maximum(gap, 1e-9) / compliance
    return CoilPlan(*np.broadcast_arrays(wire.stress_per_newton(D), turns, compliance, closing))


def nested_rise(d: Floats, step: Floats) -> Floats:
    """Return how far above the last coil the next one rests, in mm.

    A turn touches the next where their centre lines are one wire apart; if the radius changes by
    a whole wire they pass each other, and it goes down to the plane instead.

    Parameters
    ----------
    d : float
        Wire diameter [mm].
    step : float
        Change of the coil's radius in a turn [mm].
    """
    return np.sqrt(np.maximum(d**2 - step**2, 0.0))


def plan_cone(d: float, D_large: float, D_small: float, n: float, p: float, G: float) -> CoilPlan:
    """Return the plan of a cone, or of a cylinder, wound at constant pitch.

    Parameters
    ----------
    d, D_large, D_small : float
        Wire diameter, mean diameters at the two ends of the working coils [mm].
    n : float
        Active coils [-].
    p : float
        Pitch [mm].
    G : float
        Shear modulus [MPa].
    """
    require_positive(active_coils=n, pitch_mm=p)
    require_coil(d, D_large)
    require_coil(d, D_small)
    m = steps(n)
    middle = (np.arange(m) + 0.5) / m
    D = D_large + (D_small - D_large) * middle
    step = abs(D_large - D_small) / 2.0 / n
    full = np.full(m, 1.0)
    gap = p - nested_rise(d, step)
    return plan_coils(Round(d * full), D, p * full, gap * full, full * n / m, G * full)


def check_runs(d: float, runs: Runs) -> None:
    """Refuse stretches of turns and pitch that no spring has.

    Parameters
    ----------
    d : float
        Wire diameter [mm].
    runs : sequence of (float, float)
        Turns [-] and pitch [mm] of each stretch of working coils.

    Raises
    ------
    ValueError
        If there is no stretch, or a pitch is less than the wire.
    """
    if not runs:
        raise ValueError("runs must hold at least one stretch of turns and pitch")
    for count, pitch in runs:
        require_positive(run_turns=count, run_pitch_mm=pitch)
        if pitch < d:
            raise ValueError(f"run_pitch_mm ({pitch:g}) must be at least the wire ({d:g} mm)")


def steps(n: float) -> int:
    """Return into how many steps working coils are cut [-].

    Parameters
    ----------
    n : float
        Working coils [-].
    """
    return int(np.clip(np.ceil(_STEPS_PER_TURN * n), _STEPS_PER_TURN, _MAX_STEPS))


def trace(plan: CoilPlan, points: int = 60) -> tuple[Array, Array]:
    """Return deflection [mm] and force [N] of one spring from free to solid, shape (k,).

    Parameters
    ----------
    plan : CoilPlan
        Of one spring, arrays of shape (m,).
    points : int
        How many between free and solid; every closing force is met as well [-].
    """
    force = np.union1d(np.linspace(0.0, float(plan.solid_N), points), plan.closing_force)
    deflection = plan.deflection(force)
    # Coils that close together up to rounding would make a slope of rounding alone.
    apart = np.append(np.diff(deflection) > _ROUNDING * deflection[-1], True)
    return deflection[apart], force[apart]
