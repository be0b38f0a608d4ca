"""Options that describe a spring, shared by commands, and what they build."""

import json
import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, fields, replace
from functools import wraps
from inspect import Parameter, Signature, signature
from typing import TYPE_CHECKING, Annotated, Any, NoReturn, get_origin, get_type_hints

import typer

if TYPE_CHECKING:
    from mechanics.draws import SpringDraws
    from mechanics.ends import Ends
    from mechanics.uncertainty import Quantity
    from ui.answer import Answer
    from ui.caliper import Readings

WRONG_CALL = 2

Json = Annotated[bool, typer.Option("--json", help="One JSON object on one line.")]
Wire = Annotated[float | None, typer.Option(help="Wire diameter [mm].")]
Outside = Annotated[float | None, typer.Option(help="Outside diameter [mm].")]
Mean = Annotated[float | None, typer.Option(help="Mean coil diameter [mm].")]
Inside = Annotated[float | None, typer.Option(help="Inside diameter [mm].")]
SmallEnd = Annotated[
    float | None,
    typer.Option(help="A cone's small end, read across as its large end was [mm]."),
]
WireWidth = Annotated[
    float | None,
    typer.Option(
        help="Rectangular wire: its side across the axis [mm]; --wire is its side along the axis."
    ),
]
TotalCoils = Annotated[float | None, typer.Option(help="Turns of wire, end to end.")]
ActiveCoils = Annotated[float | None, typer.Option(help="Turns that work.")]
EndsName = Annotated[str, typer.Option(help="Kind of ends, such as 'closed and ground'.")]
FreeLength = Annotated[float | None, typer.Option(help="Free length [mm].")]
MaterialName = Annotated[str, typer.Option(help="Wire material, by its trade name.")]
UWire = Annotated[float, typer.Option(help="Standard uncertainty of the wire [mm].")]
UDiameter = Annotated[float, typer.Option(help="The same for the diameter [mm].")]
UCoils = Annotated[float, typer.Option(help="The same for the coils [-].")]
UFreeLength = Annotated[float, typer.Option(help="The same for the length [mm].")]


@dataclass(frozen=True, slots=True)
class Described:
    """A spring as it was described on the command line [mm, -].

    ``bench`` is its rate as read on a bench [N/mm], ``u_bench`` relative; ``photo`` is a file that
    ``measure --json`` wrote; ``kept`` names a spring of the collection, which stands for all else.
    """

    wire: Wire = None
    outside: Outside = None
    mean: Mean = None
    inside: Inside = None
    small_end: SmallEnd = None
    wire_width: WireWidth = None
    total_coils: TotalCoils = None
    active_coils: ActiveCoils = None
    ends: EndsName = "unknown"
    free_length: FreeLength = None
    material: MaterialName = "unknown steel"
    u_wire: UWire = 0.02
    u_diameter: UDiameter = 0.05
    u_coils: UCoils = 0.1
    u_free_length: UFreeLength = 0.2
    bench: float | None = None
    u_bench: float = 0.025
    photo: str | None = None
    kept: str | None = None

    def readings(self) -> "Readings":
        """Return the numbers as caliper readings.

        Raises
        ------
        ValueError
            If a diameter or a count is missing, or given twice.
        """
        from ui.caliper import Across, Count, Readings

        if self.wire is None:
            raise ValueError("the wire is needed: give --wire")
        across, diameter = one_of(
            {Across.OUTSIDE: self.outside, Across.MEAN: self.mean, Across.INSIDE: self.inside},
            "--outside, --mean or --inside",
        )
        count, coils = one_of(
            {Count.TOTAL: self.total_coils, Count.ACTIVE: self.active_coils},
            "--total-coils or --active-coils",
        )
        return Readings(
            self.wire,
            diameter,
            coils,
            self.free_length,
            across,
            count,
            ends_named(self.ends),
            self.u_wire,
            self.u_diameter,
            self.u_coils,
            self.u_free_length,
            self.small_end,
            self.wire_width,
            self.u_wire,
        )

    def answer(self) -> "Answer":
        """Return what is told about the spring.

        Raises
        ------
        ValueError
            If something is missing or impossible; the message is a sentence for the person.
        """
        from mechanics.materials import find_material
        from ui.answer import answer_of_readings

        return answer_of_readings(self.readings(), find_material(self.material))

    def draws(self, needs_length: bool = True) -> "SpringDraws":
        """Return the spring as draws.

        Raises
        ------
        ValueError
            If something is missing or impossible; the message is a sentence for the person.
        """
        if self.kept is not None:
            from ui.kept import draws_of_kept, find_kept

            return draws_of_kept(find_kept(self.kept))
        if needs_length and self.free_length is None:
            raise ValueError("--free-length is needed for this")
        return self.answer().draws

    def changed(self, text: str) -> "Described":
        """Return the spring with what a text such as ``wire=1.3,free-length=44`` says otherwise.

        Raises
        ------
        ValueError
            If a part is not NAME=VALUE of this spring's options.
        """
        names = {f.name for f in fields(self)}
        said: dict[str, Any] = {}
        for part in filter(None, (part.strip() for part in text.split(","))):
            name, equals, value = part.partition("=")
            field = name.strip().removeprefix("--").replace("-", "_")
            if not equals or field not in names:
                known = ", ".join(sorted(n.replace("_", "-") for n in names))
                raise ValueError(f"{part!r} is not NAME=VALUE with one of: {known}")
            said[field] = (
                value.strip()
                if field in ("ends", "material", "photo", "kept")
                else number(value, part)
            )
        if "kept" in said and len(said) > 1:
            raise ValueError("kept=NAME stands alone: the collection knows the rest of that spring")
        # Another diameter or count takes the place of the first spring's.
        for group in (("outside", "mean", "inside"), ("total_coils", "active_coils")):
            if any(name in said for name in group):
                said = {**dict.fromkeys(group), **said}
        return replace(self, **said)


