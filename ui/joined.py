"""Photos of one spring that were taken one after the other: what they give together."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from mechanics.uncertainty import Quantity
from ui.figures import value_text
from ui.measuring import Look
from ui.units import Units
from vision.fuse import Fused, fuse
from vision.measure import Measurement
from vision.refusal import Refusal

#: From wire, mean diameter, coils and length to what is compared, and what that is called.
_COMPARED = np.array([[1, 0, 0, 0], [1, 1, 0, 0], [0, 0, 1, 0], [0, 0, 0, 1]], dtype=float)
LABELS = ("wire", "outside", "coils", "length")
_NAMES = ("wire", "outside diameter", "number of coils", "length")
#: How far outside all photos the spring must lie for it to be told [its u].
_OUTSIDE = 0.1


@dataclass(frozen=True, slots=True)
class Further:
    """A photo after the first: its key in the store, and what it shows, None where it is gone."""

    key: str
    look: Look | None


@dataclass(frozen=True, slots=True)
class Photos:
    """All photos of one spring.

    Attributes
    ----------
    first : Measurement or None
        What the photo of the page shows; None where the spring is known by caliper.
    further : tuple of Further
        Those that were added, in order.
    measured : tuple of (int, Measurement)
        What is to scale, with the photo's number as people count.
    fused : Fused, Refusal or None
        The spring of all, or why they do not go together; None where fewer than two are measured.
    """

    first: Measurement | None
    further: tuple[Further, ...]
    measured: tuple[tuple[int, Measurement], ...]
    fused: Fused | Refusal | None

    @property
    def seen(self) -> Measurement | None:
        """The spring of all photos, else that of the one that is measured."""
        if not self.measured:
            return None
        (_, one), fused = self.measured[0], self.fused
        if not isinstance(fused, Fused):
            return one
        cone = fused.kind == "conical"
        return replace(
            one,
            geometry=fused.geometry,
            kind=fused.kind,
            hand=fused.hand,
            flags=fused.flags,
            taper=fused.geometry.small_end_ratio if cone else None,
        )

    def number(self, place: int) -> int:
        """Return what people call the photo of that place among the further ones."""
        return place + (1 if self.first is None else 2)


def photos_of(first: Measurement | None, further: Sequence[Further]) -> Photos:
    """Return the photos of one spring, and what those to scale give together.

    Parameters
    ----------
    first : Measurement or None
        What the photo of the page shows, to scale.
    further : sequence of Further
        Those that were added.
    """
    out = Photos(first, tuple(further), (), None)
    measured = [] if first is None else [(1, first)]
    for place, one in enumerate(further):
        if one.look is not None and one.look.seen is not None and one.look.to_scale:
            measured.append((out.number(place), one.look.seen))
    fused = fuse([seen for _, seen in measured]) if len(measured) > 1 else None
    return replace(out, measured=tuple(measured), fused=fused)


def verdict(photos: Photos, number: int) -> str:
    """Return in a few words what came of a photo."""
    places = [known for known, _ in photos.measured]
    if number not in places:
        return "not measured"
    if isinstance(photos.fused, Fused) and places.index(number) in photos.fused.left_out:
        return "left out"
    return "counts"


def sentences(photos: Photos) -> list[str]:
    """Return what is to be said of how the photos go together: which does not, and why."""
    fused = photos.fused
    if fused is None:
        return []
    if isinstance(fused, Refusal):
        return [f"{fused.message} Only the first is believed. {fused.try_this}"]
    out = []
    for place in fused.left_out:
        out.append(
            f"Photo {photos.measured[place][0]} does not go with the others and was left out: "
            "look at its drawing, or take it out and take another."
        )
    if "photos-disagree" in fused.flags:
        out.append(
            "The photos differ by more than their bands allow, so the band was widened to hold "
            "them. " + _which(photos, fused)
        )
    return out + _outside(photos, fused)


def _which(photos: Photos, fused: Fused) -> str:
    if fused.farthest is None:
        return "Of two photos nothing tells which is wrong: a third would."
    number = photos.measured[fused.farthest][0]
    return (
        f"Photo {number} lies farthest from the others, but no more than half of them go together: "
        "look at each drawing, and take out what shows another spring or was read wrongly."
    )


def _outside(photos: Photos, fused: Fused) -> list[str]:
    """Return why the spring of all may lie outside what each photo says."""
    used = [photos.measured[place][1] for place in fused.used]
    each = np.array([one.geometry.values for one in used]) @ _COMPARED.T
    value, u = _compared(fused)
    low, high = each.min(axis=0) - _OUTSIDE * u, each.max(axis=0) + _OUTSIDE * u
    names = [name for name, out in zip(_NAMES, (value < low) | (value > high), strict=True) if out]
    if not names:
        return []
    verb = "lies" if len(names) == 1 else "lie"
    return [
        f"Together the {' and the '.join(names)} {verb} outside what each photo says: the errors "
        "of one photo hang together, so where photos part in one dimension, the others follow."
    ]


def rows(photos: Photos, units: Units) -> list[list[str]]:
    """Return what each measured photo says, and all together, as cells of a table."""
    out = [[f"photo {number}", *_cells(seen, units)] for number, seen in photos.measured]
    if isinstance(photos.fused, Fused):
        out.append(["**together**", *(f"**{cell}**" for cell in _cells(photos.fused, units))])
    return out


def _cells(seen: Measurement | Fused, units: Units) -> list[str]:
    value, u = _compared(seen)
    per = np.array([units.mm, units.mm, 1.0, units.mm])
    pairs = zip(value / per, u / per, strict=True)
    return [value_text(Quantity(v, s, v - 2.0 * s, v + 2.0 * s)) for v, s in pairs]


def _compared(seen: Measurement | Fused) -> tuple[np.ndarray, np.ndarray]:
    """Return wire, outside diameter, coils and length, (4,), with their u."""
    covariance = _COMPARED @ seen.geometry.covariance @ _COMPARED.T
    return _COMPARED @ seen.geometry.values, np.sqrt(np.diag(covariance))
