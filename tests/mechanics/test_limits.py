"""Limits of a drawn spring agree with the formulas at its middle and with each other."""

import numpy as np
import pytest

from mechanics.draws import draw_spring
from mechanics.ends import Ends
from mechanics.extension import (
    describe_extension,
    hook_bending_stress,
    hook_torsion_stress,
    initial_stress_MPa,
    pulled,
)
from mechanics.geometry import SpringGeometry
from mechanics.limits import find_limits, load_at
from mechanics.load import Seating, force_at_stress, shear_stress, stored_energy_mJ
from mechanics.materials import find_material
from mechanics.rate import bergstraesser_factor
from mechanics.tensile import allowable_shear_MPa


def limits(values, ends=Ends.CLOSED_GROUND, ratio=1.0, material="music wire", **options):
    values = np.array(values)
    geometry = SpringGeometry(values, np.diag((1e-3 * values) ** 2), ends, ratio)
    rng = np.random.default_rng(2)
    return find_limits(draw_spring(geometry, find_material(material), rng, 4000), rng, **options)


def test_allowable_force_is_the_formula_at_the_middle():
    told = limits([1.2, 12.0, 9.0, 60.0]).quantities
    force = force_at_stress(
        allowable_shear_MPa("music wire", 1.2), 1.2, 12.0, bergstraesser_factor(10)
    )
    assert told["allowable_force_N"].value == pytest.approx(force, rel=2e-3)
    assert told["solid_length_mm"].value == pytest.approx(10.8, rel=0.01)


def test_a_long_thin_spring_buckles_and_may_set():
    out = limits([1.0, 10.0, 14.0, 120.0])
    assert out.chance_buckles_before_solid == 1.0
    assert out.chance_sets_before_solid > 0.99
    assert any("guide it" in line for line in out.cautions)
    assert any("set" in line for line in out.cautions)
    held = limits([1.0, 10.0, 14.0, 120.0], seating=Seating.HINGED)
    buckling = "buckling_deflection_mm"
    assert held.quantities[buckling].value < out.quantities[buckling].value


def test_a_stubby_spring_does_neither():
    out = limits([1.5, 10.0, 7.0, 17.0])
    assert out.chance_buckles_before_solid == out.chance_sets_before_solid == 0.0
    assert out.quantities["set_deflection_mm"].as_dict()["value"] is None


def test_a_cone_is_limited_by_its_coils():
    cylinder = limits([1.2, 14.0, 9.0, 38.0]).quantities
    cone = limits([1.2, 14.0, 9.0, 38.0], ratio=0.5).quantities
    assert cone["force_at_solid_N"].value > 3 * cylinder["force_at_solid_N"].value
    assert cone["solid_length_mm"].value < cylinder["solid_length_mm"].value
    assert cone["allowable_deflection_mm"].value < cone["travel_to_solid_mm"].value


def drawn(values, ends=Ends.CLOSED_GROUND, ratio=1.0, material="music wire"):
    values = np.array(values)
    geometry = SpringGeometry(values, np.diag((1e-6 * values) ** 2), ends, ratio)
    rng = np.random.default_rng(2)
    return draw_spring(geometry, find_material(material), rng, 2000), rng


def test_load_at_a_deflection_is_the_rate_times_it():
    draws, rng = drawn([1.2, 12.0, 9.0, 60.0])
    told = load_at(draws, 10.0, rng)
    rate = float(np.median(draws.rate_N_per_mm))
    assert told["force_N"].value == pytest.approx(10 * rate, rel=5e-3)
    assert told["energy_mJ"].value == pytest.approx(50 * rate, rel=5e-3)
    stress = shear_stress(10 * rate, 1.2, 12.0, bergstraesser_factor(10))
    assert told["stress_MPa"].value == pytest.approx(stress, rel=5e-3)
    assert told["length_mm"].value == pytest.approx(50.0, rel=1e-3)


def test_a_cone_bears_more_than_its_first_rate_once_coils_have_closed():
    draws, rng = drawn([1.2, 14.0, 9.0, 38.0], ratio=0.5)
    told = load_at(draws, 20.0, rng)
    assert told["force_N"].value > 1.15 * 20 * float(np.median(draws.rate_N_per_mm))
    # The energy is the area under a curve that rises ever steeper.
    assert told["energy_mJ"].value < 0.5 * 20 * told["force_N"].value


def test_no_load_beyond_solid_or_before_free():
    draws, rng = drawn([1.2, 12.0, 9.0, 60.0])
    for bad, said in ((55.0, "to solid"), (-1.0, "deflection_mm"), (float("nan"), "deflection")):
        with pytest.raises(ValueError, match=said):
            load_at(draws, bad, rng)


