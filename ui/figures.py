"""Numbers as people should read them: no more digits than the band allows."""

import math

from ui.quantities import Quantity


def decimals(q: Quantity) -> int:
    """Return how many decimals a quantity deserves: two digits of its uncertainty at most.

    Examples
    --------
    >>> decimals(Quantity(1.20432, 0.011, 1.18, 1.23)), decimals(Quantity(12.2, 0.5, 11.2, 13.2))
    (3, 1)
    """
    if q.u <= 0.0:
        return max(0, 3 - math.floor(math.log10(abs(q.value) or 1.0)))
    place = math.floor(math.log10(q.u))
    leading = q.u / 10.0**place
    return max(0, -place + (1 if leading < 3.0 else 0))


def value_text(q: Quantity) -> str:
    """Return the value alone.

    Examples
    --------
    >>> value_text(Quantity(1.20432, 0.011, 1.18, 1.23))
    '1.204'
    """
    return f"{q.value:.{decimals(q)}f}"


def band_text(q: Quantity) -> str:
    """Return the 95 % band, or 'taken as exact'.

    Examples
    --------
    >>> band_text(Quantity(1.20432, 0.011, 1.1819, 1.2262))
    '1.182 to 1.226'
    """
    if q.u <= 0.0:
        return "taken as exact"
    places = decimals(q)
    return f"{q.low:.{places}f} to {q.high:.{places}f}"
