"""``coilreckon sheet``: the sheet of markers to print and to lay under a spring."""

from pathlib import Path
from typing import Annotated

import typer

from ui.commands.spring import wrong_call
from ui.files import write_whole


def sheet(
    out: Annotated[Path, typer.Option(help="PDF file to write.")],
    paper: Annotated[str, typer.Option(help="A4 or Letter.")] = "A4",
) -> None:
    """Write the sheet to print: lay the spring on it, and the photo has its scale."""
    from ui.sheet_pdf import sheet_pdf
    from vision.sheet_layout import CHECK_LINE_MM, PAPERS

    known = {name.lower(): name for name in PAPERS}
    try:
        data = sheet_pdf(known.get(paper.lower(), paper))
        write_whole(out, data)
    except (ValueError, OSError) as problem:
        wrong_call(str(problem))
    typer.echo(
        f"{out}: print it at 100 %, measure its line of {CHECK_LINE_MM:.0f} mm, and measure photos "
        "with --reference sheet --check-line LENGTH"
    )
