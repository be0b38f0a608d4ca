"""Load against deflection, coil by coil: coils that touch drop out one after another.

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
from mechanics.draws import SpringDraws
from mechanics.load import force_at_stress, shear_stress
from mechanics.rate import bergstraesser_factor, softness

Array = NDArray[np.float64]

_STEPS_PER_TURN = 24
_MAX_STEPS = 480
_BAND_DRAWS = 400


@dataclass(frozen=True, slots=True)
class CoilPlan:
    """The working coils in steps, every array of shape (..., m).

    Attributes
    ----------
    wire_diameter_mm, mean_diameter_mm : ndarray
        Of each step [mm].
    turns : ndarray
        Turns in each step [-].
    compliance : ndarray
        Deflection of a turn under unit force there [mm/N].
    closing_force : ndarray
        Force at which that part touches its neighbour [N].
    """

    wire_diameter_mm: Array
    mean_diameter_mm: Array
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
        share = 0.5 * self.turns * self.compliance * self.closing_force**2
        return np.asarray(share.sum(axis=-1))

    def force_reaching(self, tau: Array) -> Array:
        """Return the lowest force at which some coil bears a shear stress; infinite if none does.

        Stress with Bergstraesser's factor. A closed coil bears no more than at its closing.

        Parameters
        ----------
        tau : ndarray, shape (...)
            Shear stress [MPa].
        """
        factor = np.asarray(bergstraesser_factor(self.mean_diameter_mm / self.wire_diameter_mm))
        needed = np.asarray(
            force_at_stress(tau[..., None], self.wire_diameter_mm, self.mean_diameter_mm, factor)
        )
        reached = needed <= self.closing_force
        return np.asarray(np.where(reached, needed, np.inf).min(axis=-1))

    @property
    def solid_stress_MPa(self) -> Array:
        """Highest stress with every working coil closed, Bergstraesser's factor [MPa]."""
        d, D = self.wire_diameter_mm, self.mean_diameter_mm
        stress = shear_stress(self.closing_force, d, D, np.asarray(bergstraesser_factor(D / d)))
        return np.asarray(np.asarray(stress).max(axis=-1))


@dataclass(frozen=True, slots=True)
class LoadCurve:
    """Force against deflection to solid, arrays of shape (k,).

    Attributes
    ----------
    deflection_mm, force_N, rate_N_per_mm : ndarray
        Deflection, force and slope of the middle curve.
    low_N, high_N : ndarray
        Ends of the 95 % band of the force.
    first_contact_mm : float
        Deflection at which the first working coil closes [mm]: the rate rises from there.
    """

    deflection_mm: Array
    force_N: Array
    rate_N_per_mm: Array
    low_N: Array
    high_N: Array
    first_contact_mm: float


def plan_coils(d: Array, D: Array, p: Array, gap: Array, turns: Array, G: Array) -> CoilPlan:
    """Return the plan of working coils; arrays that go together by broadcasting.

    Parameters
    ----------
    d, D, p : ndarray, shape (..., m)
        Wire diameter, local mean diameter, local pitch [mm].
    gap : ndarray, shape (..., m)
        How far a turn goes until it touches [mm].
    turns : ndarray, shape (..., m)
        Turns in each step [-].
    G : ndarray, shape (..., m)
        Shear modulus [MPa].
    """
    require_positive(d=d, D=D, p=p, turns=turns, G=G)
    angle = np.degrees(np.arctan(p / (np.pi * D)))
    compliance = 8.0 * D**3 * np.asarray(softness(D / d, angle)) / (G * d**4)
    closing = np.maximum(gap, 1e-9) / compliance
    return CoilPlan(*np.broadcast_arrays(d, D, turns, compliance, closing))


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
    m = _steps(n)
    middle = (np.arange(m) + 0.5) / m
    D = D_large + (D_small - D_large) * middle
    step = abs(D_large - D_small) / 2.0 / n
    full = np.full(m, 1.0)
    gap = p - nested_rise(d, step)
    return plan_coils(d * full, D, p * full, gap * full, full * n / m, G * full)


