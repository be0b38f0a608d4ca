"""The collection: find a spring, look at it, change it, hand springs on."""

import math

import streamlit as st

from mechanics.units import RATE_UNITS
from ui.collection.store import SORTS, Kept
from ui.drafting.of_answer import plan_of_kept
from ui.figures import value_text
from ui.quantities import relabelled
from ui.screens.entries import number
from ui.screens.hand_on import hand_on, offer_labels
from ui.screens.keep import collection, rates_beside, replaced
from ui.screens.plan import WIDE_PT, show_sheet
from ui.screens.result import rate_bars, table
from ui.screens.units import choose_units
from ui.telling import dimensions_told, rate_told
from ui.units import Units
from ui.words import DIMENSION_LABELS, TORSION_LABELS, as_told, literal

#: Rates drawn side by side at most: more cannot be read on a phone.
MOST_BARS = 12


def show_collection() -> None:
    """Draw one spring where the address names one, else the list."""
    key = st.query_params.get("spring")
    kept = collection().get(key) if key else None
    if kept is not None:
        _show_one(kept)
        return
    if key and key != st.session_state.get("deleted"):
        st.info("This spring is not in the collection any more.")
    _undo_bar()
    _show_list()


def _undo_bar() -> None:
    deleted = st.session_state.get("deleted")
    if not deleted:
        return
    with st.container(horizontal=True, vertical_alignment="center"):
        st.markdown(f"Deleted: **{literal(st.session_state['deleted_name'])}**")
        if st.button("Undo", key="undo"):
            collection().undelete(deleted)
            del st.session_state["deleted"]
            st.query_params["spring"] = deleted
            st.rerun()


def _show_list() -> None:
    words = st.text_input("Search", key="find", bind="query-params", placeholder="any word")
    sort = st.selectbox("Sorted by", list(SORTS), key="sort", bind="query-params")
    units = choose_units()
    found = collection().find(words, sort, _rates(units))
    if not found:
        st.info("Nothing is kept yet." if not words else "No kept spring holds these words.")
    for one in found:
        if st.button(_line(one, units), key=f"open-{one.id}", width="stretch"):
            st.query_params["spring"] = one.id
            st.rerun()
    rates = rates_beside(None, found[:MOST_BARS])
    if len(rates) > 1:
        rate_bars(rates, units, "Rates: " + ", ".join(rates))
    hand_on(found, units)


def _rates(units: Units) -> tuple[float, float] | None:
    """Draw the least and the most rate to show, and return them [N/mm]."""
    with st.container(horizontal=True):
        least = number(f"Rate from, {units.rate}", "rate_from", 0.5)
        most = number(f"to, {units.rate}", "rate_to", 0.5)
    if least is None and most is None:
        return None
    size = RATE_UNITS[units.rate]
    return (least or 0.0) * size, (most or math.inf) * size


def _line(one: Kept, units: Units) -> str:
    s = one.spring
    rate, unit = rate_told(s, units)
    where = f", {literal(s.place)}" if s.place else ""
    told = dimensions_told(s)
    sides = ("wire_height_mm", "wire_width_mm") if s.is_flat else ("wire_diameter_mm",)
    wire = " by ".join(value_text(units.length_of(told[side])) for side in sides)
    outside = value_text(units.length_of(told["outer_diameter_mm"]))
    size = f"wire {wire}, outside {outside} {units.length}"
    return f"**{literal(s.name)}**: {value_text(rate)} {unit}, {size}{where}"


def _show_one(one: Kept) -> None:
    s = one.spring
    _actions(one)
    st.subheader(literal(s.name), anchor=False)
    drawing = collection().drawing(one.id)
    if drawing is not None:
        st.image(drawing, width="stretch", alt=f"Photo of {s.name} with its dimensions")
    units = choose_units()
    rate, unit = rate_told(s, units)
    st.metric("Angular rate" if s.is_torsion else "Rate", f"{value_text(rate)} {unit}")
    known = dimensions_told(s)
    labels = TORSION_LABELS if s.is_torsion else DIMENSION_LABELS
    table([(f"Rate, {unit}", rate), *relabelled(units.told(known), labels)], units.length)
    show_sheet(plan_of_kept(s, known, units, WIDE_PT))
    cone = f", small end {s.small_end_ratio:.2f} of the large" if s.small_end_ratio < 1.0 else ""
    # What a torsion spring ends in are its legs, told on the drawing.
    ends = "" if s.is_torsion else f", ends **{s.ends}**"
    st.markdown(f"Kind **{s.kind}**, hand **{s.hand}**{ends}, {s.material}{cone}.")
    if s.evidence:
        st.caption("Measured with: " + literal(", ".join(s.evidence)))
    _edit(one)
    with st.expander("Label for its drawer"):
        offer_labels([one], units)
    with st.expander("History"):
        for change in collection().history(one.id):
            st.markdown(f"- {change.at:%Y-%m-%d %H:%M} UTC: {change.what}")


def _actions(one: Kept) -> None:
    """Draw what can be done; on top, where undoing will stand after deleting."""
    with st.container(horizontal=True):
        if st.button("All springs", key="back"):
            del st.query_params["spring"]
            st.rerun()
        if st.button("Duplicate", key="duplicate"):
            st.query_params["spring"] = collection().duplicate(one.id)
            st.rerun()
        if st.button("Delete", key="delete"):
            collection().delete(one.id)
            st.session_state["deleted"] = one.id
            st.session_state["deleted_name"] = one.spring.name
            del st.query_params["spring"]
            st.rerun()


def _edit(one: Kept) -> None:
    s = one.spring
    with st.form(f"edit-{one.id}", border=False):
        name = st.text_input("Name", s.name)
        place = st.text_input("Where it is stored", s.place)
        tags = st.text_input("Tags, with commas between", ", ".join(s.tags))
        notes = st.text_area("Notes", s.notes, height=68)
        pressed = st.form_submit_button("Save", width="stretch")
    if not pressed:
        return
    try:
        new = replaced(s, name, place, tags, notes)
        collection().edit(one.id, name=new.name, place=new.place, tags=new.tags, notes=new.notes)
    except ValueError as problem:
        st.error(as_told(str(problem)))
        return
    st.rerun()
