"""``coilreckon torsion``, ``flat-wire`` and ``pair``."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ui.commands.spring import (
    Described,
    EndsName,
    Json,
    MaterialName,
    ends_named,
    lines,
    show,
    told,
    wrong_call,
)

if TYPE_CHECKING:
    import numpy as np

    from mechanics.draws import SpringDraws

U = "Its standard uncertainty."


def torsion(
    wire: Annotated[float, typer.Option(help="Wire diameter [mm].")],
    mean: Annotated[float, typer.Option(help="Mean coil diameter [mm].")],
    body_coils: Annotated[float, typer.Option(help="Turns of the body.")],
    legs: Annotated[str, typer.Option(help="Lengths of the two legs, as 20,20 [mm].")] = "0,0",
    material: MaterialName = "unknown steel",
    u_wire: Annotated[float, typer.Option(help=U)] = 0.02,
    u_mean: Annotated[float, typer.Option(help=U)] = 0.05,
    u_coils: Annotated[float, typer.Option(help=U)] = 0.05,
    json_lines: Json = False,
) -> None:
    """Reckon the angular rate of a torsion spring."""
    from mechanics.materials import find_material
    from ui.commands.spring import number
    from ui.torsion import TorsionReadings, torsion_answer

    try:
        both = [number(one, legs) for one in legs.split(",")]
        if len(both) != 2:
            raise ValueError(f"--legs {legs!r} must be two lengths, such as 20,20")
        ends = (both[0], both[1])
        read = TorsionReadings((wire, u_wire), (mean, u_mean), (body_coils, u_coils), ends)
        found = torsion_answer(read, find_material(material))
    except ValueError as problem:
        wrong_call(str(problem))
    quantities = {
        "rate_N_mm_per_turn": found.rate.per_turn,
        "rate_N_mm_per_degree": found.rate.per_degree,
    }
    n = found.told["active_coils"].value
    said = {"status": "reckoned", "active_coils": round(n, 4), **told(quantities)}
    show(json_lines, said, lines(quantities))


def flat_wire(
    width: Annotated[float, typer.Option(help="Side of the wire across the axis [mm].")],
    height: Annotated[float, typer.Option(help="Side of the wire along the axis [mm].")],
    mean: Annotated[float, typer.Option(help="Mean coil diameter [mm].")],
    total_coils: Annotated[float, typer.Option(help="Turns of wire, end to end.")],
    ends: EndsName = "unknown",
    material: MaterialName = "unknown steel",
    u_sides: Annotated[float, typer.Option(help=U)] = 0.03,
    u_mean: Annotated[float, typer.Option(help=U)] = 0.1,
    u_coils: Annotated[float, typer.Option(help=U)] = 0.1,
    json_lines: Json = False,
) -> None:
    """Reckon the rate of a spring of rectangular wire; every command takes --wire-width for it."""
    spring = Described(
        wire=height,
        wire_width=width,
        mean=mean,
        total_coils=total_coils,
        ends=ends,
        material=material,
        u_wire=u_sides,
        u_diameter=u_mean,
        u_coils=u_coils,
    )
    try:
        known = spring.answer().told
    except ValueError as problem:
        wrong_call(str(problem))
    names = ("rate_N_per_mm", "active_coils", "solid_length_mm", "spring_index", "stress_factor")
    quantities = {name: known[name] for name in names}
    show(json_lines, {"status": "reckoned", **told(quantities)}, lines(quantities))


def pair(
    first: Annotated[
        str,
        typer.Option(help="As wire=1.2,outside=13.2,total-coils=9,bench=1.72 or photo=FILE."),
    ],
    second: Annotated[str, typer.Option(help="What differs from the first.")] = "",
    within: Annotated[float, typer.Option(help="Difference that counts as alike [%].")] = 5.0,
    same_wire: Annotated[
        bool, typer.Option("--same-wire", help="Both are wound from one wire.")
    ] = False,
    json_lines: Json = False,
) -> None:
    """Tell whether two springs are a match, from caliper, bench or photo."""
    import numpy as np

    from mechanics.pairs import compare
    from ui.answer import SEED

    try:
        one = Described().changed(first)
        two = one.changed(second)
        rng = np.random.default_rng(SEED)
        match = compare(_known(one, rng), _known(two, rng), within, rng, same_wire)
    except (ValueError, OSError) as problem:
        wrong_call(str(problem))
    said = {
        "status": "reckoned",
        "within_percent": within,
        "chance": round(match.chance, 4),
        **told({"rate_ratio": match.ratio}),
        "sentence": match.sentence,
    }
    show(json_lines, said, [match.sentence])


def _known(spring: Described, rng: "np.random.Generator") -> "SpringDraws":
    """Return what all that was given of a spring says together."""
    from mechanics.bench import BenchFit
    from mechanics.conflicts import reconcile
    from mechanics.evidence import case_of
    from mechanics.materials import find_material
    from mechanics.whole_readings import rate_reading
    from ui.commands.reconcile import photos
    from ui.evidence import evidence_of

    if spring.kept is not None:
        from ui.kept import draws_of_kept, find_kept

        return draws_of_kept(find_kept(spring.kept))
    readings, ends = photos(Path(spring.photo)) if spring.photo else ([], spring.ends)
    if spring.wire is not None:
        readings += evidence_of(spring.readings())
    if spring.bench is not None:
        u = spring.u_bench * spring.bench
        readings.append(rate_reading(BenchFit(spring.bench, u, 0.0, (), (), ())))
    stated = ends if spring.ends == "unknown" else spring.ends
    case = case_of(readings, find_material(spring.material), ends_named(stated))
    found = reconcile(readings, case, rng)
    for conflict in found.conflicts:
        typer.echo(f"coilreckon: {conflict.sentence}", err=True)
    return found.mixture.draws
