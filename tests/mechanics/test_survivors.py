"""What changed lines showed to be untested: each test here fails for a change that none noticed.

`make mutants` makes such changes; docs/trust.md tells how many are noticed.
"""

import inspect
import math

import numpy as np
import pytest
from scipy.integrate import quad

from mechanics import load, rate
from mechanics.draws import draw_spring
from mechanics.ends import Ends
from mechanics.estimate import rate_budget
from mechanics.extension import describe_extension, draw_initial_tension, initial_stress_MPa, pulled
from mechanics.geometry import SpringGeometry
from mechanics.inference import find_peak
from mechanics.install import in_line
from mechanics.limits import find_limits
from mechanics.load import Seating, shear_stress
from mechanics.materials import MATERIALS, find_material
from mechanics.next_reading import rank_readings
from mechanics.readings import (
    active_reading,
    count_reading,
    inside_reading,
    mean_reading,
    outside_reading,
    small_end_reading,
    touching_reading,
    weight_reading,
    wire_reading,
)
from mechanics.section import Round
from mechanics.stretch import stretch
from mechanics.tensile import SHARES, tensile_strength
from mechanics.uncertainty import Quantity
from mechanics.whatif import describe

MPA_PER_KPSI = 6.894757
#: Sensible arguments of every formula, by the symbol that the standard gives them.
GIVEN = {
    **{"F": 10.0, "d": 1.0, "D": 10.0, "n": 8.0, "G": 79.3e3, "E": 207e3, "C": 10.0, "p": 3.0},
    **{"factor": 1.1, "tau": 500.0, "L0": 80.0, "turns": 10.0, "rise": 30.0, "length": 300.0},
    **{"density": 7.85, "rate": 2.0, "deflection": 5.0, "preload": 1.0, "mass_g": 3.0},
}
#: Those of them that may be nought.
MAY_BE_NOUGHT = {"F", "deflection", "preload"}


def arguments_of(function):
    """The arguments of a formula that are numbers of the table above, and all that it needs."""
    needed = {}
    for name, one in inspect.signature(function).parameters.items():
        if name in GIVEN:
            needed[name] = GIVEN[name]
        elif name == "seating":
            needed[name] = Seating.FLAT
        elif one.default is one.empty:
            return None
    return needed


FORMULAS = [
    function
    for module in (load, rate)
    for name, function in inspect.getmembers(module, inspect.isfunction)
    if function.__module__ == module.__name__
    and "mutmut" not in name
    and arguments_of(function)
    # These two are given the index of a spring that was looked at before, and look no more.
    and name not in ("wahl_factor", "bergstraesser_factor")
]


def test_all_formulas_are_among_those_tried():
    assert {"shear_stress", "outside_growth", "stored_energy_mJ", "spring_rate"} <= {
        function.__name__ for function in FORMULAS
    }


@pytest.mark.parametrize("function", FORMULAS, ids=lambda function: function.__name__)
def test_no_formula_takes_a_size_that_nothing_has(function):
    needed = arguments_of(function)
    assert np.all(np.isfinite(function(**needed)))
    for name in needed.keys() - {"seating", "rise", "alpha_deg"}:
        for bad in (-1.0, math.nan, *((0.0,) if name not in MAY_BE_NOUGHT else ())):
            with pytest.raises(ValueError, match=r"must"):
                function(**{**needed, name: bad})


def one_spring(material="music wire", ends=Ends.CLOSED, values=(1.0, 10.0, 10.0, 40.0), ratio=1.0):
    """Draws of a spring that is known but for its metal and its ends."""
    geometry = SpringGeometry(np.array(values), np.zeros((4, 4)), ends, ratio)
    return draw_spring(geometry, find_material(material), np.random.default_rng(4), 4000)


def test_energy_is_the_area_below_the_line():
    area, _ = quad(lambda s: 1.5 + 2.5 * s, 0.0, 7.0)
    assert load.stored_energy_mJ(2.5, 7.0, 1.5) == pytest.approx(area)


