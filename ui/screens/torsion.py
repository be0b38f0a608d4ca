"""A torsion spring on the page: angular rate first, then its drawing, then what winding does."""

from datetime import date

import streamlit as st

from mechanics.materials import find_material
from ui.figures import band_text, value_text
from ui.quantities import relabelled, scaled
from ui.report import Subject, paged
from ui.screens.entries import length, number
from ui.screens.keep import keep
from ui.screens.plan import WIDE_PT, show_sheet
from ui.screens.report import offer_pdf
from ui.screens.result import table
from ui.torsion import (
    TorsionAnswer,
    TorsionReadings,
    spring_of_torsion,
    torsion_answer,
    torsion_plan,
    wind,
)
from ui.torsion_report import torsion_contents
from ui.units import Units, moment_unit
from ui.words import TORSION_LABELS, plain


def enter_legs(units: Units) -> tuple[float, float]:
    """Draw the fields for the legs."""
    with st.container(horizontal=True):
        one = length("First leg", "leg_1", units, 1.0, "%.1f")
        other = length("Second leg", "leg_2", units, 1.0, "%.1f")
    st.caption("From the coil to where the load acts; they bend too, so they count.")
    return one or 0.0, other or 0.0


def show_torsion(
    readings: TorsionReadings,
    material: str,
    units: Units,
    subject: Subject,
    photo: bytes | None = None,
) -> None:
    """Draw the answer for a torsion spring, its report, and the entries to keep it.

    Parameters
    ----------
    readings : TorsionReadings
        By caliper or from a photo.
    material : str
        Of the wire.
    units : Units
        To read in.
    subject : Subject
        What it is about: evidence, notes, and the drawing where there is one.
    photo : bytes, optional
        The photo itself.
    """
    try:
        answer = torsion_answer(readings, find_material(material))
    except ValueError as problem:
        st.error(plain(str(problem)))
        return
    _tell(answer, units)
    _winding(answer, units)
    offer_pdf(lambda: paged(torsion_contents(answer, units), subject, units, date.today()))
    spring = spring_of_torsion(answer, "this one", evidence=subject.evidence)
    keep(spring, units, (subject.drawing, photo))


def _tell(answer: TorsionAnswer, units: Units) -> None:
    unit, newton_mm = moment_unit(units)
    degree, turn = (
        scaled(rate, 1.0 / newton_mm) for rate in (answer.rate.per_degree, answer.rate.per_turn)
    )
    st.metric("Angular rate, for each degree", f"{value_text(degree)} {unit}")
    st.markdown(f"95 % band: **{band_text(degree)} {unit} a degree**")
    st.markdown(f"A turn: **{value_text(turn)} {unit}** ({band_text(turn)}).")
    show_sheet(torsion_plan(answer, units, WIDE_PT))
    table(relabelled(units.told(answer.told), TORSION_LABELS), units.length)


def _winding(answer: TorsionAnswer, units: Units) -> None:
    st.subheader("Wind it up", anchor=False)
    degrees = number("Wound by, degrees", "wound", 15.0, "%.0f")
    if degrees is None:
        return
    try:
        wound = wind(answer, degrees)
    except ValueError as problem:
        st.error(plain(str(problem)))
        return
    unit, newton_mm = moment_unit(units)
    moment = scaled(wound.moment_N_mm, 1.0 / newton_mm)
    st.markdown(f"It holds **{value_text(moment)} {unit}** ({band_text(moment)}).")
    inside = wound.inside_mm / units.mm
    st.markdown(
        f"The coil tightens to **{inside:.3g} {units.length}** inside: a rod in it must be thinner."
    )
    st.markdown(f"Bending stress of the wire: **{wound.stress_MPa:.0f} MPa**.")
    st.warning(
        "A wound leg swings back hard. Load it only in the way that closes the coil, hold both "
        "legs, and keep your face and hands out of their way."
    )
