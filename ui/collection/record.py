"""One kept spring, and its form as plain data that loses nothing."""

from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from mechanics.check import require_dimension
from mechanics.ends import Ends
from mechanics.geometry import NAMES as GEOMETRY_NAMES
from mechanics.materials import find_material
from ui.answer import Answer

Array = NDArray[np.float64]

#: Order of values and covariance: the geometry's, then the rate, for their errors are common.
NAMES = (*GEOMETRY_NAMES, "rate_N_per_mm")
#: Of a torsion spring: turns and length of its body, then its angular rate.
TORSION, TORSION_NAMES = "torsion", (*GEOMETRY_NAMES, "rate_N_mm_per_degree")
KINDS = ("compression", "extension", "conical", TORSION)
HANDS = ("right", "left", "unknown")
_LISTS = ("evidence", "tags", "legs_mm")
#: What the databases' columns hold, and what fits on a screen [characters].
LONGEST_NAME, LONGEST_NOTES = 200, 10_000
_MOST_WORDS = 100
#: The rate of any spring of the dimensions that are reckoned with lies between them, in N/mm or in
#: N mm a degree.
_LEAST_RATE, _MOST_RATE = 1e-9, 1e9


@dataclass(frozen=True, slots=True)
class Spring:
    """A spring as it is kept.

    Attributes
    ----------
    name : str
        What the owner calls it.
    values : tuple of float
        In the order of `names` [mm, mm, -, mm, N/mm; of a torsion spring N mm/degree].
    covariance : tuple of tuple of float
        Theirs.
    kind, hand, ends, material : str
        By their trade names.
    small_end_ratio : float
        Of a cone, 1 for a cylinder [-].
    evidence : tuple of str
        What it was measured with, in words.
    tags : tuple of str
        The owner's.
    place, notes : str
        Where it is stored, and whatever else is to be remembered.
    legs_mm : (float, float)
        Straight legs of a torsion spring, from the coil to where the load acts [mm].
    wire_width_mm, u_wire_width_mm : float
        Of rectangular wire its side across the axis, 0 for round wire, and its standard
        uncertainty; the first of `values` is then its side along the axis [mm].

    Raises
    ------
    ValueError
        If there is no name, a value is no positive number, the covariance is not of that shape, or
        a spring that is no torsion spring has legs.
    """

    name: str
    values: tuple[float, ...]
    covariance: tuple[tuple[float, ...], ...]
    kind: str = "compression"
    hand: str = "unknown"
    ends: str = "unknown"
    material: str = "unknown steel"
    small_end_ratio: float = 1.0
    evidence: tuple[str, ...] = ()
    tags: tuple[str, ...] = ()
    place: str = ""
    notes: str = ""
    legs_mm: tuple[float, float] = (0.0, 0.0)
    wire_width_mm: float = 0.0
    u_wire_width_mm: float = 0.0

    def __post_init__(self) -> None:
        if not isinstance(self.name, str) or not self.name.strip():
            raise ValueError("a spring needs a name")
        matrix = np.asarray(self.covariance, dtype=float)
        values = np.asarray(self.values, dtype=float)
        if values.shape != (len(NAMES),) or matrix.shape != (len(NAMES), len(NAMES)):
            raise ValueError(f"a spring has {len(NAMES)} values and their covariance")
        if not bool(np.isfinite(values).all() and (values > 0.0).all()):
            raise ValueError(f"{self.name}: every dimension must be a number above 0")
        if not bool(np.isfinite(matrix).all() and np.allclose(matrix, matrix.T)):
            raise ValueError(f"{self.name}: the covariance must be symmetric")
        if len(self.legs_mm) != 2 or not all(0.0 <= leg < np.inf for leg in self.legs_mm):
            raise ValueError(f"{self.name}: legs are two lengths, 0 or above")
        if any(self.legs_mm) and not self.is_torsion:
            raise ValueError(f"{self.name}: only a torsion spring has legs")
        sides = (self.wire_width_mm, self.u_wire_width_mm)
        if not all(isinstance(x, (int, float)) and 0.0 <= x < np.inf for x in sides):
            raise ValueError(f"{self.name}: the wire's side across must be 0 or above")
        if self.is_flat and (self.kind != "compression" or self.ends == Ends.HOOKS):
            raise ValueError(f"{self.name}: only a compression spring is of rectangular wire")
        find_material(self.material)

    @property
    def is_torsion(self) -> bool:
        """Whether it is wound up, not pressed: then it has an angular rate and no other."""
        return self.kind == TORSION

    @property
    def is_flat(self) -> bool:
        """Whether its wire is rectangular."""
        return self.wire_width_mm > 0.0

    @property
    def names(self) -> tuple[str, ...]:
        """Names of its values, with their units."""
        return TORSION_NAMES if self.is_torsion else NAMES

    @property
    def wire_mm(self) -> float:
        """Wire diameter [mm]."""
        return self.values[0]

    @property
    def outside_mm(self) -> float:
        """Outside diameter [mm]."""
        return self.values[1] + (self.wire_width_mm if self.is_flat else self.values[0])

    @property
    def rate_N_per_mm(self) -> float | None:  # noqa: N802
        """Rate, None for a torsion spring [N/mm]."""
        return None if self.is_torsion else self.values[4]

    @property
    def rate(self) -> float:
        """Rate in its own unit, the last of `names` [N/mm or N mm/degree]."""
        return self.values[4]

    def u(self, name: str) -> float:
        """Return the standard uncertainty of one of `names` [its unit]."""
        at = self.names.index(name)
        return float(max(self.covariance[at][at], 0.0) ** 0.5)

    def as_dict(self) -> dict[str, Any]:
        """Return it as plain data, lists for tuples."""
        plain = {field.name: getattr(self, field.name) for field in fields(self)}
        plain["values"] = dict(zip(self.names, self.values, strict=True))
        plain["covariance"] = [list(row) for row in self.covariance]
        plain |= {name: list(plain[name]) for name in _LISTS}
        if not self.is_torsion:
            del plain["legs_mm"]
        if not self.is_flat:
            del plain["wire_width_mm"], plain["u_wire_width_mm"]
        return plain

    @classmethod
    def from_dict(cls, plain: Mapping[str, Any]) -> "Spring":
        """Return the spring of plain data; what is not known by name is refused.

        Raises
        ------
        ValueError
            If a field is missing, unknown or impossible.
        """
        known = {field.name for field in fields(cls)}
        if set(plain) - known:
            raise ValueError(f"unknown fields: {', '.join(sorted(set(plain) - known))}")
        try:
            names = TORSION_NAMES if plain.get("kind") == TORSION else NAMES
            values = tuple(float(plain["values"][name]) for name in names)
            rows = tuple(tuple(float(x) for x in row) for row in plain["covariance"])
            rest = {k: v for k, v in plain.items() if k not in ("values", "covariance")}
            rest |= {k: tuple(rest[k]) for k in _LISTS if k in rest}
            return cls(values=values, covariance=rows, **rest)
        except (KeyError, TypeError, AttributeError, OverflowError) as problem:
            raise ValueError(
                f"a spring's field is missing or of the wrong form: {problem}"
            ) from None


