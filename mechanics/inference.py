"""One posterior from prior knowledge and readings: its peak by Gauss-Newton, then sampling.

Unknowns are standard scores z: each is normal (0, 1) before any reading, and a model turns them
into physical values (a length as the exponential of a linear score, a rectangle through its
quantile). Readings are residuals divided by their uncertainty, so that minus twice the log of the
posterior is |z|^2 + |r(z)|^2.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
#: Scores (m, p) to whitened residuals (m, k).
Residuals = Callable[[Array], Array]

_STEP = 1e-5
_ITERATIONS = 100
#: Degrees of freedom of the Student proposal: heavier tails than any posterior here.
_PROPOSAL_DOF = 7.0


@dataclass(frozen=True, slots=True)
class Peak:
    """Where the posterior is highest, and its width there.

    Attributes
    ----------
    z : ndarray, shape (p,)
        Scores at the peak [-].
    covariance : ndarray, shape (p, p)
        Inverse of the Gauss-Newton curvature [-].
    log_evidence : float
        Log of the probability of the residuals, by Laplace's approximation [-]. Readings whose
        u changes need their own - log(u) added.
    chi2 : float
        |r|^2 + |z|^2 at the peak [-].
    converged : bool
        Whether the steps came to rest.
    """

    z: Array
    covariance: Array
    log_evidence: float
    chi2: float
    converged: bool


@dataclass(frozen=True, slots=True)
class Sample:
    """Weighted draws of the posterior.

    Attributes
    ----------
    z : ndarray, shape (m, p)
        Scores [-].
    weight : ndarray, shape (m,)
        Weights that add up to one [-].
    effective : float
        Size of an equally weighted sample as good as this one [-].
    log_evidence : float
        As in `Peak`, by importance sampling [-].
    """

    z: Array
    weight: Array
    effective: float
    log_evidence: float


def linearise(residuals: Residuals, z: Array) -> tuple[Array, Array]:
    """Return residuals (k,) and their slopes (k, p) at scores z of shape (p,)."""
    p = z.size
    moved = np.concatenate([z[None], z + _STEP * np.eye(p), z - _STEP * np.eye(p)])
    r = residuals(moved)
    return r[0], ((r[1 : p + 1] - r[p + 1 :]) / (2.0 * _STEP)).T


def find_peak(residuals: Residuals, start: Array) -> Peak:
    """Return the posterior's peak by damped Gauss-Newton steps.

    Parameters
    ----------
    residuals : callable
        Scores (m, p) to whitened residuals (m, k) [-].
    start : ndarray, shape (p,)
        Where to begin [-].
    """
    z: Array = np.array(start, dtype=np.float64)
    damping, converged, idle = 1e-3, False, 0
    r, J = linearise(residuals, z)
    cost = float(r @ r + z @ z)
    for _ in range(_ITERATIONS):
        gradient = J.T @ r + z
        hessian = J.T @ J + np.eye(z.size)
        step = np.linalg.solve(hessian + damping * np.diag(np.diag(hessian)), -gradient)
        if float(np.abs(step).max()) < 1e-9:
            converged = True
            break
        trial = z + step
        # A step too far may leave the range of numbers; it is then turned back.
        with np.errstate(all="ignore"):
            r_trial, J_trial = linearise(residuals, trial)
            cost_trial = float(r_trial @ r_trial + trial @ trial)
        if cost_trial <= cost and bool(np.isfinite(J_trial).all()):
            gained, cost, z = cost - cost_trial, cost_trial, trial
            damping = max(damping / 5.0, 1e-12)
            r, J = r_trial, J_trial
            # Where readings clash the last steps creep: two idle ones are as good as rest.
            idle = idle + 1 if gained < 1e-7 * (1.0 + cost) else 0
            if idle >= 2 or (idle and float(np.abs(step).max()) < 1e-6):
                converged = True
                break
        else:
            damping *= 4.0
            if damping > 1e6:
                # At a crease of the model no step gains, however short: the peak is on it.
                converged = True
                break
    covariance = np.asarray(np.linalg.inv(J.T @ J + np.eye(z.size)), dtype=np.float64)
    _, logdet = np.linalg.slogdet(covariance)
    evidence = -0.5 * cost + 0.5 * logdet - 0.5 * r.size * math.log(2.0 * math.pi)
    return Peak(z, covariance, float(evidence), cost, converged)


def importance_sample(
    residuals: Residuals, peak: Peak, size: int, rng: np.random.Generator
) -> Sample:
    """Return weighted draws of the posterior, proposed from a Student cloud around its peak.

    Parameters
    ----------
    residuals : callable
        Scores (m, p) to whitened residuals (m, k) [-].
    peak : Peak
        From `find_peak`.
    size : int
        Draws [-].
    rng : numpy.random.Generator
        Source of the draws.
    """
    p = peak.z.size
    root = np.linalg.cholesky(peak.covariance)
    normal = rng.standard_normal((size, p))
    shrink = np.sqrt(rng.chisquare(_PROPOSAL_DOF, size) / _PROPOSAL_DOF)
    t = normal / shrink[:, None]
    z = peak.z + t @ root.T
    distance = (t**2).sum(axis=1)
    nu = _PROPOSAL_DOF
    log_proposal = (
        math.lgamma(0.5 * (nu + p))
        - math.lgamma(0.5 * nu)
        - 0.5 * p * math.log(nu * math.pi)
        - float(np.log(np.diag(root)).sum())
        - 0.5 * (nu + p) * np.log1p(distance / nu)
    )
    with np.errstate(all="ignore"):
        r = residuals(z)
        square = (r**2).sum(axis=1) + (z**2).sum(axis=1)
    log_target = -0.5 * square - 0.5 * (p + r.shape[1]) * math.log(2.0 * math.pi)
    log_weight = np.where(np.isfinite(log_target), log_target, -np.inf) - log_proposal
    top = float(log_weight.max())
    weight = np.exp(log_weight - top)
    total = float(weight.sum())
    weight /= total
    return Sample(z, weight, float(1.0 / (weight**2).sum()), top + math.log(total / size))


def resample(sample: Sample, size: int, rng: np.random.Generator) -> Array:
    """Return equally likely scores, shape (size, p), by systematic resampling.

    Parameters
    ----------
    sample : Sample
        Weighted draws [-].
    size : int
        How many to return [-].
    rng : numpy.random.Generator
        Source of the offset and of the order.
    """
    positions = (np.arange(size) + rng.random()) / size
    edges = np.cumsum(sample.weight)
    chosen = np.searchsorted(edges, positions * edges[-1])
    return sample.z[rng.permutation(np.minimum(chosen, sample.weight.size - 1))]