def test_a_progressive_spring_has_its_limits_by_its_tightest_and_widest_turns():
    draws, rng = drawn([1.0, 10.0, 7.0, 27.0], Ends.OPEN)
    runs = [(3.0, 2.0), (4.0, 5.0)]
    plain, rising = find_limits(draws, rng), find_limits(draws, rng, runs=runs)
    ratio = rising.quantities["force_at_solid_N"].value / plain.quantities["force_at_solid_N"].value
    # The widest turns have 4 mm to go instead of 19/7.
    assert ratio == pytest.approx(4.0 / (19.0 / 7.0), rel=0.02)
    with pytest.raises(ValueError, match="cylinders only"):
        find_limits(*drawn([1.2, 14.0, 9.0, 38.0], ratio=0.5), runs=runs)


def test_usable_is_no_more_than_any_limit():
    told = limits([1.0, 10.0, 14.0, 120.0]).quantities
    room = told["travel_to_solid_mm"].value - told["clearance_mm"].value
    for other in (
        room,
        told["allowable_deflection_mm"].value,
        told["buckling_deflection_mm"].value,
    ):
        assert told["usable_deflection_mm"].value <= other + 1e-9


def test_few_coils_and_odd_index_are_said():
    said = " ".join(limits([2.0, 7.0, 5.0, 16.0]).cautions)
    assert "Fewer than four coils" in said
    assert "index" in said


def test_a_closed_up_spring_has_no_limits():
    with pytest.raises(ValueError, match="free_length_mm leaves no travel"):
        limits([1.0, 10.0, 14.0, 12.0])


def test_hooks_have_no_solid_length():
    with pytest.raises(ValueError, match="hooks"):
        limits([1.0, 10.0, 14.0, 30.0], Ends.HOOKS)


@pytest.mark.parametrize("bad", [0.0, -1.0, float("nan")])
def test_bad_values_are_named(bad):
    with pytest.raises(ValueError, match="d must be"):
        shear_stress(10.0, bad, 10.0, 1.0)
    with pytest.raises(ValueError, match="stress_MPa"):
        force_at_stress(bad, 1.0, 10.0, 1.0)
    with pytest.raises(ValueError, match="rate"):
        stored_energy_mJ(bad, 10.0)


def test_shigley_example_10_6_extension_from_memory():
    """d 0.035 in, OD 0.248, Fi 1.19 lbf: tau_i 15.1 kpsi, in the preferred range of the formula.

    F 5.25 lbf: 156.9 kpsi bending in the hook with r1 = 0.106 in, and 78.4 kpsi in torsion with
    r2 = 0.089 in (all from memory).
    """
    ksi, lbf, inch = 6.894757293168, 4.4482216152605, 25.4
    d, D = 0.035 * inch, 0.213 * inch
    tau = shear_stress(1.19 * lbf, d, D, 1.0)
    assert tau / ksi == pytest.approx(15.1, abs=0.06)
    middle, half = initial_stress_MPa(D / d)
    assert middle - half < tau < middle + half
    assert hook_bending_stress(5.25 * lbf, d, D, 0.106 * inch) / ksi == pytest.approx(
        156.9, rel=0.01
    )
    assert hook_torsion_stress(5.25 * lbf, d, D, 0.089 * inch) / ksi == pytest.approx(
        78.4, rel=0.01
    )


def test_an_extension_spring_is_limited_by_its_hooks():
    values = np.array([0.9, 5.4, 12.0, 25.0])
    geometry = SpringGeometry(values, np.diag((1e-3 * values) ** 2), Ends.HOOKS)
    rng = np.random.default_rng(0)
    out = describe_extension(draw_spring(geometry, find_material("hard drawn"), rng), rng)
    assert out.hook_share > 0.95
    assert 0 < out.initial_tension_N.low < out.initial_tension_N.high
    assert out.initial_tension_N.high < out.allowable_force_N.low
    assert out.allowable_extension_mm.low > 0.0


def test_an_extension_spring_pulled():
    """Force is tension plus rate times way; the hook's bending is above the body's shear."""
    draws, rng = drawn([0.9, 5.4, 12.0, 25.0], Ends.HOOKS, material="hard drawn")
    tension = describe_extension(draws, np.random.default_rng(2)).initial_tension_N
    at_rest, told = (pulled(draws, s, np.random.default_rng(2)) for s in (0.0, 8.0))
    assert at_rest["force_N"].value == pytest.approx(tension.value)
    assert at_rest["energy_mJ"].value == 0.0
    gain = told["force_N"].value - at_rest["force_N"].value
    assert gain == pytest.approx(8 * float(np.median(draws.rate_N_per_mm)), rel=0.02)
    assert told["hook_bending_stress_MPa"].value > told["stress_MPa"].value
    with pytest.raises(ValueError, match="hooks"):
        pulled(drawn([1.2, 12.0, 9.0, 60.0])[0], 8.0, rng)
