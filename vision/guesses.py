"""Coils to start from, where the turns of one cannot be counted: many are drawn, of both hands."""

from collections.abc import Iterator
from dataclasses import replace
from itertools import product

import numpy as np
from numpy.typing import NDArray

from vision.helix import NAMES, End, Helix, along_axis, turns_of
from vision.strands import Body

Array = NDArray[np.float64]

#: Counts of turns that are tried at first, the closer the fewer, and places of the first tip in its
#: turn.
TURNS = np.concatenate([np.arange(2.0, 4.0, 0.25), np.arange(4.0, 6.0, 0.5), np.arange(6.0, 13.0)])
PHASES = np.arange(6) / 6.0
#: Mean radius as a share of half the width that is seen: rough edges of the map add to it.
RADIUS = 0.96
#: Wire of turns that nearly touch, as a share of their pitch.
CLOSE_WIRES = (0.65, 0.8, 0.95)
#: Least of its turns that are not dead, of a coil with closed ends; the least pitch of those
#: [wires], and the least where it is only its ends that change.
LEAST_ALIVE, CLOSEST, CLOSE = 0.5, 0.9, 1.05
#: Up to so many turns a coil is drawn with ends of the other kinds as well.
FEW_TURNS = 6.0
#: Tapers from which a cone is sought.
TAPERS = (-0.2, 0.2)
#: From where on flanks that run together are tried as a cone's, and up to where.
LEAST_TAPER, MOST_TAPER = 0.15, 1.5
#: Of cones of turns that nearly touch only every so many-th place of the tip is tried at first.
OTHER_TAPERS = 2


def any_coils(bodies: list[Body], every: int = 1) -> Iterator[Helix]:
    """Return coils of a few turns, of both hands, that lie where they may lie.

    Parameters
    ----------
    bodies : list of Body
        Where that is.
    every : int
        Only so many of the places of their first tip are tried: every second, say.
    """
    for body, turns, end in product(bodies, TURNS, (End.OPEN, End.CLOSED)):
        dead = 2.0 if end is End.CLOSED else 0.0
        if turns <= dead + LEAST_ALIVE:
            continue
        pitch = (body.length - body.wire * (1.0 + dead)) / (turns - dead)
        if pitch < CLOSEST * body.wire:
            continue
        tapers = (0.0, body.taper) if LEAST_TAPER < abs(body.taper) < MOST_TAPER else (0.0,)
        for taper, phase, hand in product(tapers, PHASES[::every], (1, -1)):
            helix = _guess(body, turns, end, pitch, RADIUS, phase, hand)
            yield helix.with_values(taper=taper)


def close_coils(body: Body, pitch: float, hands: tuple[int, ...]) -> Iterator[Helix]:
    """Return coils of a known pitch [mm] whose wire nearly fills it, of some hands."""
    for share, end in product(CLOSE_WIRES, (End.OPEN, End.CLOSED)):
        wire = share * pitch
        dead = 2.0 if end is End.CLOSED else 0.0
        turns = dead + (body.length - wire * (1.0 + dead)) / pitch
        if turns <= dead + LEAST_ALIVE:
            continue
        thinner = replace(body, wire=wire)
        for taper, every in ((0.0, 1), *((taper, OTHER_TAPERS) for taper in TAPERS)):
            for phase, hand in product(PHASES[::every], hands):
                helix = _guess(thinner, turns, end, pitch, 1.0, phase, hand)
                yield helix.with_values(taper=taper)


def with_other_ends(helix: Helix) -> list[Helix]:
    """Return a coil with ends of the other kinds, of as many turns and as long.

    Of a few turns the pitch follows from how many of them are dead, so that no small step leads
    from one kind to another.
    """
    x = along_axis(helix, turns_of(helix))
    length = float(x[-1] - x[0])
    out = []
    for end in End:
        dead = 0.0 if end is End.OPEN else 2.0
        alive = helix.turns - dead
        if end is helix.ends[0] or alive < LEAST_ALIVE or helix.turns > FEW_TURNS:
            continue
        # Without its dead turns it may have been drawn of a wire too thick for them.
        wire = min(helix.wire_mm, length / (dead + CLOSE * alive))
        logs = {
            "log_wire": np.log(0.5 * wire),
            "log_pitch": np.log((length - dead * wire) / alive),
            "log_pitch_start": np.log(wire),
            "log_pitch_stop": np.log(wire),
        }
        out.append(replace(helix.with_values(**logs), ends=(end, end)))
    return out


def _guess(
    body: Body, turns: float, end: End, pitch: float, share: float, phase: float, hand: int
) -> Helix:
    dead = np.log(body.wire)
    given = {
        "x": body.middle[0],
        "y": body.middle[1],
        "heading": body.heading,
        "log_radius": np.log(share * 0.5 * (body.width - body.wire)),
        "log_wire": np.log(0.5 * body.wire),
        "start": phase,
        "stop": phase + turns,
        "log_pitch": np.log(pitch),
        "log_pitch_start": dead,
        "log_pitch_stop": dead,
        "dead_start": 1.0,
        "dead_stop": 1.0,
    }
    values = np.array([given.get(name, 0.0) for name in NAMES], dtype=float)
    return Helix(values, hand, phase + 0.5 * turns, max(turns, 1.0), (end, end))
