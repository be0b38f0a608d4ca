"""What to measure next: by how much each possible reading can be expected to narrow the rate.

Before a reading is taken its value is unknown, but the draws say how closely it would go with the
rate: the spread left is that of the best straight-line prediction of the log rate from the log
reading, blurred by the reading's own uncertainty. A magnet only tells families apart; for it the
spread left is averaged over its verdicts.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from mechanics.draws import SpringDraws
from mechanics.readings import WIDTH
from mechanics.slips import TOOL_SHARED, Reading
from mechanics.tools import taken_by
from mechanics.whole_readings import PHOTO_SHARED, Pull, magnet_reading

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Candidate:
    """A reading that could be taken.

    Attributes
    ----------
    name, how : str
        What to read and with what, in plain words.
    minutes : float
        Effort, tool at hand [min]: judgements.
    predict : callable
        Drawn springs to what would be read, shape (m, k), all positive.
    u_relative : callable
        Drawn springs to the covariance of the log reading, shape (k, k).
    thing : str
        What is read, by which earlier readings with the same tool are known.
    shared : float
        Share of the variance that such readings have in common [-].
    """

    name: str
    how: str
    minutes: float
    predict: Callable[[SpringDraws], Array]
    u_relative: Callable[[SpringDraws], Array]
    thing: str
    shared: float = TOOL_SHARED

    def after(self, taken: Sequence[Reading], draws: SpringDraws) -> "Candidate":
        """Return it as what one more adds to those that were taken with the same tool.

        The mean of k that share s keeps (1 + (k - 1) s)/k of the variance, so one more brings
        what an independent reading of (1 + k s)(1 + (k - 1) s)/(1 - s) the variance would.

        Parameters
        ----------
        taken : sequence of Reading
            So far.
        draws : SpringDraws
            What is known now.
        """
        u = float(self.u_relative(draws)[0, 0] ** 0.5 * np.median(self.predict(draws)[:, 0]))
        k, s = taken_by(taken, self.thing, u), self.shared
        if k == 0:
            return self
        wider = (1.0 + k * s) * (1.0 + (k - 1) * s) / (1.0 - s)
        return replace(self, u_relative=lambda draws: wider * self.u_relative(draws))


@dataclass(frozen=True, slots=True)
class Suggestion:
    """A candidate with what it can be expected to bring.

    Attributes
    ----------
    name, how : str
        As in `Candidate`.
    minutes : float
        Effort [min].
    now, after : float
        Half-width of the rate's 95 % band, relative, today and expected afterwards [-].
    """

    name: str
    how: str
    minutes: float
    now: float
    after: float

    @property
    def sentence(self) -> str:
        """The suggestion in one line."""
        effort = f"{self.how}; about {self.minutes:g} min"
        return f"{self.name}: ±{self.now:.1%} to ±{self.after:.1%} ({effort})"


def _one(value: Callable[[SpringDraws], Array]) -> Callable[[SpringDraws], Array]:
    return lambda s: value(s)[:, None]


def _absolute(value: Callable[[SpringDraws], Array], u: float) -> Callable[[SpringDraws], Array]:
    return lambda s: np.array([[(u / float(np.median(value(s)))) ** 2]])


def _candidate(
    name: str,
    how: str,
    minutes: float,
    value: Callable[[SpringDraws], Array],
    u: float,
    thing: str,
) -> Candidate:
    return Candidate(name, how, minutes, _one(value), _absolute(value, u), thing)


def _share(u: float) -> Callable[[SpringDraws], Array]:
    return lambda s: np.array([[u**2]])


def _wire(s: SpringDraws) -> Array:
    return s.wire_diameter_mm + 2.0 * s.coat_mm


def _across(s: SpringDraws) -> Array:
    return np.asarray(s.section.radial + 2.0 * s.coat_mm)


def _photo(s: SpringDraws) -> Array:
    mean = s.outside_diameter_mm - s.wire_diameter_mm
    return np.stack([_wire(s), mean, s.total_coils, s.free_length_mm], axis=1)


def _photo_cov(s: SpringDraws) -> Array:
    # Design figures: 1 % of the wire, 0.4 % of lengths, 0.06 turn, half a per cent common scale.
    own = np.diag([0.01, 0.003, 0.06 / float(np.median(s.total_coils)), 0.003]) ** 2
    common = 0.005 * np.array([1.0, 1.0, 0.0, 1.0])
    return np.asarray(own + np.outer(common, common))


CANDIDATES = (
    _candidate("Micrometer on the wire", "micrometer, 0.004 mm", 2.0, _wire, 0.004, "wire"),
    _candidate("Caliper on the wire", "caliper in the hand, 0.02 mm", 1.0, _wire, 0.02, "wire"),
    _candidate(
        "Length over ten touching coils",
        "caliper, pressed together",
        2.0,
        lambda s: 10.0 * _wire(s),
        0.05,
        "touching coils",
    ),
    _candidate(
        "Outside diameter",
        "caliper, three places",
        1.0,
        lambda s: s.outside_diameter_mm,
        0.05,
        "outside diameter",
    ),
    _candidate(
        "Count of turns",
        "to a tenth, tip to tip",
        1.0,
        lambda s: s.total_coils,
        0.1,
        "count of turns",
    ),
    _candidate("Free length", "caliper", 1.0, lambda s: s.free_length_mm, 0.2, "free length"),
    Candidate(
        "Weigh it", "pocket scale, 1 %", 1.0, _one(lambda s: s.mass_g), _share(0.01), "weight"
    ),
    _candidate(
        "Weigh it on a kitchen scale", "steps of 1 g", 1.0, lambda s: s.mass_g, 0.5, "weight"
    ),
    Candidate(
        "Force at two deflections",
        "press and gauge by hand, 2.5 %",
        10.0,
        _one(lambda s: s.rate_N_per_mm),
        _share(0.025),
        "bench rate",
    ),
    Candidate(
        "Another photo", "closer, other side up", 1.0, _photo, _photo_cov, "photo", PHOTO_SHARED
    ),
)

#: Of rectangular wire, whose other readings of the wire are along the axis.
ACROSS = (
    _candidate("Micrometer across the axis", "micrometer, 0.004 mm", 2.0, _across, 0.004, WIDTH),
    _candidate("Caliper across the axis", "caliper in the hand", 1.0, _across, 0.02, WIDTH),
)


def rank_readings(
    draws: SpringDraws,
    candidates: Sequence[Candidate] = CANDIDATES,
    taken: Sequence[Reading] = (),
) -> tuple[Suggestion, ...]:
    """Return possible readings, the one that narrows the rate most first.

    Parameters
    ----------
    draws : SpringDraws
        What is known now.
    candidates : sequence of Candidate
        What could be read.
    taken : sequence of Reading
        What was read already: another with the same tool shares part of its error.

    Raises
    ------
    ValueError
        If there are fewer than a hundred draws.
    """
    if draws.size < 100:
        raise ValueError(f"draws hold only {draws.size} springs: a ranking needs a hundred")
    if draws.wire_width_mm is not None:
        candidates = [*map(_along_the_axis, candidates), *ACROSS]
    log_rate = np.log(draws.rate_N_per_mm)
    low, middle, high = np.quantile(draws.rate_N_per_mm, [0.025, 0.5, 0.975])
    now = float((high - low) / (2.0 * middle))
    out = [
        Suggestion(
            one.name,
            one.how,
            one.minutes,
            now,
            now * _left(draws, log_rate, one.after(taken, draws)),
        )
        for one in candidates
    ]
    tried = any(one.family_chance is not None for one in taken)
    if len(draws.material.families) > 1 and not tried:
        left = _left_by_magnet(draws, log_rate)
        out.append(Suggestion("Hold a magnet to it", "any magnet", 0.5, now, now * left))
    return tuple(sorted(out, key=lambda one: (round(one.after, 3), one.minutes)))


def _along_the_axis(candidate: Candidate) -> Candidate:
    """Return a candidate on the wire named by the side that it reads."""
    if candidate.thing != "wire":
        return candidate
    return replace(candidate, name=candidate.name.replace("on the wire", "along the axis"))


def _left(draws: SpringDraws, log_rate: Array, candidate: Candidate) -> float:
    """Return the share of the log rate's spread that the reading is expected to leave."""
    x = np.log(np.maximum(candidate.predict(draws), 1e-9))
    x = x - x.mean(axis=0)
    y = log_rate - log_rate.mean()
    with_rate = x.T @ y / y.size
    spread = x.T @ x / y.size + candidate.u_relative(draws)
    explained = float(with_rate @ np.linalg.solve(spread, with_rate)) / float(y @ y / y.size)
    return float(np.sqrt(np.clip(1.0 - explained, 0.0, 1.0)))


def _left_by_magnet(draws: SpringDraws, log_rate: Array) -> float:
    left, total = 0.0, float(log_rate.var())
    for pull in Pull:
        chance = magnet_reading(pull).family_chance
        if chance is None:
            continue
        likely = np.array([chance(family) for family in draws.material.families])[draws.family]
        share = float(likely.mean())
        weight = likely / max(float(likely.sum()), 1e-300)
        mean = float(weight @ log_rate)
        left += share * float(weight @ (log_rate - mean) ** 2)
    return float(np.sqrt(np.clip(left / total, 0.0, 1.0)))
