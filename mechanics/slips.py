"""A reading of a spring with its uncertainty, and the usual mistakes that people make with it.

A slip predicts what would then have been read, so that it can be held against the other readings.
"""

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from mechanics.check import require_positive
from mechanics.draws import SpringDraws
from mechanics.materials import Family
from mechanics.units import MM_PER_INCH

Array = NDArray[np.float64]
#: Share of a reading's variance that repeating it with the same tool leaves: the tool's own error
#: and the hand's habit. DIN 862 allows a caliper 0.02 mm: as a rectangle a third of the variance of
#: 0.02 mm in the hand; the rest of the half is a judgement, no source.
TOOL_SHARED = 0.5
#: Drawn springs (m) to what would be read, shape (m, k).
Predict = Callable[[SpringDraws], Array]


@dataclass(frozen=True, slots=True)
class Slip:
    """A mistake that would explain a reading.

    Attributes
    ----------
    name : str
        In plain words.
    predict : callable
        What would then have been read.
    u_factor : float
        How much wider the reading is under it [-].
    extra_cov : ndarray or None, shape (k, k)
        Covariance that comes on top [unit of the reading, squared].
    mends : bool
        Whether the reading is as good as any once the slip is undone; else it tells nothing.
    """

    name: str
    predict: Predict
    u_factor: float = 1.0
    extra_cov: Array | None = None
    mends: bool = True


@dataclass(frozen=True, slots=True)
class Reading:
    """One piece of evidence.

    Attributes
    ----------
    name : str
        What was read, as a person would say it.
    unit : str
        Of its values.
    values : ndarray, shape (k,)
        What was read [unit].
    covariance : ndarray, shape (k, k)
        [unit squared].
    predict : callable
        What a drawn spring would read.
    slips : tuple of Slip
        Mistakes that people make with it.
    family_chance : callable or None
        Chance of the reading for a family of wire [-], for tests that only tell families apart.
    thing : str
        What is read, by which repeated readings are known; empty where none repeats.
    shared : float
        Share of its variance that all readings of the thing by one tool have in common [-]: it
        does not average away.
    common : ndarray, shape (k, k)
        Root of that part's covariance, once it is told apart [unit]; empty before.
    common_at : int
        Where its scores begin among the common errors [-].
    """

    name: str
    unit: str
    values: Array
    covariance: Array
    predict: Predict
    slips: tuple[Slip, ...] = field(default=())
    family_chance: Callable[[Family], float] | None = None
    thing: str = ""
    shared: float = 0.0
    common: Array = field(default_factory=lambda: np.zeros((0, 0)), compare=False)
    common_at: int = 0
    _whitening: Array = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        # Asked for hundreds of times while a peak is sought, so factored once.
        inverse = np.zeros((0, 0))
        if self.values.size:
            inverse = np.asarray(np.linalg.inv(np.linalg.cholesky(self.covariance)))
        object.__setattr__(self, "_whitening", inverse)

    def residuals(self, draws: SpringDraws, errors: Array) -> Array:
        """Return whitened residuals of drawn springs, shape (m, k) [-].

        Parameters
        ----------
        draws : SpringDraws
            Of size m.
        errors : ndarray, shape (m, c)
            Scores of the errors that tools have in common [-].
        """
        if self.values.size == 0:
            return np.zeros((draws.size, 0))
        off = self.predict(draws) - self.values
        if self.common.size:
            k = self.values.size
            off = off + errors[:, self.common_at : self.common_at + k] @ self.common.T
        return off @ self._whitening.T

    @property
    def log_density_scale(self) -> float:
        """Log of the normalising factor that whitening drops [-]."""
        if self.values.size == 0:
            return 0.0
        return -0.5 * float(np.linalg.slogdet(self.covariance)[1])

    def with_slip(self, slip: Slip) -> "Reading":
        """Return the reading as it would be understood under a slip."""
        covariance = self.covariance * slip.u_factor**2
        if slip.extra_cov is not None:
            covariance = covariance + slip.extra_cov
        # What slipped is no longer off by the same as the tool's other readings.
        return replace(
            self, covariance=covariance, predict=slip.predict, slips=(), thing="", shared=0.0
        )


