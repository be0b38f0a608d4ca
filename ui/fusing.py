"""How much several photos of one spring tell beyond one: ``make fusing PHOTOS=folder``.

Photos of one spring have one name and end in ``-1``, ``-2`` and so on, each with its truth beside
it (fields: DEVELOPERS.md). Each is measured alone; then they are fused as ``measure --fuse`` does.
"""

import json
import re
import time
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import nullcontext
from dataclasses import asdict
from functools import partial
from multiprocessing import get_context
from pathlib import Path
from typing import Annotated, Any

import cv2
import typer

from ui.accuracy import GIVEN, PICTURES, compare, reference_kind, true_values
from ui.accuracy_table import Score
from ui.answer import Answer
from ui.batch import measure_each, wanted
from ui.fused import Together, together
from ui.fusing_table import Group, group_lines, heading, summary_lines
from ui.measuring import parse_reference
from vision.fuse import Fused
from vision.measure import Measurement
from vision.refusal import Refusal

#: A photo's name: that of its group, and its number.
NAME = re.compile(r"(.+)-\d{1,2}")


def groups_of(folder: Path) -> dict[str, list[Path]]:
    """Return the photos of a folder that have a truth beside them, by spring.

    Raises
    ------
    ValueError
        If there is none, or photos of one name have different truths.
    """
    out: dict[str, list[Path]] = {}
    for path in sorted(folder.iterdir() if folder.is_dir() else []):
        named = NAME.fullmatch(path.stem)
        if named and path.suffix.lower() in PICTURES and path.with_suffix(".json").is_file():
            out.setdefault(named[1], []).append(path)
    if not out:
        raise ValueError(
            f"no photo NAME-1.jpg with its truth as NAME-1.json lies in {folder}: number the "
            "photos of each spring"
        )
    for name, paths in out.items():
        first, *others = [true_values(_truth(path)) for path in paths]
        if any(other != first for other in others):
            raise ValueError(
                f"the photos {name}-1, {name}-2 … show different springs by their truths: give "
                "the photos of each spring a name of their own"
            )
    return out


def _truth(path: Path) -> dict[str, Any]:
    told: dict[str, Any] = json.loads(path.with_suffix(".json").read_text(encoding="utf-8"))
    return told


def measure_group(group: tuple[str, Sequence[Path]], reference: str = "") -> Group:
    """Measure the photos of one spring, fuse them and compare both with the truth.

    Parameters
    ----------
    group : (str, sequence of Path)
        Name and photos.
    reference : str
        What is said to lie beside the spring; left empty, what each photo's truth says.
    """
    name, paths = group
    truth = _truth(paths[0])
    outcomes, scores = [], []
    for path in paths:
        kind = reference or reference_kind(_truth(path))
        how = wanted(kind, 0.0, GIVEN, every=False, drawings=None)
        began = time.perf_counter()
        ((outcome,),) = measure_each([path], how)
        seconds = time.perf_counter() - began
        outcomes.append(outcome)
        scores.append(_score(path.stem, outcome.seen, outcome.result, truth, seconds))
    began = time.perf_counter()
    said = together(outcomes, GIVEN)
    seconds = time.perf_counter() - began
    used = len(said.fused.used) if isinstance(said.fused, Fused) else 0
    fused = _score(f"= fused of {used}", said.fused, said.answer, truth, seconds)
    return Group(name, tuple(scores), fused, _trouble(scores, said))


def _score(
    name: str,
    seen: Measurement | Fused | Refusal,
    result: object,
    truth: Mapping[str, Any],
    seconds: float,
) -> Score:
    if isinstance(seen, Refusal) or not isinstance(result, Answer):
        why = next((one.reason for one in (seen, result) if isinstance(one, Refusal)), "no rate")
        return Score(name, {}, {}, {}, {}, (), why, seconds, {})
    right = {
        "hand": seen.hand == truth["hand"],
        "kind": seen.kind == truth["kind"],
        "ends": str(seen.geometry.ends) == truth["ends"],
    }
    compared = compare(result, true_values(truth))
    return Score(name, *compared, right, seen.flags, "", seconds, {})


def _trouble(scores: Sequence[Score], said: Together) -> str:
    """Return why a group is not whole; empty where it is."""
    told = [f"{one.photo} was refused ({one.refused})" for one in scores if one.refused]
    if isinstance(said.fused, Refusal):
        return "; ".join([*told, "not fused"])
    if said.answer is None:
        return "; ".join([*told, "fused to no spring with a rate"])
    told += [f"{Path(said.photos[i]).stem} was left out" for i in said.fused.left_out]
    if "photos-disagree" in said.fused.flags:
        told.append(f"they disagree in {said.fused.difference}")
    return "; ".join(told)


def measure_folder(folder: Path, reference: str = "", workers: int = 1) -> Iterator[Group]:
    """Return an iterator over the groups of a folder, measured and fused.

    Parameters
    ----------
    folder : Path
        Where the photos lie.
    reference : str
        What is said to lie beside every spring; left empty, what the truth says.
    workers : int
        Processes that measure a group each, side by side; one thread each where more than 1.

    Raises
    ------
    ValueError
        As `groups_of` does.
    """
    groups = list(groups_of(folder).items())
    measured = partial(measure_group, reference=reference)
    if workers == 1:
        yield from map(measured, groups)
        return
    # Begun anew and not forked: a fork of a process whose OpenCV has threads never answers.
    context = get_context("spawn")
    with ProcessPoolExecutor(workers, context, cv2.setNumThreads, (1,)) as pool:
        yield from pool.map(measured, groups)


def main(
    folder: Annotated[
        Path, typer.Argument(help="Photos NAME-1.jpg, NAME-2.jpg … with their truth as JSON.")
    ],
    reference: Annotated[
        str, typer.Option(help="What is said to lie beside every spring; else what the truth says.")
    ] = "",
    workers: Annotated[int, typer.Option(min=1, help="Processes that measure side by side.")] = 1,
    out: Annotated[
        Path | None, typer.Option(help="A file for one JSON object a group, written as they come.")
    ] = None,
) -> None:
    """Measure several photos of each spring, fuse them, and print how far off each is."""
    groups = []
    try:
        if reference:
            parse_reference(reference, 0.0)
        typer.echo(heading())
        with out.open("w", encoding="utf-8") if out else nullcontext() as file:
            for group in measure_folder(folder, reference, workers):
                groups.append(group)
                typer.echo("\n".join(group_lines(group)))
                if file:
                    file.write(json.dumps(asdict(group)) + "\n")
                    file.flush()
    except (ValueError, OSError) as problem:
        typer.echo(f"fusing: {problem}", err=True)
        raise typer.Exit(2) from None
    typer.echo("\n".join(summary_lines(groups)))


if __name__ == "__main__":
    typer.run(main)