def test_the_outside_grows_by_what_the_pitch_leaves_and_whatever_the_unit():
    # The formula by hand (EN 13906-1, from memory): 0.1 (16 - 3.2 - 0.2) / 10.
    assert load.outside_growth(1.0, 10.0, 4.0) == pytest.approx(0.126)
    assert load.outside_growth(1.0, 10.0, 1.0) == 0.0  # coils that touch cannot be pressed
    assert load.outside_growth(25.4, 254.0, 101.6) == pytest.approx(25.4 * 0.126)
    # 0.0015 D^2/d + 0.1 d, eight times.
    assert load.clearance_needed(1.0, 10.0, 8.0) == pytest.approx(8 * 0.25)


@pytest.mark.parametrize("seating", Seating)
def test_the_longest_stable_spring_is_where_buckling_begins(seating):
    stable = load.stable_free_length(10.0, seating)
    assert load.buckling_deflection(0.999 * stable, 10.0, seating) == math.inf
    assert load.buckling_deflection(1.001 * stable, 10.0, seating) < stable


@pytest.mark.parametrize("C", [4.0, 8.0, 12.0, 16.0])
def test_initial_tension_is_the_source_s_in_its_own_units(C):
    # Shigley 10e, eq. 10-41 (from memory): 33 500 / exp(0.105 C) +- 1000 (4 - (C - 3)/6.5) psi.
    middle, half = initial_stress_MPa(C)
    assert middle == pytest.approx(MPA_PER_KPSI * 33.5 / math.exp(0.105 * C), rel=0.003)
    assert half == pytest.approx(MPA_PER_KPSI * (4.0 - (C - 3.0) / 6.5), rel=0.003)


def test_drawn_tensions_fill_the_usual_range_and_nothing_else():
    draws = one_spring(ends=Ends.HOOKS, values=(1.0, 8.0, 15.0, 31.0))
    tension = draw_initial_tension(draws, np.random.default_rng(1))
    stress = shear_stress(tension, draws.wire_diameter_mm, draws.mean_diameter_mm, 1.0)
    middle, half = initial_stress_MPa(8.0)
    assert stress.min() == pytest.approx(middle - half, rel=0.01)
    assert stress.max() == pytest.approx(middle + half, rel=0.01)
    assert np.median(stress) == pytest.approx(middle, rel=0.02)


def test_a_pulled_spring_stores_the_work_of_its_force_and_may_go_as_far_as_its_limit():
    draws = one_spring(ends=Ends.HOOKS, values=(1.0, 8.0, 15.0, 31.0))
    told = pulled(draws, 12.0, np.random.default_rng(1))
    at_rest = pulled(draws, 0.0, np.random.default_rng(1))["force_N"].value
    work, _ = quad(lambda s: at_rest + (told["force_N"].value - at_rest) / 12.0 * s, 0.0, 12.0)
    assert told["energy_mJ"].value == pytest.approx(work, rel=0.01)
    found = describe_extension(draws, np.random.default_rng(1))
    middle = found.allowable_force_N.value - found.initial_tension_N.value
    reach = middle / found.rate_N_per_mm.value
    assert found.allowable_extension_mm.value == pytest.approx(reach, rel=0.03)


def test_an_extension_spring_whose_tension_is_past_its_limit_goes_nowhere():
    # Soft brass of a small index: its initial tension is more than its hooks may bear.
    draws = one_spring("phosphor bronze", Ends.HOOKS, (6.0, 24.5, 8.0, 120.0))
    weak = describe_extension(draws, np.random.default_rng(1))
    assert weak.allowable_extension_mm.low >= 0.0
    parted = weak.allowable_force_N.value < weak.initial_tension_N.value
    assert (weak.allowable_extension_mm.value == 0.0) == parted


@pytest.mark.parametrize("C", [4.0, 8.0, 15.0])
def test_the_formula_is_doubted_by_a_quarter_of_its_curvature_term(C):
    term = 1.0 / float(rate.softness(C, 0.0)) - 1.0
    wire, zero = Round(np.array([1.0])), np.zeros(1)
    assert float(wire.formula_u(np.array([C]), zero)[0]) == pytest.approx(0.25 * abs(term), rel=0.1)


def test_the_budget_names_every_cause():
    geometry = SpringGeometry(
        np.array([1.0, 10.0, 10.0, 40.0]), np.diag([0.01, 0.05, 0.1, 0.2]) ** 2, Ends.CLOSED, 0.6
    )
    assert {part.cause for part in rate_budget(geometry, find_material("music wire"))} == {
        *("wire diameter", "coil diameter", "turns counted", "shared by dimensions"),
        *("end coils", "few coils", "material", "formula", "taper"),
    }


