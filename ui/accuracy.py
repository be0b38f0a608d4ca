"""How well photos with known truth are measured: ``make accuracy PHOTOS=folder``.

Every picture in the folder that has a JSON file of its name beside it is measured; what comes out
is compared with what the file says. Fields of that file: DEVELOPERS.md.
"""

import json
import math
import re
import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

import numpy as np
import typer

from mechanics.materials import Family, Material
from mechanics.rate import cone_factor, spring_rate
from mechanics.uncertainty import Quantity
from ui.answer import Answer
from ui.measuring import answer_or_refusal, parse_reference, see
from vision.photo import read
from vision.refusal import Refusal

PICTURES = (".jpg", ".jpeg", ".png", ".webp", ".heic")
#: The rate is compared at one shear modulus, known exactly: it tests the seeing only [GPa].
G_GPA = 80.0
GIVEN = Material("given", (Family(G_GPA, 0.0),), "both sides the same")

#: What is compared: column, name in the answer, whether the error is relative.
COLUMNS = (
    ("wire", "wire_diameter_mm", True),
    ("outside", "outer_diameter_mm", True),
    ("coils", "total_coils", False),
    ("length", "free_length_mm", True),
    ("rate", "rate_N_per_mm", True),
)


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
    right : mapping of str to bool
        Whether hand, kind and ends were told right.
    flags : tuple of str
        Codes told with the answer.
    refused : str
        Why there is no answer, empty where there is one.
    seconds : float
        From the file to the answer [s].
    """

    photo: str
    errors: Mapping[str, float]
    inside: Mapping[str, bool]
    right: Mapping[str, bool]
    flags: tuple[str, ...]
    refused: str
    seconds: float


def reference_kind(truth: Mapping[str, Any]) -> str:
    """Return the command-line name of the reference that lies in the photo.

    Parameters
    ----------
    truth : mapping
        What the JSON file beside the photo says.

    Raises
    ------
    ValueError
        If its reference's type is not known.

    Examples
    --------
    >>> reference_kind({"reference": {"type": "usd_0.25"}})
    'coin:USD-0.25'
    >>> reference_kind({"reference": {"type": "a4"}})
    'paper:A4'
    """
    name = str(truth["reference"]["type"]).lower()
    coin = re.fullmatch(r"([a-z]{3})_([\d.]+)", name)
    if coin:
        return f"coin:{coin[1].upper()}-{float(coin[2]):g}"
    fixed = {"card": "card", "ruler": "ruler:mm", "ruler_inch": "ruler:inch", "sheet": "sheet"}
    papers = {kind.lower(): f"paper:{kind}" for kind in ("A4", "A5", "A6", "Letter")}
    if name not in fixed | papers:
        raise ValueError(f"the truth names a reference of unknown type {name!r}")
    return (fixed | papers)[name]


def true_values(truth: Mapping[str, Any]) -> dict[str, float]:
    """Return the truth by column, the rate by the textbook formula at the given modulus."""
    wire, mean = float(truth["wire_diameter_mm"]), float(truth["mean_diameter_mm"])
    small = truth.get("mean_diameter_small_end_mm")
    ratio = float(small) / mean if small else 1.0
    rate = spring_rate(wire, mean, float(truth["active_coils"]), 1000.0 * G_GPA) * cone_factor(
        ratio
    )
    return {
        "wire": wire,
        "outside": float(truth["outer_diameter_mm"]),
        "coils": float(truth["total_coils"]),
        "length": float(truth["free_length_mm"]),
        "rate": float(rate),
    }


def score_photo(path: Path, truth: Mapping[str, Any], kind: str) -> Score:
    """Measure a photo and compare.

    Parameters
    ----------
    path : Path
        The photo.
    truth : mapping
        What is known of it.
    kind : str
        What is said to lie beside the spring.
    """
    began = time.perf_counter()
    photo = read(path)
    seen = photo if isinstance(photo, Refusal) else see(photo, parse_reference(kind, 0.0))
    answer = seen if isinstance(seen, Refusal) else answer_or_refusal(seen, GIVEN)
    seconds = time.perf_counter() - began
    if isinstance(seen, Refusal) or isinstance(answer, Refusal):
        why = answer.reason if isinstance(answer, Refusal) else ""
        return Score(path.name, {}, {}, {}, (), why, seconds)
    right = {
        "hand": seen.hand == truth["hand"],
        "kind": seen.kind == truth["kind"],
        "ends": str(seen.geometry.ends) == truth["ends"],
    }
    errors, inside = _compare(answer, true_values(truth))
    return Score(path.name, errors, inside, right, seen.flags, "", seconds)


def _compare(answer: Answer, true: Mapping[str, float]) -> tuple[dict[str, float], dict[str, bool]]:
    errors, inside = {}, {}
    for column, name, relative in COLUMNS:
        told: Quantity = answer.told[name]
        off = told.value - true[column]
        errors[column] = off / true[column] if relative else off
        inside[column] = told.low <= true[column] <= told.high
    return errors, inside


def score_folder(folder: Path, reference: str = "") -> Iterator[Score]:
    """Return an iterator over the scores of all photos in a folder that have a truth beside them.

    Parameters
    ----------
    folder : Path
        Where they lie.
    reference : str
        What is said to lie beside every spring; left empty, what the truth says.

    Raises
    ------
    ValueError
        If there is no such photo in it.
    """
    pairs = [
        (path, path.with_suffix(".json"))
        for path in sorted(folder.iterdir() if folder.is_dir() else [])
        if path.suffix.lower() in PICTURES and path.with_suffix(".json").is_file()
    ]
    if not pairs:
        raise ValueError(f"no photo with a JSON file of its name beside it lies in {folder}")
    for path, beside in pairs:
        truth = json.loads(beside.read_text(encoding="utf-8"))
        yield score_photo(path, truth, reference or reference_kind(truth))


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
    rights = [f"{n} {np.mean([s.right[n] for s in told]):.0%}" for n in ("hand", "kind", "ends")]
    lines.append(f"{'told right':<18} {', '.join(rights)}")
    unflagged = sum(abs(s.errors["rate"]) >= 0.5 and not s.flags for s in told)
    lines.append(f"rate wrong by half or more without a flag: {unflagged}")
    times = [s.seconds for s in scores]
    lines.append(f"time a photo: median {np.median(times):.1f} s, longest {max(times):.1f} s")
    return lines


def _within(errors: Sequence[float], share: float) -> float:
    """Return the error that this share of the photos does not exceed."""
    return sorted(errors)[max(math.ceil(share * len(errors)) - 1, 0)]


def _cell(error: float, relative: bool, sign: str = "+") -> str:
    return f"{100.0 * error:{sign}7.2f}%" if relative else f"{error:{sign}8.2f}"


def main(
    folder: Annotated[Path, typer.Argument(help="Photos, each with its truth as JSON.")],
    reference: Annotated[
        str, typer.Option(help="What is said to lie beside every spring; else what the truth says.")
    ] = "",
) -> None:
    """Measure photos with known truth and print how far off each is."""
    names = "".join(f"{column:>8} " for column, _, _ in COLUMNS)
    typer.echo(f"{'photo':<18} {names}    time  (* truth outside the 95 % band)")
    scores = []
    try:
        if reference:
            parse_reference(reference, 0.0)
        for score in score_folder(folder, reference):
            scores.append(score)
            typer.echo(score_line(score))
    except ValueError as problem:
        typer.echo(f"accuracy: {problem}", err=True)
        raise typer.Exit(2) from None
    typer.echo("\n".join(["", *summary_lines(scores)]))


if __name__ == "__main__":
    typer.run(main)
