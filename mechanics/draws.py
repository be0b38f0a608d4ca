"""A spring known within its uncertainty, as a crowd of equally likely springs."""

from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from mechanics.check import Floats
from mechanics.ends import Ends, end_rule, solid_length
from mechanics.geometry import SpringGeometry
from mechanics.load import wire_length
from mechanics.materials import Family, Material
from mechanics.rate import cone_factor
from mechanics.section import Rectangular, Round, Section

Array = NDArray[np.float64]

DRAWS = 40_000


@dataclass(frozen=True, slots=True)
class SpringDraws:
    """Equally likely springs, every array of shape (n,).

    Attributes
    ----------
    wire_diameter_mm, mean_diameter_mm : ndarray
        Bare wire, of rectangular wire its side along the axis; coil at its large end [mm].
    total_coils, dead_coils : ndarray
        Turns, and those of them that the ends keep from working [-].
    free_length_mm : ndarray
        [mm].
    shear_modulus_MPa : ndarray
        [MPa].
    density_g_cm3 : ndarray
        [g/cm^3].
    formula_factor : ndarray
        True rate over the formula's: end effects of few coils, curvature and pitch terms [-].
    small_end_ratio : ndarray
        Cone's small end over its large end [-].
    coat_mm : ndarray
        Thickness of paint or plating on the wire [mm].
    extra_turns : ndarray
        Turns of wire beyond the total coils: hooks add, grinding takes away [-].
    family : ndarray of int
        Place in `material.families`.
    material : Material
        Wire material.
    ends : Ends
        Kind of ends.
    wire_width_mm : ndarray or None
        Side across the axis of rectangular wire; None for round wire [mm].
    """

    wire_diameter_mm: Array
    mean_diameter_mm: Array
    total_coils: Array
    dead_coils: Array
    free_length_mm: Array
    shear_modulus_MPa: Array
    density_g_cm3: Array
    formula_factor: Array
    small_end_ratio: Array
    coat_mm: Array
    extra_turns: Array
    family: NDArray[np.intp]
    material: Material
    ends: Ends
    wire_width_mm: Array | None = None

    @property
    def section(self) -> Section:
        """The wire's section."""
        if self.wire_width_mm is None:
            return Round(self.wire_diameter_mm)
        return Rectangular(self.wire_width_mm, self.wire_diameter_mm)

    @property
    def size(self) -> int:
        """Number of draws."""
        return int(self.wire_diameter_mm.size)

    @property
    def active_coils(self) -> Array:
        """Turns that work [-]."""
        return self.total_coils - self.dead_coils

    @property
    def spring_index(self) -> Array:
        """Mean diameter over the wire's side across the axis, at the large end [-]."""
        return self.mean_diameter_mm / self.section.radial

    @property
    def pitch_mm(self) -> Array:
        """Pitch of the active coils [mm]."""
        if self.ends is Ends.HOOKS:
            return self.wire_diameter_mm
        rule = end_rule(self.ends)
        room = self.free_length_mm - rule.free_length_wires * self.wire_diameter_mm
        return np.maximum(room / (self.active_coils + rule.extra_pitches), self.wire_diameter_mm)

    @property
    def softness(self) -> Array:
        """Curvature and pitch term psi [-]."""
        angle = np.degrees(np.arctan(self.pitch_mm / (np.pi * self.mean_diameter_mm)))
        return self.section.softness(self.mean_diameter_mm, angle)

    @property
    def rate_N_per_mm(self) -> Array:
        """Rate before any coil closes [N/mm]."""
        turn = self.section.turn_compliance(self.mean_diameter_mm, self.shear_modulus_MPa)
        factor = self.formula_factor * cone_factor(self.small_end_ratio)
        return np.asarray(factor / (turn * self.active_coils * self.softness))

    @property
    def outside_diameter_mm(self) -> Array:
        """Outside diameter of the bare large end [mm]."""
        return self.mean_diameter_mm + self.section.radial

    @property
    def inside_diameter_mm(self) -> Array:
        """Inside diameter of the bare large end [mm]."""
        return self.mean_diameter_mm - self.section.radial

    @property
    def solid_length_mm(self) -> Array:
        """Length with all coils touching, before the end's own spread [mm].

        Coils of a cone nest: each rises sqrt(d^2 - step^2) over the last, or not at all.
        """
        d, n_t = self.wire_diameter_mm, self.total_coils
        flat = np.asarray(solid_length(d, n_t, self.ends))
        step = 0.5 * self.mean_diameter_mm * (1.0 - self.small_end_ratio) / n_t
        rise = np.sqrt(np.maximum(d**2 - step**2, 0.0))
        return np.asarray(np.maximum(flat - n_t * (d - rise), 2.0 * d))

    @property
    def stress_factor(self) -> Array:
        """Stress factor of the large end, of round wire Bergstraesser's [-]."""
        return self.section.stress_factor(self.mean_diameter_mm)

    @property
    def mass_g(self) -> Array:
        """Mass with its coat [g]; paint is taken at 1.5 g/cm^3 (common practice, no source)."""
        turns = np.maximum(self.total_coils + self.extra_turns, 0.1)
        middle = 0.5 * (1.0 + self.small_end_ratio) * self.mean_diameter_mm
        rise = np.maximum(self.free_length_mm - self.wire_diameter_mm, 0.0)
        length = wire_length(middle, turns, rise)
        wire, coat = self.section, self.coat_mm
        around = coat * wire.perimeter + np.pi * coat**2
        return np.asarray(1e-3 * (self.density_g_cm3 * wire.area + COAT_DENSITY * around) * length)

    def take(self, which: NDArray[np.intp] | NDArray[np.bool_]) -> "SpringDraws":
        """Return the draws at those places."""
        kept = {
            f.name: getattr(self, f.name)[which]
            for f in fields(self)
            if isinstance(getattr(self, f.name), np.ndarray)
        }
        return replace(self, **kept)


