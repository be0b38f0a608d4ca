"""Springs as JSON and as CSV, out and in again without losing a digit (docs/collection.md)."""

import csv
import io
import json
from collections.abc import Sequence
from typing import Any

from ui.collection.record import NAMES, Spring, fit_to_keep

FORMAT, VERSION = "coilreckon-springs", 1
_TEXTS = ("name", "kind", "hand", "ends", "material", "place", "notes")
_LISTS = ("evidence", "tags")
_PAIRS = tuple((i, j) for i in range(len(NAMES)) for j in range(i, len(NAMES)))


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
    columns = [*_TEXTS, "small_end_ratio", *NAMES, *map(_pair, _PAIRS), *_LISTS]
    writer = csv.DictWriter(out, columns, lineterminator="\r\n")
    writer.writeheader()
    for s in springs:
        row: dict[str, Any] = {name: getattr(s, name) for name in (*_TEXTS, "small_end_ratio")}
        row |= {name: repr(value) for name, value in zip(NAMES, s.values, strict=True)}
        row |= {_pair((i, j)): repr(s.covariance[i][j]) for i, j in _PAIRS}
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
        missing = {*_TEXTS, *NAMES, *map(_pair, _PAIRS)} - set(reader.fieldnames or ())
    except csv.Error as problem:
        raise ValueError(f"this is no CSV: {problem}") from None
    if missing:
        raise ValueError(f"columns are missing: {', '.join(sorted(missing))}")
    try:
        return [fit_to_keep(_spring(row)) for row in reader]
    except (ValueError, TypeError, KeyError, RecursionError, csv.Error) as problem:
        raise ValueError(f"line {reader.line_num}: {problem}") from None


def _spring(row: dict[str, str]) -> Spring:
    matrix = [[0.0] * len(NAMES) for _ in NAMES]
    for i, j in _PAIRS:
        matrix[i][j] = matrix[j][i] = float(row[_pair((i, j))])
    plain: dict[str, Any] = {name: row[name] for name in _TEXTS}
    plain["values"] = {name: float(row[name]) for name in NAMES}
    plain["covariance"] = matrix
    plain["small_end_ratio"] = float(row["small_end_ratio"])
    plain |= {name: json.loads(row[name] or "[]") for name in _LISTS}
    return Spring.from_dict(plain)


def _pair(at: tuple[int, int]) -> str:
    return f"cov {NAMES[at[0]]} {NAMES[at[1]]}"
