"""The report of a torsion spring: an angular rate, and no other."""

from ui.figures import band_text, value_text
from ui.quantities import relabelled, scaled
from ui.report import PLAN_WIDE, Contents
from ui.torsion import TorsionAnswer, torsion_plan
from ui.units import Units, moment_unit
from ui.words import CAUTIONS, TORSION_LABELS

METHOD = (
    "The angular rate is that of a helical torsion spring of round wire, E d<super>4</super> / "
    "(64 D n) a radian; friction between the coils makes it up to 6 % softer. The turns n count "
    "the legs by (l<sub>1</sub> + l<sub>2</sub>) / (3 π D). Its band comes from 40 000 springs "
    "drawn within the errors of all dimensions and within the spread of the material."
)
SWINGS = (
    "A wound leg swings back hard: load it only in the way that closes the coil, hold both legs, "
    "and keep face and hands out of their way."
)


def torsion_contents(answer: TorsionAnswer, units: Units) -> Contents:
    """Return what stands on the report of a torsion spring, for `ui.report.paged`."""
    unit, newton_mm = moment_unit(units)
    degree, turn = (
        scaled(rate, 1.0 / newton_mm) for rate in (answer.rate.per_degree, answer.rate.per_turn)
    )
    one, other = (leg / units.mm for leg in answer.readings.legs_mm)
    hand = answer.readings.hand
    return Contents(
        f"{value_text(degree)} {unit} a degree",
        (
            f"angular rate, 95 % band {band_text(degree)} {unit} a degree",
            f"{value_text(turn)} {unit} a turn ({band_text(turn)})",
        ),
        relabelled(units.told(answer.told), TORSION_LABELS),
        (),
        f"Kind: torsion, hand {hand}, legs {one:.3g} and {other:.3g} "
        f"{units.length}. Material: {answer.material.name}.",
        METHOD,
        torsion_plan(answer, units, PLAN_WIDE, beside=True),
        cautions=(SWINGS, *CAUTIONS),
    )