def describes_spring(command: Callable[..., None]) -> Callable[..., None]:
    """Give a command the options of `Described` in place of its argument ``spring``.

    Parameters
    ----------
    command : callable
        With an argument ``spring``, which it gets as one `Described`.
    """
    hints = get_type_hints(Described, include_extras=True)
    options = [
        # Every spring has its wire: the one option that must be given.
        Parameter(f.name, Parameter.KEYWORD_ONLY, annotation=hints[f.name])
        if f.name == "wire"
        else Parameter(f.name, Parameter.KEYWORD_ONLY, default=f.default, annotation=hints[f.name])
        for f in fields(Described)
        if get_origin(hints[f.name]) is Annotated
    ]
    own = signature(command, eval_str=True).parameters.values()

    @wraps(command)
    def described(**given: Any) -> None:
        spring = Described(**{option.name: given.pop(option.name) for option in options})
        command(spring=spring, **given)

    others = [p.replace(kind=Parameter.KEYWORD_ONLY) for p in own if p.name != "spring"]
    described.__signature__ = Signature([*options, *others])  # type: ignore[attr-defined]
    described.__annotations__ = {p.name: p.annotation for p in [*options, *others]}
    return described


def number(text: str, of: str) -> float:
    """Return a text as a number.

    Raises
    ------
    ValueError
        Naming what it belongs to.
    """
    try:
        return float(text)
    except ValueError:
        raise ValueError(f"{text.strip()!r} in {of!r} is not a number") from None


def one_of(given: Mapping[Any, float | None], names: str) -> tuple[Any, float]:
    """Return the one thing that was given.

    Raises
    ------
    ValueError
        If none or several were.
    """
    present = [(key, value) for key, value in given.items() if value is not None]
    if len(present) != 1:
        raise ValueError(f"give exactly one of {names}")
    return present[0]


def ends_named(name: str) -> "Ends":
    """Return the ends of that name, however its words are joined.

    Raises
    ------
    ValueError
        If there is none; the message lists those that exist.
    """
    from mechanics.ends import Ends

    def plain(text: str) -> list[str]:
        words = text.lower().replace("-", " ").replace("_", " ").replace(",", " ").split()
        return [word for word in words if word != "and"]

    for kind in Ends:
        if plain(kind.value) == plain(name):
            return kind
    raise ValueError(f"no ends are called {name!r}; choose one of: {', '.join(Ends)}")


def told(quantities: "Mapping[str, Quantity]") -> dict[str, Any]:
    """Return quantities in the contract's form."""
    from ui.quantities import as_json

    return {name: as_json(q) for name, q in quantities.items()}


def lines(quantities: "Mapping[str, Quantity]", title: str = "") -> list[str]:
    """Return quantities as lines of a terminal, names and units in words."""
    labels = {name: label(name) for name in quantities}
    width = max(map(len, labels.values()), default=0)
    out = [title] if title else []
    for name, q in quantities.items():
        out.append(f"{labels[name]:<{width}}  {_value_and_band(q)}".rstrip())
    return out


def _value_and_band(q: "Quantity") -> str:
    from ui.figures import band_text, value_text

    if math.isfinite(q.u):
        return f"{value_text(q):>11}   95 %: {band_text(q)}"
    # A limit that some of the possible springs reach, or none.
    usual = f"{q.value:.3g}" if math.isfinite(q.value) else "not reached"
    return f"{usual:>11}" + (f"   but maybe from {q.low:.3g}" if math.isfinite(q.low) else "")


_UNITS = {
    "_N_per_mm": "N/mm",
    "_N_mm_per_turn": "N mm a turn",
    "_N_mm_per_degree": "N mm a degree",
    "_mm": "mm",
    "_N": "N",
    "_MPa": "MPa",
    "_GPa": "GPa",
    "_Hz": "Hz",
    "_mJ": "mJ",
    "_g": "g",
}


def label(name: str) -> str:
    """Return a quantity's name as words.

    Examples
    --------
    >>> label("rate_N_per_mm"), label("active_coils")
    ('Rate, N/mm', 'Active coils')
    """
    for ending, unit in _UNITS.items():
        if name.endswith(ending):
            return f"{name.removesuffix(ending).replace('_', ' ').capitalize()}, {unit}"
    return name.replace("_", " ").capitalize()


def show(json_lines: bool, said: Mapping[str, Any], plain: Iterable[str]) -> None:
    """Print one JSON object, or lines."""
    typer.echo(json.dumps(said) if json_lines else "\n".join(plain))


def wrong_call(message: str) -> NoReturn:
    """Say what is wrong with a call and leave with status 2."""
    typer.echo(f"coilreckon: {message}", err=True)
    raise typer.Exit(WRONG_CALL)
