"""A picture that tells where it was tapped, with words for those who do not see it."""

import base64
import io
from collections.abc import Callable
from typing import Any

import streamlit as st
from PIL import Image

_HTML = '<img draggable="false">'
_CSS = "img { width: 100%; display: block; border-radius: 0.5rem; cursor: crosshair; }"
#: Places are told as shares of the picture, whatever its size on the screen.
_JS = """
export default function ({ data, parentElement, setTriggerValue }) {
  const img = parentElement.querySelector("img");
  img.src = data.src;
  img.alt = data.alt;
  img.onclick = (tap) => {
    const box = img.getBoundingClientRect();
    setTriggerValue("at", {
      x: (tap.clientX - box.left) / box.width,
      y: (tap.clientY - box.top) / box.height,
    });
  };
}
"""


def tapped_picture(
    image: Image.Image, alt: str, key: str, on_tap: Callable[[float, float], None]
) -> None:
    """Draw a picture as wide as its column; a tap on it is told before the page is drawn anew.

    Parameters
    ----------
    image : Image
        What is shown.
    alt : str
        What it shows, in words.
    key : str
        Its name among the page's controls.
    on_tap : callable
        Takes the place as shares of width and height, from the left and from the top [-].
    """

    def told() -> None:
        at = getattr(st.session_state[key], "at", None)
        if at is not None:
            on_tap(float(at["x"]), float(at["y"]))

    data = {"src": _source(image), "alt": alt}
    _component()(key=key, data=data, on_at_change=told)


def _component() -> Any:
    return st.components.v2.component("tapped_picture", html=_HTML, css=_CSS, js=_JS)


def _source(image: Image.Image) -> str:
    out = io.BytesIO()
    image.save(out, "JPEG", quality=80)
    return "data:image/jpeg;base64," + base64.b64encode(out.getvalue()).decode("ascii")
