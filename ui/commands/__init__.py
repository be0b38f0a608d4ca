"""Commands about a spring that is known by its dimensions: evidence, limits, what-ifs, pairs."""

from importlib.util import find_spec

import typer

from ui.commands import batch, limits, measure, other, reconcile, sheet, what_if
from ui.photo_advice import BEFORE_THE_PHOTO


def register(app: typer.Typer) -> None:
    """Add these commands to the command line."""
    # Without the seeing (vision.measure) no photo can be measured.
    if find_spec("vision.measure"):
        advice = "Before the photo: " + " ".join(BEFORE_THE_PHOTO)
        app.command("measure", epilog=advice)(measure.measure)
        app.command("batch")(batch.batch)
        app.command("sheet")(sheet.sheet)
    app.command("limits")(limits.limits)
    app.command("reconcile")(reconcile.reconcile)
    app.command("torsion")(other.torsion)
    app.command("flat-wire")(other.flat_wire)
    app.command("pair")(other.pair)
    app.add_typer(what_if.app, name="what-if")
