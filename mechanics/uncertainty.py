"""Bands: first and second order by the GUM, Monte Carlo by its first supplement.

References
----------
.. [1] JCGM 100:2008, Guide to the expression of uncertainty in measurement.
.. [2] JCGM 101:2008, Propagation of distributions using a Monte Carlo method.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from mechanics.check import require_not_negative, require_positive, require_share

Array = NDArray[np.float64]
#: Inputs of shape (k,) or (k, draws) to a value, or to draws of it.
Model = Callable[[Array], Array]

COVERAGE = 0.95


@dataclass(frozen=True, slots=True)
class Quantity:
    """A value with its standard uncertainty and its 95 % band, in the unit its name tells."""

    value: float
    u: float
    low: float
    high: float

    @classmethod
    def from_draws(cls, draws: Array, value: float | None = None) -> "Quantity":
        """Return the quantity that draws describe; its value is their median unless given.

        Parameters
        ----------
        draws : ndarray, shape (n,)
            Equally likely values [unit of the quantity].
        value : float, optional
            Best value [unit of the quantity].

        Raises
        ------
        ValueError
            If there are no draws or one is not a number.
        """
        draws = np.asarray(draws, dtype=np.float64)
        if draws.size == 0 or bool(np.isnan(draws).any()):
            raise ValueError("a band needs draws that are all numbers")
        finite = bool(np.isfinite(draws).all())
        # Between a number and infinity nothing can be interpolated.
        method: Literal["linear", "nearest"] = "linear" if finite else "nearest"
        low, middle, high = np.quantile(draws, [0.025, 0.5, 0.975], method=method)
        u = float(draws.std()) if finite else math.inf
        return cls(float(middle) if value is None else value, u, float(low), float(high))

    def as_dict(self) -> dict[str, float | None]:
        """Return value, u, low and high; infinity is written as None (JSON has no infinity)."""
        shown = {"value": self.value, "u": self.u, "low": self.low, "high": self.high}
        return {name: x if math.isfinite(x) else None for name, x in shown.items()}


@dataclass(frozen=True, slots=True)
class Propagated:
    """First-order result [1]_ (clause 5): value, u, its parts |c_i u_i|, second-order u."""

    value: float
    u: float
    parts: tuple[float, ...]
    u_second_order: float


def propagate_linear(model: Model, x: Array, covariance: Array) -> Propagated:
    """Return value and uncertainty of a model to first and second order [1]_ (5.1.2, 5.2.2).

    Parameters
    ----------
    model : callable
        Takes inputs of shape (k,) [units of the inputs].
    x : ndarray, shape (k,)
        Best values [units of the inputs].
    covariance : ndarray, shape (k, k)
        Their covariance [products of those units].

    Notes
    -----
    The second-order terms assume independent inputs, as clause 5.1.2 prints them.
    """
    u = np.sqrt(np.diag(covariance))
    # A tenth of an uncertainty: small against the curvature, large against rounding.
    step = np.where(u > 0.0, 0.1 * u, 1e-6 * np.maximum(np.abs(x), 1e-12))
    base, k = float(model(x)), len(x)

    def at(*moves: tuple[int, float]) -> float:
        moved = x.copy()
        for i, signed in moves:
            moved[i] += signed * step[i]
        return float(model(moved))

    slope = np.array([(at((i, 1)) - at((i, -1))) / (2 * step[i]) for i in range(k)])
    hessian, third = np.zeros((k, k)), np.zeros((k, k))
    for i in range(k):
        for j in range(k):
            if i == j:
                hessian[i, i] = (at((i, 1)) - 2 * base + at((i, -1))) / step[i] ** 2
            else:
                corners = [a * b * at((i, a), (j, b)) for a in (1, -1) for b in (1, -1)]
                hessian[i, j] = sum(corners) / (4 * step[i] * step[j])
                # d^3 f / dx_i dx_j^2: how the curvature along j changes along i.
                bend = [
                    s * (at((i, s), (j, 1)) - 2 * at((i, s)) + at((i, s), (j, -1))) for s in (1, -1)
                ]
                third[i, j] = sum(bend) / (2 * step[i] * step[j] ** 2)
    first = float(slope @ covariance @ slope)
    terms = (0.5 * hessian**2 + slope[:, None] * third) * np.outer(u**2, u**2)
    second = max(first + float(terms.sum()), 0.0)
    return Propagated(base, first**0.5, tuple(np.abs(slope) * u), second**0.5)


def effective_dof(u: Sequence[float], dof: Sequence[float]) -> float:
    """Return the effective degrees of freedom by Welch and Satterthwaite [1]_ (G.4.1).

    Parameters
    ----------
    u : sequence of float
        Contributions to the combined uncertainty [one common unit].
    dof : sequence of float
        Their degrees of freedom [-]; infinite where an uncertainty is taken as exact.
    """
    require_not_negative(**{f"u[{i}]": value for i, value in enumerate(u)})
    total = sum(value**2 for value in u)
    require_positive(combined_u=total)
    below = sum(value**4 / nu for value, nu in zip(u, dof, strict=True))
    return math.inf if below == 0.0 else total**2 / below


def coverage_factor(dof: float, coverage: float = COVERAGE) -> float:
    """Return the two-sided Student factor for a coverage [1]_ (table G.2).

    Parameters
    ----------
    dof : float
        Degrees of freedom, cut down to a whole number as G.4.1 advises [-].
    coverage : float
        Share of values inside [-].
    """
    require_share(coverage=coverage)
    tail = 0.5 + 0.5 * coverage
    whole = math.floor(dof) if math.isfinite(dof) else dof
    return float(stats.t.ppf(tail, whole) if math.isfinite(whole) else stats.norm.ppf(tail))


def shortest_interval(draws: Array, coverage: float = COVERAGE) -> tuple[float, float]:
    """Return the shortest interval that holds a share of the draws [2]_ (5.3.4).

    Parameters
    ----------
    draws : ndarray, shape (n,)
        Equally likely values [their own unit].
    coverage : float
        Share of values inside [-].
    """
    require_share(coverage=coverage)
    ordered = np.sort(draws)
    inside = math.ceil(coverage * ordered.size)
    if inside >= ordered.size:
        return float(ordered[0]), float(ordered[-1])
    widths = ordered[inside:] - ordered[:-inside]
    k = int(np.argmin(widths))
    return float(ordered[k]), float(ordered[k + inside])


def weighted_mean(values: Array, u: Array) -> tuple[float, float, float]:
    """Return mean and u of independent readings of one quantity, and the chance of their scatter.

    Parameters
    ----------
    values, u : ndarray, shape (n,)
        Readings and standard uncertainties [one common unit].

    Returns
    -------
    mean, u, chance : float
        Chance that chi-squared of n - 1 degrees would exceed the one observed; below 0.05 the
        readings are inconsistent (Cox, Metrologia 39, 2002, 589; from memory).
    """
    require_positive(u=u)
    weight = 1.0 / u**2
    mean = float((weight * values).sum() / weight.sum())
    chi2 = float((weight * (values - mean) ** 2).sum())
    chance = float(stats.chi2.sf(chi2, values.size - 1)) if values.size > 1 else 1.0
    return mean, float(weight.sum() ** -0.5), chance
