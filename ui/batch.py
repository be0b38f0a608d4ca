"""Many photos on the command line, one outcome for each spring, in order."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from mechanics.materials import Material
from mechanics.uncertainty import Quantity
from ui.answer import Answer
from ui.contract import measured_object, proportions_object, refused_object
from ui.figures import answer_lines, proportion_lines
from ui.files import write_whole
from ui.measuring import (
    Beside,
    answer_or_refusal,
    is_to_scale,
    parse_reference,
    proportions_of,
    see,
)
from ui.sketching import drawing_jpeg, numbered_jpeg
from vision.flags import find_flag, in_order
from vision.measure import Measurement
from vision.photo import Photo, read
from vision.refusal import Refusal
from vision.several import measure_all


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one photo, or of one spring of several in it.

    Attributes
    ----------
    photo : str
        Its name, as it was given.
    beside : Beside
        What was said to lie beside the spring.
    seen : Measurement or Refusal
        What was seen.
    result : Answer, dict or Refusal
        The answer to scale, the proportions by name, or why there is neither.
    number : int or None
        Of the spring in the photo, where all were asked for.
    """

    photo: str
    beside: Beside
    seen: Measurement | Refusal
    result: Answer | dict[str, Quantity] | Refusal
    number: int | None = None

    @property
    def refused(self) -> bool:
        """Whether there is no measurement."""
        return isinstance(self.result, Refusal)

    @property
    def name(self) -> str:
        """Photo, and number where there is one."""
        return self.photo if self.number is None else f"{self.photo} #{self.number}"

    @property
    def told(self) -> Mapping[str, Quantity] | None:
        """What is written on its drawing."""
        return self.result.told if isinstance(self.result, Answer) else None

    def as_json(self) -> dict[str, Any]:
        """Return the object of the contract."""
        out = self._object()
        return (
            out if self.number is None else {"photo": out.pop("photo"), "spring": self.number} | out
        )

    def _object(self) -> dict[str, Any]:
        if isinstance(self.seen, Refusal):
            return refused_object(self.photo, self.seen)
        if isinstance(self.result, Refusal):
            return refused_object(self.photo, self.result)
        if isinstance(self.result, Answer):
            out = measured_object(self.photo, self.seen, self.result)
            if self.beside.own is not None:
                out["reference"] = {"kind": self.beside.kind, "u_mm": self.beside.own.u_mm}
            return out
        return proportions_object(self.photo, self.seen, self.result)

    def as_text(self) -> str:
        """Return the same for people."""
        if isinstance(self.seen, Refusal) or isinstance(self.result, Refusal):
            why = self.seen if isinstance(self.seen, Refusal) else self.result
            assert isinstance(why, Refusal)
            return f"{self.name}: refused. {why.message} {why.try_this}\n"
        told = (
            answer_lines(self.result)
            if isinstance(self.result, Answer)
            else proportion_lines(self.result)
        )
        head = f"{self.name}: {self.seen.kind} spring, hand {self.seen.hand}"
        head += f", ends {self.seen.geometry.ends}"
        return "\n".join([head, *told, *advice(self.seen.flags), ""])


def advice(codes: Sequence[str]) -> list[str]:
    """Return a line for each flag, most important first."""
    notes = [find_flag(code) for code in in_order(codes)]
    return [f"! {flag.sentence} {flag.try_this}" for flag in notes]


@dataclass(frozen=True, slots=True)
class Wanted:
    """How photos are to be measured.

    Attributes
    ----------
    beside : Beside
        What lies beside the spring.
    material : Material
        Wire material.
    every : bool
        Whether all springs of a photo are measured, not one.
    drawings : Path or None
        Folder for a drawing of each photo.
    """

    beside: Beside
    material: Material
    every: bool = False
    drawings: Path | None = None


def wanted(
    reference: str, u_mm: float, material: Material, every: bool, drawings: Path | None
) -> Wanted:
    """Return how photos are to be measured.

    Parameters
    ----------
    reference : str
        Kind of reference by its command-line name.
    u_mm : float
        Standard uncertainty of the owner's reading, where that is the reference [mm].
    material, every, drawings
        As in `Wanted`.

    Raises
    ------
    ValueError
        If there is no such reference, or it cannot go with several springs.
    """
    beside = parse_reference(reference, u_mm)
    if every and beside.own is not None:
        raise ValueError(
            f"--reference {reference} is a reading of one spring, and --all measures several: lay "
            "a card, a coin or a ruler beside them"
        )
    if drawings is not None:
        drawings.mkdir(parents=True, exist_ok=True)
    return Wanted(beside, material, every, drawings)


def measure_each(photos: Sequence[Path], how: Wanted) -> Iterator[list[Outcome]]:
    """Return an iterator that measures photo after photo; several outcomes where all are wanted.

    Parameters
    ----------
    photos : sequence of Path
        In the order wanted.
    how : Wanted
        How.
    """
    return (_measure_one(path, how) for path in photos)


def _measure_one(path: Path, how: Wanted) -> list[Outcome]:
    photo = read(path)
    if isinstance(photo, Refusal):
        return [Outcome(str(path), how.beside, photo, photo)]
    seen: list[Measurement | Refusal]
    if how.every:
        found = measure_all(photo, how.beside.kind)
        seen = [found] if isinstance(found, Refusal) else list(found)
    else:
        seen = [see(photo, how.beside)]
    numbered = how.every and not isinstance(seen[0], Refusal)
    out = [
        _outcome(str(path), one, how, number if numbered else None)
        for number, one in enumerate(seen, 1)
    ]
    if how.drawings is not None:
        _write_drawing(photo, path, out, how.drawings)
    return out


def _outcome(name: str, seen: Measurement | Refusal, how: Wanted, number: int | None) -> Outcome:
    if isinstance(seen, Refusal):
        return Outcome(name, how.beside, seen, seen)
    if is_to_scale(seen, how.beside):
        return Outcome(name, how.beside, seen, answer_or_refusal(seen, how.material), number)
    return Outcome(name, how.beside, seen, proportions_of(seen), number)


def _write_drawing(photo: Photo, path: Path, outcomes: Sequence[Outcome], folder: Path) -> None:
    seen = [(one.seen, one.told) for one in outcomes if isinstance(one.seen, Measurement)]
    if not seen:
        return
    many = outcomes[0].number is not None
    picture = numbered_jpeg(photo.rgb, seen) if many else drawing_jpeg(photo.rgb, *seen[0])
    write_whole(folder / f"{path.stem}-seen.jpg", picture)
