"""``coilreckon limits``: how far a spring may go, and its load curve."""

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Annotated, Any

import typer

from ui.commands.spring import (
    Described,
    Json,
    describes_spring,
    ends_named,
    lines,
    number,
    show,
    told,
    wrong_call,
)

if TYPE_CHECKING:
    from mechanics.draws import SpringDraws
    from mechanics.uncertainty import Quantity

_SEATINGS = {"flat": "FLAT", "flat-hinged": "FLAT_HINGED", "hinged": "HINGED", "free": "FREE"}


@describes_spring
def limits(
    spring: Described,
    seating: Annotated[
        str, typer.Option(help="How the ends are held: flat, flat-hinged, hinged, free.")
    ] = "flat",
    at: Annotated[
        float | None, typer.Option(help="Add force, stress and energy at this deflection [mm].")
    ] = None,
    run: Annotated[
        list[str] | None,
        typer.Option(
            help="A stretch of working turns and its pitch, as 3/2.0 [-/mm]; several times for a "
            "progressive spring. Stands for --active-coils and --free-length."
        ),
    ] = None,
    curve: Annotated[bool, typer.Option("--curve", help="Add the load curve to solid.")] = False,
    json_lines: Json = False,
) -> None:
    """Tell what a spring bears: stress, solid, set, buckling, frequency, mass, energy."""
    try:
        said, plain = _limits(spring, run or [], seating, at, curve)
    except ValueError as problem:
        wrong_call(str(problem))
    show(json_lines, said, plain)


def _limits(
    spring: Described, run: list[str], seating: str, at: float | None, curve: bool
) -> tuple[dict[str, Any], list[str]]:
    import numpy as np

    from mechanics.ends import Ends
    from mechanics.limits import find_limits, load_at
    from mechanics.load import Seating
    from ui.answer import SEED

    if seating not in _SEATINGS:
        raise ValueError(f"--seating {seating!r} is none of: {', '.join(_SEATINGS)}")
    runs = [_stretch(text) for text in run]
    draws, rng = (_with_runs(spring, runs) if runs else spring).draws(), np.random.default_rng(SEED)
    if draws.ends is Ends.HOOKS:
        return _extension(draws, rng, at, curve or bool(runs))
    found = find_limits(draws, rng, Seating[_SEATINGS[seating]], runs)
    said: dict[str, Any] = {
        "status": "reckoned",
        **told(found.quantities),
        "chance_sets_before_solid": found.chance_sets_before_solid,
        "chance_buckles_before_solid": found.chance_buckles_before_solid,
        "cautions": list(found.cautions),
    }
    plain = [*lines(found.quantities), *found.cautions]
    if at is not None:
        _add_load(said, plain, at, load_at(draws, at, rng, runs))
    if curve:
        points = _curve(draws, runs)
        said["load_curve"] = points
        plain += ["", "Deflection, mm   Force, N   95 %"]
        rows = zip(
            *(points[k] for k in ("deflection_mm", "force_N", "low_N", "high_N")), strict=True
        )
        plain += [f"{s:>14.4g}   {F:>8.4g}   {low:.4g} to {high:.4g}" for s, F, low, high in rows]
    return said, plain


def _stretch(text: str) -> tuple[float, float]:
    turns, slash, pitch = text.partition("/")
    if not slash:
        raise ValueError(f"--run {text!r} must be TURNS/PITCH, such as 3/2.0")
    return number(turns, text), number(pitch, text)


def _with_runs(spring: Described, runs: list[tuple[float, float]]) -> Described:
    """Return the spring with the turns and the length that its stretches add up to."""
    from mechanics.coils import check_runs
    from mechanics.ends import end_rule

    if any(x is not None for x in (spring.total_coils, spring.active_coils, spring.free_length)):
        raise ValueError("--run stands for --total-coils, --active-coils and --free-length")
    wire = spring.wire or 0.0
    check_runs(wire, runs)
    ends = end_rule(ends_named(spring.ends)).free_length_wires * wire
    length = sum(turns * pitch for turns, pitch in runs) + ends
    return replace(spring, active_coils=sum(turns for turns, _ in runs), free_length=length)


def _add_load(
    said: dict[str, Any], plain: list[str], at: float, load: "Mapping[str, Quantity]"
) -> None:
    said["at"] = {"deflection_mm": at, **told(load)}
    plain += ["", *lines(load, f"At {at:g} mm:")]


def _curve(draws: "SpringDraws", runs: list[tuple[float, float]]) -> dict[str, Any]:
    from mechanics.curve import load_curve

    drawn = load_curve(draws, 21, runs)
    names = ("deflection_mm", "force_N", "rate_N_per_mm", "low_N", "high_N")
    points: dict[str, Any] = {
        name: [float(f"{x:.6g}") for x in getattr(drawn, name)] for name in names
    }
    points["first_contact_mm"] = float(f"{drawn.first_contact_mm:.6g}")
    return points


def _extension(
    draws: "SpringDraws", rng: Any, at: float | None, straight: bool
) -> tuple[dict[str, Any], list[str]]:
    from mechanics.extension import describe_extension, pulled

    if straight:
        raise ValueError("an extension spring has no curve to solid: ask for one way with --at")
    found = describe_extension(draws, rng)
    quantities = {
        "rate_N_per_mm": found.rate_N_per_mm,
        "initial_tension_N": found.initial_tension_N,
        "allowable_force_N": found.allowable_force_N,
        "allowable_extension_mm": found.allowable_extension_mm,
        "mass_g": found.mass_g,
    }
    note = "Initial tension is what is usual, not read: measure the force at which the coils part."
    said = {
        "status": "reckoned",
        **told(quantities),
        "chance_hook_decides": found.hook_share,
        "cautions": [note],
    }
    plain = [*lines(quantities), note]
    if at is not None:
        _add_load(said, plain, at, pulled(draws, at, rng))
    return said, plain
