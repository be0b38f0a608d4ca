"""Cones pressed coil by coil: against the straight rate, the load curve, statics and energy."""

import numpy as np
import pytest

from mechanics.corner import Corner, hanging, sag, swap
from mechanics.curve import load_curve
from mechanics.ends import Ends
from mechanics.install import between_seats, in_line, nested, share_load, shim
from mechanics.limits import find_limits
from mechanics.pressed import RISES, press
from mechanics.stretch import stretch
from mechanics.whatif import cut, plan_cut
from tests.mechanics.test_whatif import PLAIN, rng, spring

CONE = [1.2, 14.0, 8.0, 40.0]


def cone(ratio=0.5, values=CONE):
    return spring(values, Ends.CLOSED, ratio=ratio)


def test_a_cone_that_hardly_tapers_is_a_cylinder():
    told = [
        between_seats(draws, (40.0, 32.0), rng()).quantities
        for draws in (spring(PLAIN), spring(PLAIN, ratio=0.9999))
    ]
    for name in ("rate_N_per_mm", "preload_N", "force_N", "energy_mJ", "room_to_solid_mm"):
        assert told[1][name].value == pytest.approx(told[0][name].value, rel=0.02), name


def test_its_force_is_that_of_its_load_curve():
    draws = cone()
    curve = load_curve(draws)
    deep = 0.8 * float(curve.deflection_mm[-1])
    told = between_seats(draws, (40.0, 40.0 - deep), rng()).quantities
    expected = np.interp(deep, curve.deflection_mm, curve.force_N)
    assert told["force_N"].value == pytest.approx(expected, rel=0.02)


def test_force_and_deflection_undo_each_other_and_energy_is_the_force_s_integral():
    pressed = press(cone())
    travel = float(np.quantile(pressed.coils.travel_mm, 0.01))
    at = np.linspace(0.0, 0.95 * travel, 200)
    size = pressed.draws.size
    force = np.array([pressed.force(np.full(size, s)) for s in at])
    back = pressed.deflection(force[-1])
    assert back == pytest.approx(np.full(size, at[-1]), rel=1e-6)
    assert np.trapezoid(force, at, axis=0) == pytest.approx(
        pressed.energy_mJ(np.full(size, at[-1]), force[-1]), rel=2e-3
    )
    slope = np.gradient(force, at, axis=0)
    assert np.median(slope[100]) == pytest.approx(np.median(pressed.rate(force[100])), rel=0.02)


def test_its_rate_rises_with_the_preload_and_a_caution_says_so():
    before, after = shim(cone(), 30.0, 8.0, rng())
    rates = [p.quantities["rate_N_per_mm"].value for p in (before, after)]
    assert rates[1] > 1.05 * rates[0]
    assert rates[0] >= 0.99 * float(np.median(cone().rate_N_per_mm))
    added = after.quantities["preload_N"].value - before.quantities["preload_N"].value
    assert 8.0 * rates[0] < added < 8.0 * rates[1]
    assert RISES in after.cautions


def test_a_corner_settles_where_the_cone_bears_the_load():
    corner = Corner(8.0, 1.25, 39.0, 20.0)
    before, after = hanging(cone(), corner), sag(cone(), corner, rng())
    assert after.quantities["force_N"].value == pytest.approx(10.0, rel=1e-3)
    assert before.quantities["sag_mm"].value == 0.0
    again = between_seats(cone(), (after.quantities["spring_length_mm"].value,) * 2, rng())
    assert again.quantities["preload_N"].value == pytest.approx(10.0, rel=0.02)


def test_swapped_for_a_cone_the_ride_height_stays():
    corner = Corner(8.0, 1.0, 43.0, 22.0)
    out = swap(spring(PLAIN), cone(), corner, rng())
    lengths = [p.quantities["spring_length_mm"].value for p in (out.before, out.after)]
    assert lengths[1] + out.collar_mm.value == pytest.approx(lengths[0], abs=0.1)
    assert RISES in out.after.cautions


