"""A table of many springs for a terminal, one row each."""

from collections.abc import Mapping, Sequence
from pathlib import Path

from mechanics.uncertainty import Quantity
from ui.answer import Answer
from ui.batch import Outcome
from ui.figures import band_text, value_text
from vision.flags import find_flag, in_order
from vision.measure import Measurement
from vision.refusal import Refusal

_COLUMNS = (
    ("wire mm", "wire_diameter_mm"),
    ("outside mm", "outer_diameter_mm"),
    ("length mm", "free_length_mm"),
    ("coils", "total_coils"),
    ("rate N/mm", "rate_N_per_mm"),
)


def table_of(outcomes: Sequence[Outcome]) -> list[str]:
    """Return a table's lines: name, dimensions, rate with its band, and what to beware of.

    Parameters
    ----------
    outcomes : sequence of Outcome
        In the order wanted.
    """
    head = ["photo", "kind", *(title for title, _ in _COLUMNS), "95 %", ""]
    rows = [head, *(_row(one) for one in outcomes)]
    width = [max(len(row[k]) for row in rows) for k in range(len(head) - 1)]
    left = {0, 1}
    return [
        "  ".join(
            [
                cell.ljust(w) if k in left else cell.rjust(w)
                for k, (cell, w) in enumerate(zip(row, width, strict=False))
            ]
            + [row[-1]]
        ).rstrip()
        for row in rows
    ]


def _row(one: Outcome) -> list[str]:
    name = Path(one.photo).name + ("" if one.number is None else f" #{one.number}")
    if isinstance(one.result, Refusal):
        return [name, "refused", *[""] * (len(_COLUMNS) + 1), one.result.message]
    assert isinstance(one.seen, Measurement)
    told: Mapping[str, Quantity]
    told = one.result.told if isinstance(one.result, Answer) else one.result
    cells = [value_text(told[name]) if name in told else "" for _, name in _COLUMNS]
    band = band_text(told["rate_N_per_mm"]) if "rate_N_per_mm" in told else ""
    notes = ", ".join(find_flag(code).short for code in in_order(one.seen.flags))
    return [name, one.seen.kind, *cells, band, notes]
