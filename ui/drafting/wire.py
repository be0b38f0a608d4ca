"""Where the middle of the wire runs, for each kind of spring [mm].

The axis is x, from 0 to the free length; the side view is seen along z, the end view along x.
"""

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from mechanics.ends import Ends

Array = NDArray[np.float64]

#: Points of a half turn, and of a straight or a hook.
_HALF, _FEW = 25, 25
#: Ground at the first end, at the last; dead turns there. Where ends are not known, half a turn.
_GROUND = {
    Ends.OPEN_GROUND: (True, True),
    Ends.CLOSED_GROUND: (True, True),
    Ends.GROUND_CUT: (True, False),
}
_DEAD = {
    Ends.CLOSED: (1.0, 1.0),
    Ends.CLOSED_GROUND: (1.0, 1.0),
    Ends.CLOSED_CUT: (1.0, 0.0),
    Ends.GROUND_CUT: (1.0, 0.0),
    Ends.UNKNOWN: (0.5, 0.5),
}
#: How far round a full hook goes from where it leaves the coil's height [rad].
_HOOK_ROUND = np.radians(290.0)


@dataclass(frozen=True, slots=True)
class Form:
    """The shape of a spring.

    Attributes
    ----------
    kind : str
        ``compression``, ``conical``, ``extension`` or ``torsion``.
    wire_mm, mean_mm : float
        Wire diameter, of rectangular wire its side along the axis, and mean coil diameter, a
        cone's at the large end [mm].
    coils : float
        Total coils; of a torsion spring the turns of its body [-].
    length_mm : float
        Free length, hooks included; of a torsion spring that of its body [mm].
    ends : Ends
        Kind of ends.
    hand : str
        ``right``, ``left`` or ``unknown``, drawn as right.
    small_end_ratio : float
        Mean diameter at a cone's small end over that at the large one [-].
    legs_mm : (float, float)
        Straight legs of a torsion spring [mm].
    width_mm : float or None
        Side across the axis of rectangular wire; None for round wire [mm].
    """

    kind: str
    wire_mm: float
    mean_mm: float
    coils: float
    length_mm: float
    ends: Ends = Ends.UNKNOWN
    hand: str = "unknown"
    small_end_ratio: float = 1.0
    legs_mm: tuple[float, float] = (0.0, 0.0)
    width_mm: float | None = None

    @property
    def outside_mm(self) -> float:
        """Outside diameter [mm]."""
        return self.mean_mm + (self.wire_mm if self.width_mm is None else self.width_mm)

    @property
    def beside(self) -> "Form":
        """As it looks from the side: rectangular wire shows its outer faces."""
        return replace(self, mean_mm=self.outside_mm - self.wire_mm, width_mm=None)

    @property
    def endwise(self) -> "Form":
        """As it looks along its axis: rectangular wire shows its side across."""
        return self if self.width_mm is None else replace(self, wire_mm=self.width_mm)

    @property
    def ground(self) -> tuple[bool, bool]:
        """Which ends are ground flat."""
        return (False, False) if self._touches else _GROUND.get(self.ends, (False, False))

    @property
    def _touches(self) -> bool:
        return self.kind in ("extension", "torsion")


def pieces(form: Form) -> list[Array]:
    """Return the wire's middle line in pieces (N, 3), each in front of the axis or behind it."""
    angle = _angles(form.coils)
    line = _body(form, np.concatenate([a[:-1] for a in angle[:-1]] + [angle[-1]]))
    out, at = [], 0
    for part in angle:
        # A point more at each joint: no gap shows between pieces.
        out.append(line[at : at + len(part)])
        at += len(part) - 1
    if form.kind == "extension":
        return [_hook(form, line, first=True), *out, _hook(form, line, first=False)]
    if form.kind == "torsion":
        return [*_leg(form, line, 0), *out, *_leg(form, line, 1)]
    return out


def _angles(coils: float) -> list[Array]:
    """Return the angles along the wire by half turns, the last one what is left."""
    whole = int(np.floor(2.0 * coils - 1e-6))
    stops = [*(np.pi * np.arange(whole + 1)), 2.0 * np.pi * coils]
    # Close together at the joints, where the wire turns from front to back.
    share = 0.5 - 0.5 * np.cos(np.linspace(0.0, np.pi, _HALF))
    return [a + (b - a) * share for a, b in pairwise(stops)]


def _body(form: Form, angle: Array) -> Array:
    radius = 0.5 * form.mean_mm * (1.0 - (1.0 - form.small_end_ratio) * angle / angle[-1])
    side = -1.0 if form.hand == "left" else 1.0
    return np.column_stack(
        [_along(form, angle / (2.0 * np.pi)), radius * np.cos(angle), side * radius * np.sin(angle)]
    )


def _along(form: Form, turns: Array) -> Array:
    """Return places along the axis of turns counted from the first tip."""
    d, n = form.wire_mm, form.coils
    if form.kind == "extension":
        return np.asarray(0.5 * form.length_mm + d * (turns - 0.5 * n))
    if form.kind == "torsion":
        return np.asarray(0.5 * d + (form.length_mm - d) * turns / n)
    first, last = (0.0 if flat else 0.5 * d for flat in form.ground)
    dead = np.minimum(_DEAD.get(form.ends, (0.0, 0.0)), 0.4 * n)
    rise = d if form.small_end_ratio == 1.0 else 0.0
    knots = [0.0, dead[0], n - dead[1], n]
    places = [
        first,
        first + rise * dead[0],
        form.length_mm - last - rise * dead[1],
        form.length_mm - last,
    ]
    return np.asarray(np.interp(turns, knots, places), np.float64)


def _hook(form: Form, line: Array, first: bool) -> Array:
    """Return a full hook over the middle, in the plane of the axis and the coil's end."""
    tip = line[0] if first else line[-1]
    out = -1.0 if first else 1.0
    reach = 0.5 * form.length_mm - 0.5 * form.wire_mm - abs(tip[0] - 0.5 * form.length_mm)
    radius = min(0.5 * form.mean_mm, 0.5 * max(reach, form.wire_mm))
    up = np.array([0.0, tip[1], tip[2]]) / np.hypot(tip[1], tip[2])
    round_ = np.linspace(0.0, _HOOK_ROUND, _FEW)
    along = tip[0] + out * (reach - radius + radius * np.sin(round_))
    arc = np.column_stack([along, np.zeros(_FEW), np.zeros(_FEW)])
    arc += (radius * np.cos(round_))[:, None] * up
    way = np.vstack([tip, arc])
    return way[::-1] if first else way


def _leg(form: Form, line: Array, which: int) -> list[Array]:
    """Return a straight leg along the coil's tangent, square to the axis."""
    long = form.legs_mm[which]
    if long <= 0.0:
        return []
    one, other = (line[1], line[0]) if which == 0 else (line[-2], line[-1])
    way = (other - one) * np.array([0.0, 1.0, 1.0])
    tip = other + long * way / np.linalg.norm(way)
    leg = np.linspace(other, tip, _FEW)
    return [leg[::-1] if which == 0 else leg]