def fit_to_keep(spring: Spring) -> Spring:
    """Return the spring, if everything that is made of a kept spring can be made of it.

    Raises
    ------
    ValueError
        If a word is unknown or too long, a number is no spring's, or its error is no error.
    """
    name = spring.name if isinstance(spring.name, str) else "a spring"
    for field in ("name", "place", "notes", "tags", "evidence"):
        given = getattr(spring, field)
        for text in (given,) if field in ("name", "place", "notes") else given:
            _require_text(name, field, text)
    if len(spring.tags) > _MOST_WORDS or len(spring.evidence) > _MOST_WORDS:
        raise ValueError(f"{name}: more than {_MOST_WORDS} tags")
    for field, known in (("kind", KINDS), ("hand", HANDS), ("ends", tuple(map(str, Ends)))):
        if getattr(spring, field) not in known:
            raise ValueError(f"{name}: the {field} must be one of {', '.join(known)}")
    values, matrix = np.array(spring.values), np.array(spring.covariance)
    for dimension, value in zip(GEOMETRY_NAMES, spring.values, strict=False):
        require_dimension(dimension, value)
    for leg in spring.legs_mm:
        require_dimension("leg_mm", leg)
    if not _LEAST_RATE <= spring.rate <= _MOST_RATE:
        unit = "N mm a degree" if spring.is_torsion else "N/mm"
        raise ValueError(f"{name}: the rate must be {_LEAST_RATE:g} to {_MOST_RATE:,.0f} {unit}")
    if spring.is_flat:
        require_dimension("wire_width_mm", spring.wire_width_mm)
    if max(spring.wire_mm, spring.wire_width_mm) >= spring.values[1]:
        raise ValueError(f"{name}: the wire is as thick as the coil")
    if spring.u_wire_width_mm > 10.0 * spring.wire_width_mm:
        raise ValueError(f"{name}: an error is more than ten times its number")
    ratio = spring.small_end_ratio
    if not (isinstance(ratio, (int, float)) and 0.05 <= ratio <= 1.0):
        raise ValueError(f"{name}: the small end must be 0.05 to 1 of the large one")
    relative = matrix / np.outer(values, values)
    if not np.abs(relative).max() <= 100.0:
        raise ValueError(f"{name}: an error is more than ten times its number")
    if np.linalg.eigvalsh(relative).min() < -1e-6 * max(float(np.abs(relative).max()), 1e-12):
        raise ValueError(f"{name}: no errors have such a covariance")
    return spring