def test_in_line_with_a_cylinder_they_share_the_force():
    one, two = cone(), spring(PLAIN)
    pair = in_line(one, two, rng())
    rates = [float(np.median(s.rate_N_per_mm)) for s in (one, two)]
    assert pair.rate_N_per_mm.value == pytest.approx(1 / (1 / rates[0] + 1 / rates[1]), rel=0.01)
    solid = [find_limits(s, rng()).quantities["force_at_solid_N"].value for s in (one, two)]
    assert pair.change_N.value == pytest.approx(min(solid), rel=0.03)
    # Its coils have closed on the way: less travel than at the first rate.
    assert pair.change_mm.value < pair.change_N.value / pair.rate_N_per_mm.value


@pytest.mark.parametrize("large_end", [False, True])
def test_a_cone_that_is_cut_is_the_cone_that_is_left(large_end):
    """R = G d^4 / (2 n (D1 + D2)(D1^2 + D2^2)) in mean diameters (from memory), of what is left."""
    whole = cone()
    change = cut(whole, 3.0, rng(), large_end)
    d, D, q, n0 = (
        float(np.median(a))
        for a in (
            whole.wire_diameter_mm,
            whole.mean_diameter_mm,
            whole.small_end_ratio,
            whole.active_coils,
        )
    )
    # The first of the three is dead and as wide as its end; the others taper.
    at_cut = D * (1 - (1 - q) * (2.0 if large_end else n0 - 2.0) / n0)
    ends = (at_cut, q * D) if large_end else (D, at_cut)
    n = change.after["active_coils"].value
    G = float(np.median(whole.shear_modulus_MPa))
    printed = G * d**4 / (2 * n * sum(ends) * (ends[0] ** 2 + ends[1] ** 2))
    assert change.after["rate_N_per_mm"].value == pytest.approx(printed, rel=0.02)
    assert any("stiff ones" in line for line in change.cautions)


def test_a_cone_s_dead_turn_is_cut_for_nothing():
    """Closed ends: the same turns go on working, so the rate stays."""
    for end in (False, True):
        assert cut(cone(), 1.0, rng(), end).ratio.value == pytest.approx(1.0, abs=0.01)


def test_a_cone_gains_more_where_its_softest_turns_are_cut():
    small, large = (cut(cone(), 3.0, rng(), end).ratio.value for end in (False, True))
    assert 1.0 < small < large


@pytest.mark.parametrize("large_end", [False, True])
def test_a_cone_is_cut_for_a_rate(large_end):
    wanted = 1.3 * float(np.median(cone().rate_N_per_mm))
    exact = plan_cut(cone(), wanted, rng(), 0.0, large_end).exact_turns.value
    reached = cut(cone(), exact, rng(), large_end).after["rate_N_per_mm"].value
    assert reached == pytest.approx(wanted, rel=0.02)


def test_before_and_after_a_cut_a_cone_goes_solid_as_its_limits_say():
    before, limits = cut(cone(), 2.0, rng()).before, find_limits(cone(), rng()).quantities
    for name in ("travel_to_solid_mm", "force_at_solid_N"):
        assert before[name].value == pytest.approx(limits[name].value, rel=0.02)


def test_nested_with_a_cylinder_both_are_pressed_alike():
    one, two = cone(), spring(PLAIN)
    F1, F2, s1, s2 = share_load(one, two, 20.0)
    assert F1.value + F2.value == pytest.approx(20.0, rel=0.01)
    assert s1.value - s2.value == pytest.approx(
        float(np.median(one.free_length_mm) - np.median(two.free_length_mm)), abs=0.3
    )
    seats = float(np.median(one.free_length_mm)) - s1.value
    apart = [
        between_seats(s, (seats, seats), rng()).quantities["force_N"].value for s in (one, two)
    ]
    assert [F1.value, F2.value] == pytest.approx(apart, rel=0.03)
    pair = nested(one, two)
    assert pair.alone[0].value == pytest.approx(np.median(one.rate_N_per_mm), rel=0.01)
    assert any("not reckoned" in line for line in pair.cautions)


def test_why_a_cone_is_not_stretched_is_said():
    with pytest.raises(ValueError, match="largest turns give first"):
        stretch(cone(), 5.0, rng())
