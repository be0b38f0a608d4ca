"""Spring wire materials: shear modulus with its spread and its source.

A spread between sources is taken as rectangular over its half-range a, so u = a / sqrt(3).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class Family:
    """One family of wire.

    Attributes
    ----------
    shear_modulus_GPa, half_range_GPa : float
        Middle and half-range of the published values [GPa].
    weight : float
        Odds of this family within its material [-].
    """

    shear_modulus_GPa: float
    half_range_GPa: float
    weight: float = 1.0


@dataclass(frozen=True, slots=True)
class Material:
    """A material that a person can name, as one family or as a mixture of them."""

    name: str
    families: tuple[Family, ...]
    source: str

    @property
    def shear_modulus_GPa(self) -> float:
        """Mean shear modulus [GPa]."""
        return sum(f.weight * f.shear_modulus_GPa for f in self.families)

    @property
    def u_shear_modulus_GPa(self) -> float:
        """Standard uncertainty of the shear modulus [GPa]."""
        mean = self.shear_modulus_GPa
        second = sum(
            f.weight * (f.half_range_GPa**2 / 3.0 + (f.shear_modulus_GPa - mean) ** 2)
            for f in self.families
        )
        return float(second**0.5)

    def sample_GPa(self, size: int, rng: np.random.Generator) -> NDArray[np.float64]:
        """Return draws of the shear modulus [GPa], shape (size,)."""
        which = rng.choice(len(self.families), size, p=[f.weight for f in self.families])
        middle = np.array([f.shear_modulus_GPa for f in self.families])[which]
        half = np.array([f.half_range_GPa for f in self.families])[which]
        return np.asarray(middle + half * rng.uniform(-1.0, 1.0, size))


_CARBON = (
    "EN 10270-1 (81.5) and Shigley table 10-5 (78.6 to 82.7); JIS B 2704 (78, from memory); "
    "SAE paper 250012 (79.3 within 3 %)"
)

MATERIALS = (
    Material("music wire", (Family(80.35, 2.35),), _CARBON),
    Material("hard drawn", (Family(80.0, 2.0),), _CARBON),
    Material(
        "oil tempered",
        (Family(78.4, 1.6),),
        "Shigley table 10-5 (77.2); EN 10270-2 (79.5, from memory)",
    ),
    Material(
        "chrome-silicon",
        (Family(78.4, 1.6),),
        "Machinery's Handbook 31e (77.2); EN 10270-2 (79.5, from memory)",
    ),
    Material(
        "302 stainless",
        (Family(71.0, 2.05),),
        "Machinery's Handbook 31e (69.0); EN 10270-3 1.4310 (73, supplier copy)",
    ),
    Material(
        "phosphor bronze",
        (Family(41.4, 1.2),),
        "Machinery's Handbook 31e (41.4); spread assumed 3 %",
    ),
    Material(
        "unknown steel",
        (Family(80.35, 2.35, 0.8), Family(71.0, 2.05, 0.2)),
        "mixture of carbon steel and 302 stainless; the weights are a judgement, no source",
    ),
)


def find_material(name: str) -> Material:
    """Return the material of that name.

    Raises
    ------
    ValueError
        If no material has that name; the message lists those that exist.
    """
    for material in MATERIALS:
        if material.name == name.strip().lower():
            return material
    known = ", ".join(m.name for m in MATERIALS)
    raise ValueError(f"no material is called {name!r}; choose one of: {known}")
