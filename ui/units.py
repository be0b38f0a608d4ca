"""The units that a person reads in: of rate, and of length."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from mechanics.uncertainty import Quantity
from mechanics.units import MM_PER_INCH, RATE_UNITS
from ui.load_units import LOAD_UNITS, LoadUnits
from ui.quantities import scaled

#: One of each unit of length, in mm.
LENGTH_UNITS = MappingProxyType({"mm": 1.0, "in": MM_PER_INCH})


@dataclass(frozen=True, slots=True)
class Units:
    """Units by their names.

    Attributes
    ----------
    rate : str
        Key of `RATE_UNITS`.
    length : str
        Key of `LENGTH_UNITS`.
    """

    rate: str = "N/mm"
    length: str = "mm"

    @property
    def mm(self) -> float:
        """One unit of length [mm]."""
        return LENGTH_UNITS[self.length]

    @property
    def load(self) -> LoadUnits:
        """Units of force and moment that go with the rate's, and the chosen one of length."""
        force = LOAD_UNITS[self.rate]
        return LoadUnits(force.force, force.newton, self.length, self.mm)

    def rate_of(self, rate_N_per_mm: Quantity) -> Quantity:  # noqa: N803
        """Return a rate in the chosen unit."""
        return scaled(rate_N_per_mm, 1.0 / RATE_UNITS[self.rate])

    def length_of(self, length_mm: Quantity) -> Quantity:
        """Return a length in the chosen unit."""
        return scaled(length_mm, 1.0 / self.mm)

    def shown(self, quantities: Mapping[str, Quantity]) -> dict[str, Quantity]:
        """Return quantities in the chosen units, by the unit that their names end in."""
        sizes = {"_N_per_mm": RATE_UNITS[self.rate], "_N": self.load.newton, "_mm": self.mm}
        out = {}
        for name, q in quantities.items():
            size = next((size for end, size in sizes.items() if name.endswith(end)), 1.0)
            out[name] = scaled(q, 1.0 / size)
        return out

    def named(self, label: str) -> str:
        """Return a label with the unit's name at ``{rate}``, ``{force}`` or ``{length}``.

        Examples
        --------
        >>> Units("lb/in", "in").named("Preload, {force}")
        'Preload, lb'
        """
        return label.format(rate=self.rate, force=self.load.force, length=self.length)

    def told(self, quantities: Mapping[str, Quantity]) -> dict[str, Quantity]:
        """Return quantities with those whose names end in ``_mm`` in the chosen unit of length."""
        return {
            name: self.length_of(q) if name.endswith("_mm") else q for name, q in quantities.items()
        }


def moment_unit(units: Units) -> tuple[str, float]:
    """Return the unit of moment that goes with the unit of rate, and one of it in N mm.

    Examples
    --------
    >>> moment_unit(Units("lb/in"))[0], round(moment_unit(Units("lb/in"))[1], 3)
    ('lb·in', 112.985)
    """
    load = LOAD_UNITS[units.rate]
    return f"{load.force}·{load.travel}", load.newton * load.mm
