"""One corner of a vehicle on its spring: sag, ride height, and a spring swapped for another.

A lever ratio m is wheel travel over spring travel: the spring bears m times the wheel's load and
moves 1/m as far, so the rate at the wheel is R / m^2 (statics of a lever).
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from mechanics.check import require_positive
from mechanics.draws import SpringDraws
from mechanics.install import Placed, told
from mechanics.limits import draw_solid_length
from mechanics.pressed import Pressed, paired, press
from mechanics.uncertainty import Quantity

Array = NDArray[np.float64]

VEHICLE = (
    "Model and hobby use only: springs of road vehicles are a matter for licensed work.",
    "Support the chassis and let the suspension hang before a collar or a spring is moved.",
)


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
    spring = press(draws)
    length = np.minimum(spring.draws.free_length_mm, corner.droop_length_mm)
    return Placed(_at_corner(spring, corner, length, np.zeros(length.size)), 0.0, ())


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
    spring = press(draws)
    draws, length = spring.draws, _settled(spring, corner)
    drop = corner.droop_length_mm - length
    bound = float(np.mean(draw_solid_length(draws, rng) >= corner.bump_length_mm))
    stands = float(np.mean(length <= corner.bump_length_mm))
    said = [*spring.cautions, *VEHICLE]
    if float(np.mean(drop <= 0.0)) > 0.5:
        said.insert(0, "Its preload bears the load without moving: the corner tops out.")
    if float(np.mean(draws.free_length_mm < corner.droop_length_mm)) > 0.5:
        said.insert(0, "Hanging, it is loose between its seats: tie it, or use a helper spring.")
    if stands > 0.05:
        said.insert(0, f"It may sit on its bump stop (chance {stands:.0%}).")
    if bound > 0.05:
        said.insert(0, f"It may go solid before the bump stop (chance {bound:.0%}).")
    return Placed(_at_corner(spring, corner, length, drop), bound, tuple(said))


def _at_corner(
    spring: Pressed, corner: Corner, length: Array, drop: Array
) -> Mapping[str, Quantity]:
    free, m = spring.draws.free_length_mm, corner.lever_ratio
    force = spring.force(np.maximum(free - length, 0.0))
    return told(
        rate_at_wheel_N_per_mm=spring.rate(force) / m**2,
        preload_N=spring.force(np.maximum(free - corner.droop_length_mm, 0.0)),
        # The load itself where it settles: no more digits than reckoning has.
        force_N=np.round(force, 9),
        spring_length_mm=length,
        sag_mm=m * drop,
        sag_share=drop / (corner.droop_length_mm - corner.bump_length_mm),
    )


def _under(spring: Pressed, corner: Corner) -> Array:
    """Return the spring's length under the corner's load, whatever its stops, in mm."""
    force = np.full(spring.draws.size, corner.lever_ratio * corner.load_N)
    return np.asarray(spring.draws.free_length_mm - spring.deflection(force))


def _settled(spring: Pressed, corner: Corner) -> Array:
    """Return the same within its stops, in mm."""
    return np.clip(_under(spring, corner), corner.bump_length_mm, corner.droop_length_mm)


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
        New rate over old, at that ride height [-].
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
    one, two = paired(old, new)
    needed = _under(one, corner) - _under(two, corner)
    move = float(np.median(needed))
    if corner.bump_length_mm - move <= 0.0:
        raise ValueError(f"the new spring needs its collar moved {move:.3g} mm: there is no room")
    moved = replace(
        corner,
        droop_length_mm=corner.droop_length_mm - move,
        bump_length_mm=corner.bump_length_mm - move,
    )
    force = np.full(needed.size, corner.lever_ratio * corner.load_N)
    return Swap(
        sag(one.draws, corner, rng),
        sag(two.draws, moved, rng),
        Quantity.from_draws(needed),
        Quantity.from_draws(two.rate(force) / one.rate(force)),
    )
