"""What a person knows better than the photo: each correction changes the geometry by itself."""

import math
import re
from dataclasses import dataclass, replace

import numpy as np

from mechanics.ends import Ends
from mechanics.geometry import SpringGeometry
from ui.torsion import TorsionReadings
from vision.marks import Points

#: A turn counted to a quarter: a rectangle of an eighth each way [-].
U_COUNTED_COILS = 0.125 / math.sqrt(3.0)
#: Small end of a cone by caliper (a judgement, no source) [mm].
U_SMALL_END_MM = 0.1
KINDS = ("compression", "conical", "extension", "torsion")
HANDS = ("right", "left")


@dataclass(frozen=True, slots=True)
class Correction:
    """What to change; None where the photo is believed.

    Attributes
    ----------
    kind, hand : str or None
        One of `KINDS`, one of `HANDS`.
    ends : Ends or None
        As the person sees them.
    total_coils : float or None
        As the person counted them, to a quarter [-].
    small_end_mm : float or None
        Outside diameter of a cone's small end [mm].
    """

    kind: str | None = None
    hand: str | None = None
    ends: Ends | None = None
    total_coils: float | None = None
    small_end_mm: float | None = None

    def ends_of(self, seen: Ends) -> Ends:
        """Return the ends: those named, else those that go with the kind named."""
        if self.ends is not None or self.kind is None:
            return self.ends or seen
        if self.kind == "extension":
            return Ends.HOOKS
        return Ends.UNKNOWN if seen is Ends.HOOKS else seen


def corrected(geometry: SpringGeometry, correction: Correction) -> SpringGeometry:
    """Return the geometry with what a person knows better.

    Parameters
    ----------
    geometry : SpringGeometry
        As seen.
    correction : Correction
        What to change.

    Raises
    ------
    ValueError
        If no spring is like that; the message is a sentence for the person.
    """
    values, covariance = geometry.values.copy(), geometry.covariance.copy()
    ratio, u_ratio = geometry.small_end_ratio, geometry.u_small_end_ratio
    if correction.total_coils is not None:
        values[2] = correction.total_coils
        covariance[2, :] = covariance[:, 2] = 0.0
        covariance[2, 2] = U_COUNTED_COILS**2
    if correction.kind in ("compression", "extension") and ratio < 1.0:
        # Seen as a cone, it is a cylinder of the middle's diameter.
        middle = (1.0 + ratio) / 2.0
        values[1] *= middle
        covariance[1, :] *= middle
        covariance[:, 1] *= middle
        ratio, u_ratio = 1.0, 0.0
    if correction.small_end_mm is not None and correction.kind in (None, "conical"):
        ratio = (correction.small_end_mm - values[0]) / values[1]
        u_ratio = U_SMALL_END_MM / float(values[1])
        if not 0.05 <= ratio < 1.0:
            raise ValueError(
                f"a small end of {correction.small_end_mm:g} mm outside does not suit a large end "
                f"of {values[0] + values[1]:.4g} mm; it must be the smaller one, in mm"
            )
    return replace(
        geometry,
        values=values,
        covariance=covariance,
        ends=correction.ends_of(geometry.ends),
        small_end_ratio=ratio,
        u_small_end_ratio=u_ratio,
    )


def as_torsion(
    geometry: SpringGeometry, hand: str, legs_mm: tuple[float, float]
) -> TorsionReadings:
    """Return a spring that was seen as a row of coils as a torsion spring with such legs."""
    u = np.sqrt(np.diag(geometry.covariance))
    wire, mean, body = ((float(geometry.values[k]), float(u[k])) for k in range(3))
    return TorsionReadings(wire, mean, body, legs_mm, hand)


def parse_points(text: str) -> Points:
    """Return points typed as ``x, y; x, y`` [px].

    Raises
    ------
    ValueError
        If it is not of that form.

    Examples
    --------
    >>> parse_points("320, 410; 900.5,420")
    ((320.0, 410.0), (900.5, 420.0))
    """
    out = []
    for pair in filter(None, (part.strip() for part in text.split(";"))):
        found = re.fullmatch(r"(\d+(?:\.\d+)?)\s*[, ]\s*(\d+(?:\.\d+)?)", pair)
        if found is None:
            raise ValueError(f"{pair!r} is no point; write x, y of each in pixels, with ; between")
        out.append((float(found[1]), float(found[2])))
    return tuple(out)


def parse_runs(text: str) -> tuple[tuple[float, float], ...]:
    """Return stretches of turns [-] and pitch [mm] typed as ``3/2.0, 4/5.0``.

    Raises
    ------
    ValueError
        If it is not of that form.

    Examples
    --------
    >>> parse_runs("3/2.0, 4/5")
    ((3.0, 2.0), (4.0, 5.0))
    """
    out = []
    for part in filter(None, (part.strip() for part in text.split(","))):
        turns, _, pitch = part.partition("/")
        try:
            out.append((float(turns), float(pitch)))
        except ValueError:
            raise ValueError(f"{part!r} is no stretch; write turns/pitch, such as 3/2.0") from None
    return tuple(out)


def points_text(points: Points) -> str:
    """Return points as `parse_points` reads them.

    Examples
    --------
    >>> points_text(((320.0, 410.2), (900.0, 420.0)))
    '320, 410; 900, 420'
    """
    return "; ".join(f"{x:.0f}, {y:.0f}" for x, y in points)
