"""Springs in place: between seats, with a collar, two at once, under a car's corner, swapped.

A lever ratio m is wheel travel over spring travel: the spring bears m times the wheel's load and
moves 1/m as far, so the rate at the wheel is R / m^2 (statics of a lever).
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from mechanics.check import require_not_negative, require_positive
from mechanics.draws import SpringDraws
from mechanics.ends import Ends
from mechanics.limits import draw_solid_length
from mechanics.uncertainty import Quantity

Array = NDArray[np.float64]

VEHICLE = (
    "Model and hobby use only: springs of road vehicles are a matter for licensed work.",
    "Support the chassis and let the suspension hang before a collar or a spring is moved.",
)
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


def _told(**arrays: Array) -> Mapping[str, Quantity]:
    return MappingProxyType({name: Quantity.from_draws(a) for name, a in arrays.items()})


def _require_straight(draws: SpringDraws) -> None:
    if draws.ends is Ends.HOOKS:
        raise ValueError("ends are hooks: an extension spring does not go between seats")
    if bool((draws.small_end_ratio < 1.0).any()):
        raise ValueError("small_end_ratio is below 1: read a cone's force off its load curve")


def at_rest(draws: SpringDraws, rng: np.random.Generator) -> Placed:
    """Return a spring that lies free: what `between_seats` tells, before it is put there.

    Parameters
    ----------
    draws : SpringDraws
        Compression spring.
    rng : numpy.random.Generator
        Source of the spread of the solid length.
    """
    _require_straight(draws)
    none = np.zeros(draws.size)
    quantities = _told(
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
    _require_straight(draws)
    if second > first:
        raise ValueError(
            f"second_length_mm ({second:g}) must not exceed first_length_mm ({first:g})"
        )
    solid = draw_solid_length(draws, rng)
    pressed = [np.maximum(draws.free_length_mm - length, 0.0) for length in lengths_mm]
    force = [draws.rate_N_per_mm * s for s in pressed]
    bound = float(np.mean(solid >= second))
    said = [GUIDE]
    if bound > 0.05:
        said.insert(0, f"It may go solid before {second:g} mm (chance {bound:.0%}).")
    if float(np.mean(pressed[0] <= 0.0)) > 0.5:
        said.insert(0, f"At {first:g} mm it hangs loose: its free length is shorter.")
    quantities = _told(
        rate_N_per_mm=draws.rate_N_per_mm,
        preload_N=force[0],
        force_N=force[1],
        preload_deflection_mm=pressed[0],
        deflection_mm=pressed[1],
        room_to_solid_mm=second - solid,
        energy_mJ=0.5 * (force[0] + force[1]) * (pressed[1] - pressed[0]),
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
        Compression springs; draws are paired in their order.
    rng : numpy.random.Generator
        Source of the spread of the solid lengths.
    """
    one, two = _paired(first, second)
    solid = [s.rate_N_per_mm * _travel(s, rng) for s in (one, two)]
    both = 1.0 / (1.0 / one.rate_N_per_mm + 1.0 / two.rate_N_per_mm)
    later = np.where(solid[0] < solid[1], two.rate_N_per_mm, one.rate_N_per_mm)
    force = np.minimum(*solid)
    said = ("Put a guide ring between them: two springs in line buckle sooner than one.", GUIDE)
    q = Quantity.from_draws
    alone = (q(one.rate_N_per_mm), q(two.rate_N_per_mm))
    return Pair(q(both), q(later), q(force), q(force / both), alone, said)


def nested(first: SpringDraws, second: SpringDraws) -> Pair:
    """Return two springs side by side or one in the other, on common flat seats: R = R1 + R2.

    Parameters
    ----------
    first, second : SpringDraws
        Compression springs; draws are paired in their order.
    """
    one, two = _paired(first, second)
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
    one, two = _paired(first, second)
    R1, R2 = one.rate_N_per_mm, two.rate_N_per_mm
    offset = one.free_length_mm - two.free_length_mm
    both = (load_N + R2 * offset) / (R1 + R2)
    # The longer one bears the load alone until the other touches.
    s1 = np.where(both < 0.0, 0.0, np.where(both < offset, load_N / R1, both))
    s2 = np.where(both < 0.0, load_N / R2, np.maximum(s1 - offset, 0.0))
    q = Quantity.from_draws
    return q(R1 * s1), q(R2 * s2), q(s1), q(s2)


def _paired(first: SpringDraws, second: SpringDraws) -> tuple[SpringDraws, SpringDraws]:
    _require_straight(first)
    _require_straight(second)
    size = min(first.size, second.size)
    return first.take(np.arange(size)), second.take(np.arange(size))


def _travel(draws: SpringDraws, rng: np.random.Generator) -> Array:
    return np.maximum(draws.free_length_mm - draw_solid_length(draws, rng), 0.0)


