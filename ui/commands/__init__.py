"""Commands about a spring that is known by its dimensions: evidence, limits, what-ifs, pairs."""

import typer

from ui.commands import limits, other, reconcile, what_if


def register(app: typer.Typer) -> None:
    """Add these commands to the command line."""
    app.command("limits")(limits.limits)
    app.command("reconcile")(reconcile.reconcile)
    app.command("torsion")(other.torsion)
    app.command("flat-wire")(other.flat_wire)
    app.command("pair")(other.pair)
    app.add_typer(what_if.app, name="what-if")
