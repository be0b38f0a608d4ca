"""A supplier's table, its columns named by whoever imports it, as springs to recognise."""

import csv
import io
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np

from mechanics.check import require_coil
from mechanics.ends import Ends, end_rule
from mechanics.geometry import SpringGeometry
from mechanics.materials import find_material
from mechanics.units import RATE_UNITS
from ui.answer import answer_of
from ui.collection.record import Spring, fit_to_keep, spring_of
from ui.units import LENGTH_UNITS

#: What a column may hold, and what it is called.
FIELDS = MappingProxyType(
    {
        "name": "Name or number",
        "wire": "Wire diameter",
        "outside": "Outside diameter",
        "mean": "Mean coil diameter",
        "inside": "Inside diameter",
        "length": "Free length",
        "total": "Total coils",
        "active": "Active coils",
        "rate": "Rate",
        "notes": "Notes",
    }
)
#: Standard uncertainties of what a table says, relative; of coils in turns: judgements about
#: common tolerances of cold-coiled springs, no source.
U_WIRE, U_DIAMETER, U_LENGTH, U_RATE, U_COILS = 0.01, 0.01, 0.015, 0.05, 0.25
#: Words by which a column is guessed; the first that is found counts.
_WORDS = MappingProxyType(
    {
        "name": r"\b(name|no|nr|number|part|article|item|code|order)\b",
        "wire": r"\b(wire|d)\b",
        "outside": r"\b(outside|outer|od|de|do)\b",
        "mean": r"\b(mean|dm)\b",
        "inside": r"\b(inside|inner|id|di)\b",
        "length": r"\b(free|length|l0|lo)\b",
        "total": r"\b(total|nt)\b",
        "active": r"\b(active|working|n|na)\b",
        "rate": r"\b(rate|r|c)\b",
        "notes": r"\b(notes?|remarks?|price)\b",
    }
)


@dataclass(frozen=True, slots=True)
class Table:
    """A table as text: its columns' names, and its rows."""

    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Reading:
    """How a table is to be read.

    Attributes
    ----------
    columns : mapping of str to str
        Column by the keys of `FIELDS`; what the table lacks is left out.
    supplier : str
        Its name, which becomes a tag.
    length, rate : str
        Units, keys of `LENGTH_UNITS` and `RATE_UNITS`.
    ends : Ends
        Of all its springs.
    material : str
        Of all its springs.
    """

    columns: Mapping[str, str]
    supplier: str
    length: str = "mm"
    rate: str = "N/mm"
    ends: Ends = Ends.CLOSED_GROUND
    material: str = "unknown steel"


def read_table(text: str) -> Table:
    """Return a table of text with a head, whatever parts its cells: comma, semicolon, tab or bar.

    Raises
    ------
    ValueError
        If it has no head of two columns or no row.
    """
    head = text.lstrip("\ufeff").splitlines()[:1]
    parts = max(",;\t|", key=head[0].count) if head else ","
    lines = csv.reader(io.StringIO(text.lstrip("\ufeff"), newline=""), delimiter=parts)
    try:
        rows = [row for row in lines if row]
    except csv.Error as problem:
        raise ValueError(f"the table's columns cannot be told apart: {problem}") from None
    if len(rows) < 2 or len(rows[0]) < 2:
        raise ValueError("a table needs a head with at least two columns, and rows below it")
    columns = tuple(name.strip() or f"column {k + 1}" for k, name in enumerate(rows[0]))
    if len(set(columns)) < len(columns):
        raise ValueError("two columns of the table have one name; rename one of them")
    wide = len(columns)
    return Table(columns, tuple((*row, *[""] * wide)[:wide] for row in rows[1:]))


def guess_columns(columns: Sequence[str]) -> dict[str, str]:
    """Return which column each field is likely to stand in.

    Examples
    --------
    >>> guess_columns(["Part no.", "OD (mm)", "wire", "Free length", "Rate N/mm"])["outside"]
    'OD (mm)'
    """
    found: dict[str, str] = {}
    # Units are no words: the N of N/mm is no count of coils.
    words = {column: re.sub(r"\w+/\w+", "", column.lower()) for column in columns}
    for field, pattern in _WORDS.items():
        for column in columns:
            if column not in found.values() and re.search(pattern, words[column]):
                found[field] = column
                break
    return found


