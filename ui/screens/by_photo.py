"""The way with a photo: choose it, say what lies beside the spring, see what was seen, read."""

from pathlib import Path

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from mechanics.materials import find_material
from mechanics.readings import photo_reading
from ui.answer import answer_of
from ui.correcting import as_torsion, corrected
from ui.measuring import Look, look, parse_reference, proportions_of
from ui.own_scale import USUAL_U_MM
from ui.report import Subject
from ui.screens.choices import choose_material, choose_reference
from ui.screens.correct import correct, forget_corrections
from ui.screens.improve import added
from ui.screens.keep import keep
from ui.screens.mark import choose_marks, forget_marks
from ui.screens.report import offer_report
from ui.screens.result import show_proportions
from ui.screens.torsion import enter_legs, show_torsion
from ui.screens.units import choose_units
from ui.screens.whole import show_answer
from ui.store import PhotoStore, Shown
from ui.words import plain
from vision.flags import find_flag
from vision.marks import Marks
from vision.measure import Measurement

SAMPLE = Path(__file__).parents[2] / "fixtures" / "pictures" / "sample.jpg"

# The last entry is no file type: without one beside the pictures, Android hides its camera.
ACCEPTED = ["image/jpeg", "image/png", "image/webp", "image/heic", "image/heif"]
ACCEPTED += ["android/allowcamera"]


def by_photo() -> None:
    """Draw the answer above the choice of photo, as soon as there is one."""
    top = st.container()
    shown = _choose()
    reference = choose_reference()
    if shown is None:
        with top:
            st.info(
                "Lay the spring beside a card, a coin or a ruler, and take the photo from above."
            )
        return
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


@st.cache_resource
def photo_store() -> PhotoStore:
    """Return the one store of this server."""
    return PhotoStore()


@st.cache_resource(max_entries=32, show_spinner=False)
def _look(data: bytes, name: str, reference: str, marks: Marks) -> Look:
    return look(data, name, parse_reference(reference, USUAL_U_MM), marks)


def _choose() -> Shown | None:
    """Return the photo last chosen, also after a reload: its hash stands in the address."""
    uploaded = st.file_uploader(
        "Photo of one spring beside something of known size", ACCEPTED, max_upload_size=40
    )
    if uploaded is not None:
        _take(photo_store().put(uploaded.getvalue(), uploaded.name))
    elif SAMPLE.is_file() and st.button("Try it with the sample photo", width="stretch"):
        _take(photo_store().put(SAMPLE.read_bytes(), SAMPLE.name))
    key = st.query_params.get("photo")
    if key is None:
        return None
    shown = photo_store().get(key)
    if shown is None:
        st.info("The photo of this address is no longer kept here: choose it once more.")
    return shown


def _take(key: str) -> None:
    """Turn to a photo; what was marked or corrected in another one is not meant for it."""
    before = st.query_params.get("photo")
    if before not in (None, key):
        forget_marks()
        forget_corrections()
    st.query_params["photo"] = key


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
    if kind == "torsion":
        with first:
            show_torsion(as_torsion(seen.geometry, hand, enter_legs(units)), material, units)
        return
    try:
        geometry = corrected(seen.geometry, correction)
        answer = answer_of(geometry, find_material(material))
    except ValueError as problem:
        st.error(plain(str(problem)))
        return
    better = show_answer(answer, (photo_reading(geometry),), units, (kind, hand), first)
    evidence = ("photo", *added())
    notes = tuple(find_flag(code).sentence for code in seen.flags)
    subject = Subject("Coil spring", kind, hand, evidence, notes, drawing)
    offer_report(better, subject, units)
    keep(better, (kind, hand), evidence, units, (drawing, shown.data))


def _show_flags(codes: tuple[str, ...]) -> None:
    for code in codes:
        flag = find_flag(code)
        st.warning(f"{flag.sentence} {flag.try_this}")
