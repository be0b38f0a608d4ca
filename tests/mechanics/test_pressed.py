"""Cones pressed coil by coil: against the straight rate, the load curve, statics and energy."""

import numpy as np
import pytest

from mechanics.corner import Corner, hanging, sag, swap
from mechanics.curve import load_curve
from mechanics.ends import Ends
from mechanics.install import between_seats, in_line, nested, share_load, shim
from mechanics.limits import find_limits
from mechanics.pressed import RISES, press
from mechanics.whatif import cut, plan_cut, stretch
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


@pytest.mark.parametrize(
    ("act", "why"),
    [
        (lambda s: cut(s, 1.0, rng()), "no two turns of a cone are alike"),
        (lambda s: plan_cut(s, 9.0, rng()), "no two turns of a cone are alike"),
        (lambda s: stretch(s, 5.0, rng()), "largest turns give first"),
        (lambda s: nested(s, spring(PLAIN)), "put them in line"),
        (lambda s: share_load(spring(PLAIN), s, 5.0), "put them in line"),
    ],
)
def test_what_is_not_reckoned_says_why(act, why):
    with pytest.raises(ValueError, match=why):
        act(cone())