def _require_text(name: str, field: str, text: Any) -> None:
    if not isinstance(text, str):
        raise ValueError(f"{name[:40]}: {field} must be text")
    longest = LONGEST_NOTES if field == "notes" else LONGEST_NAME
    if len(text) > longest:
        raise ValueError(f"{name[:40]}…: {field} is longer than {longest} characters")
    # No database keeps these, and no screen shows them.
    if any(c == "\0" or "\ud800" <= c <= "\udfff" for c in text):
        raise ValueError(f"{name[:40]!r}: {field} holds a character that is none")


def spring_of(answer: Answer, name: str, **more: Any) -> Spring:
    """Return what is kept of an answer: dimensions and rate with the errors that they share.

    Parameters
    ----------
    answer : Answer
        After all evidence.
    name : str
        What the owner calls it.
    **more
        Further fields of `Spring`.
    """
    draws = answer.draws
    drawn = np.column_stack(
        [
            draws.wire_diameter_mm,
            draws.mean_diameter_mm,
            draws.total_coils,
            draws.free_length_mm,
            draws.rate_N_per_mm,
        ]
    )
    told_of = dict(answer.told)
    width = told_of.get("wire_width_mm")
    if width is not None:
        told_of[NAMES[0]] = told_of["wire_height_mm"]
    told = [
        told_of[n].value if n in told_of else np.median(drawn[:, k]) for k, n in enumerate(NAMES)
    ]
    return Spring(
        name=name,
        values=tuple(float(v) for v in told),
        covariance=covariance_of(drawn),
        ends=str(draws.ends),
        material=answer.material.name,
        small_end_ratio=float(answer.geometry.small_end_ratio),
        wire_width_mm=0.0 if width is None else width.value,
        u_wire_width_mm=0.0 if width is None else width.u,
        **more,
    )


def covariance_of(drawn: Array) -> tuple[tuple[float, ...], ...]:
    """Return the covariance of draws of shape (n, k), exactly symmetric."""
    matrix = np.cov(drawn.T)
    return tuple(tuple(float(x) for x in row) for row in (matrix + matrix.T) / 2.0)
