"""What a person can find out about a spring, each reading with its uncertainty and its usual slips.

A reading predicts itself from drawn springs, so one set of formulas serves every kind. Its slips
are the mistakes that people make with it: each predicts what would then have been read.
"""

from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from mechanics.check import require_dimension, require_not_negative, require_positive
from mechanics.draws import SpringDraws
from mechanics.slips import (
    TOOL_SHARED,
    Reading,
    Slip,
    column,
    digit_slips,
    inch_slip,
    require_readable,
    scalar,
    unit_slip,
)

Array = NDArray[np.float64]

#: Grams in an ounce, by definition.
GRAM_PER_OUNCE = 28.349523125


#: What a reading of rectangular wire's side across the axis is called.
WIDTH = "wire across the axis"


class Coat(StrEnum):
    """What covers the wire."""

    BARE = "bare"
    PLATED = "plated"
    PAINTED = "painted"
    POWDER = "powder coated"


#: Thickness and standard uncertainty [mm] (common practice, no source).
COAT_MM = {
    Coat.BARE: (0.0, 0.0005),
    Coat.PLATED: (0.008, 0.004),
    Coat.PAINTED: (0.04, 0.02),
    Coat.POWDER: (0.08, 0.03),
}


def coated(s: SpringDraws) -> Array:
    """Return the wire diameter over its coat, shape (size,) [mm]."""
    return s.wire_diameter_mm + 2.0 * s.coat_mm


def coated_across(s: SpringDraws) -> Array:
    """Return the wire's side across the axis over its coat, shape (size,) [mm]."""
    return np.asarray(s.section.radial + 2.0 * s.coat_mm)


def width_reading(value_mm: float, u_mm: float = 0.02, name: str = WIDTH) -> Reading:
    """Return a reading of rectangular wire's side across the axis, over whatever covers it.

    Parameters
    ----------
    value_mm, u_mm : float
        Reading and standard uncertainty: caliper in the hand 0.02, micrometer 0.004 [mm].
    name : str
        What to call it.
    """
    require_dimension("wire_width_mm", value_mm)
    slips = (
        Slip("the side along the axis", column(coated)),
        inch_slip(coated_across, value_mm),
        *digit_slips(coated_across, value_mm),
    )
    return scalar(name, "mm", value_mm, u_mm, coated_across, slips, WIDTH)


def wire_reading(value_mm: float, u_mm: float = 0.02, name: str = "wire") -> Reading:
    """Return a reading of the wire over whatever covers it.

    Parameters
    ----------
    value_mm, u_mm : float
        Reading and standard uncertainty: caliper in the hand 0.02, micrometer 0.004 [mm].
    name : str
        What to call it, such as "wire, micrometer".
    """
    paint = Slip(
        "taken over paint or plating",
        column(lambda s: s.wire_diameter_mm + 0.10),
        1.0,
        np.array([[0.05**2]]),
        False,
    )
    slips = (inch_slip(coated, value_mm), paint, *digit_slips(coated, value_mm))
    return scalar(name, "mm", value_mm, u_mm, coated, slips, "wire")


def outside_reading(value_mm: float, u_mm: float = 0.05) -> Reading:
    """Return a reading of the outside diameter (large end of a cone).

    Parameters
    ----------
    value_mm, u_mm : float
        Reading and standard uncertainty [mm].
    """

    def predict(s: SpringDraws) -> Array:
        return s.mean_diameter_mm + coated_across(s)

    slips = (
        Slip("the inside diameter", column(lambda s: s.mean_diameter_mm - coated_across(s))),
        Slip("the mean diameter", column(lambda s: s.mean_diameter_mm)),
        inch_slip(predict, value_mm),
        *digit_slips(predict, value_mm),
    )
    return scalar("outside diameter", "mm", value_mm, u_mm, predict, slips)


def inside_reading(value_mm: float, u_mm: float = 0.06) -> Reading:
    """Return a reading of the inside diameter.

    Parameters
    ----------
    value_mm, u_mm : float
        Reading and standard uncertainty [mm].
    """

    def predict(s: SpringDraws) -> Array:
        return s.mean_diameter_mm - coated_across(s)

    slips = (
        Slip("the outside diameter", column(lambda s: s.mean_diameter_mm + coated_across(s))),
        inch_slip(predict, value_mm),
        *digit_slips(predict, value_mm),
    )
    return scalar("inside diameter", "mm", value_mm, u_mm, predict, slips)


def mean_reading(value_mm: float, u_mm: float = 0.05) -> Reading:
    """Return a mean diameter, halfway between outside and inside (large end of a cone).

    Parameters
    ----------
    value_mm, u_mm : float
        Reading and standard uncertainty [mm].
    """

    def predict(s: SpringDraws) -> Array:
        return s.mean_diameter_mm

    slips = (
        Slip("the outside diameter", column(lambda s: s.mean_diameter_mm + coated_across(s))),
        Slip("the inside diameter", column(lambda s: s.mean_diameter_mm - coated_across(s))),
        inch_slip(predict, value_mm),
        *digit_slips(predict, value_mm),
    )
    return scalar("mean diameter", "mm", value_mm, u_mm, predict, slips)


