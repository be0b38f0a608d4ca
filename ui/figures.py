"""Numbers as people should read them: no more digits than the band allows."""

import math
from collections.abc import Mapping, Sequence

from mechanics.uncertainty import Quantity
from mechanics.units import RATE_UNITS
from ui.answer import Answer
from ui.quantities import relabelled, scaled
from ui.words import DIMENSION_LABELS, PROPORTION_LABELS


def decimals(q: Quantity) -> int:
    """Return how many decimals a quantity deserves: two digits of its uncertainty at most.

    What is above nought keeps a digit of its own, however wide its band: no rate is nought.

    Examples
    --------
    >>> decimals(Quantity(1.20432, 0.011, 1.18, 1.23)), decimals(Quantity(12.2, 0.5, 11.2, 13.2))
    (3, 1)
    >>> decimals(Quantity(0.3, 14.0, 0.02, 46.0))
    1
    """
    # What rounding leaves of a number without doubt is none either.
    if q.u <= 1e-9 * abs(q.value):
        return max(0, 3 - math.floor(math.log10(abs(q.value) or 1.0)))
    # A limit that a few of the possible springs never reach has a band, but no u.
    u = q.u if math.isfinite(q.u) else (q.high - q.low) / 3.92
    place = math.floor(math.log10(u))
    leading = u / 10.0**place
    above = q.low > 0.0 and 0.0 < q.value < math.inf
    own = -math.floor(math.log10(q.value)) if above else 0
    return max(0, own, -place + (1 if leading < 3.0 else 0))


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
    if q.u <= 1e-9 * abs(q.value):
        return "taken as exact"
    places = decimals(q)
    return f"{q.low:.{places}f} to {q.high:.{places}f}"


def answer_lines(answer: Answer) -> list[str]:
    """Return the answer as lines of a terminal, rate first."""
    rate = answer.told["rate_N_per_mm"]
    rows = [
        (f"Rate, {unit}", scaled(rate, 1.0 / RATE_UNITS[unit]))
        for unit in ("N/mm", "gf/mm", "lb/in")
    ]
    rows += relabelled(answer.told, DIMENSION_LABELS, with_mm=True)
    label = f"Shear modulus of {answer.material.name}, GPa"
    return _aligned([*rows, (label, answer.told["shear_modulus_GPa"])])


def proportion_lines(told: Mapping[str, Quantity]) -> list[str]:
    """Return what is known without a scale, as lines of a terminal."""
    return _aligned(relabelled(told, PROPORTION_LABELS))


def _aligned(rows: Sequence[tuple[str, Quantity]]) -> list[str]:
    width = max(len(label) for label, _ in rows)
    return [f"{label:<{width}}  {value_text(q):>9}   95 %: {band_text(q)}" for label, q in rows]
