"""``coilreckon what-if``: a spring cut, stretched, shimmed, placed, joined or swapped."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Annotated, Any

import typer

from ui.commands.spring import (
    Described,
    Json,
    describes_spring,
    lines,
    show,
    told,
    wrong_call,
)

if TYPE_CHECKING:
    from mechanics.corner import Corner
    from mechanics.install import Pair, Placed
    from mechanics.uncertainty import Quantity
    from mechanics.whatif import Change

app = typer.Typer(
    no_args_is_help=True,
    rich_markup_mode=None,
    help="What happens to a spring if it is changed: describe it first, then say the change.",
)

Second = Annotated[
    str,
    typer.Option(
        help="The other spring: what differs, as wire=1.3,free-length=44, or one of the "
        "collection, as kept=NAME."
    ),
]
Load = Annotated[float, typer.Option(help="Load at the wheel [N].")]
Lever = Annotated[float, typer.Option(help="Wheel travel over spring travel [-].")]
Droop = Annotated[float, typer.Option(help="Spring's seats apart, hanging [mm].")]
Bump = Annotated[float, typer.Option(help="The same, fully pressed in [mm].")]


@app.callback()
@describes_spring
def described(context: typer.Context, spring: Described) -> None:
    """Describe the spring, then say the change: ``what-if --wire 1.2 ... cut --turns 2``."""
    context.obj = spring


def _rng() -> Any:
    import numpy as np

    from ui.answer import SEED

    return np.random.default_rng(SEED)


@app.command()
def cut(
    context: typer.Context,
    turns: Annotated[float | None, typer.Option(help="Turns to cut off one end.")] = None,
    target: Annotated[float | None, typer.Option(help="Or the rate wanted [N/mm].")] = None,
    load: Annotated[
        float, typer.Option(help="Force to bear without going solid, with --target [N].")
    ] = 0.0,
    large_end: Annotated[
        bool, typer.Option("--large-end", help="Cut a cone at its large end, not its small one.")
    ] = False,
    json_lines: Json = False,
) -> None:
    """Cut turns off, by number or for a rate."""
    from mechanics.whatif import cut as cut_off
    from mechanics.whatif import plan_cut

    try:
        draws = context.obj.draws()
        if (turns is None) == (target is None):
            raise ValueError("give exactly one of --turns or --target")
        if turns is not None:
            _show_change("cut", cut_off(draws, turns, _rng(), large_end), json_lines)
            return
        plan = plan_cut(draws, float(target or 0.0), _rng(), load, large_end)
    except ValueError as problem:
        wrong_call(str(problem))
    exact = {"exact_turns": plan.exact_turns}
    more = {
        **told(exact),
        "safe_turns": plan.safe_turns,
        "whole_turns": plan.whole_turns,
        "reason": plan.reason,
    }
    if plan.change is None:
        said = {"status": "reckoned", "change": "cut", **more}
        show(json_lines, said, [*lines(exact), plan.reason])
        return
    whole = f"Whole turns that are safe  {plan.whole_turns or 'none'}"
    _show_change("cut", plan.change, json_lines, more, [*lines(exact), whole, plan.reason])


@app.command()
def stretch(
    context: typer.Context,
    longer: Annotated[float, typer.Option(help="Gain in free length that stays [mm].")],
    seat: Annotated[
        float | None, typer.Option(help="Seats apart at rest, to tell its preload [mm].")
    ] = None,
    json_lines: Json = False,
) -> None:
    """Pull it longer for good."""
    from mechanics.stretch import stretch as pull

    try:
        change = pull(context.obj.draws(), longer, _rng(), seat)
    except ValueError as problem:
        wrong_call(str(problem))
    _show_change("stretch", change, json_lines)


@app.command()
def seats(
    context: typer.Context,
    first: Annotated[float, typer.Option(help="Seats apart at rest [mm].")],
    second: Annotated[float, typer.Option(help="Seats apart fully moved in [mm].")],
    json_lines: Json = False,
) -> None:
    """Install it between two seats."""
    from mechanics.install import at_rest, between_seats

    try:
        draws = context.obj.draws()
        free = at_rest(draws, _rng())
        placed = between_seats(draws, (first, second), _rng())
    except ValueError as problem:
        wrong_call(str(problem))
    _show_placed("seats", {"before": free, "after": placed}, json_lines)


@app.command()
def shim(
    context: typer.Context,
    seat: Annotated[float, typer.Option(help="Seats apart before [mm].")],
    thickness: Annotated[float, typer.Option(help="Shim, or move of the collar [mm].")],
    json_lines: Json = False,
) -> None:
    """Put a shim under it, or move its collar in."""
    from mechanics.install import shim as under

    try:
        before, after = under(context.obj.draws(), seat, thickness, _rng())
    except ValueError as problem:
        wrong_call(str(problem))
    _show_placed("shim", {"before": before, "after": after}, json_lines)


@app.command()
def sag(
    context: typer.Context,
    load: Load,
    droop: Droop,
    bump: Bump,
    lever: Lever = 1.0,
    json_lines: Json = False,
) -> None:
    """Set one corner of a vehicle on it."""
    from mechanics.corner import hanging
    from mechanics.corner import sag as settle

    try:
        draws, corner = context.obj.draws(), _corner(load, lever, droop, bump)
        before, after = hanging(draws, corner), settle(draws, corner, _rng())
    except ValueError as problem:
        wrong_call(str(problem))
    _show_placed("sag", {"before": before, "after": after}, json_lines)


@app.command()
def swap(
    context: typer.Context,
    second: Second,
    load: Load,
    droop: Droop,
    bump: Bump,
    lever: Lever = 1.0,
    json_lines: Json = False,
) -> None:
    """Put another spring in its place at the same ride height."""
    from mechanics.corner import swap as replace
    from ui.kept import apart

    try:
        old, new = context.obj.draws(), apart(context.obj.changed(second).draws())
        out = replace(old, new, _corner(load, lever, droop, bump), _rng())
    except ValueError as problem:
        wrong_call(str(problem))
    more = {"collar_mm": out.collar_mm, "rate_ratio": out.rate_ratio}
    _show_placed("swap", {"before": out.before, "after": out.after}, json_lines, more)


@app.command("in-line")
def line(context: typer.Context, second: Second, json_lines: Json = False) -> None:
    """Put another spring on top of it."""
    from mechanics.install import in_line
    from ui.kept import apart

    try:
        pair = in_line(context.obj.draws(), apart(context.obj.changed(second).draws()), _rng())
    except ValueError as problem:
        wrong_call(str(problem))
    _show_pair("in-line", pair, json_lines)


@app.command()
def nested(
    context: typer.Context,
    second: Second,
    load: Annotated[
        float | None, typer.Option(help="Load on both, to tell how they share it [N].")
    ] = None,
    json_lines: Json = False,
) -> None:
    """Put another spring inside or beside it, on the same seats."""
    from mechanics.install import nested as inside
    from mechanics.install import share_load
    from ui.kept import apart

    shared: dict[str, Quantity] = {}
    try:
        both = (context.obj.draws(), apart(context.obj.changed(second).draws()))
        pair = inside(*both)
        if load is not None:
            names = ("first_force_N", "second_force_N", "first_pressed_mm", "second_pressed_mm")
            shared = dict(zip(names, share_load(*both, load), strict=True))
    except ValueError as problem:
        wrong_call(str(problem))
    _show_pair("nested", pair, json_lines, shared)


def _corner(load: float, lever: float, droop: float, bump: float) -> "Corner":
    from mechanics.corner import Corner

    return Corner(load, lever, droop, bump)


def _show_change(
    name: str,
    change: "Change",
    json_lines: bool,
    more: Mapping[str, Any] | None = None,
    first: list[str] | None = None,
) -> None:
    said = {
        "status": "reckoned",
        "change": name,
        **(more or {}),
        "before": told(change.before),
        "after": told(change.after),
        **told({"rate_ratio": change.ratio}),
        "cautions": list(change.cautions),
    }
    plain = [
        *filter(None, first or []),
        *lines(change.before, "Before"),
        *lines(change.after, f"After: {change.title}"),
        *lines({"rate_after_over_before": change.ratio}),
        *change.cautions,
    ]
    show(json_lines, said, plain)


def _show_placed(
    name: str, placed: "dict[str, Placed]", json_lines: bool, more: Mapping[str, Any] | None = None
) -> None:
    cautions = list(dict.fromkeys(line for one in placed.values() for line in one.cautions))
    said = {
        "status": "reckoned",
        "change": name,
        **{when: told(one.quantities) for when, one in placed.items()},
        **told(more or {}),
        "chance_solid": placed["after"].chance_solid,
        "cautions": cautions,
    }
    plain = [
        line
        for when, one in placed.items()
        for line in lines(one.quantities, when.capitalize() if len(placed) > 1 else "")
    ]
    show(json_lines, said, [*plain, *lines(more or {}), *cautions])


def _show_pair(
    name: str, pair: "Pair", json_lines: bool, more: "Mapping[str, Quantity] | None" = None
) -> None:
    before = {
        "first_rate_N_per_mm": pair.alone[0],
        "second_rate_N_per_mm": pair.alone[1],
    }
    quantities = {
        "rate_N_per_mm": pair.rate_N_per_mm,
        "one_spring_rate_N_per_mm": pair.later_rate_N_per_mm,
        "changes_at_N": pair.change_N,
        "changes_at_mm": pair.change_mm,
        **(more or {}),
    }
    said = {
        "status": "reckoned",
        "change": name,
        "before": told(before),
        **told(quantities),
        "cautions": list(pair.cautions),
    }
    plain = [*lines(before, "Before"), *lines(quantities, "After"), *pair.cautions]
    show(json_lines, said, plain)
