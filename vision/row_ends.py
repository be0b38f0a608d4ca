"""Where a row of strands goes on to the ends of the body, though its turns nearly touch there."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from vision.strands import BESIDE, Body, Strands, regular

Array = NDArray[np.float64]

#: How much of a body beyond the last strand seen a dead turn and the end of its wire may take
#: besides one more spacing, and least room in which there are more turns at all [wires].
DEAD_ROOM, LEAST_ROOM = 1.6, 2.6


def to_the_ends(strands: Strands, body: Body, wire: float) -> Strands | None:
    """Return the row with more strands up to the body's ends, where there is room for turns.

    Turns that nearly touch stand out less than those that stand apart, and are lost from the row.
    None where only dead turns, or none, have room beyond it.

    Parameters
    ----------
    strands : Strands
        The row as seen, three of them at least.
    body : Body
        Where the spring lies.
    wire : float
        Diameter of the wire [mm].
    """
    end = 0.5 * body.length - 0.5 * wire
    places = strands.places[regular(strands.places)]
    both = _extended(-_extended(-places[::-1], end, wire)[::-1], end, wire)
    return None if len(both) == len(places) else replace(strands, places=both)


def _extended(places: Array, end: float, wire: float) -> Array:
    """Return the places with more after the last up to the end, closer as they are already."""
    gaps = np.diff(places)[-BESIDE:]
    closer = float(np.mean(np.diff(gaps))) if len(gaps) > 1 else 0.0
    gap, more = float(gaps[-1]), [float(places[-1])]
    room = max(LEAST_ROOM * wire, gap + closer + DEAD_ROOM * wire)
    if end - places[-1] < room:
        return places
    while more[-1] + max(gap + closer, wire) <= end:
        gap = max(gap + closer, wire)
        more.append(more[-1] + gap)
    return np.concatenate([places, more[1:]])
