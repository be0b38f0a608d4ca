"""How a spring ends, and what that does to its coils and lengths.

References
----------
.. [1] Machinery's Handbook, 31e, table 3, p. 318.
.. [2] Shigley, Mechanical Engineering Design, 10e, equation 10-40 (from memory).
"""

from dataclasses import dataclass
from enum import StrEnum

from mechanics.check import Floats


class Ends(StrEnum):
    """Both ends of a spring, by their trade names."""

    OPEN = "open"
    OPEN_GROUND = "open and ground"
    CLOSED = "closed"
    CLOSED_GROUND = "closed and ground"
    CLOSED_CUT = "closed, one end cut"
    GROUND_CUT = "closed and ground, one end cut"
    HOOKS = "hooks"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class EndRule:
    """What one kind of ends costs.

    Attributes
    ----------
    dead_coils : float
        Total minus active coils, for both ends together [-].
    u_dead_coils : float
        Its standard uncertainty: a quarter coil an end that touches or is ground [-].
    free_length_wires : float
        Wire diameters in the free length beyond active pitch [-].
    extra_pitches : float
        Pitches in the free length beyond one for each active coil [-].
    solid_extra_wires, u_solid_wires : float
        Wire diameters in the solid length beyond one for each turn, and the standard
        uncertainty: EN 13906-1 (from memory) allows half a wire more than [1]_ [-].
    wire_turns : float
        Turns of wire beyond the total coils [-]: hooks add, grinding takes away.
    u_wire_turns : float
        Its standard uncertainty [-].
    """

    dead_coils: float
    u_dead_coils: float
    free_length_wires: float
    extra_pitches: float
    solid_extra_wires: float
    u_solid_wires: float
    wire_turns: float
    u_wire_turns: float


_QUARTER_EACH_END = 0.25 * 2**0.5
#: A ground face tapers the last 0.85 turn to a quarter of its section: 0.3 turn of wire an end.
_GROUND_OFF = -0.6

_RULES = {
    Ends.OPEN: EndRule(0.0, 0.1, 1.0, 0.0, 1.0, 0.2, 0.0, 0.05),
    Ends.OPEN_GROUND: EndRule(1.0, _QUARTER_EACH_END, 0.0, 1.0, 0.0, 0.2, _GROUND_OFF, 0.2),
    Ends.CLOSED: EndRule(2.0, _QUARTER_EACH_END, 3.0, 0.0, 1.0, 0.25, 0.0, 0.05),
    Ends.CLOSED_GROUND: EndRule(2.0, _QUARTER_EACH_END, 2.0, 0.0, 0.0, 0.2, _GROUND_OFF, 0.2),
    # One end as made, the other a plain cut that seats on its tip: how much of its last turn
    # still works is open to a quarter and a bit.
    Ends.CLOSED_CUT: EndRule(1.0, 0.35, 2.0, 0.0, 1.0, 0.25, 0.0, 0.05),
    Ends.GROUND_CUT: EndRule(1.0, 0.35, 1.5, 0.0, 0.5, 0.25, 0.5 * _GROUND_OFF, 0.15),
    # Two full hooks bend like G/E = 0.39 of a coil [2]_ and hold about two turns of wire.
    Ends.HOOKS: EndRule(-0.39, 0.25, 1.0, 0.0, 1.0, 0.2, 1.8, 0.3),
    # Between open and closed: one dead coil with a rectangular spread of one.
    Ends.UNKNOWN: EndRule(1.0, 1.0 / 3**0.5, 1.5, 0.2, 0.6, 0.5, -0.2, 0.3),
}


def end_rule(ends: Ends) -> EndRule:
    """Return what a kind of ends costs in coils and length [1]_."""
    return _RULES[ends]


def solid_length(d: Floats, n_t: Floats, ends: Ends) -> Floats:
    """Return the length with all coils touching [1]_, in mm.

    Parameters
    ----------
    d : float
        Wire diameter [mm].
    n_t : float
        Total coils [-].
    ends : Ends
        Kind of ends [-].
    """
    return d * (n_t + end_rule(ends).solid_extra_wires)


def cut_ends(ends: Ends) -> Ends:
    """Return the kind of ends that is left when one end is cut off.

    Parameters
    ----------
    ends : Ends
        As made [-].

    Raises
    ------
    ValueError
        If the ends are hooks, which a cut takes away, or already cut once.
    """
    left = {
        Ends.OPEN: Ends.OPEN,
        Ends.OPEN_GROUND: Ends.OPEN_GROUND,
        Ends.CLOSED: Ends.CLOSED_CUT,
        Ends.CLOSED_GROUND: Ends.GROUND_CUT,
        Ends.UNKNOWN: Ends.UNKNOWN,
        Ends.CLOSED_CUT: Ends.CLOSED_CUT,
        Ends.GROUND_CUT: Ends.GROUND_CUT,
    }
    if ends not in left:
        raise ValueError(f"ends are {ends.value}: a cut would take a hook away")
    return left[ends]
