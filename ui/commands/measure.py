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
    photos: Annotated[list[Path], typer.Argument(metavar="PHOTO...", help="Photos of one spring.")],
    reference: Annotated[
        str,
        typer.Option(
            help="auto, card, coin:EUR-2, ruler:mm, ruler:inch, paper:A4, self:outside=14.2, none."
        ),
    ] = "auto",
    u: Annotated[float, typer.Option(help="Standard uncertainty of your own reading [mm].")] = 0.03,
    material: MaterialName = "unknown steel",
    json_lines: Json = False,
) -> None:
    """Measure the spring in each photo."""
    from mechanics.materials import find_material
    from ui.batch import measure_each

    try:
        outcomes = measure_each(photos, reference, u, find_material(material))
    except ValueError as problem:
        wrong_call(str(problem))
    refused = False
    with _progress(outcomes, len(photos)) as shown:
        for outcome in shown:
            refused = refused or outcome.refused
            if len(photos) > 1 and sys.stderr.isatty():
                typer.echo("\r\x1b[K", nl=False, err=True)  # the bar makes room for the result
            typer.echo(json.dumps(outcome.as_json()) if json_lines else outcome.as_text())
    if refused:
        raise typer.Exit(REFUSED)


def _progress(
    outcomes: "Iterator[Outcome]", total: int
) -> "AbstractContextManager[Iterable[Outcome]]":
    """Return the outcomes behind a progress bar on standard error, where there are many."""
    if total < 2:
        return nullcontext(outcomes)
    bar: AbstractContextManager[Iterable[Outcome]] = typer.progressbar(
        outcomes, length=total, label="Measuring", file=sys.stderr
    )
    return bar