def small_end_reading(value_mm: float, u_mm: float = 0.05) -> Reading:
    """Return a reading of the outside diameter of a cone's small end.

    Parameters
    ----------
    value_mm, u_mm : float
        Reading and standard uncertainty [mm].
    """

    def mean(s: SpringDraws) -> Array:
        return s.small_end_ratio * s.mean_diameter_mm

    def predict(s: SpringDraws) -> Array:
        return mean(s) + coated(s)

    slips = (
        Slip("the inside diameter", column(lambda s: mean(s) - coated(s))),
        Slip("the large end", column(lambda s: s.mean_diameter_mm + coated(s))),
        inch_slip(predict, value_mm),
        *digit_slips(predict, value_mm),
    )
    return scalar("small end", "mm", value_mm, u_mm, predict, slips)


def touching_reading(value_mm: float, coils: float, u_mm: float = 0.05) -> Reading:
    """Return a reading of the length over coils pressed together: the wire, averaged.

    Parameters
    ----------
    value_mm, u_mm : float
        Length over them and standard uncertainty [mm].
    coils : float
        How many touch, a whole number [-].
    """
    require_positive(touching_coils=coils)
    if coils != round(coils) or coils > 1000.0:
        raise ValueError(f"touching_coils must be a whole number up to 1000, not {coils:g}")
    slips = (
        Slip("one coil fewer than counted", column(lambda s: (coils - 1) * coated(s))),
        Slip("one coil more than counted", column(lambda s: (coils + 1) * coated(s))),
    )
    name = f"length over {coils:g} coils"
    return scalar(name, "mm", value_mm, u_mm, lambda s: coils * coated(s), slips, "touching coils")


def free_length_reading(value_mm: float, u_mm: float = 0.2) -> Reading:
    """Return a reading of the free length.

    Parameters
    ----------
    value_mm, u_mm : float
        Reading and standard uncertainty [mm].
    """
    require_dimension("free_length_mm", value_mm)

    def predict(s: SpringDraws) -> Array:
        return s.free_length_mm

    slips = (
        Slip("taken with the spring pressed solid", column(lambda s: s.solid_length_mm)),
        inch_slip(predict, value_mm),
    )
    return scalar("free length", "mm", value_mm, u_mm, predict, slips)


def count_reading(turns: float, u: float = 0.1) -> Reading:
    """Return a count of all turns, from tip to tip of the wire.

    Parameters
    ----------
    turns, u : float
        Turns and standard uncertainty [-].
    """
    require_dimension("total_coils", turns)
    slips = (
        Slip("one turn missed", column(lambda s: s.total_coils - 1.0)),
        Slip("one turn counted twice", column(lambda s: s.total_coils + 1.0)),
        Slip("only the working turns counted", column(lambda s: s.active_coils)),
    )
    return scalar("count of turns", "turns", turns, u, lambda s: s.total_coils, slips)


def active_reading(turns: float, u: float = 0.2) -> Reading:
    """Return a count of the working turns only.

    Parameters
    ----------
    turns, u : float
        Turns and standard uncertainty [-].
    """
    require_dimension("total_coils", turns)
    slips = (
        Slip("all turns counted", column(lambda s: s.total_coils)),
        Slip("one turn missed", column(lambda s: s.active_coils - 1.0)),
    )
    return scalar("count of working turns", "turns", turns, u, lambda s: s.active_coils, slips)


def weight_reading(value_g: float, u_g: float = 0.05) -> Reading:
    """Return a weight.

    Parameters
    ----------
    value_g, u_g : float
        Reading and standard uncertainty: pocket scale 0.01 to 0.1, kitchen scale 1 [g].
    """

    def predict(s: SpringDraws) -> Array:
        return s.mass_g

    slips = (
        unit_slip("read in ounces", predict, 1.0 / GRAM_PER_OUNCE, value_g),
        *digit_slips(predict, value_g),
    )
    return scalar("weight", "g", value_g, u_g, predict, slips)


def coat_reading(value_mm: float, u_mm: float = 0.01) -> Reading:
    """Return the thickness of paint or plating on one side of the wire.

    Parameters
    ----------
    value_mm, u_mm : float
        Reading and standard uncertainty [mm].
    """
    require_not_negative(coat_thickness_mm=value_mm)
    require_readable("coat thickness", "mm", value_mm + u_mm, u_mm)
    both = Slip("both sides together", column(lambda s: 2.0 * s.coat_mm))
    return Reading(
        "coat thickness",
        "mm",
        np.array([value_mm], dtype=np.float64),
        np.array([[u_mm**2]]),
        column(lambda s: s.coat_mm),
        (both,),
        None,
        "coat thickness",
        TOOL_SHARED,
    )