def plan_progressive(d: float, D: float, runs: Sequence[tuple[float, float]], G: float) -> CoilPlan:
    """Return the plan of a cylinder whose pitch changes along it.

    Parameters
    ----------
    d, D : float
        Wire diameter, mean coil diameter [mm].
    runs : sequence of (float, float)
        Turns [-] and pitch [mm] of each stretch of working coils.
    G : float
        Shear modulus [MPa].

    Raises
    ------
    ValueError
        If there is no stretch, or a pitch is less than the wire.
    """
    require_coil(d, D)
    if not runs:
        raise ValueError("runs must hold at least one stretch of turns and pitch")
    for count, pitch in runs:
        require_positive(run_turns=count, run_pitch_mm=pitch)
        if pitch < d:
            raise ValueError(f"run_pitch_mm ({pitch:g}) must be at least the wire ({d:g} mm)")
    each, pitches = np.array(runs, dtype=np.float64).T
    full = np.ones_like(each)
    return plan_coils(d * full, D * full, pitches, pitches - d, each, G * full)


def _steps(n: float) -> int:
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
    deflection, kept = np.unique(deflection, return_index=True)
    return deflection, force[kept]


def plan_draws(draws: SpringDraws, travel: Array) -> CoilPlan:
    """Return the plans of drawn springs, arrays of shape (draws, m): one step for a cylinder.

    Parameters
    ----------
    draws : SpringDraws
        Compression springs.
    travel : ndarray, shape (draws,)
        Deflection to solid of a cylinder [mm]; a cone's follows from its coils.
    """
    n = draws.active_coils
    # The formula's own error is one factor on the whole rate.
    G = draws.shear_modulus_MPa * draws.formula_factor
    d, D, pitch = draws.wire_diameter_mm, draws.mean_diameter_mm, draws.pitch_mm
    if not is_cone(draws):
        column = [a[:, None] for a in (d, D, pitch, travel / n, n, G)]
        return plan_coils(*column)
    m = _steps(float(np.median(n)))
    along = (np.arange(m) + 0.5) / m
    local = D[:, None] * (1.0 - (1.0 - draws.small_end_ratio[:, None]) * along)
    gap = pitch - nested_rise(d, 0.5 * D * (1.0 - draws.small_end_ratio) / n)
    column = [a[:, None] for a in (d, pitch, gap, n / m, G)]
    return plan_coils(column[0], local, *column[1:])


def is_cone(draws: SpringDraws) -> bool:
    """Return whether any of the drawn springs tapers."""
    return bool((draws.small_end_ratio < 1.0).any())


def load_curve(draws: SpringDraws, points: int = 41) -> LoadCurve:
    """Return force against deflection to solid, with its 95 % band.

    Parameters
    ----------
    draws : SpringDraws
        Compression spring.
    points : int
        Points of the curve [-].

    Raises
    ------
    ValueError
        If the spring is already solid when free.
    """
    few = draws.take(np.arange(min(draws.size, _BAND_DRAWS)))
    travel = few.free_length_mm - few.solid_length_mm
    if float(np.median(travel)) <= 0.0:
        raise ValueError("free_length_mm leaves no travel: the coils touch already")
    plan = plan_draws(few, np.maximum(travel, 1e-6))
    force = plan.solid_N[:, None] * np.linspace(0.0, 1.0, 4 * points)
    deflection = plan.deflection(force)
    grid = np.linspace(0.0, float(np.median(plan.travel_mm)), points)
    rows = [np.interp(grid, s, f) for s, f in zip(deflection, force, strict=True)]
    low, middle, high = np.quantile(np.array(rows), [0.025, 0.5, 0.975], axis=0)
    first = plan.deflection(plan.first_contact_N[:, None])[:, 0]
    contact = min(float(np.median(first)), float(grid[-1]))
    return LoadCurve(grid, middle, np.gradient(middle, grid), low, high, contact)
