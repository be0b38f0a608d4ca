"""A torsion spring by its readings: angular rate, what it holds when wound, its drawing."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import numpy as np

from mechanics.check import require_coil, require_dimension
from mechanics.ends import Ends
from mechanics.materials import Material
from mechanics.torsion import (
    TorsionDraws,
    TorsionRate,
    bending_stress,
    draw_torsion,
    torsion_active_coils,
    torsion_stress_factor,
    wound_diameter,
)
from mechanics.uncertainty import Quantity
from ui.answer import SEED
from ui.collection.record import TORSION, Spring, covariance_of
from ui.drafting.plan import plan
from ui.drafting.sheet import Sheet
from ui.drafting.wire import Form
from ui.figures import value_text
from ui.quantities import scaled
from ui.units import Units

#: Torsion springs may be wound this far without more ado: a judgement, no source [turns].
MOST_WOUND = 5.0


@dataclass(frozen=True, slots=True)
class TorsionReadings:
    """What was read off a torsion spring, by caliper or from a photo.

    Attributes
    ----------
    wire_mm, mean_mm, body_coils : (float, float)
        Wire diameter, mean coil diameter [mm] and turns of the body [-], each with its standard
        uncertainty. They are taken as independent: what wire and mean share of an outside
        reading moves the rate's band by some 3 %.
    legs_mm : (float, float)
        Straight legs, from the coil to where the load acts [mm].
    hand : str
        ``right``, ``left`` or ``unknown``.
    """

    wire_mm: tuple[float, float]
    mean_mm: tuple[float, float]
    body_coils: tuple[float, float]
    legs_mm: tuple[float, float] = (0.0, 0.0)
    hand: str = "unknown"


@dataclass(frozen=True, slots=True)
class TorsionAnswer:
    """What is told about a torsion spring.

    Attributes
    ----------
    readings : TorsionReadings
        What it rests on.
    rate : TorsionRate
        Angular rate.
    told : mapping of str to Quantity
        Dimensions by name.
    material : Material
        Wire material.
    draws : TorsionDraws
        Equally likely springs behind the bands.
    """

    readings: TorsionReadings
    rate: TorsionRate
    told: Mapping[str, Quantity]
    material: Material
    draws: TorsionDraws


def torsion_answer(readings: TorsionReadings, material: Material) -> TorsionAnswer:
    """Return the answer for a torsion spring.

    Raises
    ------
    ValueError
        If a reading is impossible; the message names it.
    """
    (d, u_d), (mean, u_mean), (body, u_body) = (
        readings.wire_mm,
        readings.mean_mm,
        readings.body_coils,
    )
    require_dimension("wire_diameter_mm", d)
    require_coil(d, mean)
    n = torsion_active_coils(body, mean, readings.legs_mm)
    rng = np.random.default_rng(SEED)
    draws = draw_torsion((d, u_d), (mean, u_mean), (n, u_body), material, rng)
    across = float(np.hypot(u_mean, u_d))
    told = {
        "wire_diameter_mm": _banded(d, u_d),
        "outer_diameter_mm": _banded(mean + d, across),
        "mean_diameter_mm": _banded(mean, u_mean),
        "inner_diameter_mm": _banded(mean - d, across),
        "body_coils": _banded(body, u_body),
        "active_coils": _banded(n, u_body),
    }
    return TorsionAnswer(readings, draws.rate, MappingProxyType(told), material, draws)


@dataclass(frozen=True, slots=True)
class Wound:
    """A torsion spring wound up by an angle.

    Attributes
    ----------
    moment_N_mm : Quantity
        What it holds [N mm].
    stress_MPa : float
        Bending stress on the inner side of the wire [MPa].
    inside_mm : float
        Inside diameter, which a rod within must clear [mm].
    """

    moment_N_mm: Quantity  # noqa: N815
    stress_MPa: float  # noqa: N815
    inside_mm: float


def wind(answer: TorsionAnswer, degrees: float) -> Wound:
    """Return the spring wound up by an angle in the direction that closes the coil.

    Raises
    ------
    ValueError
        If the angle is not one that a torsion spring is wound by.
    """
    turns = degrees / 360.0
    if not 0.0 < turns <= MOST_WOUND:
        raise ValueError(f"a winding of {degrees:g} degrees must be above 0 and at most 1800")
    moment = scaled(answer.rate.per_turn, turns)
    (d, _), (mean, _), (body, _) = (
        answer.readings.wire_mm,
        answer.readings.mean_mm,
        answer.readings.body_coils,
    )
    stress = bending_stress(moment.value, d, torsion_stress_factor(mean / d))
    return Wound(moment, stress, wound_diameter(mean, body, turns) - d)


def torsion_plan(
    answer: TorsionAnswer, units: Units, wide_pt: float, beside: bool = False
) -> Sheet:
    """Return the drawing of a torsion spring whose coils touch; as `plan` does."""
    read = answer.readings
    d, mean, body = read.wire_mm[0], read.mean_mm[0], read.body_coils[0]
    form = Form("torsion", d, mean, body, d * (body + 1.0), Ends.OPEN, read.hand, 1.0, read.legs_mm)
    return plan(form, torsion_labels(answer.told, form, units), wide_pt, beside)


def torsion_labels(told: Mapping[str, Quantity], form: Form, units: Units) -> dict[str, str]:
    """Return what is written on the drawing of a torsion spring."""
    shown = units.told(told)
    way = f", {form.hand} hand" if form.hand != "unknown" else ""
    one, other = (leg / units.mm for leg in form.legs_mm)
    return {
        "wire": f"wire {value_text(shown['wire_diameter_mm'])} {units.length}",
        "coils": f"{value_text(shown['body_coils'])} turns{way}",
        "outside": f"outside {value_text(shown['outer_diameter_mm'])} {units.length}",
        "end": f"legs {one:.3g} and {other:.3g} {units.length}" if one or other else "",
    }


def spring_of_torsion(answer: TorsionAnswer, name: str, **more: Any) -> Spring:
    """Return what is kept of a torsion spring; its length is that of touching coils.

    Parameters
    ----------
    answer : TorsionAnswer
        From caliper or photo.
    name : str
        What the owner calls it.
    **more
        Further fields of `Spring`.
    """
    draws = answer.draws
    told = answer.told
    # What the legs add to the turns that bend is no part of the body.
    legs = told["active_coils"].value - told["body_coils"].value
    body = draws.active_coils - legs
    wire = draws.wire_diameter_mm
    drawn = np.column_stack(
        [wire, draws.mean_diameter_mm, body, wire * (body + 1.0), draws.per_turn / 360.0]
    )
    d, mean, turns = (told[n].value for n in ("wire_diameter_mm", "mean_diameter_mm", "body_coils"))
    return Spring(
        name=name,
        values=(d, mean, turns, d * (turns + 1.0), answer.rate.per_degree.value),
        covariance=covariance_of(drawn),
        kind=TORSION,
        hand=answer.readings.hand,
        ends=str(Ends.OPEN),
        material=answer.material.name,
        legs_mm=answer.readings.legs_mm,
        **more,
    )


def _banded(value: float, u: float) -> Quantity:
    return Quantity(value, u, value - 1.96 * u, value + 1.96 * u)
