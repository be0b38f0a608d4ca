"""Further photos of the same spring, one after the other, fused into one geometry."""

import streamlit as st

from mechanics.whole_readings import PHOTO_SHARED
from ui.joined import LABELS, Further, Photos, photos_of, rows, sentences, verdict
from ui.screens.by_photo import ACCEPTED, photo_store
from ui.screens.looking import looked_at
from ui.units import Units
from ui.words import literal
from vision.marks import Marks
from vision.measure import Measurement

#: Name in the address; a reload finds the photos again.
FURTHER = "photos"
#: How many may be added: more bring next to nothing.
MOST = 7
#: Counts the photos that came, so that each finds an empty place to be dropped into.
_CAME = "photos_came"


def photos_of_it(first: Measurement | None, reference: str) -> Photos:
    """Return the photos of a spring: the page's own and those in the address.

    Parameters
    ----------
    first : Measurement or None
        What the page's own photo shows, to scale; None where there is none.
    reference : str
        What lies beside the spring in all of them, by its command-line name.
    """
    further = []
    for key in keys():
        shown = photo_store().get(key)
        look = None if shown is None else looked_at(shown.data, shown.name, reference, Marks())
        further.append(Further(key, look))
    return photos_of(first, further)


def keys() -> list[str]:
    """Return the further photos in the address, each once."""
    said = st.query_params.get(FURTHER, "")
    return list(dict.fromkeys(key for key in said.split(",") if key))[:MOST]


def ask_photos(photos: Photos, units: Units) -> None:
    """Draw the choice of another photo, and what those say that are there.

    Parameters
    ----------
    photos : Photos
        Those that are there.
    units : Units
        To read in.
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
    for sentence in sentences(photos):
        st.warning(sentence)
    table = rows(photos, units)
    if len(table) > 1:
        head = [f"| {units.length} | " + " | ".join(LABELS) + " |", "|---" * 5 + "|"]
        st.markdown("\n".join([*head, *("| " + " | ".join(row) + " |" for row in table)]))
    for place, one in enumerate(photos.further):
        _show(one, photos, photos.number(place))
    _ask()


def _ask() -> None:
    if len(keys()) >= MOST:
        st.caption(
            f"No more than {MOST + 1} photos are taken together: more bring next to nothing."
        )
        return
    came = st.session_state.get(_CAME, 0)
    uploaded = st.file_uploader(
        "Another photo of it",
        ACCEPTED,
        accept_multiple_files=True,
        max_upload_size=40,
        key=f"add_photo_{came}",
    )
    if not uploaded:
        return
    new = [photo_store().put(one.getvalue(), one.name) for one in uploaded]
    st.session_state[_CAME] = came + 1
    there = [*keys(), st.query_params.get("photo")]
    if not set(new) - set(there):
        st.info("This photo is there already; the same picture twice tells nothing new.")
        return
    _keep([*keys(), *(key for key in new if key != st.query_params.get("photo"))])
    st.rerun()


def _show(one: Further, photos: Photos, number: int) -> None:
    """Draw one of the further photos, what became of it, and the way to take it out."""
    with st.expander(f"Photo {number}: {verdict(photos, number)}"):
        if one.look is None:
            st.info("This photo is no longer kept here: take it out and choose it once more.")
        elif one.look.drawing is not None:
            alt = f"Photo {number}, what was seen drawn on it"
            st.image(one.look.drawing, width="stretch", alt=alt)
        if one.look is not None and one.look.refusal is not None:
            refusal = one.look.refusal
            st.error(f"{literal(refusal.message)}\n\n{refusal.try_this}")
        if st.button("Take it out", key=f"without_{one.key[:16]}", width="stretch"):
            _keep([key for key in keys() if key != one.key])
            st.rerun()


def _keep(wanted: list[str]) -> None:
    if wanted:
        st.query_params[FURTHER] = ",".join(dict.fromkeys(wanted))
    else:
        st.query_params.pop(FURTHER, None)


def forget_further() -> None:
    """Drop them: the first photo is of another spring now."""
    st.query_params.pop(FURTHER, None)
