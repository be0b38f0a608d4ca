"""How well photos with known truth are measured: ``make accuracy PHOTOS=folder``.

Every picture in the folder that has a JSON file of its name beside it is measured; what comes out
is compared with what the file says. Fields of that file: DEVELOPERS.md.
"""

import json
import re
import time
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path
from typing import Annotated, Any

import cv2
import numpy as np
import typer

from mechanics.materials import Family, Material
from mechanics.rate import cone_factor, spring_rate
from mechanics.uncertainty import Quantity
from ui.accuracy_table import (
    COLUMNS,
    FAIR_PX,
    NARROW,
    WIDTH_GROUP,
    Score,
    fair,
    group_lines,
    score_line,
    summary_lines,
    unflagged_of,
    worst,
)
from ui.answer import Answer
from ui.measuring import answer_or_refusal, look, parse_reference, see
from vision.photo import read
from vision.refusal import Refusal

PICTURES = (".jpg", ".jpeg", ".png", ".webp", ".heic")
#: The rate is compared at one shear modulus, known exactly: it tests the seeing only [GPa].
G_GPA = 80.0
GIVEN = Material("given", (Family(G_GPA, 0.0),), "both sides the same")
#: Upper ends of the groups of wire width [px] and of tilt [degrees].
WIDTHS, TILTS = (FAIR_PX, 20.0, 30.0), (5.0, 15.0)
#: How many of the worst photos are drawn.
DRAWN = 5


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
        return Score(path.name, {}, {}, {}, {}, (), why, seconds, _groups(truth))
    right = {
        "hand": seen.hand == truth["hand"],
        "kind": seen.kind == truth["kind"],
        "ends": str(seen.geometry.ends) == truth["ends"],
    }
    compared = compare(answer, true_values(truth))
    return Score(path.name, *compared, right, seen.flags, "", seconds, _groups(truth))


def _groups(truth: Mapping[str, Any]) -> dict[str, str]:
    told = {name: str(truth[name]) for name in ("kind", "ends", "finish", "table") if name in truth}
    told["reference"] = reference_kind(truth).partition(":")[0]
    if "mm_per_px_at_table" in truth:
        width = float(truth["wire_diameter_mm"]) / float(truth["mm_per_px_at_table"])
        told[WIDTH_GROUP] = NARROW if width < FAIR_PX else _bin(width, WIDTHS, "px")
    if "tilt_deg" in truth:
        told["tilt"] = _bin(float(truth["tilt_deg"]), TILTS, "degrees")
    if "pixels" in truth:
        told["picture"] = f"{np.prod(truth['pixels']) / 1e6:.0f} megapixels"
    return told


def _bin(value: float, ends: Sequence[float], unit: str) -> str:
    lows = [low for low in (0.0, *ends) if low <= value]
    highs = [high for high in ends if high > value]
    return f"{lows[-1]:g} to {highs[0]:g} {unit}" if highs else f"from {lows[-1]:g} {unit}"


def compare(
    answer: Answer, true: Mapping[str, float]
) -> tuple[dict[str, float], dict[str, bool], dict[str, float]]:
    """Return errors, whether the truth is in the band, and the u told, as `Score` has them.

    Parameters
    ----------
    answer : Answer
        What was told, at `GIVEN`.
    true : mapping of str to float
        From `true_values`.
    """
    errors, inside, claimed = {}, {}, {}
    for column, name, relative in COLUMNS:
        told: Quantity = answer.told[name]
        unit = true[column] if relative else 1.0
        errors[column] = (told.value - true[column]) / unit
        inside[column] = told.low <= true[column] <= told.high
        claimed[column] = told.u / unit
    return errors, inside, claimed


def score_folder(folder: Path, reference: str = "", workers: int = 1) -> Iterator[Score]:
    """Return an iterator over the scores of all photos in a folder that have a truth beside them.

    Parameters
    ----------
    folder : Path
        Where they lie.
    reference : str
        What is said to lie beside every spring; left empty, what the truth says.
    workers : int
        Processes that measure side by side; the times told are those of a photo alone where 1.

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
    score = partial(_score_beside, reference=reference)
    if workers == 1:
        yield from map(score, pairs)
        return
    with ProcessPoolExecutor(workers, initializer=_alone) as pool:
        yield from pool.map(score, pairs)


def _alone() -> None:
    cv2.setNumThreads(1)


def _score_beside(pair: tuple[Path, Path], reference: str) -> Score:
    path, beside = pair
    truth = json.loads(beside.read_text(encoding="utf-8"))
    return score_photo(path, truth, reference or reference_kind(truth))


def main(
    folder: Annotated[Path, typer.Argument(help="Photos, each with its truth as JSON.")],
    reference: Annotated[
        str, typer.Option(help="What is said to lie beside every spring; else what the truth says.")
    ] = "",
    workers: Annotated[int, typer.Option(min=1, help="Processes that measure side by side.")] = 1,
    by_group: Annotated[
        bool, typer.Option("--by-group", help="Also by kind, ends, finish, table, reference.")
    ] = False,
    drawings: Annotated[
        Path | None, typer.Option(help="A folder for drawings of what was seen in the five worst.")
    ] = None,
) -> None:
    """Measure photos with known truth and print how far off each is."""
    names = "".join(f"{column:>8} " for column, _, _ in COLUMNS)
    typer.echo(f"{'photo':<18} {names}    time  (* truth outside the 95 % band)")
    scores = []
    try:
        if reference:
            parse_reference(reference, 0.0)
        for score in score_folder(folder, reference, workers):
            scores.append(score)
            typer.echo(score_line(score))
    except ValueError as problem:
        typer.echo(f"accuracy: {problem}", err=True)
        raise typer.Exit(2) from None
    lines = ["", *summary_lines(scores)]
    if len(close := fair(scores)) < len(scores):
        lines += ["", f"where the wire is at least {FAIR_PX:g} px wide:", *summary_lines(close)]
    if plain := unflagged_of(scores):
        lines += ["", "where nothing is told beside the answer:", *summary_lines(plain)]
    typer.echo("\n".join([*lines, *(group_lines(scores) if by_group else [])]))
    if drawings is not None:
        _draw_worst(folder, scores, reference, drawings)


def _draw_worst(folder: Path, scores: Sequence[Score], reference: str, out: Path) -> None:
    out.mkdir(parents=True, exist_ok=True)
    for score in worst(scores, DRAWN):
        path = folder / score.photo
        truth = json.loads(path.with_suffix(".json").read_text(encoding="utf-8"))
        kind = reference or reference_kind(truth)
        seen = look(path.read_bytes(), score.photo, parse_reference(kind, 0.0))
        if seen.drawing is not None:
            (out / f"{path.stem}.jpg").write_bytes(seen.drawing)


if __name__ == "__main__":
    typer.run(main)
