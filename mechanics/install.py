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

#: Of the way that is sought where nested springs share a load: far below a micrometre [-].
_HALVINGS = 40
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
    solid = [s.solid_N(draw_solid_length(s.draws, rng)) for s in (one, two)]
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
    """Return two springs side by side or one in the other, on common flat seats: forces add.

    Parameters
    ----------
    first, second : SpringDraws
        Compression springs; draws are paired in their order. Of a cone the rates told are those
        where both begin to bear.
    """
    one, two = paired(first, second)
    gap, longest = _longer_alone(one, two)
    alone = [spring.rate(spring.force(way)) for spring, way in zip((one, two), gap, strict=True)]
    is_first = gap[0] > 0.0
    before = np.where(is_first, alone[0], alone[1])
    both, way = alone[0] + alone[1], np.maximum(*gap)
    rates = tuple(Quantity.from_draws(s.draws.rate_N_per_mm) for s in (one, two))
    said = (*_fit(one.draws, two.draws), *one.cautions, *two.cautions, GUIDE)
    q = Quantity.from_draws
    cautions = tuple(dict.fromkeys(said))
    return Pair(q(both), q(before), q(longest), q(way), (rates[0], rates[1]), cautions)


def _longer_alone(one: Pressed, two: Pressed) -> tuple[tuple[Array, Array], Array]:
    """Return how far each is pressed when both begin to bear [mm], and the force then [N]."""
    offset = one.draws.free_length_mm - two.draws.free_length_mm
    gap = (np.maximum(offset, 0.0), np.maximum(-offset, 0.0))
    return gap, one.force(gap[0]) + two.force(gap[1])


def _fit(one: SpringDraws, two: SpringDraws) -> list[str]:
    """Return what is said of whether they go into each other."""
    outer, inner = sorted((one, two), key=lambda s: -float(np.median(s.mean_diameter_mm)))
    if is_cone(one) or is_cone(two):
        return ["Whether a cone's coils clear the other spring as they close is not reckoned: try."]
    room = float(np.mean(outer.inside_diameter_mm - inner.outside_diameter_mm))
    if room < 0.0:
        return ["They do not fit in each other: side by side only."]
    return ["Opposite hands keep nested coils from locking into each other."]


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
    one, two = paired(first, second)
    offset = one.draws.free_length_mm - two.draws.free_length_mm
    # How far the seats go from the longer one's free end: less than it would go alone.
    low, load = np.zeros(offset.size), np.full(offset.size, load_N)
    alone = np.where(offset > 0.0, one.deflection(load), two.deflection(load))
    high = np.maximum(alone, np.maximum(one.draws.free_length_mm, two.draws.free_length_mm))
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        borne = sum(_seated(one, two, offset, middle)[:2])
        low, high = np.where(borne < load, middle, low), np.where(borne < load, high, middle)
    F1, F2, s1, s2 = _seated(one, two, offset, 0.5 * (low + high))
    q = Quantity.from_draws
    return q(F1), q(F2), q(s1), q(s2)


def _seated(
    one: Pressed, two: Pressed, offset: Array, way: Array
) -> tuple[Array, Array, Array, Array]:
    """Return forces [N] and deflections [mm] once the seats have gone some way."""
    s1 = np.maximum(way - np.maximum(-offset, 0.0), 0.0)
    s2 = np.maximum(way - np.maximum(offset, 0.0), 0.0)
    return one.force(s1), two.force(s2), s1, s2
