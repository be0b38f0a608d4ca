"""One look at a photo for the page: in its turn, and kept so that a second one costs nothing."""

import hashlib
import os

import streamlit as st

from ui.measuring import Look, look, parse_reference
from ui.own_scale import USUAL_U_MM
from ui.store import Lately
from ui.turns import Turns, place_text
from vision.marks import Marks


def looked_at(data: bytes, name: str, reference: str, marks: Marks) -> Look:
    """Return what a photo shows; who comes while others' photos are measured sees the place.

    Parameters
    ----------
    data : bytes
        The file as it came.
    name : str
        File name, for messages.
    reference : str
        What lies beside the spring, by its command-line name.
    marks : Marks
        What the person marked.
    """
    asked = (hashlib.sha256(data).hexdigest(), name, reference, marks)
    found = _looks().get(asked)
    if found is not None:
        return found
    place = st.empty()
    with _turns().turn(lambda before: place.info(place_text(before))):
        place.empty()
        # Another page may have asked for the same meanwhile.
        found = _looks().get(asked)
        if found is None:
            found = look(data, name, parse_reference(reference, USUAL_U_MM), marks)
            _looks().put(asked, found)
    return found


@st.cache_resource
def _looks() -> Lately[Look]:
    """Return what was seen lately, by this server."""
    return Lately(32)


@st.cache_resource
def _turns() -> Turns:
    """Return the one queue of this server: a photo takes one and a half cores, and 0.3 GB."""
    return Turns(max((os.cpu_count() or 1) // 2, 1))
