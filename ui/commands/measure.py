"""``coilreckon measure``: the spring in each photo."""

import json
import sys
from contextlib import AbstractContextManager, nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ui.commands.spring import Json, MaterialName, wrong_call

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from ui.batch import Outcome

REFUSED = 3


def measure(
    photos: Annotated[
        list[Path], typer.Argument(metavar="PHOTO...", help="Photos, or folders of them.")
    ],
    reference: Annotated[
        str,
        typer.Option(
            help="auto, card, coin:EUR-2, ruler:mm, ruler:inch, paper:A4, sheet, "
            "self:outside=14.2, none."
        ),
    ] = "auto",
    check_line: Annotated[
        float | None, typer.Option(help="Length of the printed sheet's line as measured [mm].")
    ] = None,
    u: Annotated[float, typer.Option(help="Standard uncertainty of your own reading [mm].")] = 0.03,
    material: MaterialName = "unknown steel",
    fuse: Annotated[
        bool, typer.Option("--fuse", help="All photos show one spring: add what they say together.")
    ] = False,
    every: Annotated[
        bool, typer.Option("--all", help="Measure every spring in a photo, numbered left to right.")
    ] = False,
    drawings: Annotated[
        Path | None, typer.Option(help="Folder in which to draw what was seen in each photo.")
    ] = None,
    json_lines: Json = False,
) -> None:
    """Measure the spring in each photo; of several photos, a table comes at the end."""
    from mechanics.materials import find_material
    from ui.batch import measure_each, wanted
    from ui.pictures import pictures_of

    if check_line is not None:
        reference = _sheet(reference, check_line)
    try:
        if fuse and every:
            raise ValueError("--fuse takes photos of one spring, --all looks for several: give one")
        steel = find_material(material)
        how = wanted(reference, u, steel, every, drawings)
        if fuse and how.beside.kind == "none":
            raise ValueError("--fuse needs a scale: proportions alone are not fused")
        named = pictures_of(photos)
    except (ValueError, OSError) as problem:
        wrong_call(str(problem))
    done: list[Outcome] = []
    with _progress(measure_each(named, how), len(named)) as shown:
        for outcomes in shown:
            if len(named) > 1 and sys.stderr.isatty():
                typer.echo("\r\x1b[K", nl=False, err=True)  # the bar makes room for the result
            for one in outcomes:
                typer.echo(json.dumps(one.as_json()) if json_lines else one.as_text())
            done += outcomes
    refused = any(one.refused for one in done)
    if fuse:
        from ui.fused import together

        all_of_it = together(done, steel)
        typer.echo(json.dumps(all_of_it.as_json()) if json_lines else all_of_it.as_text())
        refused = refused or all_of_it.refused
    if len(done) > 1 and not json_lines:
        from ui.tabled import table_of

        typer.echo("\n".join(table_of(done)))
    if refused:
        raise typer.Exit(REFUSED)


def _sheet(reference: str, check_line: float) -> str:
    """Return the name of the sheet whose line was measured."""
    from vision.reference import SHEET, named

    kind = f"{SHEET.kind}:{check_line}"
    if reference not in ("auto", SHEET.kind):
        wrong_call("--check-line goes with --reference sheet")
    if named(kind) is None:
        wrong_call(f"a check line of {check_line:g} mm is not likely: it is printed 150 mm long")
    return kind


def _progress(
    outcomes: "Iterator[list[Outcome]]", total: int
) -> "AbstractContextManager[Iterable[list[Outcome]]]":
    """Return the outcomes behind a progress bar on standard error, where there are many."""
    if total < 2:
        return nullcontext(outcomes)
    bar: AbstractContextManager[Iterable[list[Outcome]]] = typer.progressbar(
        outcomes, length=total, label="Measuring", file=sys.stderr
    )
    return bar
