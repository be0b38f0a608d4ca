"""Springs of rectangular wire through limits, changes and evidence: against the bar's own formulas.

What the bar does is checked in `tests/validation/test_torsion_and_rectangular.py`.
"""

from dataclasses import replace

import numpy as np
import pytest

from mechanics.conflicts import reconcile
from mechanics.draws import draw_spring
from mechanics.ends import Ends
from mechanics.estimate import estimate_rate
from mechanics.evidence import Case, case_of
from mechanics.geometry import SpringGeometry, Width
from mechanics.install import between_seats, nested
from mechanics.limits import RECTANGULAR, find_limits, load_at
from mechanics.load import Seating
from mechanics.materials import find_material
from mechanics.next_reading import rank_readings
from mechanics.not_round import asks_if_flat
from mechanics.readings import (
    count_reading,
    free_length_reading,
    outside_reading,
    small_end_reading,
    weight_reading,
    width_reading,
    wire_reading,
)
from mechanics.rectangular import curved, pitch_terms, rectangular_rate, torsion_modulus
from mechanics.slips import Reading
from mechanics.stretch import stretch
from mechanics.whatif import cut
from mechanics.whole_readings import photo_reading

STEEL = find_material("chrome-vanadium")
#: Along, mean, turns, free length; across.
DIE, ACROSS = (2.0, 16.0, 9.0, 40.0), 3.0


def rng():
    return np.random.default_rng(5)


def geometry(values=DIE, across=ACROSS, u=1e-3, ends=Ends.CLOSED_GROUND):
    values = np.array(values)
    width = Width(across, u * across)
    return SpringGeometry(values, np.diag((u * values) ** 2), ends, width=width)


def draws(*args, size=4000, **more):
    return draw_spring(geometry(*args, **more), STEEL, np.random.default_rng(0), size)


def test_the_rate_is_the_bar_s():
    found = estimate_rate(geometry(), STEEL, rng())
    level = rectangular_rate(ACROSS, 2.0, 16.0, 7.0, 1000.0 * STEEL.shear_modulus_GPa)
    angle = np.degrees(np.arctan(geometry().pitch_mm / (np.pi * 16.0)))
    expected = level / np.mean(pitch_terms(ACROSS, 2.0, angle))
    assert found.rate_N_per_mm == pytest.approx(expected, rel=1e-6)
    assert np.median(draws().rate_N_per_mm) == pytest.approx(expected, rel=0.01)


def test_wide_wire_has_a_band_for_how_its_ends_are_held():
    """Three across one along at 8 degrees: 5 % either way, as the beams show."""
    pitch = np.pi * 16.0 * np.tan(np.radians(8.0))
    steep = geometry((1.0, 16.0, 9.0, 7.0 * pitch + 2.0), 3.0)
    parts = {part.cause: part.u_relative for part in estimate_rate(steep, STEEL, rng()).budget}
    assert parts["formula"] == pytest.approx(np.hypot(0.03, 0.05 / 3**0.5), rel=0.05)


def test_limits_are_the_bar_s():
    """tau = K F (D/2) / W; mass = sides x wire; solid = side along x turns, ends ground."""
    found = find_limits(draws(), rng()).quantities
    force = found["force_at_solid_N"].value
    assert force == pytest.approx(found["rate_N_per_mm"].value * (40.0 - 18.0), rel=0.01)
    factor = curved(ACROSS, 2.0, 16.0)[1]
    stress = factor * force * 8.0 / torsion_modulus(ACROSS, 2.0)
    assert found["stress_at_solid_MPa"].value == pytest.approx(stress, rel=0.01)
    assert found["solid_length_mm"].value == pytest.approx(18.0, abs=0.05)
    wire = np.hypot(np.pi * 16.0 * 8.4, 38.0)  # two ground ends take 0.6 turn away
    assert found["mass_g"].value == pytest.approx(7.85e-3 * 6.0 * wire, rel=0.01)
    working = 7.85e-3 * 6.0 * np.pi * 16.0 * 7.0
    surging = 0.5 * np.sqrt(1e6 * found["rate_N_per_mm"].value / working)
    assert found["natural_frequency_Hz"].value == pytest.approx(surging, rel=0.01)
    at = load_at(draws(), 5.0, rng())
    assert at["stress_MPa"].value == pytest.approx(stress * at["force_N"].value / force, rel=0.01)


def test_what_is_not_known_of_flat_wire_is_said_and_not_told():
    found = find_limits(draws(), rng())
    assert RECTANGULAR in found.cautions
    missing = {"clearance_mm", "outside_growth_mm", "wahl_factor", "bergstraesser_factor"}
    assert not missing & set(found.quantities)


def test_a_long_one_buckles_and_sooner_when_hinged():
    slim = draws((2.0, 16.0, 30.0, 160.0))
    flat, hinged = (
        find_limits(slim, rng(), seat).quantities["buckling_deflection_mm"].value
        for seat in (Seating.FLAT, Seating.HINGED)
    )
    assert hinged < flat < 100.0


def test_changes_keep_the_section():
    change = cut(draws(), 2.0, rng())
    assert change.ratio.value == pytest.approx(7.0 / 6.0, rel=0.01)
    assert np.median(change.spring.wire_width_mm) == pytest.approx(ACROSS, rel=1e-3)
    assert stretch(draws(), 4.0, rng()).ratio.value == pytest.approx(1.0, abs=0.01)
    placed = between_seats(draws(), (38.0, 30.0), rng()).quantities
    rate = float(np.median(draws().rate_N_per_mm))
    assert placed["force_N"].value == pytest.approx(10.0 * rate, rel=0.01)


