"""Mark in the picture what the program did not see: by taps, or by typing the places."""

import streamlit as st
from PIL import Image, ImageDraw, ImageFont

from ui.correcting import parse_points, points_text
from ui.screens.tapping import tapped_picture
from ui.screens.units import length_unit
from ui.store import Shown
from ui.units import LENGTH_UNITS
from ui.words import as_told
from vision.draw import HALO, WIRE
from vision.marks import Marks, Points
from vision.photo import decode
from vision.refusal import Refusal

_NOTHING, _SPRING, _REFERENCE = "Nothing", "The spring", "The reference"
_CORNERS, _LENGTH = "Its four corners", "A known distance"
#: Names in the address; a reload finds the marks again.
SPRING_AT, REFERENCE_AT, APART = "spring_at", "reference_at", "apart_mm"
#: Long side of the picture that is tapped on: sharp on a phone, and quickly there [px].
TAPPED_PX = 1200


def choose_marks(shown: Shown, reference: str) -> Marks:
    """Draw what may be marked, and return the marks so far; those that do not suffice are none."""
    what = st.segmented_control(
        "Not found? Mark it in the picture",
        [_NOTHING, _SPRING, _REFERENCE],
        default=_NOTHING,
        required=True,
        key="mark",
        bind="query-params",
    )
    if what == _NOTHING:
        return Marks()
    picture = _picture(shown.data, shown.name)
    if picture is None:
        return Marks()
    if what == _SPRING:
        st.caption(
            "Tap the two ends of the spring, where its axis leaves the wire. Spread two fingers "
            "to see it larger."
        )
        _tap(SPRING_AT, picture, 2)
    else:
        _reference(reference, picture)
    try:
        spring, around, apart = _points(SPRING_AT), _points(REFERENCE_AT), _distance()
        # Half of the marks are none yet: two of four corners tell no scale.
        two_suffice = apart is not None or reference.startswith("coin:")
        enough = len(around) == (2 if two_suffice else 4)
        return Marks(spring if len(spring) == 2 else (), around if enough else (), apart)
    except ValueError as problem:
        st.error(as_told(str(problem)))
        return Marks()


def forget_marks() -> None:
    """Drop the marks: another photo was chosen."""
    for name in (SPRING_AT, REFERENCE_AT, APART, "mark"):
        st.query_params.pop(name, None)
        st.session_state.pop(name, None)


def _reference(kind: str, picture: tuple[Image.Image, float]) -> None:
    """Draw the marking of a reference: corners, a coin's rim, or any two points."""
    if kind.startswith("coin:"):
        st.caption("Tap two opposite points of the coin's rim.")
        st.query_params.pop(APART, None)
        _tap(REFERENCE_AT, picture, 2)
        return
    how = st.segmented_control(
        "What you mark",
        [_CORNERS, _LENGTH],
        default=_CORNERS,
        required=True,
        key="mark_as",
        bind="query-params",
    )
    if how == _CORNERS:
        st.caption("Tap the four corners of the card or sheet, in any order.")
        st.query_params.pop(APART, None)
        _tap(REFERENCE_AT, picture, 4)
        return
    st.caption(
        "Tap two points, such as two long lines of a ruler, and type how far apart they are."
    )
    _tap(REFERENCE_AT, picture, 2)
    unit = length_unit()
    apart = _distance()
    st.session_state["apart_typed"] = None if apart is None else apart / LENGTH_UNITS[unit]
    st.number_input(
        f"Their distance, {unit}",
        0.0,
        2000.0,
        step=1.0 if unit == "mm" else 0.125,
        format="%.4g",
        key="apart_typed",
        on_change=lambda: _distance_typed(unit),
    )


def _tap(name: str, picture: tuple[Image.Image, float], most: int) -> None:
    """Draw the picture to tap on and, below it, the same points to type."""
    image, factor = picture
    points = _points(name)
    size = (image.width / factor, image.height / factor)
    tapped_picture(
        _with_marks(image, points, factor),
        f"The photo to tap on, {len(points)} of {most} points set; they may be typed below instead",
        f"tap-{name}",
        lambda x, y: _tapped(name, (x * size[0], y * size[1]), most),
    )
    st.session_state[f"{name}_typed"] = st.query_params.get(name, "")
    st.text_input(
        f"Points: x, y in pixels of the photo ({len(points)} of {most})",
        key=f"{name}_typed",
        placeholder="320, 410; 900, 420",
        on_change=lambda: _typed(name),
    )


def _tapped(name: str, at: tuple[float, float], most: int) -> None:
    """Add the point that was tapped; after the last one a tap starts anew."""
    points = _points(name)
    kept = points if len(points) < most else ()
    st.query_params[name] = points_text((*kept, at))


def _typed(name: str) -> None:
    st.query_params[name] = st.session_state[f"{name}_typed"]


def _distance_typed(unit: str) -> None:
    typed = st.session_state["apart_typed"] or 0.0
    st.query_params[APART] = f"{typed * LENGTH_UNITS[unit]:.6g}"


def _distance() -> float | None:
    """Return the distance typed, None where there is none or the address was cut."""
    try:
        return float(st.query_params.get(APART, "0")) or None
    except ValueError:
        return None


def _points(name: str) -> Points:
    try:
        return parse_points(st.query_params.get(name, ""))
    except ValueError as problem:
        st.error(as_told(str(problem)))
        return ()


@st.cache_resource(max_entries=4, show_spinner=False)
def _picture(data: bytes, name: str) -> tuple[Image.Image, float] | None:
    """Return the photo made small and its factor [-]; None where it is no photo."""
    photo = decode(data, name)
    if isinstance(photo, Refusal):
        return None
    image = Image.fromarray(photo.rgb)
    image.thumbnail((TAPPED_PX, TAPPED_PX))
    return image, image.width / photo.rgb.shape[1]


def _with_marks(image: Image.Image, points: Points, factor: float) -> Image.Image:
    """Return the picture with its marks: a ring that leaves the place itself open."""
    out = image.copy()
    pen, font = ImageDraw.Draw(out), ImageFont.load_default(34)
    for number, (x, y) in enumerate(points, start=1):
        x, y = x * factor, y * factor
        for colour, width in ((HALO, 9), (WIRE, 4)):
            pen.circle((x, y), 22, outline=colour, width=width)
            for dx, dy in ((1, 0), (-1, 0), (0, 1), (0, -1)):
                pen.line((x + 8 * dx, y + 8 * dy, x + 34 * dx, y + 34 * dy), colour, width)
        pen.text((x + 30, y + 12), str(number), WIRE, font, stroke_width=3, stroke_fill=HALO)
    return out
