"""Load against deflection of drawn springs: coils that touch drop out one after another."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from mechanics.coils import CoilPlan, Runs, check_runs, nested_rise, plan_coils, steps
from mechanics.draws import SpringDraws

Array = NDArray[np.float64]

_BAND_DRAWS = 400


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


def plan_draws(draws: SpringDraws, travel: Array, runs: Runs = ()) -> CoilPlan:
    """Return the plans of drawn springs, arrays of shape (draws, m): one step for a cylinder.

    Parameters
    ----------
    draws : SpringDraws
        Compression springs.
    travel : ndarray, shape (draws,)
        Deflection to solid of a cylinder [mm]; a cone's follows from its coils.
    runs : sequence of (float, float)
        Turns [-] and pitch [mm] of each stretch, where the pitch of a cylinder changes; none for
        one pitch. They share the travel by their gaps and the turns by their own.

    Raises
    ------
    ValueError
        If runs are given that no spring has, or for a cone.
    """
    n = draws.active_coils
    # The formula's own error is one factor on the whole rate.
    G = draws.shear_modulus_MPa * draws.formula_factor
    wire, d = draws.section.column(), draws.wire_diameter_mm
    D, pitch = draws.mean_diameter_mm, draws.pitch_mm
    if runs:
        return _plan_runs(draws, travel, runs)
    if not is_cone(draws):
        column = [a[:, None] for a in (D, pitch, travel / n, n, G)]
        return plan_coils(wire, *column)
    m = steps(float(np.median(n)))
    along = (np.arange(m) + 0.5) / m
    local = D[:, None] * (1.0 - (1.0 - draws.small_end_ratio[:, None]) * along)
    gap = pitch - nested_rise(d, 0.5 * D * (1.0 - draws.small_end_ratio) / n)
    column = [a[:, None] for a in (pitch, gap, n / m, G)]
    return plan_coils(wire, local, *column)


def _plan_runs(draws: SpringDraws, travel: Array, runs: Runs) -> CoilPlan:
    if is_cone(draws):
        raise ValueError("runs are reckoned for cylinders only: small_end_ratio is below 1")
    wire = float(np.median(draws.wire_diameter_mm))
    check_runs(wire, runs)
    each, pitches = np.array(runs, dtype=np.float64).T
    gaps = pitches - wire
    if float(each @ gaps) <= 0.0:
        raise ValueError("run_pitch_mm leaves no gap in any stretch: the coils touch already")
    turns = draws.active_coils[:, None] * each / each.sum()
    gap = travel[:, None] * gaps * each / float(each @ gaps) / turns
    G = (draws.shear_modulus_MPa * draws.formula_factor)[:, None]
    D = draws.mean_diameter_mm[:, None]
    return plan_coils(draws.section.column(), D, pitches[None], gap, turns, G)


def is_cone(draws: SpringDraws) -> bool:
    """Return whether any of the drawn springs tapers."""
    return bool((draws.small_end_ratio < 1.0).any())


def load_curve(draws: SpringDraws, points: int = 41, runs: Runs = ()) -> LoadCurve:
    """Return force against deflection to solid, with its 95 % band.

    Parameters
    ----------
    draws : SpringDraws
        Compression spring.
    points : int
        Points of the curve [-].
    runs : sequence of (float, float)
        As in `plan_draws`.

    Raises
    ------
    ValueError
        If the spring is already solid when free.
    """
    few = draws.take(np.arange(min(draws.size, _BAND_DRAWS)))
    travel = few.free_length_mm - few.solid_length_mm
    if float(np.median(travel)) <= 0.0:
        raise ValueError("free_length_mm leaves no travel: the coils touch already")
    plan = plan_draws(few, np.maximum(travel, 1e-6), runs)
    grid = np.linspace(0.0, float(np.median(plan.travel_mm)), points)
    rows = [force_onward(grid, s, F) for s, F in zip(*plan.knots(), strict=True)]
    low, middle, high = np.quantile(np.array(rows), [0.025, 0.5, 0.975], axis=0)
    first = plan.deflection(plan.first_contact_N[:, None])[:, 0]
    contact = min(float(np.median(first)), float(grid[-1]))
    return LoadCurve(grid, middle, np.gradient(middle, grid), low, high, contact)


def force_onward(at: Array, s: Array, F: Array) -> Array:
    """Return forces at deflections; a spring solid a little sooner goes on as steeply.

    Held at its force of solid instead, it would let a band's middle bend down at the end.

    Parameters
    ----------
    at : ndarray, shape (k,)
        Deflections asked for [mm].
    s, F : ndarray, shape (m,)
        Knots of one spring [mm, N].
    """
    near = 0.98 * s[-1]
    last = float(F[-1] - np.interp(near, s, F)) / float(s[-1] - near)
    return np.asarray(np.interp(at, s, F) + last * np.maximum(at - s[-1], 0.0))
