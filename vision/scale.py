"""The scale of a photo: a camera over the table, with what could be wrong about it."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from vision.camera import Camera
from vision.marks import Marks
from vision.photo import Photo
from vision.reference import RULERS, SHEET, UNNAMED, Reference, kinds, named
from vision.references import coin, rectangle, ruler, sheet, span
from vision.references.finding import Finding, LoneCoin
from vision.references.pose import variants
from vision.references.slant import Told
from vision.references.view import View, view_of
from vision.refusal import Refusal

Array = NDArray[np.float64]

STEEP_DEG, SMALL_PX = 20.0, 250.0

# Codes that a scale may carry; their sentences are in vision/flags.py.
FLAGS = (
    "tilted",
    "focal-unknown",
    "paper-size-assumed",
    "reference-small",
    "reference-cut",
    "reference-misshapen",
    "coin-rim-unsure",
    "several-coins",
    "marked-by-hand",
)


@dataclass(frozen=True, slots=True)
class Scale:
    """A camera and its doubts.

    Attributes
    ----------
    camera : Camera
        The best one; z = 0 is the plane on which the spring rests.
    variants : tuple of (str, Camera)
        Independent causes of error, each as the camera that it would give at one standard
        uncertainty. A result's covariance from scale is the sum of outer products of its
        changes over them.
    reference : Reference
        What was found.
    outline_px : ndarray, shape (N, 2)
        Its outline in the photo [px], to draw and to keep clear of.
    residual_px : float
        How well the reference fits, rms [px].
    flags : tuple of str
        Codes of what should be told.
    lone_coin : LoneCoin or None
        The coin that alone tells the slant, and tells it badly: see `told_slant`.
    """

    camera: Camera
    variants: tuple[tuple[str, Camera], ...]
    reference: Reference
    outline_px: Array
    residual_px: float
    flags: tuple[str, ...] = ()
    lone_coin: LoneCoin | None = None


def find_scale(
    photo: Photo, kind: str = "auto", near_px: tuple[float, float] | None = None
) -> Scale | Refusal:
    """Find what lies beside the spring and return the camera above the table.

    Parameters
    ----------
    photo : Photo
        A photo.
    kind : str
        What lies there, such as ``card`` or ``paper:A4``, or ``auto``.
    near_px : tuple of float or None
        A point of the photo near the wanted reference, where there are several [px].

    Returns
    -------
    Scale or Refusal
        The scale, or why there is none: ``unknown-reference``, ``reference-not-found``,
        ``which-coin`` (a coin lies there, and only its owner knows which) or ``no-reference``.
    """
    wanted = named(kind)
    if wanted is None and kind != "auto":
        return _unknown(kind)
    view = view_of(photo)
    found = _find(view, wanted, near_px)
    if not found and wanted is not None:
        return _not_found(wanted)
    if not found:
        return _which_coin() if coin.find_rims(view) else _nothing()
    best = max(found, key=lambda f: f.score - _away(f, near_px))
    return _scale(photo, best, asked=wanted is not None)


def marked_scale(photo: Photo, kind: str, marks: Marks) -> Scale | Refusal:
    """Return the scale from the reference that a person marked in the photo.

    Parameters
    ----------
    photo : Photo
        A photo.
    kind : str
        What was marked, as in `find_scale`.
    marks : Marks
        Where it lies.
    """
    view, points = view_of(photo), np.array(marks.reference_px)
    wanted = named(kind)
    found: Finding | None = None
    if len(points) == 4:
        wanted_ones = UNNAMED if wanted is None else (wanted,)
        flat = [r for r in wanted_ones if len(r.size_mm) == 2]
        found = rectangle.marked(view, points, flat)
    elif marks.distance_mm is not None:
        found = span.marked(view, points, span.owners_length(marks.distance_mm))
    elif wanted is not None and wanted.kind.startswith("coin:"):
        found = coin.marked(view, points, wanted)
    return _marks_do_not_suit(kind) if found is None else _scale(photo, found, wanted is not None)


def told_slant(photo: Photo, scale: Scale, told: Told) -> Scale:
    """Return the scale of a lone coin as it is where something else tells the slant.

    Parameters
    ----------
    photo : Photo
        The photo.
    scale : Scale
        As found without it.
    told : Told
        What the slant may be.
    """
    if scale.lone_coin is None:
        return scale
    found = coin.leaning(view_of(photo), scale.lone_coin, scale.reference, told)
    flags = tuple(f for f in scale.flags if f != "tilted")
    again = _scale(photo, found, asked=True)
    return replace(again, flags=tuple(dict.fromkeys((*again.flags, *flags))))


def _find(
    view: View, wanted: Reference | None, near_px: tuple[float, float] | None
) -> list[Finding]:
    if wanted is None:
        # Most certain first.
        sure = sheet.find(view, SHEET) or rectangle.find_surely(view, UNNAMED)
        found = sure or ruler.find(view, RULERS) or rectangle.find_afar(view, UNNAMED)
        return found or rectangle.find_each_way(view, UNNAMED)
    if wanted.kind == SHEET.kind:
        return sheet.find(view, wanted)
    if wanted.kind.startswith("ruler:"):
        return ruler.find(view, (wanted,)) or ruler.find_each_way(view, (wanted,))
    if not wanted.kind.startswith("coin:"):
        return rectangle.find_asked(view, wanted)
    seen = coin.find_rims(view, covered=True)
    rims = coin.choose(view, seen, wanted)
    if near_px is not None:
        rims.sort(key=lambda r: float(np.linalg.norm(r.middle - near_px)))
    if not rims:
        return []
    rim, unsure = coin.whole_rim(view, rims[0], wanted)
    others = [r for r in seen if r is not rims[0]]
    best = coin.explained(view, rim, wanted, others)
    holds = {
        "coin-rim-unsure": unsure or bool(best.lone_coin and coin.hardly_read(best.lone_coin)),
        "several-coins": near_px is None and (len(rims) > 1 or coin.outdone(view, rims[0], seen)),
    }
    return [replace(best, flags=tuple(code for code, true in holds.items() if true))]


def _scale(photo: Photo, best: Finding, asked: bool) -> Scale:
    middle = best.outline_px.mean(axis=0)
    centre = best.solution.camera.centre_px
    around = np.vstack([best.outline_px, middle, centre, 2.0 * middle - centre])
    return Scale(
        best.solution.camera,
        tuple(variants(best.solution, around)),
        best.reference,
        best.outline_px,
        best.residual_px,
        tuple(_flags(photo, best, asked)),
        best.lone_coin,
    )


def _flags(photo: Photo, best: Finding, asked: bool) -> list[str]:
    size = np.ptp(best.outline_px, axis=0)
    inside = (best.outline_px >= 0).all() and (
        best.outline_px <= np.array(photo.rgb.shape[1::-1]) - 1
    ).all()
    holds = {
        "tilted": best.solution.camera.tilt_deg > STEEP_DEG,
        "focal-unknown": photo.focal_35mm is None,
        "paper-size-assumed": not asked and best.reference.kind == "paper:A4",
        "reference-small": float(size.max()) < SMALL_PX,
        "reference-cut": not inside and best.reference.kind != SHEET.kind,
        "reference-misshapen": best.misshapen,
    }
    return [*(code for code, true in holds.items() if true), *best.flags]


def _away(finding: Finding, near_px: tuple[float, float] | None) -> float:
    """Return what a reference loses for lying away from the wanted place."""
    if near_px is None:
        return 0.0
    size = float(np.ptp(finding.outline_px, axis=0).max())
    return float(np.linalg.norm(finding.outline_px.mean(axis=0) - near_px)) / size


def _unknown(kind: str) -> Refusal:
    return Refusal(
        "unknown-reference",
        "scale",
        f"There is no reference named {kind}.",
        f"Use auto or one of: {', '.join(kinds())}.",
    )


def _nothing() -> Refusal:
    return Refusal(
        "no-reference",
        "scale",
        "Nothing of known size was found beside the spring.",
        "Lay a bank card, a coin, a ruler or a sheet of paper beside it, all of it in the picture.",
    )


def _which_coin() -> Refusal:
    return Refusal(
        "which-coin",
        "scale",
        "A coin lies there, but which one cannot be told from the photo.",
        "Name it, for example coin:EUR-2 or coin:USD-0.25.",
    )


def _marks_do_not_suit(kind: str) -> Refusal:
    return Refusal(
        "marks-do-not-suit",
        "scale",
        f"The marks do not suit the reference named ({kind}).",
        "Mark the four corners of a card or sheet, two opposite points of a named coin's rim, or "
        "two points and type their distance.",
    )


def _not_found(wanted: Reference) -> Refusal:
    return Refusal(
        "reference-not-found",
        "scale",
        f"The reference named, {wanted.kind}, was not found in the photo.",
        "Lay it flat beside the spring, all of it in the picture and of another colour than the "
        "table, or name what lies there.",
    )
