"""A coil spring lying on the table, as a tube about a helix whose pitch may vary.

Turns are counted along the wire from an upper crossing: at whole numbers the wire passes the top
of the coil, above its axis. The wire runs from turn ``start`` to turn ``stop``; total coils are
their difference. A spring rests on its coils, so the height of its axis follows from its size.
"""

from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

#: Points of the centre line for each turn.
PER_TURN = 40
#: Part of a turn over which a dead turn bends into the body.
BEND = 0.05

NAMES = (
    "x",
    "y",
    "heading",
    "log_radius",
    "taper",
    "log_wire",
    "start",
    "stop",
    "log_pitch",
    "ramp",
    "bulge",
    "log_pitch_start",
    "log_pitch_stop",
    "dead_start",
    "dead_stop",
    "bow",
)


class End(StrEnum):
    """How one end of the wire lies."""

    OPEN = "open"
    CLOSED = "closed"
    GROUND = "closed and ground"


#: Both ends alike, and those pairs of which a cut has opened one (common practice, no source).
ALIKE = tuple((end, end) for end in End)
PAIRS = (*ALIKE, *((a, b) for a in End for b in End if (a is End.OPEN) != (b is End.OPEN)))


@dataclass(frozen=True, slots=True)
class Helix:
    """A spring on the table.

    Attributes
    ----------
    values : ndarray, shape (16,)
        In the order of `NAMES`: the axis at the anchor [mm], heading of the axis [rad], log of
        the mean coil radius there [log mm], change of radius over the span relative to it [-],
        log of the wire's radius [log mm], first and last turn [-], log of the pitch at the anchor
        [log mm], its relative change over half the span [-] and its bulge [-], log of the pitch
        of each end's dead turns [log mm], and how many turns are dead at each end [-].
    hand : int
        1 for right, -1 for left.
    anchor, span : float
        The turn about which position, pitch and taper are told, and how many turns the body
        spans: fixed, so that moving a tip moves nothing else [-].
    ends : (End, End)
        How the wire's start and stop lie.
    """

    values: Array
    hand: int
    anchor: float
    span: float
    ends: tuple[End, End] = (End.OPEN, End.OPEN)

    def __getitem__(self, name: str) -> float:
        return float(self.values[NAMES.index(name)])

    def with_values(self, **changes: float) -> "Helix":
        """Return a copy with some values changed."""
        values = self.values.copy()
        for name, value in changes.items():
            values[NAMES.index(name)] = value
        return replace(self, values=values)

    @property
    def wire_mm(self) -> float:
        """Diameter of the wire [mm]."""
        return 2.0 * float(np.exp(self["log_wire"]))

    @property
    def radius_mm(self) -> float:
        """Mean coil radius at the anchor [mm]."""
        return float(np.exp(self["log_radius"]))

    @property
    def turns(self) -> float:
        """Total coils."""
        return self["stop"] - self["start"]


def pitch_along(helix: Helix, turn: Array) -> Array:
    """Return the local pitch [mm] at turns (N,)."""
    w = np.clip(2.0 * (turn - helix.anchor) / helix.span, -1.5, 1.5)
    pitch = np.exp(helix["log_pitch"]) * (
        1.0 + helix["ramp"] * w + helix["bulge"] * (w * w - 1.0 / 3.0)
    )
    past = (turn - helix["start"] - helix["dead_start"], helix["stop"] - helix["dead_stop"] - turn)
    for end, distance, name in zip(helix.ends, past, ("start", "stop"), strict=True):
        if end is not End.OPEN:
            dead = 1.0 / (1.0 + np.exp(np.clip(distance / BEND, -60, 60)))
            pitch = pitch + dead * (np.exp(helix[f"log_pitch_{name}"]) - pitch)
    return np.asarray(pitch)


def turns_of(helix: Helix) -> Array:
    """Return the turns at which the centre line is sampled, shape (N,)."""
    count = int(np.ceil(PER_TURN * max(helix.turns, 0.5))) + 1
    return np.linspace(helix["start"], helix["stop"], count)


def along_axis(helix: Helix, turn: Array) -> Array:
    """Return axial positions [mm] from the anchor, of ordered turns (N,)."""
    pitch = pitch_along(helix, turn)
    x = np.concatenate([[0.0], np.cumsum(0.5 * (pitch[1:] + pitch[:-1]) * np.diff(turn))])
    return np.asarray(x - np.interp(helix.anchor, turn, x))


def frame(helix: Helix) -> tuple[Array, Array]:
    """Return the axis at the anchor (3,) [mm], and its directions along, across and up as rows."""
    heading, radius = helix["heading"], helix.radius_mm
    # A cone lies on its flank: its axis rises towards the large end.
    dip = np.arctan2(helix["taper"] * radius, helix.span * np.exp(helix["log_pitch"]))
    (c, s), (level, rise) = ((np.cos(angle), np.sin(angle)) for angle in (heading, dip))
    height = radius / level + 0.5 * helix.wire_mm
    return np.array([helix["x"], helix["y"], height]), np.array(
        [[c * level, s * level, rise], [-s, c, 0.0], [-c * rise, -s * rise, level]]
    )


def radius_at(helix: Helix, x: Array) -> Array:
    """Return the mean coil radius [mm] at axial positions (N,) [mm]."""
    length = helix.span * np.exp(helix["log_pitch"])
    return np.asarray(helix.radius_mm * (1.0 + helix["taper"] * x / length))


def centre_line(helix: Helix, turn: Array | None = None) -> Array:
    """Return points (N, 3) of the wire's centre line in the world [mm]."""
    if turn is None:
        turn = turns_of(helix)
    return line_at(helix, turn, along_axis(helix, turn))


def line_at(helix: Helix, turn: Array, x: Array) -> Array:
    """Return points (N, 3) of the wire's centre line where turns (N,) lie so far along, (N,) [mm].

    As `centre_line`, for some of the turns of which `along_axis` was told.
    """
    radius = radius_at(helix, x)
    middle, axes = frame(helix)
    phase = 2.0 * np.pi * turn
    aside = helix["bow"] * helix.radius_mm * (2.0 * (turn - helix.anchor) / helix.span) ** 2
    local = np.column_stack(
        [x, aside - helix.hand * radius * np.sin(phase), radius * np.cos(phase)]
    )
    return np.asarray(middle + local @ axes)


def is_upper(turn: Array) -> NDArray[np.bool_]:
    """Tell which turns lie in the upper half of the coil."""
    return np.asarray(np.cos(2.0 * np.pi * turn) > 0.0)
