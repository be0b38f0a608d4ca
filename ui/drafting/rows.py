"""Springs to one scale, one row below another: before and after a change, between their seats."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ui.drafting.plan import RULE_PT, side_view, tube
from ui.drafting.sheet import RULE, Sheet, Stroke, Words
from ui.drafting.wire import Form, pieces

#: Room at both sides, above a row for its words, and between rows [pt].
SIDE, WORDS, GAP = 14.0, 22.0, 12.0
#: A row is at most this share of the sheet's width tall.
_TALLEST = 0.34
#: Drawn seats reach this far beyond the coil [pt].
_BEYOND = 5.0


@dataclass(frozen=True, slots=True)
class Row:
    """One state of the springs.

    Attributes
    ----------
    words : str
        Written above it.
    forms : tuple of Form
        Springs, laid end to end.
    seat_mm : float or None
        Distance of the seats that are drawn, None for none [mm].
    """

    words: str
    forms: tuple[Form, ...]
    seat_mm: float | None = None

    @property
    def long_mm(self) -> float:
        """What the row takes along the axis [mm]."""
        return max(sum(form.length_mm for form in self.forms), self.seat_mm or 0.0)

    @property
    def tall_mm(self) -> float:
        """What it takes across [mm]."""
        return max(form.outside_mm for form in self.forms)


def rows(states: Sequence[Row], title: str, wide_pt: float) -> Sheet:
    """Return the drawing.

    Parameters
    ----------
    states : sequence of Row
        From top to bottom.
    title : str
        What the drawing shows, for those who do not see it.
    wide_pt : float
        Width of the sheet [pt].
    """
    longest, tallest = max(s.long_mm for s in states), max(s.tall_mm for s in states)
    scale = min((wide_pt - 2.0 * SIDE) / longest, _TALLEST * wide_pt / tallest)
    each = [WORDS + GAP + scale * s.tall_mm + 2.0 * _BEYOND for s in states]
    top, parts = float(sum(each)), list[Stroke | Words]()
    for state, tall in zip(states, each, strict=True):
        parts.append(Words(state.words, (SIDE, top - 16.0), "start"))
        middle = top - WORDS - _BEYOND - scale * state.tall_mm / 2.0
        parts += _springs(state, scale, middle)
        top -= tall
    return Sheet((wide_pt, float(sum(each))), tuple(parts), title)


def _springs(state: Row, scale: float, middle: float) -> list[Stroke | Words]:
    out: list[Stroke | Words] = []
    left = SIDE
    for form in (one.beside for one in state.forms):
        view = side_view(form, pieces(form))
        # The axis of every spring lies on one line.
        out += tube(form, view, scale, np.array([left, middle]))
        left += scale * form.length_mm
    if state.seat_mm is not None:
        half = scale * state.tall_mm / 2.0 + _BEYOND
        for x in (SIDE, SIDE + scale * state.seat_mm):
            line = np.array([[x, middle - half], [x, middle + half]])
            out.append(Stroke(line, RULE, 3.0 * RULE_PT))
    return out
