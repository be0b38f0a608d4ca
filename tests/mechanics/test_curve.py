"""Coils that close one after another, against closed forms."""

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from mechanics.coils import check_runs, plan_cone, trace
from mechanics.curve import load_curve, plan_draws
from mechanics.draws import draw_spring
from mechanics.ends import Ends
from mechanics.geometry import SpringGeometry
from mechanics.materials import find_material
from mechanics.rate import cone_factor, softness, spring_rate

G = 80e3


def spring(ratio=1.0, u=1e-6):
    values = np.array([1.2, 14.0, 9.0, 38.0])
    return SpringGeometry(values, np.diag((u * values) ** 2), Ends.CLOSED_GROUND, ratio)


def test_a_cylinder_is_straight_to_solid():
    plan = plan_cone(1.2, 14.0, 14.0, 7.0, 5.0, G)
    s, F = trace(plan)
    psi = softness(14 / 1.2, np.degrees(np.arctan(5 / (np.pi * 14))))
    assert s[-1] == pytest.approx(7 * (5.0 - 1.2))
    assert pytest.approx(spring_rate(1.2, 14, 7, G) / psi * s, rel=1e-9, abs=1e-9) == F


@given(st.floats(0.35, 0.95), st.floats(3.0, 12.0), st.floats(2.5, 6.0))
def test_a_cone_starts_with_the_closed_form_rate(ratio, n, pitch):
    """The whole-cone formula in mean diameters; the pitch term differs along the cone: 0.5 %."""
    plan = plan_cone(1.0, 16.0, 16.0 * ratio, n, pitch, G)
    basic = spring_rate(1.0, 16.0, n, G) * cone_factor(ratio)
    middle = 16.0 * (1 + ratio) / 2
    psi = softness(middle, np.degrees(np.arctan(pitch / (np.pi * middle))))
    assert float(plan.rate) == pytest.approx(basic / psi, rel=5e-3)


def test_cone_closes_from_the_large_end_with_forces_as_the_cube_of_the_diameter():
    """F = G d^4 (p - nested rise)/(8 D^3): last over first is (Dmax/Dmin)^3 for thin wire."""
    plan = plan_cone(0.4, 24.0, 12.0, 40.0, 4.0, G)
    assert np.argmin(plan.closing_force) == 0
    assert float(plan.solid_N / plan.first_contact_N) == pytest.approx(8.0, rel=0.05)
    rise = (0.4**2 - 0.15**2) ** 0.5
    first = G * 0.4**4 * (4.0 - rise) / (8 * 24.0**3)
    assert float(plan.first_contact_N) == pytest.approx(first, rel=0.02)


def test_coils_that_pass_each_other_lie_flat():
    """Radius changes by more than the wire in a turn: the whole pitch is travel."""
    plan = plan_cone(1.0, 30.0, 10.0, 5.0, 6.0, G)
    assert float(plan.travel_mm) == pytest.approx(5.0 * 6.0)


@given(st.floats(0.3, 1.0), st.floats(2.5, 12.0))
@example(1.0 - 1e-16, 4.6875)
@example(1.0 - 1e-12, 4.6875)
@example(1.0 - 1e-9, 12.0)
def test_the_rate_never_falls_and_energy_is_the_area(ratio, n):
    plan = plan_cone(1.0, 16.0, 16.0 * ratio, n, 4.0, G)
    s, F = trace(plan, 400)
    slope = np.diff(F) / np.diff(s)
    assert (np.diff(slope) > -1e-6 * slope[1:]).all()
    assert float(plan.energy_mJ) == pytest.approx(np.trapezoid(F, s), rel=0.01)


def open_ended(n, length):
    values = np.array([1.0, 10.0, n, length])
    geometry = SpringGeometry(values, np.diag((1e-9 * values) ** 2), Ends.OPEN)
    return draw_spring(geometry, find_material("music wire"), np.random.default_rng(0), 50)


RUNS = [(3.0, 2.0), (4.0, 5.0)]


def test_progressive_pitch_gives_two_rates():
    """Three turns of 2 mm pitch close first; the other four work on alone."""
    draws = open_ended(7.0, 3 * 2.0 + 4 * 5.0 + 1.0)
    plan = plan_draws(draws, np.full(draws.size, 3 * 1.0 + 4 * 4.0), RUNS)
    for s, F in zip(*plan.knots(), strict=True):
        before, after = F[1] / s[1], (F[2] - F[1]) / (s[2] - s[1])
        assert after / before == pytest.approx(7 / 4, rel=0.01)
        # The tight turns close when each of all seven has gone 1 mm.
        assert s[1] == pytest.approx(7.0, rel=0.01)
        assert s[2] == pytest.approx(19.0)


def test_a_progressive_spring_rises_in_its_curve_and_keeps_its_first_rate():
    draws = open_ended(7.0, 27.0)
    curve, plain = load_curve(draws, 41, RUNS), load_curve(draws)
    # 2 mm and 5 mm of pitch differ in the rate by the pitch term alone: 0.3 %.
    assert curve.rate_N_per_mm[1] == pytest.approx(plain.rate_N_per_mm[1], rel=4e-3)
    assert curve.rate_N_per_mm[-1] == pytest.approx(7 / 4 * curve.rate_N_per_mm[1], rel=0.01)
    assert curve.first_contact_mm == pytest.approx(7.0, rel=0.03)


@pytest.mark.parametrize(
    ("runs", "said"), [([], "runs"), ([(3, 0.5)], "run_pitch"), ([(-1, 3)], "run_turns")]
)
def test_a_wrong_run_is_named(runs, said):
    with pytest.raises(ValueError, match=said):
        check_runs(1.0, runs)


def test_a_cylinder_does_not_bend_down_before_solid():
    """Draws that are solid a little sooner must not hold the middle of the band back."""
    draws = draw_spring(spring(u=0.02), find_material("music wire"), np.random.default_rng(0))
    rate = load_curve(draws).rate_N_per_mm
    assert rate[-1] == pytest.approx(rate[0], rel=0.02)


def test_knots_are_the_curve():
    plan = plan_cone(1.0, 16.0, 8.0, 6.0, 4.0, G)
    s, F = plan.knots()
    assert plan.deflection(F) == pytest.approx(s)
    assert s[-1] == pytest.approx(float(plan.travel_mm))


def test_band_of_the_curve_holds_the_rate_and_ends_at_solid():
    draws = draw_spring(spring(u=0.01), find_material("music wire"), np.random.default_rng(0))
    curve = load_curve(draws)
    assert (curve.low_N <= curve.force_N).all()
    assert (curve.force_N <= curve.high_N).all()
    assert curve.deflection_mm[-1] == pytest.approx(38 - 9 * 1.2, rel=0.02)
    middle = np.median(draws.rate_N_per_mm)
    assert curve.rate_N_per_mm[20] == pytest.approx(middle, rel=0.02)
    assert curve.first_contact_mm == pytest.approx(curve.deflection_mm[-1], rel=0.03)


def test_a_cone_rises_after_its_first_contact():
    draws = draw_spring(spring(0.5), find_material("music wire"), np.random.default_rng(0))
    curve = load_curve(draws)
    assert 0.2 * curve.deflection_mm[-1] < curve.first_contact_mm < 0.7 * curve.deflection_mm[-1]
    assert curve.rate_N_per_mm[-2] > 3 * curve.rate_N_per_mm[1]
