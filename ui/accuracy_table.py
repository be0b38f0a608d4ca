"""Scores of measured photos as lines of text."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

#: What is compared: column, name in the answer, whether the error is relative.
COLUMNS = (
    ("wire", "wire_diameter_mm", True),
    ("outside", "outer_diameter_mm", True),
    ("coils", "total_coils", False),
    ("length", "free_length_mm", True),
    ("rate", "rate_N_per_mm", True),
)


#: What nine photos in ten shall stay within, by column (docs/accuracy.md).
LIMITS = {"wire": 0.03, "outside": 0.012, "coils": 0.25, "length": 0.012, "rate": 0.12}
#: A photo beyond any of these is altogether wrong: another spring was seen than lies there.
FAR_OFF = {"wire": 0.08, "outside": 0.04, "coils": 0.6, "length": 0.06, "rate": 0.35}
#: Wires at least so wide shall stay within the limits [px]; group and value that say it of a photo.
FAIR_PX = 12.0
WIDTH_GROUP, NARROW = "wire", "under 12 px"


@dataclass(frozen=True, slots=True)
class Score:
    """One photo against its truth.

    Attributes
    ----------
    photo : str
        File name.
    errors : mapping of str to float
        By column: relative [-], or in coils; empty where the photo was refused.
    inside : mapping of str to bool
        Whether the truth lies in the 95 % band.
    claimed : mapping of str to float
        Standard uncertainty told, in the units of the errors.
    right : mapping of str to bool
        Whether hand, kind and ends were told right.
    flags : tuple of str
        Codes told with the answer.
    refused : str
        Why there is no answer, empty where there is one.
    seconds : float
        From the file to the answer [s].
    of : mapping of str to str
        What kind of photo it is: kind, ends, finish, table, reference.
    """

    photo: str
    errors: Mapping[str, float]
    inside: Mapping[str, bool]
    claimed: Mapping[str, float]
    right: Mapping[str, bool]
    flags: tuple[str, ...]
    refused: str
    seconds: float
    of: Mapping[str, str]


#: Fewer photos than this make no group of their own.
LEAST_GROUP = 3


def score_line(score: Score) -> str:
    """Return a photo's line; a star stands where the truth is outside the 95 % band."""
    head = f"{score.photo:<18.18}"
    if score.refused:
        return f"{head} refused: {score.refused:<36} {score.seconds:5.1f} s"
    cells = [
        _cell(score.errors[column], relative) + (" " if score.inside[column] else "*")
        for column, _, relative in COLUMNS
    ]
    wrong = " ".join(f"{name}?" for name, right in score.right.items() if not right)
    return f"{head} {''.join(cells)} {score.seconds:5.1f} s  {wrong} {' '.join(score.flags)}"


def summary_lines(scores: Sequence[Score]) -> list[str]:
    """Return what holds for all photos together."""
    told = [score for score in scores if not score.refused]
    lines = [f"measured {len(told)} of {len(scores)}"]
    if not told:
        return lines
    for label, share in (("median error", 0.5), ("nine in ten", 0.9)):
        cells = [
            _cell(_within([abs(s.errors[c]) for s in told], share), relative, "") + " "
            for c, _, relative in COLUMNS
        ]
        lines.append(f"{label:<18} {''.join(cells)}")
    cells = [f"{np.mean([s.inside[c] for s in told]):8.0%} " for c, _, _ in COLUMNS]
    lines.append(f"{'inside 95 % band':<18} {''.join(cells)}")
    ratios = [_claim_ratio(told, column) for column, _, _ in COLUMNS]
    lines.append(f"{'rms error / mean u':<18} {''.join(f'{r:8.2f} ' for r in ratios)}")
    rights = [f"{n} {np.mean([s.right[n] for s in told]):.0%}" for n in ("hand", "kind", "ends")]
    lines.append(f"{'told right':<18} {', '.join(rights)}")
    unflagged = sum(abs(s.errors["rate"]) >= 0.5 and not s.flags for s in told)
    lines.append(f"rate wrong by half or more without a flag: {unflagged}")
    wrong = [s for s in told if altogether_wrong(s)]
    lines.append(f"altogether wrong: {len(wrong)}, without a flag: {len(unflagged_of(wrong))}")
    times = [s.seconds for s in scores]
    lines.append(f"time a photo: median {np.median(times):.1f} s, longest {max(times):.1f} s")
    return lines


def fair(scores: Sequence[Score]) -> list[Score]:
    """Return the photos in which the wire is at least 12 px wide, or of which that is not known."""
    return [score for score in scores if score.of.get(WIDTH_GROUP) != NARROW]


def unflagged_of(scores: Sequence[Score]) -> list[Score]:
    """Return the measured photos of which nothing is told beside the answer."""
    return [score for score in scores if not score.refused and not score.flags]


def altogether_wrong(score: Score) -> bool:
    """Tell whether a measured photo is off as only another spring would be."""
    return any(abs(error) > FAR_OFF[column] for column, error in score.errors.items())


def worst(scores: Sequence[Score], count: int) -> list[Score]:
    """Return the measured photos furthest beyond the limits in any column, the worst first."""

    def beyond(score: Score) -> float:
        return max(abs(score.errors[column]) / LIMITS[column] for column, _, _ in COLUMNS)

    return sorted((s for s in scores if not s.refused), key=beyond, reverse=True)[:count]


def _claim_ratio(told: Sequence[Score], column: str) -> float:
    """Return the errors' root mean square over the mean standard uncertainty told."""
    rms = np.sqrt(np.mean([s.errors[column] ** 2 for s in told]))
    return float(rms / np.mean([s.claimed[column] for s in told]))


def _within(errors: Sequence[float], share: float) -> float:
    """Return the error that this share of the photos does not exceed."""
    return sorted(errors)[max(math.ceil(share * len(errors)) - 1, 0)]


def _cell(error: float, relative: bool, sign: str = "+") -> str:
    return f"{100.0 * error:{sign}7.2f}%" if relative else f"{error:{sign}8.2f}"


def group_lines(scores: Sequence[Score]) -> list[str]:
    """Return the median errors by kind of photo, and the share inside the band of all columns."""
    names = "".join(f"{column:>8} " for column, _, _ in COLUMNS)
    lines = ["", f"{'median error by':<28} photos {names} inside"]
    for group in dict.fromkeys(name for score in scores for name in score.of):
        for value in sorted({score.of[group] for score in scores if group in score.of}):
            told = [s for s in scores if s.of.get(group) == value and not s.refused]
            if len(told) < LEAST_GROUP:
                continue
            cells = [
                _cell(float(np.median([abs(s.errors[c]) for s in told])), relative, "") + " "
                for c, _, relative in COLUMNS
            ]
            inside = float(np.mean([s.inside[c] for s in told for c, _, _ in COLUMNS]))
            label = f"{group} {value}"
            lines.append(f"{label:<28.28} {len(told):>6} {''.join(cells)} {inside:6.0%}")
    return lines
