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
    import numpy as np

    from mechanics.materials import find_material
    from mechanics.torsion import estimate_torsion, torsion_active_coils
    from ui.answer import SEED
    from ui.commands.spring import number

    try:
        both = [number(one, legs) for one in legs.split(",")]
        if len(both) != 2:
            raise ValueError(f"--legs {legs!r} must be two lengths, such as 20,20")
        n = torsion_active_coils(body_coils, mean, (both[0], both[1]))
        steel, rng = find_material(material), np.random.default_rng(SEED)
        found = estimate_torsion((wire, u_wire), (mean, u_mean), (n, u_coils), steel, rng)
    except ValueError as problem:
        wrong_call(str(problem))
    quantities = {"rate_N_mm_per_turn": found.per_turn, "rate_N_mm_per_degree": found.per_degree}
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
    """Reckon the rate of a spring of rectangular wire."""
    import numpy as np

    from mechanics.materials import find_material
    from mechanics.rectangular import estimate_rectangular
    from ui.answer import SEED

    try:
        found = estimate_rectangular(
            (width, u_sides),
            (height, u_sides),
            (mean, u_mean),
            (total_coils, u_coils),
            ends_named(ends),
            find_material(material),
            np.random.default_rng(SEED),
        )
    except ValueError as problem:
        wrong_call(str(problem))
    quantities = {
        "rate_N_per_mm": found.rate_N_per_mm,
        "active_coils": found.active_coils,
        "solid_length_mm": found.solid_length_mm,
    }
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