def test_nested_it_clears_by_its_side_across():
    """Inside 13: one of 12.5 outside goes in, one of 13.5 does not."""
    fits, not_ = (draws((1.0, outside - 1.5, 15.0, 40.0), 1.5) for outside in (12.5, 13.5))
    assert "hands" in nested(draws(), fits).cautions[0]
    assert "do not fit" in nested(draws(), not_).cautions[0]


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda: replace(geometry(), small_end_ratio=0.6), "cones"),
        (lambda: geometry(ends=Ends.HOOKS), "extension"),
        (lambda: geometry(across=0.0), "wire_width_mm"),
        (lambda: geometry(across=float("nan")), "wire_width_mm"),
        (lambda: geometry(across=16.5), "wire_width_mm"),
        (lambda: geometry(across=25.4 * 3.0), "wire_width_mm"),
        (lambda: Width(3.0, -0.1), "u_wire_width_mm"),
        (lambda: width_reading(-3.0), "wire_width_mm"),
        (lambda: case_of([*read(), small_end_reading(9.0)], STEEL, Ends.CLOSED), "round wire"),
    ],
)
def test_what_is_wrong_is_named(make, said):
    with pytest.raises(ValueError, match=said):
        make()


def read(across=ACROSS, along=2.0):
    return [
        wire_reading(along),
        width_reading(across),
        outside_reading(19.0),
        count_reading(9.0),
        free_length_reading(40.0),
    ]


def together(readings):
    case = case_of(readings, STEEL, Ends.CLOSED_GROUND)
    return reconcile(readings, case, np.random.default_rng(0), 4000)


def test_readings_alone_give_the_band_of_the_estimate():
    found = together(read()).mixture.rate_N_per_mm
    values = np.array(DIE)
    cov = np.diag([0.02, np.hypot(0.05, 0.02), 0.1, 0.2]) ** 2
    width = Width(ACROSS, 0.02, -(0.02**2))
    stated = SpringGeometry(values, cov, Ends.CLOSED_GROUND, width=width)
    band = estimate_rate(stated, STEEL, rng())
    assert found.value == pytest.approx(band.rate_N_per_mm, rel=0.01)
    assert found.u == pytest.approx(band.u_N_per_mm, rel=0.06)


def test_sides_taken_for_each_other_are_named():
    swapped = [*read(), width_reading(3.01), width_reading(2.0, 0.004, "across, micrometer")]
    found = together(swapped)
    assert [(c.reading, c.slip) for c in found.conflicts] == [
        ("across, micrometer", "the side along the axis")
    ]


def test_a_reading_across_asks_whether_the_wire_is_flat():
    """Photo 2.0, caliper 3.0; once both sides are stated, nothing contradicts any more."""
    seen = np.array([2.0, 17.0, 9.0, 40.0])
    cov = np.diag([0.024, 0.05, 0.06, 0.12]) ** 2
    photo: Reading = photo_reading(SpringGeometry(seen, cov, Ends.CLOSED_GROUND))
    round_ = [photo, wire_reading(ACROSS)]
    case = Case(STEEL, Ends.CLOSED_GROUND)
    assert asks_if_flat(reconcile(round_, case, rng(), 1000).conflicts, case)
    for stated in (Case(STEEL, Ends.HOOKS), replace(case, rectangular=True)):
        assert not asks_if_flat(reconcile(round_, case, rng(), 1000).conflicts, stated)
    flat = [photo, width_reading(ACROSS)]
    assert not together(flat).conflicts
    sound = [photo, wire_reading(2.01)]
    assert not asks_if_flat(reconcile(sound, case, rng(), 1000).conflicts, case)


def test_what_to_measure_next_names_both_sides():
    names = [one.name for one in rank_readings(draws(u=0.01))]
    assert "Micrometer across the axis" in names
    assert "Micrometer along the axis" in names
    assert not any("on the wire" in name for name in names)


def test_coverage_over_random_flat_springs():
    """Truth inside the 95 % band in 90 to 98 %, two standard deviations of the count wider."""
    steel, chance, inside, count = STEEL, np.random.default_rng(3), 0, 60
    for _ in range(count):
        along, across = chance.uniform(0.8, 3.0, 2)
        D, n_t = across * chance.uniform(4.0, 9.0), chance.uniform(6.0, 14.0)
        values = np.array([along, D, n_t, along * n_t * chance.uniform(1.6, 3.0)])
        exact = SpringGeometry(values, np.zeros((4, 4)), Ends.CLOSED_GROUND, width=Width(across))
        truth = draw_spring(exact, steel, chance, 40).take(np.array([0]))
        off = chance.standard_normal(6) * [0.02, 0.02, 0.05, 0.1, 0.2, 0.2]
        readings = [
            wire_reading(along + off[0]),
            width_reading(across + off[1]),
            outside_reading(D + across + off[2]),
            count_reading(n_t + off[3]),
            free_length_reading(values[3] + off[4]),
            weight_reading(float(truth.mass_g[0]) + off[5], 0.2),
        ]
        case = case_of(readings, steel, Ends.CLOSED_GROUND)
        band = reconcile(readings, case, chance, 1000).mixture.rate_N_per_mm
        inside += bool(band.low <= truth.rate_N_per_mm[0] <= band.high)
    slack = 2 * (0.95 * 0.05 / count) ** 0.5
    assert 0.90 - slack <= inside / count <= 0.98 + slack
