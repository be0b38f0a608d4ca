"""What a photo shows: the drawing first, then the rate, then everything else."""

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from mechanics.materials import find_material
from mechanics.slips import Reading
from mechanics.whole_readings import photo_reading
from ui.answer import Answer, answer_of
from ui.collection.record import spring_of
from ui.correcting import Correction, as_torsion, corrected
from ui.flat_wire import seen_as_flat
from ui.joined import Photos, photos_of
from ui.measuring import Look, proportions_of
from ui.report import Subject
from ui.screens.another_photo import forget_further, photos_of_it
from ui.screens.choices import choose_material
from ui.screens.correct import correct, forget_corrections
from ui.screens.flat_wire import enter_sides, say_flat
from ui.screens.improve import Before
from ui.screens.keep import keep
from ui.screens.looking import looked_at
from ui.screens.mark import choose_marks, forget_marks
from ui.screens.report import offer_report
from ui.screens.result import show_proportions
from ui.screens.torsion import enter_legs, show_torsion
from ui.screens.units import choose_units
from ui.screens.whole import show_answer, steps
from ui.store import Shown
from ui.words import advice, literal, plain, reference_label
from vision.flags import find_flag
from vision.measure import Measurement


def look_at(shown: Shown, reference: str, top: DeltaGenerator, box: DeltaGenerator) -> Look:
    """Return what a photo shows, with the marks set in it; nothing is told of it yet.

    Parameters
    ----------
    shown : Shown
        The photo.
    reference : str
        What lies beside the spring, by its command-line name.
    top, box : DeltaGenerator
        Places of the answer, where one waits for it, and of the choices.
    """
    with box:
        marks = choose_marks(shown, reference)
    with top, st.spinner("Looking at the photo …"):
        return looked_at(shown.data, shown.name, reference, marks)


def show_photo(
    found: Look, shown: Shown, reference: str, top: DeltaGenerator, below: DeltaGenerator
) -> None:
    """Draw what a photo shows: the drawing with the rate at the top, all else below."""
    with top:
        if found.drawing is not None:
            st.image(found.drawing, width="stretch", alt="The photo with what was seen drawn on it")
        if found.refusal is not None:
            # By its words on this page, not by its name on the command line.
            named, label = f"named, {reference},", f"named, {reference_label(reference).lower()},"
            said = literal(found.refusal.message.replace(named, label))
            st.error(f"{said}\n\n{advice(found.refusal.reason, found.refusal.try_this)}")
    if found.seen is None:
        return
    if found.to_scale:
        with top:
            photos = _photos(found.seen, reference)
        _tell(photos, shown, found.drawing, top, below)
        return
    # What is to be put right comes before what is known without it.
    with top if found.refusal is None else below:
        show_proportions(found.seen.kind, found.seen.hand, proportions_of(found.seen))


def forget() -> None:
    """Drop marks and corrections: they were meant for another photo."""
    forget_marks()
    forget_corrections()
    forget_further()


def _photos(first: Measurement, reference: str) -> Photos:
    """Return all photos of the spring; of one that has no steps there is the first alone."""
    if not _has_steps(first):
        return photos_of(first, ())
    with st.spinner("Looking at the photos …"):
        return photos_of_it(first, reference)


def _tell(
    photos: Photos,
    shown: Shown,
    drawing: bytes | None,
    top: DeltaGenerator,
    below: DeltaGenerator,
) -> None:
    seen, one = photos.seen, photos.first
    assert seen is not None
    assert one is not None
    with top:
        first = st.container()
        units = choose_units()
        _show_flags(seen.flags)
        # Above the steps, for whoever holds a die spring to see at once.
        flat = _may_be_flat(seen) and say_flat()
    with below:
        entries, places = st.container(), steps() if _has_steps(seen) else []
    with places[0] if places else entries:
        correction = correct(seen, units)
        sides = enter_sides(units, float(seen.geometry.values[0])) if flat else (None, None)
        material = choose_material()
    if flat and sides[0] is None:
        with first:
            st.info("Type the wire's side across the axis: a photo from the side cannot show it.")
        return
    kind, hand = correction.kind or seen.kind, correction.hand or seen.hand
    notes = tuple(find_flag(code).sentence for code in seen.flags)
    if kind == "torsion":
        subject = Subject("Torsion spring", kind, hand, ("photo",), notes, drawing)
        with first:
            read = as_torsion(seen.geometry, hand, enter_legs(units))
            show_torsion(read, material, units, subject, shown.data)
        return
    try:
        answer, base = _reckoned(seen, correction, sides, material)
        alone = None if seen is one else _reckoned(one, correction, sides, material)[0]
    except ValueError as problem:
        st.error(plain(str(problem)))
        return
    before, tops = Before(photos, alone), [first, *places]
    better, added = show_answer(answer, base, units, (kind, hand), tops, before)
    evidence = tuple(dict.fromkeys(("photo", *added)))
    with places[-1]:
        spring = spring_of(better, "this one", kind=kind, hand=hand, evidence=evidence)
        keep(spring, units, (drawing, shown.data))
        offer_report(better, Subject("Coil spring", kind, hand, evidence, notes, drawing), units)


def _reckoned(
    seen: Measurement,
    correction: Correction,
    sides: tuple[float | None, float | None],
    material: str,
) -> tuple[Answer, tuple[Reading, ...]]:
    """Return the answer of what was seen and corrected, and what that rests on.

    Raises
    ------
    ValueError
        If no spring is like that; the message is a sentence for the person.
    """
    geometry = corrected(seen.geometry, correction)
    base: tuple[Reading, ...] = (photo_reading(geometry),)
    if sides[0] is not None:
        geometry, base = seen_as_flat(geometry, sides[0], sides[1])
    return answer_of(geometry, find_material(material)), base


def _has_steps(seen: Measurement) -> bool:
    """Tell, before the controls are drawn, whether all steps are for this spring."""
    return _kind(seen) != "torsion"


def _may_be_flat(seen: Measurement) -> bool:
    """Tell the same of rectangular wire, which is reckoned for cylinders that are pressed."""
    return _kind(seen) == "compression"


def _kind(seen: Measurement) -> str:
    chosen = st.session_state.get("is_kind") or st.query_params.get("is_kind")
    return str(chosen or seen.kind)


def _show_flags(codes: tuple[str, ...]) -> None:
    for code in codes:
        flag = find_flag(code)
        st.warning(f"{flag.sentence} {flag.try_this}")
