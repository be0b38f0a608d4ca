"""Which graduation a ruler has, by the pattern of its longer marks."""

import numpy as np
from numpy.typing import NDArray

from vision.references.ticks import Ticks

Array = NDArray[np.float64]

PATTERNS = (5, 8, 10, 16, 20, 32, 64)  # graduations from one longest to the next
ALIKE = 0.95  # lengths that differ by less are those of one kind of marks


def graduation(ticks: Ticks) -> int | None:
    """Return after how many graduations the longest ones come back, or None where none do.

    Ten for millimetres, twenty for half millimetres, 16 for sixteenths of an inch, and so on.
    """
    found, longest = None, float(np.percentile(ticks.length, 97))
    for period in (p for p in PATTERNS if 2 * p <= np.ptp(ticks.number)):
        residue = ticks.number % period
        groups = [ticks.length[residue == k] for k in range(period)]
        # Nearly all of a group must be long; one mark may be hidden in a large group.
        short = np.array([_low(g) for g in groups])
        best = int(short.argmax())
        ahead = short[best] - np.delete(short, best).max()
        if short[best] <= 0.85 * longest or ahead <= 0.12 * longest:
            continue
        # By chance a few long marks are so far apart, but then others are as long.
        if 2 * (groups[best] >= short[best]).sum() < (ticks.length >= short[best]).sum():
            continue
        half, rivals = period // 2, groups[(best + period // 2) % period]
        usual = float(np.median(groups[best]))
        if half not in PATTERNS or _shorter(rivals, ALIKE * usual, found == half):
            found = period
        else:
            found = half
    return found


def _shorter(rivals: Array, long: float, otherwise: bool) -> bool:
    """Tell whether the marks half a period away are shorter than the longest.

    Where some come as long, only fewer of them, things lie on the others; and where hardly one is
    seen, as in the glare of a steel rule, the shorter period stays if it was found.
    """
    if len(rivals) < 2 and otherwise:
        return False
    if not len(rivals):
        return True
    return float(rivals.max() if len(rivals) < 5 else np.percentile(rivals, 75)) <= long


def _low(lengths: Array) -> float:
    """Return the least of a few lengths, the lower quartile of many, zero of one alone."""
    if len(lengths) < 2:
        return 0.0
    return float(lengths.min() if len(lengths) < 5 else np.percentile(lengths, 25))
