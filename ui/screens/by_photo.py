"""The way with a photo: choose it and say what lies beside the spring; what it shows follows."""

from pathlib import Path

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from ui.screens.choices import choose_reference
from ui.store import PhotoStore, Shown

#: Whether the photo gave a rate when the page was drawn last.
_FOUND = "found"
SAMPLE = Path(__file__).parents[2] / "fixtures" / "pictures" / "sample.jpg"

# The last entry is no file type: without one beside the pictures, Android hides its camera.
ACCEPTED = ["image/jpeg", "image/png", "image/webp", "image/heic", "image/heif"]
ACCEPTED += ["android/allowcamera"]


def by_photo() -> None:
    """Draw the answer above the choice of photo, as soon as there is one."""
    top = st.container(key="left")
    box, below = _box(), st.container()
    with box:
        shown = _choose()
        reference = choose_reference()
    if shown is None:
        with top:
            st.info(
                "Lay the spring beside a card, a coin or a ruler, or on a printed sheet of marks "
                "(to be had below), and take the photo from above."
            )
        return
    # Seeing and reckoning take a second to load: an empty page need not wait for them.
    from ui.screens.photo_answer import look_at, show_photo

    found = look_at(shown, reference, top, box)
    if found.to_scale != st.session_state.get(_FOUND, True):
        st.session_state[_FOUND] = found.to_scale
        # Before anything is told: what opens or closes later is drawn anew under a finger.
        if not _marking():
            st.rerun()
    show_photo(found, shown, reference, top, below)


def _marking() -> bool:
    return st.query_params.get("mark") is not None


def _box() -> DeltaGenerator:
    """Return the place of the choices: out of the way as soon as they have led to an answer."""
    if "photo" not in st.query_params:
        return st.container()
    busy = not st.session_state.get(_FOUND, True) or _marking()
    return st.expander("The photo, and what lies beside the spring", expanded=busy)


@st.cache_resource
def photo_store() -> PhotoStore:
    """Return the one store of this server."""
    return PhotoStore()


def _choose() -> Shown | None:
    """Return the photo last chosen, also after a reload: its hash stands in the address."""
    uploaded = st.file_uploader(
        "Photo of one spring beside something of known size", ACCEPTED, max_upload_size=40
    )
    if uploaded is not None:
        _take(photo_store().put(uploaded.getvalue(), uploaded.name))
    elif (
        "photo" not in st.query_params
        and SAMPLE.is_file()
        and st.button("Try it with the sample photo", width="stretch")
    ):
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
        from ui.screens.photo_answer import forget

        forget()
    if before != key:
        st.query_params["photo"] = key
        st.rerun()
