"""The core's edges and words: what a changed line of it would get wrong without being noticed.

Most of these were written for changes that `make mutants` made and no other test saw.
"""

import numpy as np
import pytest

from mechanics.check import (
    INDEX_RANGE,
    RANGES,
    require_coil,
    require_dimension,
    require_not_negative,
    require_positive,
    require_share,
)
from mechanics.curve import force_onward, load_curve, plan_draws
from mechanics.draws import draw_spring
from mechanics.ends import Ends, cut_ends
from mechanics.geometry import SpringGeometry
from mechanics.materials import find_material
from mechanics.rate import (
    bergstraesser_factor,
    helix_angle_deg,
    spring_index,
    spring_rate,
    wahl_factor,
)
from mechanics.torsion import torsion_stress_factor
from mechanics.units import convert_rate


def test_the_index_is_coil_over_wire():
    assert spring_index(2.0, 15.0) == 7.5
    assert list(spring_index(np.array([1.0, 2.0]), np.array([8.0, 10.0]))) == [8.0, 5.0]
    with pytest.raises(ValueError, match=r"the wire \(2.0 mm\) is thicker than .* \(2.0 mm\)"):
        spring_index(2.0, 2.0)


@pytest.mark.parametrize("factor", [wahl_factor, bergstraesser_factor, torsion_stress_factor])
@pytest.mark.parametrize("bad", [0.0, -2.0, 0.75, 1.0, np.nan])
def test_no_stress_factor_takes_an_index_that_no_coil_has(factor, bad):
    with pytest.raises(ValueError, match=r"^spring_index must be "):
        factor(bad)
    assert factor(1.01) > 1.0


@pytest.mark.parametrize("factor", [wahl_factor, bergstraesser_factor])
def test_one_draw_without_an_index_is_named(factor):
    with pytest.raises(ValueError, match=r"^spring_index must be above 1, not 0.9$"):
        factor(np.array([6.0, 0.9, 8.0]))


@pytest.mark.parametrize("bad", [0.0, -1.0, np.nan, np.inf])
def test_every_argument_is_looked_at(bad):
    for name, call in {
        "d": lambda: spring_index(bad, 10.0),
        "D": lambda: spring_index(1.0, bad),
        "n": lambda: spring_rate(1.0, 10.0, bad, 8e4),
        "G": lambda: spring_rate(1.0, 10.0, 8.0, bad),
        "p": lambda: helix_angle_deg(10.0, bad),
        "wire_diameter_mm": lambda: require_coil(bad, 10.0),
        "mean_diameter_mm": lambda: require_coil(1.0, bad),
    }.items():
        with pytest.raises(ValueError, match=f"^{name} must be a positive number"):
            call()
    with pytest.raises(ValueError, match=r"^D must be a positive number"):
        helix_angle_deg(bad, 3.0)


def test_the_first_wrong_value_of_many_is_named():
    with pytest.raises(ValueError, match=r"^x must be a positive number, not -3.0$"):
        require_positive(x=np.array([1.0, -3.0, -4.0]))
    with pytest.raises(ValueError, match=r"^x must be zero or a positive number, not -3.0$"):
        require_not_negative(x=np.array([0.0, -3.0, -4.0]))
    with pytest.raises(ValueError, match=r"not inf$"):
        require_not_negative(x=np.array([np.inf, 1.0]))
    require_not_negative(x=0)


def test_a_share_lies_from_nought_to_one():
    for good in (0.0, 0.4, 1.0):
        require_share(s=good)
    for bad in (-0.01, 1.01, np.nan, np.inf):
        with pytest.raises(ValueError, match=r"^s must lie between 0 and 1, not "):
            require_share(s=bad)


@pytest.mark.parametrize("name", RANGES)
def test_dimensions_are_taken_up_to_their_limits_and_no_further(name):
    low, high = RANGES[name]
    hint = "a digit too many" if name.endswith("coils") else "is it in millimetres"
    for good in (low, high):
        require_dimension(name, good)
    with pytest.raises(ValueError, match=rf"^{name} is .*, outside {low:g} to {high:g}: {hint}\?$"):
        require_dimension(name, 1.01 * high)
    kind = "a positive number" if low > 0.0 else "zero or a positive number"
    with pytest.raises(ValueError, match=f"^{name} must be {kind}"):
        require_dimension(name, -1.0)


def test_a_coil_goes_with_its_wire_up_to_the_limits():
    low, high = INDEX_RANGE
    require_coil(2.0, 2.0 * low)
    require_coil(1.0, high)
    with pytest.raises(ValueError, match=r": the wire is thicker than the coil$"):
        require_coil(2.0, 2.0)
    with pytest.raises(ValueError, match=r"their ratio 61 is outside 1.5 to 60; is one of them in"):
        require_coil(0.5, 30.5)


def test_what_a_cut_leaves_of_the_ends():
    left = {ends: cut_ends(ends) for ends in Ends if ends is not Ends.HOOKS}
    assert left == {
        Ends.OPEN: Ends.OPEN,
        Ends.OPEN_GROUND: Ends.OPEN_GROUND,
        Ends.CLOSED: Ends.CLOSED_CUT,
        Ends.CLOSED_GROUND: Ends.GROUND_CUT,
        Ends.UNKNOWN: Ends.UNKNOWN,
        Ends.CLOSED_CUT: Ends.CLOSED_CUT,
        Ends.GROUND_CUT: Ends.GROUND_CUT,
    }
    with pytest.raises(ValueError, match=r"^ends are hooks: a cut would take a hook away$"):
        cut_ends(Ends.HOOKS)


