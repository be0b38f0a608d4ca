"""Springs as JSON and as CSV, out and in again without losing a digit (docs/collection.md)."""

import csv
import io
import json
from collections.abc import Sequence
from typing import Any

from ui.cells import guarded, unguarded
from ui.collection.record import NAMES, TORSION, TORSION_NAMES, Spring, fit_to_keep

FORMAT, VERSION = "coilreckon-springs", 1
_TEXTS = ("name", "kind", "hand", "ends", "material", "place", "notes")
_LISTS = ("evidence", "tags")
_PAIRS = tuple((i, j) for i in range(len(NAMES)) for j in range(i, len(NAMES)))
_LEGS = ("leg_1_mm", "leg_2_mm")
_WIDTH = ("wire_width_mm", "u_wire_width_mm")


def to_json(springs: Sequence[Spring]) -> str:
    """Return springs as a JSON document."""
    body = {"format": FORMAT, "version": VERSION, "springs": [s.as_dict() for s in springs]}
    return json.dumps(body, indent=1, ensure_ascii=False)


def from_json(text: str) -> list[Spring]:
    """Return the springs of a JSON document.

    Raises
    ------
    ValueError
        If it is no such document; the message says what is wrong, and nothing is read by halves.
    """
    try:
        body = json.loads(text)
    except (ValueError, RecursionError) as problem:
        raise ValueError(f"this is no JSON: {problem}") from None
    if not isinstance(body, dict) or body.get("format") != FORMAT:
        raise ValueError(f"this JSON holds no springs: its format must be {FORMAT!r}")
    version = body.get("version")
    if version != VERSION:
        newer = isinstance(version, int) and version > VERSION
        why = "a newer Coilreckon wrote it, update this one" if newer else "nothing wrote it"
        raise ValueError(f"version {version!r} of the file is not known here: {why}")
    springs = body.get("springs")
    if not isinstance(springs, list) or not all(isinstance(one, dict) for one in springs):
        raise ValueError("this JSON holds no list of springs")
    return [fit_to_keep(Spring.from_dict(one)) for one in springs]


def to_csv(springs: Sequence[Spring]) -> str:
    """Return springs as CSV: one a row, the covariance in a column for each pair."""
    out = io.StringIO()
    columns = [*_TEXTS, "small_end_ratio", *_numbers(NAMES), *_LISTS]
    # What only some springs have comes last, so that the other columns keep their places.
    columns += [name for name in _numbers(TORSION_NAMES) if name not in columns]
    columns += [*_LEGS, *_WIDTH]
    writer = csv.DictWriter(out, columns, lineterminator="\r\n")
    writer.writeheader()
    for s in springs:
        row: dict[str, Any] = {name: guarded(getattr(s, name)) for name in _TEXTS}
        row["small_end_ratio"] = repr(s.small_end_ratio)
        cells = [*s.values, *(s.covariance[i][j] for i, j in _PAIRS)]
        row |= {name: repr(cell) for name, cell in zip(_numbers(s.names), cells, strict=True)}
        if s.is_torsion:
            row |= dict(zip(_LEGS, map(repr, s.legs_mm), strict=True))
        if s.is_flat:
            row |= {name: repr(getattr(s, name)) for name in _WIDTH}
        row |= {name: json.dumps(getattr(s, name), ensure_ascii=False) for name in _LISTS}
        writer.writerow(row)
    return out.getvalue()


def from_csv(text: str) -> list[Spring]:
    """Return the springs of a CSV written by `to_csv`.

    Raises
    ------
    ValueError
        If a column is missing or a cell is impossible; the message names the line.
    """
    reader = csv.DictReader(io.StringIO(text, newline=""))
    try:
        missing = {*_TEXTS, *_numbers(NAMES)} - set(reader.fieldnames or ())
    except csv.Error as problem:
        raise ValueError(f"this is no CSV: {problem}") from None
    if missing:
        raise ValueError(f"columns are missing: {', '.join(sorted(missing))}")
    try:
        return [fit_to_keep(_spring(row)) for row in reader]
    except (ValueError, TypeError, KeyError, RecursionError, csv.Error) as problem:
        raise ValueError(f"line {reader.line_num}: {problem}") from None


def _spring(row: dict[str, str]) -> Spring:
    torsion = row["kind"] == TORSION
    names = TORSION_NAMES if torsion else NAMES
    numbers = [float(row[name]) for name in _numbers(names)]
    matrix = [[0.0] * len(names) for _ in names]
    for (i, j), value in zip(_PAIRS, numbers[len(names) :], strict=True):
        matrix[i][j] = matrix[j][i] = value
    plain: dict[str, Any] = {name: unguarded(row[name]) for name in _TEXTS}
    plain["values"] = dict(zip(names, numbers, strict=False))
    if torsion:
        plain["legs_mm"] = [float(row[name]) for name in _LEGS]
    # Files of before have no such columns.
    plain |= {name: float(row[name]) for name in _WIDTH if row.get(name)}
    plain["covariance"] = matrix
    plain["small_end_ratio"] = float(row["small_end_ratio"])
    plain |= {name: json.loads(row[name] or "[]") for name in _LISTS}
    return Spring.from_dict(plain)


def _numbers(names: Sequence[str]) -> list[str]:
    """Return the columns of values and of their covariance."""
    return [*names, *(f"cov {names[i]} {names[j]}" for i, j in _PAIRS)]
