"""Groups of photos of one spring as lines of text: each photo, and what they say together."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ui.accuracy_table import COLUMNS, Score, score_line

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Group:
    """Photos of one spring against its truth, one by one and together.

    Attributes
    ----------
    name : str
        What the photos' names have in common.
    photos : tuple of Score
        Of each photo alone.
    fused : Score
        Of what they say together.
    trouble : str
        Why they are no whole group: a photo refused or left out, a warning that they disagree,
        nothing fused; empty where all of them were measured and agree.
    """

    name: str
    photos: tuple[Score, ...]
    fused: Score
    trouble: str


def heading() -> str:
    """Return the names above the columns of a group's lines."""
    names = "".join(f"{column:>8} " for column, _, _ in COLUMNS)
    return f"{'photo':<18} {names}    time  (* truth outside the 95 % band)"


def group_lines(group: Group) -> list[str]:
    """Return a line for each photo, one for what they say together, and what went wrong."""
    lines = [score_line(one) for one in (*group.photos, group.fused)]
    return [*lines, *([f"  ! {group.trouble}"] if group.trouble else []), ""]


def summary_lines(groups: Sequence[Group]) -> list[str]:
    """Return what holds for all groups: first for those that are whole, then for all fused."""
    whole = [one for one in groups if not one.trouble]
    fused = [one for one in groups if not one.fused.refused]
    lines = [f"{len(whole)} of {len(groups)} groups: all photos measured, used and in agreement"]
    lines += _figures(whole)
    if len(fused) > len(whole):
        lines += ["", f"{len(fused)} of {len(groups)} groups: all that gave a fused spring"]
        lines += _figures(fused)
    troubled = [f"  {one.name}: {one.trouble}" for one in groups if one.trouble]
    if troubled:
        lines += ["", f"{len(troubled)} of {len(groups)} groups are not whole:", *troubled]
    return lines


def _figures(groups: Sequence[Group]) -> list[str]:
    if not groups:
        return []
    single = [one for group in groups for one in _told(group)]
    fused = [group.fused for group in groups]

    def shown(label: str, of: Callable[[str], float], form: str = ".2f") -> str:
        cells = "".join(f"{of(column):>8{form}} " for column, _, _ in COLUMNS)
        return f"{label:<30} {cells}"

    def errors(label: str, scores: Sequence[Score]) -> str:
        cells = [
            f"{_median(scores, column):>8{'.2%' if relative else '.2f'}} "
            for column, _, relative in COLUMNS
        ]
        return f"{label:<30} {''.join(cells)}"

    def ratio(column: str) -> float:
        together = _median(fused, column)
        return _median(single, column) / together if together else float("nan")

    return [
        f"{'':<30} " + "".join(f"{column:>8} " for column, _, _ in COLUMNS),
        errors("one photo, median error", single),
        errors("fused, median error", fused),
        shown("one photo : fused", ratio),
        shown("one photo inside 95 % band", lambda c: _inside(single, c), ".0%"),
        shown("fused inside 95 % band", lambda c: _inside(fused, c), ".0%"),
        shown("band, fused : one photo", lambda c: band_ratio(groups, c)),
        shown("error alike in all photos", lambda c: alike(groups, c), ".0%"),
    ]


def _told(group: Group) -> list[Score]:
    return [one for one in group.photos if not one.refused]


def _median(scores: Sequence[Score], column: str) -> float:
    return float(np.median([abs(one.errors[column]) for one in scores]))


def _inside(scores: Sequence[Score], column: str) -> float:
    return float(np.mean([one.inside[column] for one in scores]))


def band_ratio(groups: Sequence[Group], column: str) -> float:
    """Return the u that is told together over the middle one of the photos, in the middle group."""
    ratios = [
        group.fused.claimed[column] / np.median([one.claimed[column] for one in _told(group)])
        for group in groups
    ]
    return float(np.median(ratios))


def alike(groups: Sequence[Group], column: str) -> float:
    """Return the share of the squared error that all photos of a spring have in common [-].

    Each error counts by the u told with it. Of the mean of k photos, what is their own leaves 1/k
    of its square, which is taken off. With a share s, k photos leave sqrt(s + (1 - s)/k) of the
    error of one. Of twenty groups of four with normal errors, half of them shared, the share comes
    out with a standard deviation of 0.11 (2000 simulated sets); outliers make it less sure.

    Parameters
    ----------
    groups : sequence of Group
        Those that gave a fused spring; nan where none of them has two measured photos that err.
    column : str
        Which quantity.
    """
    off: list[Array] = [
        np.array([one.errors[column] / one.claimed[column] for one in _told(group)])
        for group in groups
    ]
    off = [one for one in off if len(one) > 1]
    if not off:
        return float("nan")
    own = float(np.mean([one.var(ddof=1) for one in off]))
    common = float(np.mean([one.mean() ** 2 - one.var(ddof=1) / len(one) for one in off]))
    common = max(common, 0.0)
    return common / (common + own) if common + own else float("nan")
