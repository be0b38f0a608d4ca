"""What a photo shows: the drawing first, then the rate, then everything else."""

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from mechanics.materials import find_material
from mechanics.readings import photo_reading
from ui.answer import answer_of
from ui.collection.record import spring_of
from ui.correcting import as_torsion, corrected
from ui.measuring import Look, look, parse_reference, proportions_of
from ui.own_scale import USUAL_U_MM
from ui.report import Subject
from ui.screens.choices import choose_material
from ui.screens.correct import correct, forget_corrections
from ui.screens.improve import added
from ui.screens.keep import keep
from ui.screens.mark import choose_marks, forget_marks
from ui.screens.report import offer_report
from ui.screens.result import show_proportions
from ui.screens.torsion import enter_legs, show_torsion
from ui.screens.units import choose_units
from ui.screens.whole import show_answer
from ui.store import Shown
from ui.words import plain
from vision.flags import find_flag
from vision.marks import Marks
from vision.measure import Measurement


def show_photo(shown: Shown, reference: str, top: DeltaGenerator) -> None:
    """Draw what a photo shows, the drawing and the rate at `top`."""
    marks = choose_marks(shown, reference)
    with top:
        with st.spinner("Looking at the photo …"):
            found = _look(shown.data, shown.name, reference, marks)
        if found.drawing is not None:
            st.image(found.drawing, width="stretch", alt="The photo with what was seen drawn on it")
        if found.refusal is not None:
            st.error(f"{found.refusal.message}\n\n{found.refusal.try_this}")
    if found.seen is not None:
        _tell(found.seen, found.to_scale, shown, found.drawing, top)


def forget() -> None:
    """Drop marks and corrections: they were meant for another photo."""
    forget_marks()
    forget_corrections()


@st.cache_resource(max_entries=32, show_spinner=False)
def _look(data: bytes, name: str, reference: str, marks: Marks) -> Look:
    return look(data, name, parse_reference(reference, USUAL_U_MM), marks)


def _tell(
    seen: Measurement, to_scale: bool, shown: Shown, drawing: bytes | None, top: DeltaGenerator
) -> None:
    if not to_scale:
        with top:
            show_proportions(seen.kind, seen.hand, proportions_of(seen))
        return
    with top:
        first = st.container()
        units = choose_units()
        _show_flags(seen.flags)
    material = choose_material()
    correction = correct(seen, units)
    kind, hand = correction.kind or seen.kind, correction.hand or seen.hand
    notes = tuple(find_flag(code).sentence for code in seen.flags)
    if kind == "torsion":
        with first:
            read = as_torsion(seen.geometry, hand, enter_legs(units))
            subject = Subject("Torsion spring", kind, hand, ("photo",), notes, drawing)
            show_torsion(read, material, units, subject, shown.data)
        return
    try:
        geometry = corrected(seen.geometry, correction)
        answer = answer_of(geometry, find_material(material))
    except ValueError as problem:
        st.error(plain(str(problem)))
        return
    better = show_answer(answer, (photo_reading(geometry),), units, (kind, hand), first)
    evidence = ("photo", *added())
    subject = Subject("Coil spring", kind, hand, evidence, notes, drawing)
    offer_report(better, subject, units)
    words = tuple(dict.fromkeys(evidence))
    spring = spring_of(better, "this one", kind=kind, hand=hand, evidence=words)
    keep(spring, units, (drawing, shown.data))


def _show_flags(codes: tuple[str, ...]) -> None:
    for code in codes:
        flag = find_flag(code)
        st.warning(f"{flag.sentence} {flag.try_this}")