@dataclass(frozen=True, slots=True)
class Corner:
    """One corner of a vehicle.

    Attributes
    ----------
    load_N : float
        Load at the wheel [N].
    lever_ratio : float
        Wheel travel over spring travel [-].
    droop_length_mm : float
        Distance of the spring's seats with the suspension hanging [mm].
    bump_length_mm : float
        The same fully pressed in [mm].
    """

    load_N: float
    lever_ratio: float
    droop_length_mm: float
    bump_length_mm: float

    def __post_init__(self) -> None:
        require_positive(
            load_N=self.load_N,
            lever_ratio=self.lever_ratio,
            droop_length_mm=self.droop_length_mm,
            bump_length_mm=self.bump_length_mm,
        )
        if self.bump_length_mm >= self.droop_length_mm:
            raise ValueError(
                f"bump_length_mm ({self.bump_length_mm:g}) must be below droop_length_mm "
                f"({self.droop_length_mm:g})"
            )


def hanging(draws: SpringDraws, corner: Corner) -> Placed:
    """Return a corner that hangs, its wheel off the ground: what `sag` tells, before the load.

    Parameters
    ----------
    draws : SpringDraws
        Compression spring.
    corner : Corner
        Load, lever and seats.
    """
    _require_straight(draws)
    length = np.minimum(draws.free_length_mm, corner.droop_length_mm)
    return Placed(_at_corner(draws, corner, length, np.zeros(draws.size)), 0.0, ())


def sag(draws: SpringDraws, corner: Corner, rng: np.random.Generator) -> Placed:
    """Return where a corner settles on its spring.

    Parameters
    ----------
    draws : SpringDraws
        Compression spring.
    corner : Corner
        Load, lever and seats.
    rng : numpy.random.Generator
        Source of the spread of the solid length.
    """
    _require_straight(draws)
    length = _settled(draws, corner)
    drop = corner.droop_length_mm - length
    bound = float(np.mean(draw_solid_length(draws, rng) >= corner.bump_length_mm))
    stands = float(np.mean(length <= corner.bump_length_mm))
    said = list(VEHICLE)
    if float(np.mean(drop <= 0.0)) > 0.5:
        said.insert(0, "Its preload bears the load without moving: the corner tops out.")
    if float(np.mean(draws.free_length_mm < corner.droop_length_mm)) > 0.5:
        said.insert(0, "Hanging, it is loose between its seats: tie it, or use a helper spring.")
    if stands > 0.05:
        said.insert(0, f"It may sit on its bump stop (chance {stands:.0%}).")
    if bound > 0.05:
        said.insert(0, f"It may go solid before the bump stop (chance {bound:.0%}).")
    return Placed(_at_corner(draws, corner, length, drop), bound, tuple(said))


def _at_corner(
    draws: SpringDraws, corner: Corner, length: Array, drop: Array
) -> Mapping[str, Quantity]:
    R, m = draws.rate_N_per_mm, corner.lever_ratio
    pressed = np.maximum(draws.free_length_mm - length, 0.0)
    return _told(
        rate_at_wheel_N_per_mm=R / m**2,
        preload_N=np.maximum(draws.free_length_mm - corner.droop_length_mm, 0.0) * R,
        # The load itself where it settles: no more digits than reckoning has.
        force_N=np.round(pressed * R, 9),
        spring_length_mm=length,
        sag_mm=m * drop,
        sag_share=drop / (corner.droop_length_mm - corner.bump_length_mm),
    )


def _settled(draws: SpringDraws, corner: Corner) -> Array:
    """Return the spring's length under the corner's load, within its stops, in mm."""
    free = draws.free_length_mm - corner.lever_ratio * corner.load_N / draws.rate_N_per_mm
    return np.clip(free, corner.bump_length_mm, corner.droop_length_mm)


@dataclass(frozen=True, slots=True)
class Swap:
    """One spring for another at the same ride height.

    Attributes
    ----------
    before, after : Placed
        The corner on the old and on the new spring, its collar moved.
    collar_mm : Quantity
        How far to move the collar: positive presses the spring more [mm].
    rate_ratio : Quantity
        New rate over old [-].
    """

    before: Placed
    after: Placed
    collar_mm: Quantity
    rate_ratio: Quantity


def swap(old: SpringDraws, new: SpringDraws, corner: Corner, rng: np.random.Generator) -> Swap:
    """Return what changes when a spring is replaced and the collar set for equal ride height.

    Parameters
    ----------
    old, new : SpringDraws
        Compression springs; draws are paired in their order.
    corner : Corner
        Load, lever and seats, as on the old spring.
    rng : numpy.random.Generator
        Source of the spread of the solid lengths.
    """
    one, two = _paired(old, new)
    force = corner.lever_ratio * corner.load_N
    needed = (one.free_length_mm - force / one.rate_N_per_mm) - (
        two.free_length_mm - force / two.rate_N_per_mm
    )
    move = float(np.median(needed))
    if corner.bump_length_mm - move <= 0.0:
        raise ValueError(f"the new spring needs its collar moved {move:.3g} mm: there is no room")
    moved = replace(
        corner,
        droop_length_mm=corner.droop_length_mm - move,
        bump_length_mm=corner.bump_length_mm - move,
    )
    return Swap(
        sag(one, corner, rng),
        sag(two, moved, rng),
        Quantity.from_draws(needed),
        Quantity.from_draws(two.rate_N_per_mm / one.rate_N_per_mm),
    )
