"""One look at a photo for the page, kept so that a second look at it costs nothing."""

import streamlit as st

from ui.measuring import Look, look, parse_reference
from ui.own_scale import USUAL_U_MM
from vision.marks import Marks


@st.cache_resource(max_entries=32, show_spinner=False)
def looked_at(data: bytes, name: str, reference: str, marks: Marks) -> Look:
    """Return what a photo shows; a reference by its command-line name, as `look` takes it."""
    return look(data, name, parse_reference(reference, USUAL_U_MM), marks)
