"""The way with a photo: choose it and say what lies beside the spring; what it shows follows."""

from pathlib import Path

import streamlit as st

from ui.screens.choices import choose_reference
from ui.store import PhotoStore, Shown

SAMPLE = Path(__file__).parents[2] / "fixtures" / "pictures" / "sample.jpg"

# The last entry is no file type: without one beside the pictures, Android hides its camera.
ACCEPTED = ["image/jpeg", "image/png", "image/webp", "image/heic", "image/heif"]
ACCEPTED += ["android/allowcamera"]


def by_photo() -> None:
    """Draw the answer above the choice of photo, as soon as there is one."""
    top = st.container(key="left")
    shown = _choose()
    reference = choose_reference()
    if shown is None:
        with top:
            st.info(
                "Lay the spring beside a card, a coin or a ruler, and take the photo from above."
            )
        return
    # Seeing and reckoning take a second to load: an empty page need not wait for them.
    from ui.screens.photo_answer import show_photo

    show_photo(shown, reference, top)


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
        from ui.screens.photo_answer import forget

        forget()
    st.query_params["photo"] = key
