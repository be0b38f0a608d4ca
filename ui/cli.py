"""The command line: ``coilreckon rate``, ``serve`` and those of `ui.commands`.

Exit status 0: all done; 2: a wrong call. Only results go to standard
output. Heavy imports wait until a command needs them, so that ``--help`` is quick.
"""

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NoReturn, TypeVar

import typer

from ui.commands import register

if TYPE_CHECKING:
    from mechanics.ends import Ends

K = TypeVar("K")

app = typer.Typer(
    add_completion=False,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    help="Coil springs: from a photo or a caliper to the rate, with an honest band.",
)

WRONG_CALL = 2

Json = Annotated[bool, typer.Option("--json", help="One JSON object a line.")]
MaterialName = Annotated[str, typer.Option("--material", help="Wire material, by its trade name.")]


@app.callback()
def main() -> None:
    """Coil springs: from a photo or a caliper to the rate, with an honest band."""


@app.command()
def rate(
    wire: Annotated[float, typer.Option(help="Wire diameter [mm].")],
    outside: Annotated[float | None, typer.Option(help="Outside diameter [mm].")] = None,
    mean: Annotated[float | None, typer.Option(help="Mean coil diameter [mm].")] = None,
    inside: Annotated[float | None, typer.Option(help="Inside diameter [mm].")] = None,
    total_coils: Annotated[float | None, typer.Option(help="Turns of wire, end to end.")] = None,
    active_coils: Annotated[float | None, typer.Option(help="Turns that work.")] = None,
    ends: Annotated[
        str, typer.Option(help="open, closed, 'closed and ground', 'open and ground', hooks.")
    ] = "unknown",
    free_length: Annotated[float | None, typer.Option(help="Free length [mm].")] = None,
    material: MaterialName = "unknown steel",
    u_wire: Annotated[float, typer.Option(help="Standard uncertainty of the wire [mm].")] = 0.02,
    u_diameter: Annotated[float, typer.Option(help="The same for the diameter [mm].")] = 0.05,
    u_coils: Annotated[float, typer.Option(help="The same for the coils [-].")] = 0.1,
    u_free_length: Annotated[float, typer.Option(help="The same for the length [mm].")] = 0.2,
    json_lines: Json = False,
) -> None:
    """Reckon the rate from caliper readings; no photo needed."""
    from mechanics.materials import find_material
    from ui.answer import answer_of_readings
    from ui.caliper import Across, Count, Readings
    from ui.contract import rate_object

    diameters = {Across.OUTSIDE: outside, Across.MEAN: mean, Across.INSIDE: inside}
    counts = {Count.TOTAL: total_coils, Count.ACTIVE: active_coils}
    across, diameter = _one_of(diameters, "--outside, --mean or --inside")
    count, coils = _one_of(counts, "--total-coils or --active-coils")
    try:
        wire_material = find_material(material)
        readings = Readings(
            wire,
            diameter,
            coils,
            free_length,
            across,
            count,
            _ends(ends),
            u_wire,
            u_diameter,
            u_coils,
            u_free_length,
        )
        answer = answer_of_readings(readings, wire_material)
    except ValueError as problem:
        _wrong_call(str(problem))
    if json_lines:
        typer.echo(json.dumps(rate_object(answer)))
    else:
        from ui.figures import answer_lines

        typer.echo("\n".join(answer_lines(answer)))


@app.command()
def serve(
    port: Annotated[int, typer.Option(help="Port; 0 finds a free one.")] = 0,
    phone: Annotated[
        bool, typer.Option("--phone", help="Let phones on the local network open it, by a key.")
    ] = False,
    certificate: Annotated[Path | None, typer.Option(help="Certificate file, for HTTPS.")] = None,
    certificate_key: Annotated[Path | None, typer.Option(help="Its key file.")] = None,
) -> None:
    """Open the page on this machine (127.0.0.1) and print its address."""
    from ui.serve import start

    if (certificate is None) != (certificate_key is None):
        _wrong_call("--certificate and --certificate-key go together")
    files = (certificate, certificate_key) if certificate and certificate_key else None
    try:
        start(port, phone, files)
    except OSError as problem:
        _wrong_call(str(problem))


register(app)


def _one_of(given: dict[K, float | None], names: str) -> tuple[K, float]:
    present = [(key, value) for key, value in given.items() if value is not None]
    if len(present) != 1:
        _wrong_call(f"give exactly one of {names}")
    return present[0]


def _ends(name: str) -> "Ends":
    from mechanics.ends import Ends

    words = name.strip().lower().replace("-", " ").replace("_", " ").split()
    plain = " and ".join(word for word in words if word != "and")
    if plain not in set(Ends):
        known = ", ".join(Ends)
        raise ValueError(f"no ends are called {name!r}; choose one of: {known}")
    return Ends(plain)


def _wrong_call(message: str) -> NoReturn:
    typer.echo(f"coilreckon: {message}", err=True)
    raise typer.Exit(WRONG_CALL)
