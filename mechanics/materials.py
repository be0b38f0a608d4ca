"""Spring wire materials: moduli, density and magnetism, each with its spread and its source.

A spread between sources has the standard uncertainty of a rectangle over its half-range a,
u = a / sqrt(3), and is drawn as a normal of that u: the sources bound each other, not the wire,
so a band must not end at a cliff.
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
    name : str
        Key of its strength in `mechanics.tensile`.
    youngs_modulus_GPa : float
        [GPa].
    density_g_cm3, half_range_density : float
        Middle and half-range of the published densities [g/cm^3].
    attracted : float
        Chance that a magnet pulls it strongly [-]. Judged from the trade's rule that carbon
        steels always are, drawn austenitic stainless may be, copper alloys never (common
        practice, no source).
    """

    shear_modulus_GPa: float
    half_range_GPa: float
    weight: float = 1.0
    name: str = "music wire"
    youngs_modulus_GPa: float = 206.0
    density_g_cm3: float = 7.85
    half_range_density: float = 0.03
    attracted: float = 0.99

    @property
    def u_shear_modulus_GPa(self) -> float:
        """Standard uncertainty of the shear modulus [GPa]."""
        return float(self.half_range_GPa / 3.0**0.5)

    @property
    def u_density_g_cm3(self) -> float:
        """Standard uncertainty of the density [g/cm^3]."""
        return float(self.half_range_density / 3.0**0.5)


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
            f.weight * (f.u_shear_modulus_GPa**2 + (f.shear_modulus_GPa - mean) ** 2)
            for f in self.families
        )
        return float(second**0.5)

    def sample_family(self, size: int, rng: np.random.Generator) -> NDArray[np.intp]:
        """Return draws of the family's place in `families`, shape (size,)."""
        return rng.choice(len(self.families), size, p=[f.weight for f in self.families])

    def sample_GPa(self, size: int, rng: np.random.Generator) -> NDArray[np.float64]:
        """Return draws of the shear modulus [GPa], shape (size,)."""
        which = self.sample_family(size, rng)
        middle = np.array([f.shear_modulus_GPa for f in self.families])[which]
        u = np.array([f.u_shear_modulus_GPa for f in self.families])[which]
        return np.asarray(middle + u * rng.standard_normal(size))


_CARBON = (
    "EN 10270-1 (81.5) and Shigley table 10-5 (78.6 to 82.7); JIS B 2704 (78, from memory); "
    "SAE paper 250012 (79.3 within 3 %); density EN 10270-1 (7.85)"
)
_MH = "Machinery's Handbook 31e, table 20, p. 346"

MATERIALS = (
    Material("music wire", (Family(80.35, 2.35),), _CARBON),
    Material("hard drawn", (Family(80.0, 2.0, name="hard drawn"),), _CARBON),
    Material(
        "oil tempered",
        (Family(78.4, 1.6, name="oil tempered", youngs_modulus_GPa=201.0),),
        "Shigley table 10-5 (77.2); EN 10270-2 (79.5, from memory)",
    ),
    Material(
        "chrome-vanadium",
        (Family(78.4, 1.6, name="chrome-vanadium", youngs_modulus_GPa=204.7),),
        "Shigley table 10-5 (77.2); EN 10270-2 (79.5, from memory)",
    ),
    Material(
        "chrome-silicon",
        (Family(78.4, 1.6, name="chrome-silicon", youngs_modulus_GPa=204.7),),
        f"{_MH} (77.2); EN 10270-2 (79.5, from memory)",
    ),
    Material(
        "302 stainless",
        (Family(71.0, 2.05, 1.0, "302 stainless", 189.0, 7.92, 0.05, 0.5),),
        f"{_MH} (69.0); EN 10270-3 1.4310 (73, supplier copy); density 7.90 (from memory), "
        "8.0 (supplier copy)",
    ),
    Material(
        "316 stainless",
        (Family(70.0, 1.05, 1.0, "316 stainless", 186.5, 7.97, 0.05, 0.1),),
        f"{_MH} (69.0); EN 10270-3 1.4401 (71, supplier copy); density 7.95 (from memory), "
        "8.0 (supplier copy)",
    ),
    Material(
        "17-7PH stainless",
        (Family(75.2, 2.8, 1.0, "17-7PH stainless", 201.7, 7.81, 0.04, 0.95),),
        f"{_MH} (72.4); EN 10270-3 1.4568 (73 to 78, from memory); density from memory",
    ),
    Material(
        "phosphor bronze",
        (Family(41.4, 1.2, 1.0, "phosphor bronze", 103.4, 8.83, 0.05, 0.01),),
        f"{_MH} (41.4); spread assumed 3 %; density from memory",
    ),
    Material(
        "spring brass",
        (Family(34.5, 1.0, 1.0, "spring brass", 103.4, 8.53, 0.06, 0.01),),
        f"{_MH} (34.5); spread assumed 3 %; density from memory",
    ),
    Material(
        "beryllium copper",
        (Family(49.1, 1.5, 1.0, "beryllium copper", 124.1, 8.26, 0.05, 0.01),),
        f"{_MH} (48.3 to 50.0); spread assumed 3 %; density from memory",
    ),
    Material(
        "unknown steel",
        (
            Family(80.35, 2.35, 0.8),
            Family(71.0, 2.05, 0.2, "302 stainless", 189.0, 7.92, 0.05, 0.5),
        ),
        "mixture of carbon steel and 302 stainless; the weights are a judgement, no source",
    ),
    Material(
        "unknown wire",
        (
            Family(80.35, 2.35, 0.72),
            Family(71.0, 2.05, 0.2, "302 stainless", 189.0, 7.92, 0.05, 0.5),
            Family(41.4, 1.2, 0.05, "phosphor bronze", 103.4, 8.83, 0.05, 0.01),
            Family(34.5, 1.0, 0.03, "spring brass", 103.4, 8.53, 0.06, 0.01),
        ),
        "mixture of steels and copper alloys; the weights are a judgement, no source",
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