def test_a_linear_case_s_peak_is_the_textbook_s():
    # One reading of 3 z that says 2, with a unit prior on z: z = 3 * 2 / (1 + 9), by hand.
    peak = find_peak(lambda z: 3.0 * z - 2.0, np.array([1]))
    assert peak.z == pytest.approx([0.6])
    assert peak.chi2 == pytest.approx(0.2**2 + 0.6**2)
    assert peak.converged


def test_an_unknown_material_is_answered_with_those_there_are():
    with pytest.raises(ValueError, match=r"no material is called 'milk'; choose one of: ") as told:
        find_material("milk")
    said = str(told.value).split(": ", 1)[1]
    assert said.split(", ") == [one.name for one in MATERIALS]


def test_what_ranks_readings_starts_from_the_band_as_it_is():
    draws = one_spring("unknown steel")
    low, middle, high = np.quantile(draws.rate_N_per_mm, [0.025, 0.5, 0.975])
    ranked = {one.name: one for one in rank_readings(draws)}
    for one in ranked.values():
        assert one.now == pytest.approx((high - low) / (2.0 * middle))
        assert 0.0 < one.after <= one.now * 1.000001
    # A magnet parts carbon steel from most stainless, and tells nothing within a family.
    assert 0.2 * ranked["Hold a magnet to it"].now < ranked["Hold a magnet to it"].after
    assert "Hold a magnet to it" not in {one.name for one in rank_readings(one_spring())}


def test_another_photo_tells_a_coil_that_was_poorly_known():
    covariance = np.diag([0.0, 0.5, 0.0, 0.0]) ** 2
    geometry = SpringGeometry(np.array([1.0, 10.0, 10.0, 40.0]), covariance, Ends.CLOSED_GROUND)
    draws = draw_spring(geometry, find_material("music wire"), np.random.default_rng(4), 4000)
    ranked = {one.name: one for one in rank_readings(draws)}
    # 15 % of the rate from 5 % of the coil; a photo's 0.6 % leaves some 2 %, and the metal's.
    assert ranked["Another photo"].after < 0.45 * ranked["Another photo"].now


#: A closed spring: wire 1, mean diameter 10, ten turns of which eight work, cone of half. What is
#: read of it, and what other things would read. Made within the test: a reading made as this file
#: is loaded would be one of before the change.
WRONG = [
    (wire_reading, (1.0,), {"taken over paint or plating": 1.1}),
    (outside_reading, (11.0,), {"the inside diameter": 9.0, "the mean diameter": 10.0}),
    (inside_reading, (9.0,), {"the outside diameter": 11.0}),
    (mean_reading, (10.0,), {"the outside diameter": 11.0, "the inside diameter": 9.0}),
    (small_end_reading, (6.0,), {"the inside diameter": 4.0, "the large end": 11.0}),
    (
        touching_reading,
        (6.0, 6),
        {"one coil fewer than counted": 5.0, "one coil more than counted": 7.0},
    ),
    (count_reading, (10.0,), {"one turn missed": 9.0, "one turn counted twice": 11.0}),
    (active_reading, (8.0,), {"all turns counted": 10.0}),
]


@pytest.mark.parametrize(
    ("read", "values", "slips"), WRONG, ids=lambda one: getattr(one, "__name__", "")
)
def test_a_slip_reads_what_it_says(read, values, slips):
    draws, reading = one_spring(values=(1.0, 10.0, 10.0, 40.0), ratio=0.5), read(*values)
    told = {slip.name: float(np.median(slip.predict(draws)[:, 0])) for slip in reading.slips}
    assert slips == pytest.approx({name: told[name] for name in slips}, abs=0.02)
    value = float(reading.values[0])
    assert float(np.median(reading.predict(draws)[:, 0])) == pytest.approx(value, rel=0.01)
    # What was read, in inches or with a digit too few or too many, is a number of that kind.
    for name, seen in told.items():
        if name == "read in inches":
            assert seen == pytest.approx(value / 25.4, rel=0.01)


def test_a_turn_missed_among_the_working_ones_is_one_fewer_than_work():
    draws = one_spring()
    (missed,) = (s for s in active_reading(8.0).slips if s.name == "one turn missed")
    assert np.allclose(missed.predict(draws)[:, 0], draws.active_coils - 1.0)


