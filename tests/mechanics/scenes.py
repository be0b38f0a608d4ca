"""Random springs with their truth, and readings of them with honest errors, for simulations."""

from dataclasses import replace

import numpy as np

from mechanics.bench import BenchFit
from mechanics.draws import draw_spring
from mechanics.ends import Ends
from mechanics.evidence import Case
from mechanics.geometry import SpringGeometry
from mechanics.materials import find_material
from mechanics.readings import (
    COAT_MM,
    Coat,
    coat_reading,
    count_reading,
    free_length_reading,
    inside_reading,
    outside_reading,
    touching_reading,
    weight_reading,
    wire_reading,
)
from mechanics.whole_readings import photo_reading, rate_reading

MATERIALS = ("music wire", "302 stainless", "phosphor bronze", "unknown steel")
ENDS = (Ends.CLOSED, Ends.CLOSED_GROUND, Ends.OPEN, Ends.UNKNOWN)


def random_spring(rng):
    """One true spring (draws of size 1), its case and nothing read yet."""
    d = np.exp(rng.uniform(np.log(0.4), np.log(3.0)))
    D, n = d * rng.uniform(4.5, 14.0), rng.uniform(2.5, 15.0)
    ends = ENDS[rng.integers(len(ENDS))]
    n_t = n + {Ends.OPEN: 0, Ends.UNKNOWN: 1}.get(ends, 2)
    length = d * (n_t + 1) * rng.uniform(1.5, 4.0)
    coat = tuple(Coat)[rng.integers(2)]
    case = Case(find_material(MATERIALS[rng.integers(len(MATERIALS))]), ends, coat)
    geometry = SpringGeometry(np.array([d, D, n_t, length]), np.zeros((4, 4)), ends)
    truth = draw_spring(geometry, case.material, rng, 40).take(np.array([0]))
    coat_mm = max(COAT_MM[coat][0] + COAT_MM[coat][1] * rng.standard_normal(), 0.0)
    truth.coat_mm[:] = coat_mm
    return truth, case


def off(reading_of, true, u, rng, *more):
    """A reading of a true value with a normal error of its stated u."""
    return reading_of(max(true + u * rng.standard_normal(), 1e-3), *more, u)


def again(reading_of, true, u, rng):
    """One to four readings by one tool, half of whose variance they have in common."""
    tool = 0.5**0.5 * u * rng.standard_normal()
    own = 0.5**0.5 * u * rng.standard_normal(rng.choice([1, 1, 2, 4]))
    return [reading_of(max(true + tool + one, 1e-3), u) for one in own]


def random_readings(truth, rng):
    """A sound set of evidence: wire, a diameter and turns always, the rest by chance."""
    d, D, n_t, L0 = (
        float(a[0])
        for a in (
            truth.wire_diameter_mm,
            truth.mean_diameter_mm,
            truth.total_coils,
            truth.free_length_mm,
        )
    )
    over = d + 2 * float(truth.coat_mm[0])
    across = [(outside_reading, D + over, 0.05), (inside_reading, D - over, 0.06)]
    basic = [
        *again(wire_reading, over, 0.02 if rng.random() < 0.5 else 0.005, rng),
        *again(*across[rng.random() > 0.6], rng),
        *again(count_reading, n_t, 0.1, rng),
        off(free_length_reading, L0, 0.2, rng),
    ]
    if rng.random() < 0.3:
        scale = 0.005 * np.array([over, D, 0.0, L0])
        own = np.array([0.012 * over, 0.003 * D, 0.06, 0.003 * L0])
        cov = np.outer(scale, scale) + np.diag(own**2)
        seen = rng.multivariate_normal([over, D, n_t, L0], cov)
        basic = [photo_reading(SpringGeometry(seen, cov, truth.ends))]
    return basic, more_readings(truth, rng, over)


def more_readings(truth, rng, over):
    rate, mass = float(truth.rate_N_per_mm[0]), float(truth.mass_g[0])
    u_rate = 0.025 * rate
    extra = []
    if rng.random() < 0.4:
        extra.append(off(weight_reading, mass, max(0.01 * mass, 0.01), rng))
    if rng.random() < 0.3:
        seen = rate + u_rate * rng.standard_normal()
        extra.append(rate_reading(BenchFit(seen, u_rate, 0.0, (0, 1), (), ())))
    if rng.random() < 0.3:
        seen = 6 * over + 0.05 * rng.standard_normal()
        extra.append(touching_reading(seen, 6, 0.05))
    if rng.random() < 0.2:
        seen = max(float(truth.coat_mm[0]) + 0.005 * rng.standard_normal(), 0.0)
        extra.append(coat_reading(seen, 0.005))
    return extra


def all_readings(truth, rng):
    """Everything a person with a phone, caliper, pocket scale and press can read."""
    d, D, n_t, L0 = (
        float(a[0])
        for a in (
            truth.wire_diameter_mm,
            truth.mean_diameter_mm,
            truth.total_coils,
            truth.free_length_mm,
        )
    )
    over, mass, rate = d + 2 * truth.coat_mm[0], truth.mass_g[0], truth.rate_N_per_mm[0]
    scale = 0.005 * np.array([over, D, 0.0, L0])
    own = np.array([0.012 * over, 0.003 * D, 0.06, 0.003 * L0])
    cov = np.outer(scale, scale) + np.diag(own**2)
    seen = rng.multivariate_normal([over, D, n_t, L0], cov)
    benched = rate * (1 + 0.025 * rng.standard_normal())
    return [
        photo_reading(SpringGeometry(seen, cov, truth.ends)),
        off(wire_reading, over, 0.02, rng),
        off(outside_reading, D + over, 0.05, rng),
        off(count_reading, n_t, 0.1, rng),
        off(free_length_reading, L0, 0.2, rng),
        off(weight_reading, mass, max(0.01 * mass, 0.01), rng),
        rate_reading(BenchFit(benched, 0.025 * rate, 0.0, (0, 1), (), ())),
    ]


def slipped(readings, truth, rng):
    """The readings with one of them slipped in one of its usual ways; which, and how."""
    k = rng.integers(len(readings))
    usual = [slip for slip in readings[k].slips if slip.mends or slip.u_factor == 1.0]
    slip = usual[rng.integers(len(usual))]
    vague = slip.extra_cov is not None and slip.u_factor == 1.0
    cov = readings[k].covariance * slip.u_factor**2 + (slip.extra_cov if vague else 0.0)
    noise = np.linalg.cholesky(cov) @ rng.standard_normal(len(cov))
    read = replace(readings[k], values=slip.predict(truth)[0] + noise)
    return [*readings[:k], read, *readings[k + 1 :]], read.name, slip.name
