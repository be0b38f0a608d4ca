"""``coilreckon limits``: how far a spring may go, and its load curve."""

from typing import TYPE_CHECKING, Annotated, Any

import typer

from ui.commands.spring import (
    ActiveCoils,
    Described,
    EndsName,
    FreeLength,
    Inside,
    Json,
    MaterialName,
    Mean,
    Outside,
    SmallEnd,
    TotalCoils,
    UCoils,
    UDiameter,
    UFreeLength,
    UWire,
    Wire,
    lines,
    show,
    told,
    wrong_call,
)

if TYPE_CHECKING:
    from mechanics.draws import SpringDraws

_SEATINGS = {"flat": "FLAT", "flat-hinged": "FLAT_HINGED", "hinged": "HINGED", "free": "FREE"}


def limits(
    wire: Wire,
    outside: Outside = None,
    mean: Mean = None,
    inside: Inside = None,
    small_end: SmallEnd = None,
    total_coils: TotalCoils = None,
    active_coils: ActiveCoils = None,
    ends: EndsName = "unknown",
    free_length: FreeLength = None,
    material: MaterialName = "unknown steel",
    u_wire: UWire = 0.02,
    u_diameter: UDiameter = 0.05,
    u_coils: UCoils = 0.1,
    u_free_length: UFreeLength = 0.2,
    seating: Annotated[
        str, typer.Option(help="How the ends are held: flat, flat-hinged, hinged, free.")
    ] = "flat",
    curve: Annotated[bool, typer.Option("--curve", help="Add the load curve to solid.")] = False,
    json_lines: Json = False,
) -> None:
    """Tell what a spring bears: stress, solid, set, buckling, frequency, mass, energy."""
    spring = Described(
        wire,
        outside,
        mean,
        inside,
        small_end,
        total_coils,
        active_coils,
        ends,
        free_length,
        material,
        u_wire,
        u_diameter,
        u_coils,
        u_free_length,
    )
    try:
        said, plain = _limits(spring, seating, curve)
    except ValueError as problem:
        wrong_call(str(problem))
    show(json_lines, said, plain)


def _limits(spring: Described, seating: str, curve: bool) -> tuple[dict[str, Any], list[str]]:
    import numpy as np

    from mechanics.ends import Ends
    from mechanics.limits import find_limits
    from mechanics.load import Seating
    from ui.answer import SEED

    if seating not in _SEATINGS:
        raise ValueError(f"--seating {seating!r} is none of: {', '.join(_SEATINGS)}")
    draws, rng = spring.draws(), np.random.default_rng(SEED)
    if draws.ends is Ends.HOOKS:
        return _extension(draws, rng)
    found = find_limits(draws, rng, Seating[_SEATINGS[seating]])
    said: dict[str, Any] = {
        "status": "reckoned",
        **told(found.quantities),
        "chance_sets_before_solid": found.chance_sets_before_solid,
        "chance_buckles_before_solid": found.chance_buckles_before_solid,
        "cautions": list(found.cautions),
    }
    plain = [*lines(found.quantities), *found.cautions]
    if curve:
        points = _curve(draws)
        said["load_curve"] = points
        plain += ["", "Deflection, mm   Force, N   95 %"]
        rows = zip(
            *(points[k] for k in ("deflection_mm", "force_N", "low_N", "high_N")), strict=True
        )
        plain += [f"{s:>14.4g}   {F:>8.4g}   {low:.4g} to {high:.4g}" for s, F, low, high in rows]
    return said, plain


def _curve(draws: "SpringDraws") -> dict[str, Any]:
    from mechanics.curve import load_curve

    drawn = load_curve(draws, 21)
    names = ("deflection_mm", "force_N", "rate_N_per_mm", "low_N", "high_N")
    points: dict[str, Any] = {
        name: [float(f"{x:.6g}") for x in getattr(drawn, name)] for name in names
    }
    points["first_contact_mm"] = float(f"{drawn.first_contact_mm:.6g}")
    return points


def _extension(draws: "SpringDraws", rng: Any) -> tuple[dict[str, Any], list[str]]:
    from mechanics.extension import describe_extension

    found = describe_extension(draws, rng)
    quantities = {
        "rate_N_per_mm": found.rate_N_per_mm,
        "initial_tension_N": found.initial_tension_N,
        "allowable_force_N": found.allowable_force_N,
    }
    said = {"status": "reckoned", **told(quantities), "chance_hook_decides": found.hook_share}
    note = "Initial tension is what is usual, not read: measure the force at which the coils part."
    return {**said, "cautions": [note]}, [*lines(quantities), note]
