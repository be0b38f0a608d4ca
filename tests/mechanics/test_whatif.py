"""Cut, stretched, placed, joined, swapped: against statics, worked examples and the bench.

Facts marked "common practice, no source" come from hand measurements of the trade.
"""

from dataclasses import replace

import numpy as np
import pytest

from mechanics.corner import Corner, hanging, sag, swap
from mechanics.draws import draw_spring
from mechanics.ends import Ends, cut_ends
from mechanics.geometry import SpringGeometry
from mechanics.install import at_rest, between_seats, in_line, nested, share_load, shim
from mechanics.materials import Family, Material, find_material
from mechanics.stretch import stretch
from mechanics.whatif import cut, plan_cut

EXACT = Material("exact", (Family(81.37, 0.0),), "none")


def spring(values, ends=Ends.CLOSED_GROUND, u=1e-3, material=None, ratio=1.0):
    values = np.array(values, dtype=float)
    geometry = SpringGeometry(values, np.diag((u * values) ** 2), ends, ratio)
    steel = material or find_material("music wire")
    return draw_spring(geometry, steel, np.random.default_rng(0), 4000)


def rng():
    return np.random.default_rng(5)


PLAIN = [1.2, 12.0, 10.0, 45.0]


def exact(d, D, n, length=None):
    """A textbook spring: n active coils, no doubt, the book's G, no curvature or pitch term."""
    values = [d, D, n, length or 4.0 * d * n]
    draws = spring(values, Ends.OPEN, 1e-9, EXACT)
    return replace(
        draws,
        dead_coils=np.zeros(draws.size),
        total_coils=np.full(draws.size, float(n)),
        formula_factor=draws.softness.copy(),
    )


def test_cut_at_the_middle_turn_doubles_the_force():
    """2.05-fold over the same 10 mm (common practice, no source): the closed end is lost."""
    change = cut(spring(PLAIN), 5.0, rng())
    assert change.spring.ends is Ends.GROUND_CUT
    assert change.ratio.low < 2.05 < change.ratio.high
    assert change.ratio.value == pytest.approx(2.0, rel=0.02)
    assert "closed" in change.spring.ends
    assert any("no longer stands flat" in line for line in change.cautions)
    assert any("eye protection" in line for line in change.cautions)


def test_cut_follows_the_turns_that_work():
    """n' = n_t' - 1: one closed end is left. Closed: two turns off ten leave seven of eight."""
    for ends in (Ends.CLOSED, Ends.CLOSED_GROUND):
        change = cut(spring(PLAIN, ends), 2.0, rng())
        assert change.after["active_coils"].value == pytest.approx(7.0, abs=0.02)
        assert change.ratio.value == pytest.approx(8 / 7, rel=0.01)
        assert change.after["solid_length_mm"].value < change.before["solid_length_mm"].value


def test_pitch_stays_when_turns_are_cut():
    for ends in (Ends.CLOSED, Ends.CLOSED_GROUND, Ends.OPEN, Ends.OPEN_GROUND):
        before = spring(PLAIN, ends)
        after = cut(before, 3.0, rng()).spring
        assert np.median(after.pitch_mm) == pytest.approx(np.median(before.pitch_mm), rel=0.02), (
            ends
        )


def test_cutting_again_takes_working_turns_only():
    once = cut(spring(PLAIN), 2.0, rng()).spring
    twice = cut(once, 1.0, rng())
    assert twice.spring.ends is Ends.GROUND_CUT
    assert twice.after["active_coils"].value == pytest.approx(6.0, abs=0.05)


def test_cut_for_a_rate_and_back():
    draws = spring(PLAIN)
    now = float(np.median(draws.rate_N_per_mm))
    plan = plan_cut(draws, now * 8 / 6, rng())
    assert plan.exact_turns.value == pytest.approx(3.0, abs=0.02)
    assert plan.safe_turns == pytest.approx(2.75, abs=0.26)
    assert plan.change.ratio.value <= 8 / 6 * 1.01
    assert plan.whole_turns == int(plan.safe_turns)


def test_a_cut_that_goes_solid_is_held_back():
    draws = spring(PLAIN)
    now = float(np.median(draws.rate_N_per_mm))
    free = plan_cut(draws, 2.0 * now, rng())
    loaded = plan_cut(draws, 2.0 * now, rng(), load_N=30 * now)
    assert loaded.safe_turns is None or loaded.safe_turns < free.safe_turns
    assert loaded.reason


