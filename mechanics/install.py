"""Springs in place: between seats, with a shim or a collar, two at once (statics)."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from mechanics.check import require_not_negative, require_positive
from mechanics.curve import is_cone
from mechanics.draws import SpringDraws
from mechanics.limits import draw_solid_length
from mechanics.pressed import Pressed, paired, press
from mechanics.uncertainty import Quantity

Array = NDArray[np.float64]

GUIDE = "Release a compressed spring slowly, guided, with eye protection."


@dataclass(frozen=True, slots=True)
class Placed:
    """What springs do in place.

    Attributes
    ----------
    quantities : mapping of str to Quantity
        By name with its unit.
    chance_solid : float
        Chance that a coil-bound length is reached [-].
    cautions : tuple of str
        Plain sentences.
    """

    quantities: Mapping[str, Quantity]
    chance_solid: float
    cautions: tuple[str, ...]


def told(**arrays: Array) -> Mapping[str, Quantity]:
    """Return draws as quantities, by their names with their units."""
    return MappingProxyType({name: Quantity.from_draws(a) for name, a in arrays.items()})


def at_rest(draws: SpringDraws, rng: np.random.Generator) -> Placed:
    """Return a spring that lies free: what `between_seats` tells, before it is put there.

    Parameters
    ----------
    draws : SpringDraws
        Compression spring.
    rng : numpy.random.Generator
        Source of the spread of the solid length.
    """
    draws = press(draws).draws
    none = np.zeros(draws.size)
    quantities = told(
        rate_N_per_mm=draws.rate_N_per_mm,
        preload_N=none,
        force_N=none,
        preload_deflection_mm=none,
        deflection_mm=none,
        room_to_solid_mm=draws.free_length_mm - draw_solid_length(draws, rng),
        energy_mJ=none,
    )
    return Placed(quantities, 0.0, ())


def between_seats(
    draws: SpringDraws, lengths_mm: tuple[float, float], rng: np.random.Generator
) -> Placed:
    """Return the forces of a spring between two seats, at two distances of them.

    Parameters
    ----------
    draws : SpringDraws
        Compression spring.
    lengths_mm : (float, float)
        Distance of the seats at rest and fully moved in [mm].
    rng : numpy.random.Generator
        Source of the spread of the solid length.

    Raises
    ------
    ValueError
        If a length is not positive, or the second is the longer one.
    """
    first, second = lengths_mm
    require_positive(first_length_mm=first, second_length_mm=second)
    spring = press(draws)
    draws = spring.draws
    if second > first:
        raise ValueError(
            f"second_length_mm ({second:g}) must not exceed first_length_mm ({first:g})"
        )
    solid = draw_solid_length(draws, rng)
    pressed = [np.maximum(draws.free_length_mm - length, 0.0) for length in lengths_mm]
    force = [spring.force(s) for s in pressed]
    energy = [spring.energy_mJ(s, F) for s, F in zip(pressed, force, strict=True)]
    bound = float(np.mean(solid >= second))
    said = [*spring.cautions, GUIDE]
    if bound > 0.05:
        said.insert(0, f"It may go solid before {second:g} mm (chance {bound:.0%}).")
    if float(np.mean(pressed[0] <= 0.0)) > 0.5:
        said.insert(0, f"At {first:g} mm it hangs loose: its free length is shorter.")
    quantities = told(
        rate_N_per_mm=spring.rate(force[0]),
        preload_N=force[0],
        force_N=force[1],
        preload_deflection_mm=pressed[0],
        deflection_mm=pressed[1],
        room_to_solid_mm=second - solid,
        energy_mJ=energy[1] - energy[0],
    )
    return Placed(quantities, bound, tuple(said))


def shim(
    draws: SpringDraws, length_mm: float, thickness_mm: float, rng: np.random.Generator
) -> tuple[Placed, Placed]:
    """Return a spring between seats before and after a shim or a turn of its collar.

    Parameters
    ----------
    draws : SpringDraws
        Compression spring.
    length_mm : float
        Distance of the seats before [mm].
    thickness_mm : float
        Shim, or how far the collar moves in [mm].
    rng : numpy.random.Generator
        Source of the spread of the solid length.
    """
    require_positive(seat_length_mm=length_mm, thickness_mm=thickness_mm)
    shorter = length_mm - thickness_mm
    if shorter <= 0.0:
        raise ValueError(f"thickness_mm ({thickness_mm:g}) leaves no room of {length_mm:g} mm")
    before = between_seats(draws, (length_mm, length_mm), rng)
    return before, between_seats(draws, (shorter, shorter), rng)


@dataclass(frozen=True, slots=True)
class Pair:
    """Two springs that work together.

    Attributes
    ----------
    rate_N_per_mm : Quantity
        While both work [N/mm].
    later_rate_N_per_mm : Quantity
        In line: once the first is solid. Nested: before the shorter one touches [N/mm].
    change_N, change_mm : Quantity
        Force and deflection at which one rate gives way to the other [N, mm].
    alone : (Quantity, Quantity)
        Each spring's own rate, before they are joined [N/mm].
    cautions : tuple of str
        Plain sentences.
    """

    rate_N_per_mm: Quantity
    later_rate_N_per_mm: Quantity
    change_N: Quantity
    change_mm: Quantity
    alone: tuple[Quantity, Quantity]
    cautions: tuple[str, ...]


def in_line(first: SpringDraws, second: SpringDraws, rng: np.random.Generator) -> Pair:
    """Return two springs one on top of the other: 1/R = 1/R1 + 1/R2 until one is solid.

    Parameters
    ----------
    first, second : SpringDraws
        Compression springs; draws are paired in their order. Of a cone the rate told is the one
        before its first coil closes.
    rng : numpy.random.Generator
        Source of the spread of the solid lengths.
    """
    one, two = paired(first, second)
    solid = [_solid_N(s, rng) for s in (one, two)]
    rates = [s.draws.rate_N_per_mm for s in (one, two)]
    both = 1.0 / (1.0 / rates[0] + 1.0 / rates[1])
    force = np.minimum(*solid)
    later = np.where(solid[0] < solid[1], two.rate(force), one.rate(force))
    way = one.deflection(force) + two.deflection(force)
    ring = "Put a guide ring between them: two springs in line buckle sooner than one."
    said = dict.fromkeys((*one.cautions, *two.cautions, ring, GUIDE))
    q = Quantity.from_draws
    return Pair(q(both), q(later), q(force), q(way), (q(rates[0]), q(rates[1])), tuple(said))


def nested(first: SpringDraws, second: SpringDraws) -> Pair:
    """Return two springs side by side or one in the other, on common flat seats: R = R1 + R2.

    Parameters
    ----------
    first, second : SpringDraws
        Cylinders; draws are paired in their order.

    Raises
    ------
    ValueError
        If one of them tapers: whether coils that close clear the other spring is not reckoned.
    """
    one, two = _straight_pair(first, second)
    longer = one.free_length_mm >= two.free_length_mm
    longest = np.where(longer, one.rate_N_per_mm, two.rate_N_per_mm)
    gap = np.abs(one.free_length_mm - two.free_length_mm)
    said = [GUIDE]
    outer, inner = sorted((one, two), key=lambda s: -float(np.median(s.mean_diameter_mm)))
    room = float(np.mean(outer.inside_diameter_mm - inner.outside_diameter_mm))
    if room < 0.0:
        said.insert(0, "They do not fit in each other: side by side only.")
    else:
        said.insert(0, "Opposite hands keep nested coils from locking into each other.")
    q = Quantity.from_draws
    alone = (q(one.rate_N_per_mm), q(two.rate_N_per_mm))
    both = q(one.rate_N_per_mm + two.rate_N_per_mm)
    return Pair(both, q(longest), q(gap * longest), q(gap), alone, tuple(said))


def share_load(
    first: SpringDraws, second: SpringDraws, load_N: float
) -> tuple[Quantity, Quantity, Quantity, Quantity]:
    """Return how nested springs share a load: their forces [N], then their deflections [mm].

    Parameters
    ----------
    first, second : SpringDraws
        Compression springs on common flat seats.
    load_N : float
        Load on both [N].
    """
    require_not_negative(load_N=load_N)
    one, two = _straight_pair(first, second)
    R1, R2 = one.rate_N_per_mm, two.rate_N_per_mm
    offset = one.free_length_mm - two.free_length_mm
    both = (load_N + R2 * offset) / (R1 + R2)
    # The longer one bears the load alone until the other touches.
    s1 = np.where(both < 0.0, 0.0, np.where(both < offset, load_N / R1, both))
    s2 = np.where(both < 0.0, load_N / R2, np.maximum(s1 - offset, 0.0))
    q = Quantity.from_draws
    return q(R1 * s1), q(R2 * s2), q(s1), q(s2)


def _straight_pair(first: SpringDraws, second: SpringDraws) -> tuple[SpringDraws, SpringDraws]:
    if is_cone(first) or is_cone(second):
        raise ValueError(
            "small_end_ratio is below 1: a cone's coils move across each other as they close, so "
            "what clears another spring beside or inside it is not reckoned; put them in line"
        )
    one, two = paired(first, second)
    return one.draws, two.draws


def _solid_N(spring: Pressed, rng: np.random.Generator) -> Array:
    """Return the force that presses a spring solid, shape (n,), in N."""
    if spring.coils is not None:
        return spring.coils.solid_N
    free, solid = spring.draws.free_length_mm, draw_solid_length(spring.draws, rng)
    return spring.force(np.maximum(free - solid, 0.0))
