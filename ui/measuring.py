"""From a photo to all that is shown of it. Pixels are not kept: results are small."""

import logging
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from mechanics.draws import draw_spring
from mechanics.materials import Material, find_material
from mechanics.uncertainty import Quantity
from ui.answer import SEED, Answer, answer_of
from ui.own_scale import OwnReading, effect_of_reading, parse_own_reading, scaled_by_reading
from ui.quantities import proportions
from ui.sketching import drawing_jpeg, photo_jpeg
from ui.words import plain
from vision.advice import explained
from vision.marks import Marks
from vision.measure import NO_MARKS, Measurement, measure
from vision.photo import Photo, decode
from vision.reference import kinds, named
from vision.refusal import Refusal
from vision.shared import SharedError

_log = logging.getLogger(__name__)

#: A reference's name that asks for no scale.
NO_SCALE = "none"
#: The cause of error that photos share whose scale is the owner's reading.
OWN_READING = "your reading"


@dataclass(frozen=True, slots=True)
class Beside:
    """What a person says lies beside the spring.

    Attributes
    ----------
    kind : str
        By its command-line name, as asked for.
    own : OwnReading or None
        The owner's reading, where that is the scale.
    """

    kind: str
    own: OwnReading | None = None

    @property
    def to_find(self) -> str:
        """What `measure` is asked to find."""
        return NO_SCALE if self.own is not None else self.kind


@dataclass(frozen=True, slots=True)
class Look:
    """One look at a photo.

    Attributes
    ----------
    seen : Measurement or None
        What was measured; without a scale where only proportions could be told.
    refusal : Refusal or None
        Why there is no measurement to scale.
    drawing : bytes or None
        JPEG of what was seen; the photo alone where that was nothing, None where it is no photo.
    to_scale : bool
        Whether there are lengths, not proportions only.
    """

    seen: Measurement | None
    refusal: Refusal | None
    drawing: bytes | None
    to_scale: bool = False


def parse_reference(kind: str, u_mm: float) -> Beside:
    """Return what a command-line name of a reference means.

    Raises
    ------
    ValueError
        If nothing has that name; the message lists those that exist.
    """
    if kind.startswith("self:"):
        return Beside(kind, parse_own_reading(kind, u_mm))
    if kind in ("auto", NO_SCALE) or named(kind) is not None:
        return Beside(kind)
    known = ", ".join(["auto", *kinds(), "self:outside=MM", NO_SCALE])
    raise ValueError(f"no reference is called {kind!r}; choose one of: {known}")


def see(photo: Photo, beside: Beside, marks: Marks = NO_MARKS) -> Measurement | Refusal:
    """Return the measurement of a photo, scaled by the owner's reading where there is one."""
    try:
        seen = measure(photo, beside.to_find, marks)
    except Exception as problem:
        return unforeseen(problem)
    if isinstance(seen, Refusal):
        return explained(seen, photo)
    if beside.own is None:
        return seen
    try:
        geometry = scaled_by_reading(seen.geometry, beside.own)
        common = SharedError(OWN_READING, effect_of_reading(geometry, beside.own))
        return replace(seen, geometry=geometry, shared=(common,))
    except ValueError as problem:
        return Refusal(
            "reading-does-not-fit", "scale", plain(str(problem)), "Check the reading and its unit."
        )


def unforeseen(problem: Exception) -> Refusal:
    """Return the refusal of a photo that the seeing broke on; the log holds where.

    No photo is known that does: this stands between the next one and everything beside it.
    """
    _log.info("a photo was not foreseen", exc_info=problem)
    return Refusal(
        "not-foreseen",
        "view",
        f"Something in this photo was not foreseen, and measuring it broke ({problem!r:.80}).",
        "Take another photo, closer and on a plain table; please report this one.",
    )


def is_to_scale(seen: Measurement, beside: Beside) -> bool:
    """Tell whether a measurement has lengths, not proportions only."""
    return seen.scale is not None or beside.own is not None


def look(data: bytes, name: str, beside: Beside, marks: Marks = NO_MARKS) -> Look:
    """Return what a photo shows; where only the scale is lacking, the spring is still drawn.

    Parameters
    ----------
    data : bytes
        The file as it came.
    name : str
        File name, for messages.
    beside : Beside
        What lies beside the spring.
    marks : Marks
        What the person marked in the photo.
    """
    photo = decode(data, name)
    if isinstance(photo, Refusal):
        return Look(None, photo, None)
    found = see(photo, beside, marks)
    if isinstance(found, Measurement):
        return Look(found, None, _drawing(photo, found, beside), is_to_scale(found, beside))
    if found.stage != "scale":
        return Look(None, found, photo_jpeg(photo.rgb))
    unscaled = Beside(NO_SCALE)
    seen = see(photo, unscaled, replace(marks, reference_px=(), distance_mm=None))
    if isinstance(seen, Refusal):
        return Look(None, found, photo_jpeg(photo.rgb))
    return Look(seen, found, _drawing(photo, seen, unscaled))


def answer_or_refusal(seen: Measurement, material: Material) -> Answer | Refusal:
    """Return the answer to a measurement, or why its spring has no rate."""
    try:
        return answer_of(seen.geometry, material)
    except ValueError as problem:
        return Refusal(
            "no-working-coil",
            "geometry",
            plain(str(problem)),
            "Count the turns and name the ends yourself.",
        )


def proportions_of(seen: Measurement) -> dict[str, Quantity]:
    """Return what does not depend on a scale."""
    # A material is needed to draw springs, but no proportion depends on it.
    material = find_material("music wire")
    draws = draw_spring(seen.geometry, material, np.random.default_rng(SEED))
    return proportions(seen.geometry, draws)


def _drawing(photo: Photo, seen: Measurement, beside: Beside) -> bytes:
    told: Mapping[str, Quantity] | None = None
    if is_to_scale(seen, beside):
        answer = answer_or_refusal(seen, find_material("unknown wire"))
        told = None if isinstance(answer, Refusal) else answer.told
    return drawing_jpeg(photo.rgb, seen, told)
