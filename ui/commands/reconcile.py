"""``coilreckon reconcile``: every reading of one spring, one answer, contradictions named."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from ui.commands.spring import (
    EndsName,
    Json,
    MaterialName,
    ends_named,
    lines,
    number,
    show,
    told,
    wrong_call,
)

if TYPE_CHECKING:
    from mechanics.conflicts import Conflict, Posterior
    from mechanics.slips import Reading

_HELP = " [:u]: after a colon, its standard uncertainty."
Texts = list[str] | None


def reconcile(
    wire: Annotated[Texts, typer.Option(help="Wire, over its coat [mm]" + _HELP)] = None,
    wire_width: Annotated[
        Texts,
        typer.Option(
            help="Rectangular wire: its side across the axis, --wire along it [mm]" + _HELP
        ),
    ] = None,
    outside: Annotated[Texts, typer.Option(help="Outside diameter [mm]" + _HELP)] = None,
    mean: Annotated[
        Texts, typer.Option(help="Mean diameter, halfway between the two [mm]" + _HELP)
    ] = None,
    inside: Annotated[Texts, typer.Option(help="Inside diameter [mm]" + _HELP)] = None,
    small_end: Annotated[
        Texts, typer.Option(help="Outside diameter of a cone's small end [mm]" + _HELP)
    ] = None,
    touching: Annotated[
        Texts, typer.Option(help="Length over touching coils, as 12.0/10 [mm/coils]" + _HELP)
    ] = None,
    free_length: Annotated[Texts, typer.Option(help="Free length [mm]" + _HELP)] = None,
    total_coils: Annotated[Texts, typer.Option(help="Turns, tip to tip" + _HELP)] = None,
    active_coils: Annotated[Texts, typer.Option(help="Working turns" + _HELP)] = None,
    weight: Annotated[Texts, typer.Option(help="Weight [g]" + _HELP)] = None,
    coat_thickness: Annotated[
        Texts, typer.Option(help="Paint or plating on one side [mm]" + _HELP)
    ] = None,
    coat: Annotated[str, typer.Option(help="bare, plated, painted or powder coated.")] = "bare",
    magnet: Annotated[str | None, typer.Option(help="Pull: strong, weak or none.")] = None,
    bench: Annotated[
        str | None, typer.Option(help="Forces at deflections, as 2=3.4,4=6.8 [mm=N].")
    ] = None,
    force_step: Annotated[float, typer.Option(help="Smallest step of the gauge [N].")] = 0.1,
    deflection_step: Annotated[float, typer.Option(help="The same of the ruler [mm].")] = 0.1,
    force_limit: Annotated[
        float | None, typer.Option(help="Highest force that the gauge shows [N].")
    ] = None,
    travel: Annotated[
        float | None, typer.Option(help="Deflection to solid: only its middle counts [mm].")
    ] = None,
    u_bench: Annotated[float, typer.Option(help="Relative u of the bench [-].")] = 0.025,
    measured: Annotated[
        list[Path] | None, typer.Option(help="Photos' answers, as `measure --json` wrote them.")
    ] = None,
    ends: EndsName = "unknown",
    material: MaterialName = "unknown steel",
    json_lines: Json = False,
) -> None:
    """Put every reading of one spring together; options may be given several times."""
    given = {
        "wire": wire,
        "wire-width": wire_width,
        "outside": outside,
        "mean": mean,
        "inside": inside,
        "small-end": small_end,
        "touching": touching,
        "free-length": free_length,
        "total-coils": total_coils,
        "active-coils": active_coils,
        "weight": weight,
        "coat-thickness": coat_thickness,
    }
    try:
        readings = _typed(given)
        for path in measured or []:
            seen, seen_ends = photos(path)
            readings += seen
            ends = seen_ends if ends == "unknown" else ends
        if magnet is not None:
            readings.append(_magnet(magnet))
        notes: tuple[str, ...] = ()
        if bench is not None:
            reading, notes = _bench(
                bench, force_step, deflection_step, force_limit, travel, u_bench
            )
            readings.append(reading)
        said, plain = _answer(readings, material, ends, coat, notes)
    except (ValueError, OSError) as problem:
        wrong_call(str(problem))
    show(json_lines, said, plain)


def _typed(given: dict[str, Texts]) -> "list[Reading]":
    from mechanics import readings as r

    builders: dict[str, Callable[..., Reading]] = {
        "wire": r.wire_reading,
        "wire-width": r.width_reading,
        "outside": r.outside_reading,
        "mean": r.mean_reading,
        "inside": r.inside_reading,
        "small-end": r.small_end_reading,
        "free-length": r.free_length_reading,
        "total-coils": r.count_reading,
        "active-coils": r.active_reading,
        "weight": r.weight_reading,
        "coat-thickness": r.coat_reading,
    }
    out = []
    for name, texts in given.items():
        for text in texts or []:
            value, _, u = text.partition(":")
            more = [number(u, text)] if u else []
            if name != "touching":
                out.append(builders[name](number(value, text), *more))
                continue
            length, slash, coils = value.partition("/")
            if not slash:
                raise ValueError(f"--touching {text!r} must be LENGTH/COILS, such as 12.0/10")
            out.append(r.touching_reading(number(length, text), number(coils, text), *more))
    return out


def _magnet(pull: str) -> "Reading":
    from mechanics.whole_readings import Pull, magnet_reading

    if pull not in set(Pull):
        raise ValueError(f"--magnet {pull!r} is none of: {', '.join(Pull)}")
    return magnet_reading(Pull(pull))


def _bench(
    text: str,
    force_step: float,
    deflection_step: float,
    limit: float | None,
    travel: float | None,
    u: float,
) -> "tuple[Reading, tuple[str, ...]]":
    from mechanics.bench import Gauge, fit_bench
    from mechanics.whole_readings import rate_reading

    points = [part.partition("=") for part in text.split(",") if part.strip()]
    if any(not equals for _, equals, _ in points):
        raise ValueError(f"--bench {text!r} must be DEFLECTION=FORCE pairs, such as 2=3.4,4=6.8")
    deflections = [number(s, text) for s, _, _ in points]
    forces = [number(F, text) for _, _, F in points]
    fit = fit_bench(deflections, forces, Gauge(force_step, deflection_step, limit, u), travel)
    return rate_reading(fit), fit.notes


def photos(path: Path) -> "tuple[list[Reading], str]":
    """Return the photos of a file that `measure --json` wrote, and the ends that the last saw.

    Raises
    ------
    ValueError
        If the file holds none.
    """
    import numpy as np

    from mechanics.geometry import NAMES, SpringGeometry
    from mechanics.whole_readings import photo_reading

    out, ends = [], "unknown"
    rows = path.read_text(encoding="utf-8").splitlines()
    # What photos give together holds all that each of them gives.
    wanted = "fused" if any('"status": "fused"' in row for row in rows) else "measured"
    for row in rows:
        try:
            told_of = json.loads(row)
            if told_of.get("status") != wanted:
                continue
            values = np.array([told_of["geometry"][name]["value"] for name in NAMES])
            covariance = np.array(told_of["covariance"]["matrix"])
            ends = told_of["ends"]
            cone = (float(told_of.get("taper", 1.0)), float(told_of.get("u_taper", 0.01)))
            geometry = SpringGeometry(
                values, covariance, ends_named(ends), *(cone if cone[0] < 1.0 else ())
            )
            name = f"photo {told_of['photo']}" if wanted == "measured" else "fused photos"
            out.append(photo_reading(geometry, name))
        except (KeyError, TypeError, AttributeError, json.JSONDecodeError):
            raise ValueError(f"{path.name} is not what `measure --json` writes") from None
    if not out:
        raise ValueError(f"{path.name} holds no measured photo")
    return out, ends


def _answer(
    readings: "list[Reading]", material: str, ends: str, coat: str, notes: tuple[str, ...]
) -> tuple[dict[str, Any], list[str]]:
    import numpy as np

    from mechanics.conflicts import reconcile as together
    from mechanics.evidence import case_of
    from mechanics.materials import find_material
    from mechanics.not_round import ASK, asks_if_flat
    from mechanics.readings import Coat
    from ui.answer import SEED

    if coat not in set(Coat):
        raise ValueError(f"--coat {coat!r} is none of: {', '.join(Coat)}")
    case = case_of(readings, find_material(material), ends_named(ends), Coat(coat))
    posterior = together(readings, case, np.random.default_rng(SEED))
    if asks_if_flat(posterior.conflicts, case):
        notes = (*notes, ASK)
    return _shown(posterior, notes, readings)


def _shown(
    posterior: "Posterior", notes: tuple[str, ...], readings: "list[Reading]"
) -> tuple[dict[str, Any], list[str]]:
    from mechanics.next_reading import rank_readings
    from ui.quantities import posterior_dimensions, shear_modulus

    draws = posterior.mixture.draws
    quantities = {
        "rate_N_per_mm": posterior.mixture.rate_N_per_mm,
        **posterior_dimensions(draws),
        "shear_modulus_GPa": shear_modulus(draws),
    }
    ranked = rank_readings(draws, taken=readings)
    said = {
        "status": "reckoned",
        **told(quantities),
        "families": {k: round(v, 4) for k, v in posterior.mixture.family_odds.items()},
        "conflicts": [_told_of(conflict) for conflict in posterior.conflicts],
        "notes": list(notes),
        "measure_next": [
            {
                "name": s.name,
                "minutes": s.minutes,
                "now": round(s.now, 4),
                "after": round(s.after, 4),
            }
            for s in ranked
        ],
    }
    families = ", ".join(f"{k} {v:.0%}" for k, v in posterior.mixture.family_odds.items())
    plain = [*lines(quantities), f"Wire: {families}", *notes]
    plain += [c.sentence for c in posterior.conflicts]
    worth = [s.sentence for s in ranked if s.after < 0.97 * s.now][:5]
    plain += ["", "What to measure next:"]
    plain += [f"  {s}" for s in worth] or ["  nothing usual would narrow it much"]
    return said, plain


def _told_of(conflict: "Conflict") -> dict[str, Any]:
    return {
        "reading": conflict.reading,
        "slip": conflict.slip,
        "chance": round(conflict.chance, 4),
        "outcome": conflict.outcome,
        "sentence": conflict.sentence,
    }
