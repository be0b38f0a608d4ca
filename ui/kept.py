"""A kept spring of the collection as equally likely springs, to reckon with."""

from dataclasses import replace

import numpy as np

from mechanics.draws import SpringDraws, draw_spring
from mechanics.ends import Ends
from mechanics.geometry import SpringGeometry, Width
from mechanics.materials import find_material
from ui.answer import SEED
from ui.collection.record import Spring
from ui.collection.store import Collection, usual_url


def find_kept(name: str) -> Spring:
    """Return the kept spring of a name.

    Parameters
    ----------
    name : str
        As the owner called it; a part of it is enough where only one spring has it.

    Raises
    ------
    ValueError
        If no spring, or more than one, is called so.
    """
    collection = Collection(usual_url())
    try:
        kept = [one.spring for one in collection.find()]
    finally:
        collection.close()
    asked = name.strip().casefold()
    called = [one for one in kept if one.name.casefold() == asked]
    called = called or [one for one in kept if asked and asked in one.name.casefold()]
    if len(called) == 1:
        return called[0]
    if called:
        some = ", ".join(sorted(one.name for one in called)[:5])
        raise ValueError(f"kept={name!r} is the name of several springs: {some}; write all of it")
    raise ValueError(f"kept={name!r}: the collection holds no spring of that name")


def draws_of_kept(spring: Spring) -> SpringDraws:
    """Return equally likely springs with the dimensions and the rate that were kept.

    All evidence is in the kept rate, a bench among it, so it is drawn together with the
    dimensions, and the formula's own error makes up the difference.

    Parameters
    ----------
    spring : Spring
        From the collection.

    Raises
    ------
    ValueError
        If it is a torsion spring.
    """
    if spring.is_torsion:
        raise ValueError(f"{spring.name} is a torsion spring: it has an angular rate and no other")
    rng = np.random.default_rng(SEED)
    values, cov = np.array(spring.values), np.array(spring.covariance)
    ends = Ends(spring.ends)
    width = Width(spring.wire_width_mm, spring.u_wire_width_mm) if spring.is_flat else None
    geometry = SpringGeometry(values[:4], cov[:4, :4], ends, spring.small_end_ratio, width=width)
    draws = draw_spring(geometry, find_material(spring.material), rng)
    seen = np.column_stack(
        [
            draws.wire_diameter_mm,
            draws.mean_diameter_mm,
            draws.total_coils,
            draws.free_length_mm,
        ]
    )
    # The rate given the dimensions: a normal in the rate, whose spread is what they leave of it.
    slope = np.linalg.lstsq(cov[:4, :4], cov[:4, 4], rcond=None)[0]
    left = max(float(cov[4, 4] - slope @ cov[:4, 4]), 0.0) ** 0.5
    rate = values[4] + (seen - values[:4]) @ slope + left * rng.standard_normal(draws.size)
    rate = np.maximum(rate, 0.05 * values[4])
    return replace(draws, formula_factor=draws.formula_factor * rate / draws.rate_N_per_mm)


def apart(draws: SpringDraws) -> SpringDraws:
    """Return the same draws in another order: a second spring has its own errors of reading."""
    return draws.take(np.random.default_rng(SEED + 1).permutation(draws.size))
