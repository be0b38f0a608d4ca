"""Another photo of the same spring, as one more reading of it."""

import streamlit as st

from mechanics.slips import Reading
from mechanics.whole_readings import PHOTO_SHARED, photo_reading
from ui.screens.by_photo import ACCEPTED, photo_store
from ui.screens.looking import looked_at
from ui.words import literal
from vision.marks import Marks

#: Name in the address; a reload finds the photo again.
SECOND = "photo_2"


def another_photo(reference: str) -> list[Reading]:
    """Draw the choice of another photo, and return what it tells; nothing until there is one.

    Parameters
    ----------
    reference : str
        What lies beside the spring in it, by its command-line name.
    """
    # Of k photos, shared + (1 - shared)/k of the variance is left.
    second, many = (
        f"{100.0 * share**0.5:.0f}\N{NO-BREAK SPACE}%"
        for share in (PHOTO_SHARED + (1.0 - PHOTO_SHARED) / 2.0, PHOTO_SHARED)
    )
    st.caption(
        "Another photo of the same spring, taken anew: turn the spring over or move the phone. "
        f"It leaves about {second} of what one photo leaves open, and any number of them no less "
        f"than {many}, for some of it is wrong alike in all: how this wire looks in this light, "
        "the size of what lies beside it, the lens."
    )
    uploaded = st.file_uploader(
        "Another photo of it", ACCEPTED, max_upload_size=40, key="add_photo"
    )
    if uploaded is not None:
        st.query_params[SECOND] = photo_store().put(uploaded.getvalue(), uploaded.name)
    key = st.query_params.get(SECOND)
    shown = photo_store().get(key) if key else None
    if shown is None:
        return []
    with st.spinner("Looking at the photo …"):
        found = looked_at(shown.data, shown.name, reference, Marks())
    if found.drawing is not None:
        st.image(found.drawing, width="stretch", alt="The other photo, what was seen drawn on it")
    if found.refusal is not None:
        st.error(f"{literal(found.refusal.message)}\n\n{found.refusal.try_this}")
    if found.seen is None or not found.to_scale:
        return []
    return [photo_reading(found.seen.geometry, "second photo")]


def forget_another() -> None:
    """Drop it: the first photo is of another spring now."""
    st.query_params.pop(SECOND, None)
