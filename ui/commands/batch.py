"""``coilreckon batch``: a folder of photos into one table."""

import sys
from contextlib import AbstractContextManager, nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from ui.commands.measure import REFUSED
from ui.commands.spring import MaterialName, wrong_call

if TYPE_CHECKING:
    from collections.abc import Sequence

STOPPED = 130


def batch(
    folder: Annotated[Path, typer.Argument(help="Folder; the folders in it are searched, too.")],
    out: Annotated[Path, typer.Option(help="Table to write: .parquet or .csv.")],
    reference: Annotated[
        str, typer.Option(help="What lies beside the spring, as measure takes it.")
    ] = "auto",
    material: MaterialName = "unknown steel",
    every: Annotated[
        bool, typer.Option("--all", help="Measure every spring in a photo, a row each.")
    ] = False,
    workers: Annotated[int, typer.Option(help="Processes at once; 0 for one a core.")] = 0,
    cluster: Annotated[
        str | None, typer.Option(help="Address of a Dask scheduler, such as tcp://host:8786.")
    ] = None,
) -> None:
    """Measure all photos of a folder into a table; called again, it goes on where it ended."""
    from mechanics.materials import find_material
    from ui.batch import wanted
    from ui.many import Journal, Progress, measure_many, tasks_of
    from ui.table_file import write_table

    try:
        if out.suffix not in (".parquet", ".csv"):
            raise ValueError(f"--out {out} must end in .parquet or .csv")
        how = wanted(reference, 0.03, find_material(material), every, None)
        tasks = tasks_of(folder)
        journal = Journal(out.with_name(f"{out.name}.journal"), f"{reference} {material} {every}")
        with _where(cluster):
            progress = Progress(len(tasks), sum(journal.told(task) is not None for task in tasks))
            for _ in measure_many(tasks, journal, how, workers or -1):
                _tell(progress.step())
        told = [one for task in tasks for one in journal.told(task) or []]
        journal.close()
        write_table(out, told)
    except (ValueError, OSError) as problem:
        wrong_call(str(problem))
    except KeyboardInterrupt:
        typer.echo("\ncoilreckon: stopped; the same call goes on from here", err=True)
        raise typer.Exit(STOPPED) from None
    _sum_up(told, out)


def _where(cluster: str | None) -> AbstractContextManager[Any]:
    """Return the place where the work is done: this machine, or a cluster."""
    if cluster is None:
        return nullcontext()
    try:
        from ui.cluster import on_cluster
    except ImportError:
        raise ValueError(
            "--cluster needs the extra cluster: pip install coilreckon[cluster]"
        ) from None
    return on_cluster(cluster)


def _tell(progress: str) -> None:
    """Write how far it is, over the line before where that can be done."""
    if sys.stderr.isatty():
        typer.echo(f"\r\x1b[K{progress}", nl=False, err=True)
    else:
        typer.echo(progress, err=True)


def _sum_up(told: "Sequence[dict[str, Any]]", out: Path) -> None:
    refused = [one for one in told if one["status"] == "refused"]
    if sys.stderr.isatty():
        typer.echo("", err=True)
    typer.echo(f"{out}: {len(told)} rows, {len(refused)} of them refused")
    for one in refused[:20]:
        typer.echo(f"  {one['photo']}: {one['message']}")
    if len(refused) > 20:
        typer.echo(f"  and {len(refused) - 20} more; the table names each")
    if refused:
        raise typer.Exit(REFUSED)
