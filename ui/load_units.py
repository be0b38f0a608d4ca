"""The units of force and of travel that go with a unit of rate."""

from dataclasses import dataclass
from types import MappingProxyType

from mechanics.units import MM_PER_INCH, NEWTON_PER_KGF, NEWTON_PER_LBF


@dataclass(frozen=True, slots=True)
class LoadUnits:
    """How a load curve is read.

    Attributes
    ----------
    force, travel : str
        Names of the units.
    newton, mm : float
        One of each, in N and in mm.
    """

    force: str
    newton: float
    travel: str
    mm: float


LOAD_UNITS = MappingProxyType(
    {
        "N/mm": LoadUnits("N", 1.0, "mm", 1.0),
        "gf/mm": LoadUnits("gf", NEWTON_PER_KGF / 1000.0, "mm", 1.0),
        "kgf/mm": LoadUnits("kgf", NEWTON_PER_KGF, "mm", 1.0),
        "lb/in": LoadUnits("lb", NEWTON_PER_LBF, "in", MM_PER_INCH),
        "oz/in": LoadUnits("oz", NEWTON_PER_LBF / 16.0, "in", MM_PER_INCH),
    }
)