#: Paint and powder coat [g/cm^3].
COAT_DENSITY = 1.5


def few_coil_u(n: Floats) -> Floats:
    """Return the relative standard uncertainty that end effects add below five active coils.

    Bench tests of 18 springs with 2.5 to 3 active coils (Acta Mechanica et Automatica 2025,
    doi 10.2478/ama-2025-0055) found the basic formula 3 to 19 % low: u is 10 % at three active
    coils and below, and falls to nothing at five. The taper is a judgement, no source.

    Parameters
    ----------
    n : float
        Active coils [-].
    """
    return 0.10 * np.clip((5.0 - n) / 2.0, 0.0, 1.0)


def family_draws(
    families: tuple[Family, ...], which: NDArray[np.intp], scores: Array, attribute: str
) -> Array:
    """Return draws of a family's property from standard scores.

    Parameters
    ----------
    families : tuple of Family
        To choose from.
    which : ndarray of int, shape (n,)
        Place of each draw's family.
    scores : ndarray, shape (n,)
        Standard scores [-].
    attribute : str
        Name of a property with a ``u_`` beside it.
    """
    middle = np.array([getattr(f, attribute) for f in families])
    u = np.array([getattr(f, f"u_{attribute}") for f in families])
    return np.asarray(middle[which] + u[which] * scores)


def draw_spring(
    geometry: SpringGeometry, material: Material, rng: np.random.Generator, size: int = DRAWS
) -> SpringDraws:
    """Return equally likely springs from dimensions with covariance and a material.

    Parameters
    ----------
    geometry : SpringGeometry
        Dimensions with covariance.
    material : Material
        Wire material.
    rng : numpy.random.Generator
        Source of the draws; the same seed gives the same springs.
    size : int
        Draws; those that are no spring (no working coil) are left out [-].

    Raises
    ------
    ValueError
        If the ends leave no active coil.
    """
    n = geometry.active_coils
    middle, covariance = geometry.with_width
    drawn = rng.multivariate_normal(middle, covariance, size, method="eigh")
    rule = end_rule(geometry.ends)
    dead = rng.normal(rule.dead_coils, rule.u_dead_coils, size)
    family = material.sample_family(size, rng)
    scores = rng.standard_normal((4, size))
    ratio = geometry.small_end_ratio + geometry.u_small_end_ratio * rng.standard_normal(size)
    draws = SpringDraws(
        drawn[:, 0],
        drawn[:, 1],
        drawn[:, 2],
        dead,
        drawn[:, 3],
        1000.0 * family_draws(material.families, family, scores[0], "shear_modulus_GPa"),
        family_draws(material.families, family, scores[1], "density_g_cm3"),
        np.ones(size),
        np.clip(ratio, 0.05, 1.0),
        np.zeros(size),
        rule.wire_turns + rule.u_wire_turns * scores[3],
        family,
        material,
        geometry.ends,
        drawn[:, 4] if drawn.shape[1] > 4 else None,
    )
    d, D, wide = draws.wire_diameter_mm, draws.mean_diameter_mm, draws.section.radial
    # A draw without working coils is no spring: the band is conditional on there being one.
    possible = (draws.active_coils > 0.2 * n) & (d > 0.0) & (wide > 0.0) & (1.2 * wide < D)
    return with_formula_spread(draws.take(possible), scores[2][possible])


def with_formula_spread(draws: SpringDraws, scores: Array) -> SpringDraws:
    """Return the draws with the formula's own error, from standard scores of shape (n,)."""
    angle = np.degrees(np.arctan(draws.pitch_mm / (np.pi * draws.mean_diameter_mm)))
    own = draws.section.formula_u(draws.mean_diameter_mm, angle)
    u = np.hypot(few_coil_u(draws.active_coils), own)
    return replace(draws, formula_factor=np.exp(u * scores))