def test_an_unknown_unit_is_told_with_those_that_are_known():
    with pytest.raises(ValueError, match=r"^unknown unit of rate 'kN/m'; use one of N/mm, gf/mm, "):
        convert_rate(1.0, "kN/m", "N/mm")


def drawn(ratio=1.0, length=40.0):
    geometry = SpringGeometry(
        np.array([1.0, 12.0, 9.0, length]), np.diag([1e-12] * 4), Ends.CLOSED, ratio
    )
    return draw_spring(geometry, find_material("music wire"), np.random.default_rng(3), 300)


@pytest.mark.parametrize("ratio", [1.0, 0.7])
def test_a_curve_begins_with_the_rate_of_its_draws(ratio):
    """Before a coil touches, force over deflection is each draw's own rate, its factor in it."""
    draws = drawn(ratio)
    plan = plan_draws(draws, draws.free_length_mm - draws.solid_length_mm)
    rate = 1e-3 / plan.deflection(np.full((draws.size, 1), 1e-3))[:, 0]
    # A cone is reckoned in steps along its wire, so to half a per cent.
    assert rate == pytest.approx(draws.rate_N_per_mm, rel=1e-6 if ratio == 1.0 else 5e-3)


def test_a_cone_closes_from_its_large_end():
    draws = drawn(0.6)
    plan = plan_draws(draws, draws.free_length_mm - draws.solid_length_mm)
    # A turn gives way as the cube of its diameter, but for the terms of curvature and pitch.
    local = (plan.compliance[0] / plan.compliance[0, 0]) ** (1.0 / 3.0)
    assert local[-1] == pytest.approx(0.6, rel=0.05)
    assert local.max() == local[0]
    assert local.min() == local[-1]
    assert (np.diff(plan.closing_force[0]) > 0.0).all()


def test_a_turn_of_a_cone_goes_until_its_wires_lie_nested():
    """Centre lines one wire apart, the radius changing by a step a turn: Pythagoras."""
    draws = drawn(0.7)
    plan = plan_draws(draws, draws.free_length_mm - draws.solid_length_mm)
    goes = (plan.closing_force * plan.compliance)[:, 0]
    d, D, n = draws.wire_diameter_mm, draws.mean_diameter_mm, draws.active_coils
    step = 0.5 * (D - 0.7 * D) / n
    assert goes == pytest.approx(draws.pitch_mm - np.sqrt(d**2 - step**2), rel=1e-6)


def test_stretches_of_other_pitch_have_the_rate_of_their_draws():
    draws = drawn()
    plan = plan_draws(draws, np.full(draws.size, 20.0), ((3.0, 4.0), (4.0, 6.0)))
    rate = 1e-3 / plan.deflection(np.full((draws.size, 1), 1e-3))[:, 0]
    # The helix angle of each stretch is its own: a per cent of the rate at most.
    assert rate / draws.rate_N_per_mm == pytest.approx(np.ones(draws.size), abs=0.01)
    assert draws.formula_factor.std() > 1e-4


def test_a_curve_has_as_many_points_as_were_asked_for_and_begins_at_nought():
    curve = load_curve(drawn(), 17)
    assert [len(curve.deflection_mm), len(curve.force_N)] == [17, 17]
    assert curve.deflection_mm[0] == curve.force_N[0] == 0.0
    assert len(load_curve(drawn()).force_N) == 41
    # A spring with half a millimetre of travel has a curve, too; one without any has none.
    assert load_curve(drawn(length=10.5)).deflection_mm[-1] == pytest.approx(0.5, abs=0.05)
    assert load_curve(drawn(), 5).first_contact_mm <= load_curve(drawn(), 5).deflection_mm[-1]
    with pytest.raises(ValueError, match=r"^free_length_mm leaves no travel: the coils touch"):
        load_curve(drawn(length=10.0))


def test_runs_of_a_cone_and_runs_without_a_gap_are_refused():
    travel = np.full(300, 20.0)
    thick = drawn()
    with pytest.raises(ValueError, match=r"^runs are reckoned for cylinders only"):
        plan_draws(drawn(0.7), travel, ((3.0, 4.0), (4.0, 6.0)))
    touching = float(np.median(thick.wire_diameter_mm))
    with pytest.raises(ValueError, match=r"^run_pitch_mm leaves no gap in any stretch: the coils"):
        plan_draws(thick, travel, ((3.0, touching), (4.0, touching)))
    plan_draws(thick, travel, ((3.0, touching), (4.0, touching + 0.1)))


def test_beyond_solid_a_force_goes_on_as_steeply_as_in_its_last_fiftieth():
    s, F = np.array([0.0, 5.0, 10.0]), np.array([0.0, 10.0, 30.0])
    at = np.array([2.5, 10.0, 11.0, 13.0])
    assert force_onward(at, s, F) == pytest.approx([5.0, 30.0, 34.0, 42.0])