def test_a_pocket_scale_is_the_usual_one():
    assert weight_reading(3.0).covariance[0, 0] == pytest.approx(0.05**2)


@pytest.mark.parametrize("family", sorted(SHARES))
def test_strength_is_a_narrow_range_with_its_source(family):
    for d in (0.5, 1.0, 2.0, 4.0):
        strength = tensile_strength(family, d)
        assert strength.low_MPa < strength.high_MPa < 1.6 * strength.low_MPa
        assert strength.source


def test_a_quantity_as_json_names_its_parts():
    told = Quantity(1.0, 0.1, 0.8, 1.2).as_dict()
    assert (told["value"], told["u"], told["low"], told["high"]) == (1.0, 0.1, 0.8, 1.2)


def test_a_geometry_s_covariance_has_its_shape_and_is_symmetric():
    values, uneven = np.array([1.0, 10.0, 10.0, 40.0]), np.diag([1.0, 1.0, 1.0, 1.0]) * 1e-4
    uneven[0, 1] = 5e-5
    with pytest.raises(ValueError, match="symmetric"):
        SpringGeometry(values, uneven)
    with pytest.raises(ValueError, match="four values"):
        SpringGeometry(values, np.zeros((3, 3)))
    with pytest.raises(ValueError, match="four values"):
        SpringGeometry(values[:3], np.zeros((4, 4)))
    assert SpringGeometry(values, np.zeros((4, 4)), small_end_ratio=0.05).small_end_ratio == 0.05


def test_limits_are_told_under_their_names_with_the_energy_in_joules():
    # A suspension spring: wire 10, mean diameter 100, six working turns (any sizes will do).
    found = find_limits(one_spring(values=(10.0, 100.0, 8.0, 300.0)), np.random.default_rng(2))
    told = found.quantities
    C = told["spring_index"].value
    # Wahl's factor from its definition, (4C - 1)/(4C - 4) + 0.615/C.
    assert told["wahl_factor"].value == pytest.approx(
        (4 * C - 1) / (4 * C - 4) + 0.615 / C, rel=1e-6
    )
    solid = shear_stress(told["force_at_solid_N"].value, 10.0, 100.0, 1.0)
    assert told["stress_at_solid_MPa"].value == pytest.approx(
        solid * told["bergstraesser_factor"].value, rel=0.05
    )
    joules = told["energy_to_solid_mJ"].high / 1000.0
    assert any(f"stores up to {joules:.2g} J" in caution for caution in found.cautions)


def test_a_change_is_told_by_rate_turns_lengths_and_force():
    draws = one_spring()
    told = describe(draws, np.random.default_rng(2))
    assert told["rate_N_per_mm"].value == pytest.approx(float(np.median(draws.rate_N_per_mm)), 0.01)
    travel = told["free_length_mm"].value - told["solid_length_mm"].value
    assert told["travel_to_solid_mm"].value == pytest.approx(travel, rel=0.02)
    force = travel * told["rate_N_per_mm"].value
    assert told["force_at_solid_N"].value == pytest.approx(force, rel=0.03)


@pytest.mark.parametrize(
    ("values", "sets"),
    [
        ((2.0, 10.0, 10.0, 60.0), True),  # stiff, and far to go: past 2000 MPa when solid
        ((2.0, 20.0, 10.0, 40.0), False),  # rate as high as that of music wire, little to go
        ((0.5, 10.0, 10.0, 120.0), True),  # soft, yet its coils are steep
        ((0.3, 10.0, 10.0, 14.0), False),
    ],
)
def test_a_stretched_spring_is_warned_of_where_pressing_it_solid_overloads_it(values, sets):
    draws = one_spring(values=values)
    stress = shear_stress(
        float(np.median(draws.rate_N_per_mm)) * (values[3] + 2.0 - 1.0 * values[0] * 11.0),
        values[0],
        values[1],
        1.0,
    )
    assert (stress > 1500.0) == sets  # above, and well below, what such wire bears
    change = stretch(draws, 2.0, np.random.default_rng(2))
    assert any("take a set again" in caution for caution in change.cautions) == sets


def test_two_springs_in_line_are_told_to_be_guided():
    draws = one_spring()
    pair = in_line(draws, draws, np.random.default_rng(2))
    assert any("guide ring" in caution for caution in pair.cautions)
