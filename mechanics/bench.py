"""From forces read at deflections to a rate: a straight line over the middle of the travel.

Only differences of deflection count, so it may be read from any preload.

References
----------
.. [1] The load is straight over about 20 to 80 % of the travel (common practice, no source; EN
   reads the rate between 30 and 70 % of the highest load, from memory).
.. [2] Hand readings repeat within 2 to 3 % (common practice, no source).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from mechanics.check import require_not_negative, require_positive

Array = NDArray[np.float64]

MIDDLE = (0.2, 0.8)
HAND_REPEAT = 0.025


@dataclass(frozen=True, slots=True)
class Gauge:
    """How force and deflection were read.

    Attributes
    ----------
    force_step_N, deflection_step_mm : float
        Resolution: smallest step shown [N, mm].
    upper_limit_N : float or None
        Highest force it shows; a reading there says only "at least" [N].
    u_relative : float
        Standard uncertainty common to all its readings: hand press 2.5 % [2]_, a checked gauge
        with a dial indicator less [-].
    """

    force_step_N: float = 0.1
    deflection_step_mm: float = 0.1
    upper_limit_N: float | None = None
    u_relative: float = HAND_REPEAT

    def __post_init__(self) -> None:
        require_positive(force_step_N=self.force_step_N, deflection_step_mm=self.deflection_step_mm)
        require_not_negative(u_relative=self.u_relative)
        if self.upper_limit_N is not None:
            require_positive(upper_limit_N=self.upper_limit_N)


@dataclass(frozen=True, slots=True)
class BenchFit:
    """The line through bench points.

    Attributes
    ----------
    rate_N_per_mm, u_N_per_mm : float
        Slope and standard uncertainty, gauge included [N/mm].
    force_at_zero_N : float
        Force where the deflection was called zero: the preload [N].
    used, left_out : tuple of int
        Places of the points on the line and of those not counted.
    notes : tuple of str
        Why points were left out, and whether the rate rises.
    """

    rate_N_per_mm: float
    u_N_per_mm: float
    force_at_zero_N: float
    used: tuple[int, ...]
    left_out: tuple[int, ...]
    notes: tuple[str, ...]


def fit_bench(
    deflection_mm: Sequence[float],
    force_N: Sequence[float],
    gauge: Gauge = Gauge(),
    travel_mm: float | None = None,
    start_mm: float = 0.0,
) -> BenchFit:
    """Return the rate from bench points.

    Parameters
    ----------
    deflection_mm, force_N : sequence of float
        Readings, in any order, at least two [mm, N].
    gauge : Gauge
        How they were read.
    travel_mm : float, optional
        Deflection from free to solid [mm]: with it only the middle of the travel is used, as far
        as that leaves two points.
    start_mm : float
        Deflection of the spring where the readings' zero lies: 0 for free [mm].

    Raises
    ------
    ValueError
        If readings are missing, negative, all at one deflection, or the force falls.
    """
    s, F = _checked(deflection_mm, force_N)
    keep, notes = _below_limit(F, gauge)
    keep = _in_middle(keep, s + start_mm, travel_mm, notes)
    if int(keep.sum()) < 2 or float(np.ptp(s[keep])) <= 0.0:
        raise ValueError("force_N needs two readings at different deflections below the limit")
    rate, offset, u_line = _line(s[keep], F[keep], gauge)
    if rate <= 0.0:
        raise ValueError("force_N must rise with deflection_mm: are the two columns swapped?")
    bend = _bend(s[keep], F[keep], gauge, rate)
    if bend > 0.0:
        notes.append(
            f"The rate rises by {bend:.0%} over these points: coils close, or the press gives; "
            "the line is its mean."
        )
    used = tuple(int(i) for i in np.flatnonzero(keep))
    left = tuple(int(i) for i in np.flatnonzero(~keep))
    u = float(np.hypot(u_line, rate * np.hypot(gauge.u_relative, 0.25 * max(bend, 0.0))))
    return BenchFit(rate, u, offset, used, left, tuple(notes))


def _checked(deflection: Sequence[float], force: Sequence[float]) -> tuple[Array, Array]:
    s, F = np.asarray(deflection, dtype=np.float64), np.asarray(force, dtype=np.float64)
    if s.ndim != 1 or s.shape != F.shape or s.size < 2:
        raise ValueError("deflection_mm and force_N must be two lists of the same two or more")
    require_not_negative(force_N=F)
    if not bool(np.isfinite(s).all()):
        raise ValueError("deflection_mm must hold numbers only")
    return s, F


def _below_limit(F: Array, gauge: Gauge) -> tuple[NDArray[np.bool_], list[str]]:
    keep: NDArray[np.bool_] = np.ones(F.size, dtype=bool)
    notes: list[str] = []
    if gauge.upper_limit_N is not None:
        keep = F < gauge.upper_limit_N - 0.5 * gauge.force_step_N
        if not bool(keep.all()):
            notes.append(f"{int((~keep).sum())} readings at the gauge's upper limit left out.")
    return keep, notes


def _in_middle(
    keep: NDArray[np.bool_], s: Array, travel: float | None, notes: list[str]
) -> NDArray[np.bool_]:
    if travel is None:
        return keep
    require_positive(travel_mm=travel)
    middle = keep & (s >= MIDDLE[0] * travel) & (s <= MIDDLE[1] * travel)
    if int(middle.sum()) < 2 or float(np.ptp(s[middle])) < 0.1 * travel:
        notes.append("Too few readings in the middle of the travel: all were used.")
        return keep
    if int(middle.sum()) < int(keep.sum()):
        out = int(keep.sum() - middle.sum())
        notes.append(f"{out} readings outside 20 to 80 % of the travel left out.")
    return middle


def _weights(gauge: Gauge, rate: float) -> float:
    step = np.hypot(gauge.force_step_N, rate * gauge.deflection_step_mm)
    return float(step / np.sqrt(12.0))


def _line(s: Array, F: Array, gauge: Gauge) -> tuple[float, float, float]:
    """Return slope, force at zero and the slope's u; steps of both axes count as rectangles."""
    middle = s.mean()
    spread = float(((s - middle) ** 2).sum())
    rate = float(((s - middle) * F).sum() / spread)
    offset = float(F.mean() - rate * middle)
    u = _weights(gauge, abs(rate))
    if s.size > 2:
        scatter = float(((F - offset - rate * s) ** 2).sum() / (s.size - 2)) ** 0.5
        u = max(u, scatter)
    return rate, offset, u / spread**0.5


def _bend(s: Array, F: Array, gauge: Gauge, rate: float) -> float:
    """Return the rate's relative rise over the points, 0 unless it stands out threefold."""
    if s.size < 4:
        return 0.0
    x = (s - s.mean()) / max(float(np.ptp(s)), 1e-12)
    columns = np.stack([np.ones_like(x), x, x**2], axis=1)
    fit, *_ = np.linalg.lstsq(columns, F, rcond=None)
    scatter = float(((F - columns @ fit) ** 2).sum() / (s.size - 3)) ** 0.5
    u = max(_weights(gauge, rate), scatter)
    u_square = u * float(np.linalg.inv(columns.T @ columns)[2, 2]) ** 0.5
    if abs(fit[2]) < 3.0 * u_square:
        return 0.0
    return float(2.0 * fit[2] / (rate * np.ptp(s)))
