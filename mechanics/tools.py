"""What readings by one tool have in common: it does not average away.

Two readings of the wire by one caliper are both off by the caliper's own error. That part becomes
an unknown of its own, which all of them share; what is left of each is independent.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from mechanics.slips import Reading

#: Readings of one thing whose u lie within this factor count as one tool's.
_ONE_TOOL = 2.0


def same_tool(u_first: float, u_second: float) -> bool:
    """Return whether two standard uncertainties of one thing look like one tool's.

    Parameters
    ----------
    u_first, u_second : float
        Standard uncertainties [any one unit].
    """
    low, high = sorted((u_first, u_second))
    return high <= _ONE_TOOL * low


def with_common_part(readings: Sequence[Reading]) -> tuple[tuple[Reading, ...], int]:
    """Return the readings with what tools share told apart, and how many unknowns that makes.

    Parameters
    ----------
    readings : sequence of Reading
        Of one spring.

    Returns
    -------
    readings : tuple of Reading
        In their order; a reading that shares nothing is as it was.
    errors : int
        Unknown common errors, one for each value of each tool that read twice [-].
    """
    out, errors = list(readings), 0
    for group in _by_tool(readings):
        if len(group) < 2:
            continue
        for i in group:
            one = readings[i]
            root = np.asarray(np.linalg.cholesky(one.shared * one.covariance), dtype=np.float64)
            own = (1.0 - one.shared) * one.covariance
            out[i] = replace(one, covariance=own, common=root, common_at=errors)
        errors += max(readings[i].values.size for i in group)
    return tuple(out), errors


def _by_tool(readings: Sequence[Reading]) -> list[list[int]]:
    """Return the places of readings that share an error, a list for each tool."""
    shares = [i for i, one in enumerate(readings) if one.shared > 0.0 and one.thing]
    groups: list[list[int]] = []
    for i in sorted(shares, key=lambda i: (readings[i].thing, _u(readings[i]))):
        last = groups[-1][-1] if groups else None
        if last is not None and _share(readings[last], readings[i]):
            groups[-1].append(i)
        else:
            groups.append([i])
    return groups


def _share(one: Reading, other: Reading) -> bool:
    if one.thing != other.thing:
        return False
    # Photos have the network and the phone in common, however sharp each is.
    return one.values.size > 1 or same_tool(_u(one), _u(other))


def _u(reading: Reading) -> float:
    return float(np.sqrt(reading.covariance[0, 0]))


def taken_by(readings: Sequence[Reading], thing: str, u: float) -> int:
    """Return how many readings of a thing were taken with a tool of about that u.

    Parameters
    ----------
    readings : sequence of Reading
        So far.
    thing : str
        What is read.
    u : float
        Standard uncertainty of the tool [unit of the thing].
    """
    return sum(
        one.thing == thing and (one.values.size > 1 or same_tool(_u(one), u)) for one in readings
    )