@pytest.mark.parametrize(
    ("act", "said"),
    [
        (lambda s: cut(s, 9.5, rng()), "turns_cut"),
        (lambda s: cut(s, -1.0, rng()), "turns_cut"),
        (lambda s: plan_cut(s, 0.1, rng()), "target_rate"),
        (lambda s: stretch(s, 0.0, rng()), "longer_mm"),
        (lambda s: stretch(s, 400.0, rng()), "straight"),
        (lambda s: between_seats(s, (20.0, 30.0), rng()), "second_length_mm"),
        (lambda s: between_seats(s, (float("nan"), 30.0), rng()), "first_length_mm"),
        (lambda s: shim(s, 5.0, 6.0, rng()), "thickness_mm"),
        (lambda s: Corner(5.0, 0.0, 40.0, 30.0), "lever_ratio"),
        (lambda s: Corner(5.0, 1.0, 30.0, 40.0), "bump_length_mm"),
        (lambda s: share_load(s, s, -1.0), "load_N"),
    ],
)
def test_bad_input_is_named(act, said):
    with pytest.raises(ValueError, match=said):
        act(spring(PLAIN))


def test_hooks_and_cones_are_refused():
    hooks = spring([1.0, 8.0, 12.0, 40.0], Ends.HOOKS)
    for act in (
        lambda: cut(hooks, 1.0, rng()),
        lambda: between_seats(hooks, (30.0, 20.0), rng()),
        lambda: stretch(spring(PLAIN, ratio=0.5), 5.0, rng()),
    ):
        with pytest.raises(ValueError, match=r"hooks|small_end_ratio"):
            act()
    with pytest.raises(ValueError, match="hook"):
        cut_ends(Ends.HOOKS)


def test_stretch_keeps_the_rate_and_gains_preload():
    """Pulled about 20 mm longer: -2 % (common practice, no source) is within the band."""
    change = stretch(spring(PLAIN), 20.0, rng())
    assert change.ratio.low < 0.98 < change.ratio.high
    assert change.ratio.value == pytest.approx(1.0, abs=0.01)
    before = between_seats(spring(PLAIN), (40.0, 40.0), rng()).quantities["preload_N"].value
    after = between_seats(change.spring, (40.0, 40.0), rng()).quantities["preload_N"].value
    assert after == pytest.approx(5 * before, rel=0.03)
    assert any("settles back" in line for line in change.cautions)
    seated = stretch(spring(PLAIN), 20.0, rng(), 40.0)
    told = [seated.before["preload_N"].value, seated.after["preload_N"].value]
    assert told == pytest.approx([before, after], rel=0.02)
    assert "preload_N" not in change.after


def test_ten_millimetres_deeper_gives_the_same_for_the_next_ten():
    """Common practice, no source."""
    shallow = between_seats(spring(PLAIN), (45.0, 35.0), rng()).quantities
    deep = between_seats(spring(PLAIN), (35.0, 25.0), rng()).quantities
    gain = [q["force_N"].value - q["preload_N"].value for q in (shallow, deep)]
    assert gain[1] == pytest.approx(gain[0], rel=0.02)


def test_a_shim_adds_its_thickness_times_the_rate():
    before, after = shim(spring(PLAIN), 40.0, 3.0, rng())
    rate = before.quantities["rate_N_per_mm"].value
    added = after.quantities["preload_N"].value - before.quantities["preload_N"].value
    assert added == pytest.approx(3.0 * rate, rel=1e-3)


def test_seats_that_bind_the_coils_are_said():
    placed = between_seats(spring(PLAIN), (40.0, 11.0), rng())
    assert placed.chance_solid > 0.95
    assert "solid" in placed.cautions[0]
    loose = between_seats(spring(PLAIN), (50.0, 30.0), rng())
    assert "loose" in loose.cautions[0]


def test_bhandari_example_10_19_nested_springs():
    """Outer 6/36/10, inner 5/30/8 (d/D/n), G 81.37 GPa, outer 15 mm longer, 1000 N.

    Printed: 706.02 and 293.98 N, 24.989 and 9.989 mm.
    """
    outer, inner = exact(6, 36, 10, 300.0), exact(5, 30, 8, 285.0)
    told = share_load(outer, inner, 1000.0)
    assert [q.value for q in told] == pytest.approx([706.02, 293.98, 24.989, 9.989], rel=5e-4)
    pair = nested(outer, inner)
    assert pair.change_mm.value == pytest.approx(15.0, rel=1e-3)
    assert pair.later_rate_N_per_mm.value == pytest.approx(706.02 / 24.989, rel=1e-3)


def test_a_light_load_rests_on_the_longer_spring_alone():
    told = share_load(exact(6, 36, 10, 300.0), exact(5, 30, 8, 285.0), 100.0)
    assert told[0].value == pytest.approx(100.0, rel=1e-6)
    assert told[1].value == 0.0
    swapped = share_load(exact(5, 30, 8, 285.0), exact(6, 36, 10, 300.0), 100.0)
    assert swapped[1].value == pytest.approx(100.0, rel=1e-6)


