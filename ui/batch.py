"""Many photos on the command line, one outcome each, in order."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from mechanics.materials import Material
from mechanics.uncertainty import Quantity
from ui.answer import Answer
from ui.contract import measured_object, proportions_object, refused_object
from ui.figures import answer_lines, proportion_lines
from ui.measuring import (
    Beside,
    answer_or_refusal,
    is_to_scale,
    parse_reference,
    proportions_of,
    see,
)
from vision.flags import find_flag
from vision.measure import Measurement
from vision.photo import read
from vision.refusal import Refusal


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one photo.

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
    """

    photo: str
    beside: Beside
    seen: Measurement | Refusal
    result: Answer | dict[str, Quantity] | Refusal

    @property
    def refused(self) -> bool:
        """Whether there is no measurement."""
        return isinstance(self.result, Refusal)

    def as_json(self) -> dict[str, Any]:
        """Return the object of the contract."""
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
            return f"{self.photo}: refused. {why.message} {why.try_this}\n"
        told = (
            answer_lines(self.result)
            if isinstance(self.result, Answer)
            else proportion_lines(self.result)
        )
        head = f"{self.photo}: {self.seen.kind} spring, hand {self.seen.hand}"
        head += f", ends {self.seen.geometry.ends}"
        notes = [find_flag(code) for code in self.seen.flags]
        return "\n".join([head, *told, *(f"! {f.sentence} {f.try_this}" for f in notes), ""])


def measure_each(
    photos: Sequence[Path], reference: str, u_mm: float, material: Material
) -> Iterator[Outcome]:
    """Return an iterator that measures photo after photo.

    Parameters
    ----------
    photos : sequence of Path
        In the order wanted.
    reference : str
        Kind of reference by its command-line name.
    u_mm : float
        Standard uncertainty of the owner's reading, where that is the reference [mm].
    material : Material
        Wire material.

    Raises
    ------
    ValueError
        At once, if there is no such reference.
    """
    beside = parse_reference(reference, u_mm)
    return (_measure_one(path, beside, material) for path in photos)


def _measure_one(path: Path, beside: Beside, material: Material) -> Outcome:
    photo = read(path)
    seen = photo if isinstance(photo, Refusal) else see(photo, beside)
    if isinstance(seen, Refusal):
        return Outcome(str(path), beside, seen, seen)
    if is_to_scale(seen, beside):
        return Outcome(str(path), beside, seen, answer_or_refusal(seen, material))
    return Outcome(str(path), beside, seen, proportions_of(seen))