def springs_of(table: Table, how: Reading) -> tuple[list[Spring], list[str]]:
    """Return the springs of a table, and what could not be read, a sentence a row.

    Raises
    ------
    ValueError
        If the columns named do not suffice for any spring.
    """
    named = {field for field, column in how.columns.items() if column in table.columns}
    if not {"wire", "length"} <= named or not named & {"outside", "mean", "inside"}:
        raise ValueError("name the columns of the wire, of one diameter and of the free length")
    if not named & {"total", "active", "rate"}:
        raise ValueError("name the column of the coils, or of the rate")
    springs, problems = [], []
    for number, row in enumerate(table.rows, start=2):
        cells = dict(zip(table.columns, row, strict=True))
        try:
            texts = {field: cells[how.columns[field]].strip() for field in named}
            springs.append(fit_to_keep(_spring(texts, how, number)))
        except (ValueError, OverflowError) as problem:
            problems.append(f"row {number}: {problem}")
    return springs, problems


def _spring(texts: Mapping[str, str], how: Reading, number: int) -> Spring:
    mm = LENGTH_UNITS[how.length]
    wire = _number(texts, "wire", mm)
    across = next((f for f in ("outside", "mean", "inside") if texts.get(f)), None)
    if across is None:
        raise ValueError("it tells no diameter")
    step = {"outside": -1.0, "mean": 0.0, "inside": 1.0}[across]
    mean = _number(texts, across, mm) + step * wire
    require_coil(wire, mean)
    length = _number(texts, "length", mm)
    rate = _number(texts, "rate", RATE_UNITS[how.rate]) if texts.get("rate") else None
    total, u_total = _coils(texts, how, wire, mean, rate)
    u = np.array([U_WIRE * wire, U_DIAMETER * mean, u_total, U_LENGTH * length])
    geometry = SpringGeometry(np.array([wire, mean, total, length]), np.diag(u**2), how.ends)
    kind = "extension" if how.ends is Ends.HOOKS else "compression"
    spring = spring_of(
        answer_of(geometry, find_material(how.material)),
        texts.get("name") or f"{how.supplier} {number}",
        kind=kind,
        evidence=("supplier's table",),
        tags=(how.supplier,),
        notes=texts.get("notes", ""),
    )
    return spring if rate is None else _with_rate(spring, rate)


def _coils(
    texts: Mapping[str, str], how: Reading, wire: float, mean: float, rate: float | None
) -> tuple[float, float]:
    """Return total coils and their uncertainty, from the rate where the table has no count."""
    dead = end_rule(how.ends).dead_coils
    if texts.get("total"):
        return _number(texts, "total", 1.0), U_COILS
    if texts.get("active"):
        return _number(texts, "active", 1.0) + dead, U_COILS
    if rate is None:
        raise ValueError("it tells neither coils nor rate")
    modulus = 1000.0 * find_material(how.material).shear_modulus_GPa
    active = modulus * wire**4 / (8.0 * mean**3 * rate)
    relative = float(np.sqrt((4 * U_WIRE) ** 2 + (3 * U_DIAMETER) ** 2 + U_RATE**2))
    return active + dead, max(relative * active, U_COILS)


def _with_rate(spring: Spring, rate: float) -> Spring:
    """Return the spring with the rate that the table tells, its error its own."""
    matrix = [list(row) for row in spring.covariance]
    for k in range(len(matrix)):
        matrix[k][4] = matrix[4][k] = 0.0
    matrix[4][4] = (U_RATE * rate) ** 2
    return replace(
        spring,
        values=(*spring.values[:4], rate),
        covariance=tuple(tuple(row) for row in matrix),
    )


def _number(texts: Mapping[str, str], field: str, unit: float) -> float:
    """Return a cell's number, decimal point or comma, a unit written after it or not."""
    text = texts.get(field, "")
    found = re.match(r"^[^\d.,-]*(\d*[.,]?\d+)", text)
    if found is None:
        raise ValueError(f"{FIELDS[field].lower()} {text!r} is no number")
    value = float(found[1].replace(",", ".")) * unit
    if value <= 0.0:
        raise ValueError(f"{FIELDS[field].lower()} must be above 0, not {text!r}")
    return value