def test_two_equal_springs_halve_or_double():
    one = spring(PLAIN)
    rate = float(np.median(one.rate_N_per_mm))
    assert in_line(one, one, rng()).rate_N_per_mm.value == pytest.approx(rate / 2)
    assert nested(one, one).rate_N_per_mm.value == pytest.approx(2 * rate)
    assert [q.value for q in nested(one, one).alone] == pytest.approx([rate, rate])


def test_in_line_the_soft_one_goes_solid_first():
    soft, hard = spring([1.0, 12.0, 10.0, 30.0]), spring([1.5, 12.0, 10.0, 45.0])
    pair = in_line(soft, hard, rng())
    assert pair.later_rate_N_per_mm.value == pytest.approx(np.median(hard.rate_N_per_mm), rel=0.01)
    assert pair.rate_N_per_mm.value < np.median(soft.rate_N_per_mm)


def test_nested_springs_that_do_not_fit_are_said():
    assert "do not fit" in nested(spring(PLAIN), spring(PLAIN)).cautions[0]
    small = spring([0.6, 5.0, 12.0, 40.0])
    assert "hands" in nested(spring(PLAIN), small).cautions[0]


def test_sag_by_statics():
    """6 N at the wheel, lever 1.5: the spring bears 9 N; wheel rate R/2.25."""
    draws = spring(PLAIN)
    R = float(np.median(draws.rate_N_per_mm))
    corner = Corner(6.0, 1.5, 44.0, 25.0)
    told = sag(draws, corner, rng()).quantities
    assert told["rate_at_wheel_N_per_mm"].value == pytest.approx(R / 2.25)
    assert told["spring_length_mm"].value == pytest.approx(45.0 - 9.0 / R, rel=2e-3)
    assert told["sag_mm"].value == pytest.approx(1.5 * (9.0 / R - 1.0), rel=0.02)


def test_before_it_is_placed_it_bears_nothing():
    """Free: no force, and all of its travel left. Hanging: what the droop leaves of its length."""
    free, placed = at_rest(spring(PLAIN), rng()), between_seats(spring(PLAIN), (40.0, 25.0), rng())
    assert set(free.quantities) == set(placed.quantities)
    assert free.quantities["force_N"].value == free.quantities["force_N"].u == 0.0
    gone = placed.quantities["deflection_mm"].value + placed.quantities["room_to_solid_mm"].value
    assert free.quantities["room_to_solid_mm"].value == pytest.approx(gone, rel=0.01)
    corner = Corner(6.0, 1.5, 44.0, 25.0)
    before, after = hanging(spring(PLAIN), corner), sag(spring(PLAIN), corner, rng())
    assert set(before.quantities) == set(after.quantities)
    assert before.quantities["sag_mm"].value == 0.0
    assert before.quantities["force_N"].value == pytest.approx(before.quantities["preload_N"].value)
    assert after.quantities["force_N"].value == pytest.approx(9.0, rel=0.01)
    loose = hanging(spring(PLAIN), Corner(6.0, 1.5, 60.0, 25.0)).quantities
    assert loose["spring_length_mm"].value == pytest.approx(45.0, rel=0.01)
    assert loose["force_N"].value == 0.0


def test_sag_says_topped_out_and_bottomed():
    assert "tops out" in sag(spring(PLAIN), Corner(0.2, 1.0, 35.0, 25.0), rng()).cautions[0]
    assert "bump stop" in " ".join(
        sag(spring(PLAIN), Corner(60.0, 1.0, 44.0, 25.0), rng()).cautions
    )


def test_a_spring_shorter_than_its_seats_hangs_loose():
    loose = sag(spring(PLAIN), Corner(10.0, 1.0, 47.0, 25.0), rng()).cautions
    held = sag(spring(PLAIN), Corner(10.0, 1.0, 43.0, 25.0), rng()).cautions
    assert any("loose" in line for line in loose)
    assert not any("loose" in line for line in held)


def test_swap_keeps_the_ride_height():
    """Spring length plus collar is the same before and after, and so is the sag."""
    old, new = spring(PLAIN), spring([1.3, 12.0, 10.0, 44.0])
    corner = Corner(10.0, 1.2, 43.0, 22.0)
    out = swap(old, new, corner, rng())
    lengths = [p.quantities["spring_length_mm"].value for p in (out.before, out.after)]
    assert lengths[1] + out.collar_mm.value == pytest.approx(lengths[0], abs=0.02)
    sags = [p.quantities["sag_mm"].value for p in (out.before, out.after)]
    assert sags[1] == pytest.approx(sags[0], abs=0.05)
    assert out.rate_ratio.value == pytest.approx((1.3 / 1.2) ** 4, rel=0.03)


def test_swap_without_room_is_refused():
    with pytest.raises(ValueError, match="collar"):
        swap(spring(PLAIN), spring([1.2, 12.0, 10.0, 20.0]), Corner(5.0, 1.0, 43.0, 15.0), rng())