def column(predict: Callable[[SpringDraws], Array]) -> Predict:
    """Return a prediction of one value as a column, shape (m, 1).

    Parameters
    ----------
    predict : callable
        Drawn springs to what would be read, shape (m,).
    """
    return lambda draws: predict(draws)[:, None]


def scalar(
    name: str,
    unit: str,
    value: float,
    u: float,
    predict: Callable[[SpringDraws], Array],
    slips: tuple[Slip, ...] = (),
    thing: str = "",
) -> Reading:
    """Return a reading of one value, with the slips that any reading can have on top of its own.

    Parameters
    ----------
    name, unit : str
        What was read and in what unit [-].
    value, u : float
        Reading and standard uncertainty [unit].
    predict : callable
        Drawn springs to what would be read, shape (m,).
    slips : tuple of Slip
        Its own.
    thing : str
        What is read, where that is not its name.
    """
    require_readable(name, unit, value, u)
    other = Slip("misread for a reason that cannot be told", column(predict), 10.0, None, False)
    # Nothing to do with this spring: as likely anywhere near its own size.
    blunder = Slip(
        "far off for a reason that cannot be told",
        lambda s: np.full((s.size, 1), value),
        10.0,
        np.array([[(1.5 * value) ** 2]]),
        False,
    )
    array = np.array([value], dtype=np.float64)
    slips = (*slips, other, blunder)
    cov = np.array([[u**2]])
    return Reading(name, unit, array, cov, column(predict), slips, None, thing or name, TOOL_SHARED)


#: What can be read at all, with room for a wrong unit, by the unit of the reading.
_READABLE = {"mm": (1e-3, 1e5), "g": (1e-4, 1e5), "turns": (0.5, 1e3), "N/mm": (1e-7, 1e7)}
#: No hand reads finer than this share of a reading.
_FINEST = 1e-6


def require_readable(name: str, unit: str, value: float, u: float) -> None:
    """Refuse a number that nobody reads off a spring.

    Parameters
    ----------
    name, unit : str
        What was read and in what unit [-].
    value, u : float
        Reading and standard uncertainty [unit].

    Raises
    ------
    ValueError
        Naming the field and its value.
    """
    field = name.replace(" ", "_")
    require_positive(**{field: value, f"u_{field}": u})
    low, high = _READABLE[unit]
    if not low <= value <= high:
        raise ValueError(f"{field} ({value:g} {unit}) is outside {low:g} to {high:g} {unit}")
    if not _FINEST * value <= u <= 100.0 * value:
        raise ValueError(f"u_{field} ({u:g} {unit}) does not go with a reading of {value:g} {unit}")


def digit_slips(predict: Callable[[SpringDraws], Array], value: float) -> tuple[Slip, Slip]:
    """Return the slips of a decimal point in the wrong place.

    Parameters
    ----------
    predict : callable
        Drawn springs to what would be read, shape (m,).
    value : float
        What was read [its own unit].
    """
    return (
        unit_slip("a digit too many", predict, 10.0, value),
        unit_slip("a digit too few", predict, 0.1, value),
    )


def unit_slip(
    name: str, predict: Callable[[SpringDraws], Array], factor: float, value: float
) -> Slip:
    """Return the slip of reading a factor of what is meant: its stated u is in the unit meant.

    Whoever wrote the wrong unit may have written its u in it as well: three parts in a thousand
    of the reading are the least.

    Parameters
    ----------
    name : str
        In plain words.
    predict : callable
        Drawn springs to what would be read, shape (m,).
    factor : float
        What was read over what is meant [-].
    value : float
        What was read [its own unit].
    """
    # A product, since a power of a wild reading overflows before it can be refused.
    least = np.array([[0.003 * value * 0.003 * value]])
    return Slip(name, column(lambda s: predict(s) * factor), factor, least)


def inch_slip(predict: Callable[[SpringDraws], Array], value: float) -> Slip:
    """Return the slip of reading inches for millimetres.

    Parameters
    ----------
    predict : callable
        Drawn springs to what would be read, shape (m,).
    value : float
        What was read [its own unit].
    """
    return unit_slip("read in inches", predict, 1.0 / MM_PER_INCH, value)
