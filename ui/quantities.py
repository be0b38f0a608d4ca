"""Everything that is told about a spring, each with its standard uncertainty and 95 % band.

All of it comes from one crowd of equally likely springs, so what is computed from several
dimensions keeps the error that they share.
"""

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from mechanics.draws import SpringDraws
from mechanics.ends import solid_length
from mechanics.estimate import RateEstimate
from mechanics.geometry import SpringGeometry
from mechanics.rate import bergstraesser_factor, spring_index, wahl_factor
from mechanics.uncertainty import Quantity


def as_json(q: Quantity) -> dict[str, float | None]:
    """Return the four numbers by the contract's names, to six significant digits."""
    return {
        name: None if number is None else float(f"{number:.6g}")
        for name, number in q.as_dict().items()
    }


def scaled(q: Quantity, factor: float) -> Quantity:
    """Return the same quantity in another unit; `factor` is positive [-]."""
    return Quantity(q.value * factor, q.u * factor, q.low * factor, q.high * factor)


def dimensions(geometry: SpringGeometry, draws: SpringDraws) -> dict[str, Quantity]:
    """Return the dimensions by the contract's names [mm, -].

    Parameters
    ----------
    geometry : SpringGeometry
        The best values.
    draws : SpringDraws
        Equally likely springs around them.

    Raises
    ------
    ValueError
        If the ends leave no active coil.
    """
    d, D, total, length = (float(v) for v in geometry.values)
    wide = d if geometry.width is None else geometry.width.value_mm
    # Coils of a cone nest: there the draws know better than one number.
    cone = geometry.small_end_ratio < 1.0
    best = {
        "wire_diameter_mm": d,
        "wire_width_mm": wide,
        "wire_height_mm": d,
        "outer_diameter_mm": D + wide,
        "mean_diameter_mm": D,
        "inner_diameter_mm": D - wide,
        "pitch_mm": max(geometry.pitch_mm, d),
        "total_coils": total,
        "active_coils": geometry.active_coils,
        "free_length_mm": length,
        "solid_length_mm": None if cone else float(solid_length(d, total, geometry.ends)),
        "spring_index": spring_index(wide, D),
        "wahl_factor": wahl_factor(D / wide),
        "bergstraesser_factor": bergstraesser_factor(D / wide),
    }
    return {
        name: Quantity.from_draws(drawn, best.get(name)) for name, drawn in _drawn(draws).items()
    }


def posterior_dimensions(draws: SpringDraws) -> dict[str, Quantity]:
    """Return the same where no best values are known but the draws: their medians."""
    return {name: Quantity.from_draws(drawn) for name, drawn in _drawn(draws).items()}


def _drawn(draws: SpringDraws) -> dict[str, NDArray[np.float64]]:
    return {
        **_wire(draws),
        "outer_diameter_mm": draws.outside_diameter_mm,
        "mean_diameter_mm": draws.mean_diameter_mm,
        "inner_diameter_mm": draws.inside_diameter_mm,
        "pitch_mm": draws.pitch_mm,
        "total_coils": draws.total_coils,
        "active_coils": draws.active_coils,
        "free_length_mm": draws.free_length_mm,
        "solid_length_mm": draws.solid_length_mm,
        "spring_index": draws.spring_index,
        **_factors(draws),
    }


def _wire(draws: SpringDraws) -> dict[str, NDArray[np.float64]]:
    if draws.wire_width_mm is None:
        return {"wire_diameter_mm": draws.wire_diameter_mm}
    return {"wire_width_mm": draws.wire_width_mm, "wire_height_mm": draws.wire_diameter_mm}


def _factors(draws: SpringDraws) -> dict[str, NDArray[np.float64]]:
    if draws.wire_width_mm is not None:
        return {"stress_factor": draws.stress_factor}
    wahl = np.asarray(wahl_factor(draws.spring_index))
    return {"wahl_factor": wahl, "bergstraesser_factor": draws.stress_factor}


def proportions(geometry: SpringGeometry, draws: SpringDraws) -> dict[str, Quantity]:
    """Return what a photo tells without a scale, by the contract's names [-].

    Parameters
    ----------
    geometry : SpringGeometry
        The best values, in any one unit of length.
    draws : SpringDraws
        Equally likely springs around them.
    """
    d, D, total, length = (float(v) for v in geometry.values)
    wire = draws.wire_diameter_mm
    best_and_drawn = {
        "spring_index": (D / d, draws.spring_index),
        "total_coils": (total, draws.total_coils),
        "pitch_over_wire": (max(geometry.pitch_mm / d, 1.0), draws.pitch_mm / wire),
        "length_over_outside": (
            length / (D + d),
            draws.free_length_mm / draws.outside_diameter_mm,
        ),
    }
    return {
        name: Quantity.from_draws(np.asarray(drawn), float(best))
        for name, (best, drawn) in best_and_drawn.items()
    }


def rate_quantity(rate: RateEstimate) -> Quantity:
    """Return the rate in the common form [N/mm]."""
    return Quantity(rate.rate_N_per_mm, rate.u_N_per_mm, rate.low_N_per_mm, rate.high_N_per_mm)


def shear_modulus(draws: SpringDraws) -> Quantity:
    """Return the shear modulus of the draws' material [GPa]."""
    G = draws.shear_modulus_MPa / 1000.0
    return Quantity.from_draws(G, draws.material.shear_modulus_GPa)


def relabelled(
    quantities: Mapping[str, Quantity], names: Mapping[str, str], with_mm: bool = False
) -> list[tuple[str, Quantity]]:
    """Return the quantities that have a label, in the labels' order.

    Parameters
    ----------
    quantities, names : mapping
        By the contract's names: quantities, and their labels.
    with_mm : bool
        Whether to write the unit after the label of a length.
    """
    return [
        (f"{label}, mm" if with_mm and name.endswith("_mm") else label, quantities[name])
        for name, label in names.items()
        if name in quantities
    ]
