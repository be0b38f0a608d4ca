"""When to ask whether the wire is round: no photo from the side can tell by itself.

What it shows of the wire is its side along the axis, the same for round and for rectangular wire.
But then a caliper across the wire, or weight and force, say otherwise, and the wire's reading or
its edge in the photo comes out as the one that slipped.
"""

from collections.abc import Sequence

from mechanics.conflicts import Conflict
from mechanics.ends import Ends
from mechanics.evidence import Case

ASK = (
    "Is the wire flat (rectangular)? A photo from the side shows its side along the axis; a "
    "caliper may have read the one across. If it is flat, say so and give both sides."
)
_EDGE = "its wire edge is wrong"


def asks_if_flat(conflicts: Sequence[Conflict], case: Case) -> bool:
    """Return whether rectangular wire would explain what contradicts.

    Parameters
    ----------
    conflicts : sequence of Conflict
        From `mechanics.conflicts.reconcile`.
    case : Case
        What was stated; of rectangular wire, cones and hooks nothing is asked.
    """
    if case.rectangular or case.ends is Ends.HOOKS or case.small_end_ratio < 1.0:
        return False
    return any(
        one.slip == _EDGE or (one.reading.startswith("wire") and one.outcome != "mended")
        for one in conflicts
    )
