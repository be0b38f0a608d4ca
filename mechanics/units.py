"""Units of rate. Factors follow from the definitions 1 lbf = 4.4482216152605 N, 1 in = 25.4 mm.

Standard gravity g0 = 9.80665 m/s^2 is exact by definition.
"""

from types import MappingProxyType

NEWTON_PER_LBF = 4.4482216152605
NEWTON_PER_KGF = 9.80665
MM_PER_INCH = 25.4

#: One of each unit, in N/mm.
RATE_UNITS = MappingProxyType(
    {
        "N/mm": 1.0,
        "gf/mm": NEWTON_PER_KGF / 1000.0,
        "kgf/mm": NEWTON_PER_KGF,
        "lb/in": NEWTON_PER_LBF / MM_PER_INCH,
        "oz/in": NEWTON_PER_LBF / 16.0 / MM_PER_INCH,
    }
)


def convert_rate(value: float, source: str, target: str) -> float:
    """Return a rate given in one unit, in another.

    Parameters
    ----------
    value : float
        Rate [source unit].
    source, target : str
        Keys of `RATE_UNITS` [-].

    Raises
    ------
    ValueError
        If a unit is not known.

    Examples
    --------
    >>> convert_rate(1.0, "N/mm", "lb/in")
    5.710147
    """
    for unit in (source, target):
        if unit not in RATE_UNITS:
            raise ValueError(f"unknown unit of rate {unit!r}; use one of {', '.join(RATE_UNITS)}")
    return value * RATE_UNITS[source] / RATE_UNITS[target]
