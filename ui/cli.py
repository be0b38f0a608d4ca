"""The command line: ``coilreckon rate``, ``serve`` and those of `ui.commands`.

Exit status 0: all done; 2: a wrong call. Only results go to standard
output. Heavy imports wait until a command needs them, so that ``--help`` is quick.
"""

from pathlib import Path
from typing import Annotated

import typer

from ui.commands import register
from ui.commands.spring import Described, Json, describes_spring, show, wrong_call

app = typer.Typer(
    add_completion=False,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    help="Coil springs: from a photo or a caliper to the rate, with an honest band.",
)


@app.callback()
def main() -> None:
    """Coil springs: from a photo or a caliper to the rate, with an honest band."""


@app.command()
@describes_spring
def rate(spring: Described, json_lines: Json = False) -> None:
    """Reckon the rate from caliper readings; no photo needed."""
    from ui.contract import rate_object
    from ui.figures import answer_lines

    try:
        answer = spring.answer()
    except ValueError as problem:
        wrong_call(str(problem))
    show(json_lines, rate_object(answer), answer_lines(answer))


@app.command()
def serve(
    port: Annotated[int, typer.Option(help="Port; 0 finds a free one.")] = 0,
    phone: Annotated[
        bool, typer.Option("--phone", help="Let phones on the local network open it, by a key.")
    ] = False,
    address: Annotated[
        str | None, typer.Option(help="Address to listen on behind a proxy (docs/club.md).")
    ] = None,
    certificate: Annotated[Path | None, typer.Option(help="Certificate file, for HTTPS.")] = None,
    certificate_key: Annotated[Path | None, typer.Option(help="Its key file.")] = None,
) -> None:
    """Open the page on this machine (127.0.0.1) and print its address."""
    from ui.serve import start

    if (certificate is None) != (certificate_key is None):
        wrong_call("--certificate and --certificate-key go together")
    if phone and address is not None:
        wrong_call("--phone finds the address itself: leave --address out")
    files = (certificate, certificate_key) if certificate and certificate_key else None
    try:
        start(port, phone, files, address)
    except OSError as problem:
        wrong_call(str(problem))


register(app)
