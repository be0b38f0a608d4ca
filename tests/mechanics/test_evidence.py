"""The posterior: exact where it can be, honest over random springs, and order does not matter."""

import os

import numpy as np
import pytest

from mechanics.bench import BenchFit, fit_bench
from mechanics.conflicts import deviations, reconcile
from mechanics.ends import Ends
from mechanics.estimate import estimate_rate
from mechanics.evidence import CONE, Case, draw_posterior, require_known_rate, solve
from mechanics.geometry import SpringGeometry
from mechanics.inference import importance_sample, linearise
from mechanics.materials import find_material
from mechanics.readings import (
    Coat,
    coat_reading,
    count_reading,
    free_length_reading,
    inside_reading,
    mean_reading,
    outside_reading,
    small_end_reading,
    touching_reading,
    weight_reading,
    wire_reading,
)
from mechanics.uncertainty import weighted_mean
from mechanics.whole_readings import Pull, magnet_reading, photo_reading, rate_reading
from tests.mechanics.coverage import left_by_evidence, simulate
from tests.mechanics.scenes import random_readings, random_spring

MUSIC = Case(find_material("music wire"), Ends.CLOSED_GROUND)


def caliper(d=1.2, outside=13.2, turns=9.0, length=38.0):
    return [
        wire_reading(d),
        outside_reading(outside),
        count_reading(turns),
        free_length_reading(length),
    ]


def posterior(readings, case=MUSIC, size=4000):
    return reconcile(readings, case, np.random.default_rng(0), size)


def bench(rate=1.72, u=0.04):
    return rate_reading(BenchFit(rate, u, 0.0, (0, 1), (), ()))


def test_readings_of_one_wire_combine_as_their_weighted_mean():
    """Caliper, micrometer and ten touching coils against Cox's weighted mean."""
    mean, u, _ = weighted_mean(np.array([1.21, 1.196, 1.203]), np.array([0.02, 0.004, 0.005]))
    more = [wire_reading(1.21), wire_reading(1.196, 0.004), touching_reading(12.03, 10, 0.05)]
    draws = posterior([*more, *caliper()[1:]], size=20_000).mixture.draws
    assert draws.wire_diameter_mm.mean() == pytest.approx(
        mean, abs=6e-4
    )  # a bare wire may carry half a micrometre
    assert draws.wire_diameter_mm.std() == pytest.approx(u, rel=0.03)


def test_bench_and_dimensions_combine_as_their_weighted_mean():
    alone = posterior(caliper(), size=20_000).components[0].log_rate()
    both = posterior([*caliper(), bench()], size=20_000)
    values, u = np.array([alone[0], np.log(1.72)]), np.array([alone[1], 0.04 / 1.72])
    mean, u_mean, _ = weighted_mean(values, u)
    log_rate = np.log(both.mixture.draws.rate_N_per_mm)
    assert log_rate.mean() == pytest.approx(mean, abs=2e-3)
    assert log_rate.std() == pytest.approx(u_mean, rel=0.03)


def test_a_photo_alone_gives_the_band_of_the_estimate():
    """The posterior of one photo is the Monte Carlo estimate from its covariance."""
    values = np.array([1.2, 12.0, 9.0, 38.0])
    geometry = SpringGeometry(values, np.diag([0.012, 0.04, 0.08, 0.1]) ** 2, Ends.CLOSED_GROUND)
    estimate = estimate_rate(geometry, MUSIC.material, np.random.default_rng(0))
    rate = posterior([photo_reading(geometry)], size=20_000).mixture.rate_N_per_mm
    assert rate.low == pytest.approx(estimate.low_N_per_mm, rel=0.015)
    assert rate.high == pytest.approx(estimate.high_N_per_mm, rel=0.015)


def test_what_photos_share_does_not_average_away():
    """k photos with half of their variance in common leave (1 + (k - 1)/2)/k of it."""
    values = np.array([1.2, 12.0, 9.0, 38.0])
    geometry = SpringGeometry(values, np.diag([0.02, 0.04, 0.08, 0.1]) ** 2, Ends.CLOSED_GROUND)

    def u_wire(k):
        photos = [photo_reading(geometry)] * k
        draws = draw_posterior(solve(photos, MUSIC), np.random.default_rng(0), 20_000).draws
        return float(draws.wire_diameter_mm.std())

    one = u_wire(1)
    assert u_wire(2) / one == pytest.approx(0.75**0.5, rel=0.02)
    assert u_wire(8) / one == pytest.approx((4.5 / 8) ** 0.5, rel=0.03)


@pytest.mark.parametrize(
    ("read", "value", "u"),
    [
        (wire_reading, 1.2, 0.02),
        (outside_reading, 13.2, 0.05),
        (mean_reading, 12.0, 0.05),
        (inside_reading, 10.8, 0.06),
        (count_reading, 9.0, 0.1),
        (weight_reading, 2.83, 0.05),
    ],
)
def test_reading_again_with_one_tool_never_undoes_its_own_error(read, value, u):
    """JCGM 100 F.1.2: what readings have in common is no more certain for being repeated.

    With half of the variance in common, k leave (1 + (k - 1)/2)/k of it, never less than half.
    """

    def spread(k):
        found = solve([*caliper(), *[read(value, u)] * k], MUSIC)[0]
        _, J = linearise(lambda z: read(value, u).predict(MUSIC.springs(z, 0)), found.peak.z)
        return float((J @ found.peak.covariance @ J.T)[0, 0])

    # The information that the k readings add to what the rest of the set says.
    rest = caliper()
    without = [one for one in rest if one.thing != read(value, u).thing]
    alone = solve(without, MUSIC)[0]
    _, J = linearise(lambda z: read(value, u).predict(MUSIC.springs(z, 0)), alone.peak.z)
    before = 1.0 / float((J @ alone.peak.covariance @ J.T)[0, 0])
    more = len(rest) - len(without)
    for k in (2, 5, 20):
        n = k + more
        left = (1 + (n - 1) / 2) / n * u**2
        assert 1.0 / spread(k) == pytest.approx(before + 1.0 / left, rel=0.03)


def test_another_tool_is_independent():
    """A micrometer and a caliper share no error: Cox's weighted mean."""
    _, u, _ = weighted_mean(np.array([1.2, 1.2]), np.array([0.02, 0.004]))
    both = solve([*caliper(), wire_reading(1.2, 0.004)], MUSIC)
    draws = draw_posterior(both, np.random.default_rng(0), 20_000).draws
    assert draws.wire_diameter_mm.std() == pytest.approx(u, rel=0.03)


def test_a_cone_has_its_small_end_read():
    """Small end over large end, and the rate 4/((1 + q)(1 + q^2)) times the cylinder's."""
    cone = Case(MUSIC.material, Ends.CLOSED_GROUND, Coat.BARE, *CONE)
    found = posterior([*caliper(), small_end_reading(8.4)], cone, 20_000).mixture
    q = 7.2 / 12.0
    assert found.draws.small_end_ratio.mean() == pytest.approx(q, abs=2e-3)
    assert found.draws.small_end_ratio.std() == pytest.approx(
        0.05 * (1 + q**2) ** 0.5 / 12.0, rel=0.05
    )
    cylinder = posterior(caliper(), size=20_000).mixture.rate_N_per_mm.value
    # The pitch term apart, which is the large end's.
    assert found.rate_N_per_mm.value / cylinder == pytest.approx(
        4 / ((1 + q) * (1 + q**2)), rel=0.01
    )
    unread = posterior(caliper(), cone).mixture.rate_N_per_mm
    assert unread.u / unread.value > 2 * found.rate_N_per_mm.u / found.rate_N_per_mm.value


def test_a_photo_of_a_cone_tells_its_small_end():
    values = np.array([1.2, 12.0, 9.0, 38.0])
    seen = SpringGeometry(
        values, np.diag([0.01, 0.04, 0.06, 0.1]) ** 2, Ends.CLOSED_GROUND, 0.6, 0.01
    )
    cone = Case(MUSIC.material, Ends.CLOSED_GROUND, Coat.BARE, *CONE)
    found = posterior([photo_reading(seen)], cone, 20_000).mixture.draws.small_end_ratio
    assert found.mean() == pytest.approx(0.6, abs=1e-3)
    assert found.std() == pytest.approx(0.01, rel=0.05)


@pytest.mark.parametrize("seed", range(12))
def test_gauss_newton_and_importance_sampling_agree(seed):
    """Two ways to one posterior over random springs: rate, its spread, and the evidence."""
    rng = np.random.default_rng(seed)
    truth, case = random_spring(rng)
    basic, extra = random_readings(truth, rng)
    component = solve(basic + extra, case)[0]
    assert component.peak.converged
    value, u = component.log_rate()
    sample = importance_sample(component.residuals, component.peak, 6000, rng)
    log_rate = np.log(case.springs(sample.z, 0).rate_N_per_mm)
    mean = float(sample.weight @ log_rate)
    spread = float(sample.weight @ (log_rate - mean) ** 2) ** 0.5
    assert sample.effective > 0.15 * 6000
    assert mean == pytest.approx(value, abs=0.35 * u)
    # Few turns or unknown ends bend the posterior: its spread then exceeds the first order's.
    assert 0.9 < spread / u < 1.5
    assert sample.log_evidence == pytest.approx(component.peak.log_evidence, abs=0.25)


def test_order_does_not_matter():
    readings = [*caliper(), weight_reading(2.83), bench()]
    one = solve(readings, MUSIC)[0]
    two = solve(readings[::-1], MUSIC)[0]
    assert one.log_rate() == pytest.approx(two.log_rate(), rel=1e-4)
    assert one.log_weight == pytest.approx(two.log_weight, abs=1e-4)


def test_leverage_gives_what_leaving_the_reading_out_gives():
    readings = [*caliper(), wire_reading(1.24, 0.008), weight_reading(2.9, 0.03)]
    distance, _ = deviations(solve(readings, MUSIC)[0])
    rest = solve([r for i, r in enumerate(readings) if i != 4], MUSIC)[0]
    draws = draw_posterior([rest], np.random.default_rng(0), 20_000).draws
    expected = draws.wire_diameter_mm + 2 * draws.coat_mm
    plain = abs(1.24 - expected.mean()) / np.hypot(0.008, expected.std())
    assert distance[4] == pytest.approx(plain, rel=0.05)


def test_paint_is_seen_by_the_caliper_and_not_by_the_rate():
    bare = posterior(caliper()).mixture.rate_N_per_mm
    painted = Case(MUSIC.material, MUSIC.ends, Coat.POWDER)
    known = posterior([*caliper(), coat_reading(0.08, 0.005)], painted).mixture.rate_N_per_mm
    # d falls by 0.16 mm, D stays: (1.04/1.2)^4.
    assert known.value / bare.value == pytest.approx((1.04 / 1.2) ** 4, rel=0.03)
    unknown = posterior(caliper(), painted).mixture.rate_N_per_mm
    assert unknown.u / unknown.value > known.u / known.value


def test_weight_tells_the_turns_that_nobody_counted():
    rate = posterior(
        [wire_reading(1.2, 0.004), outside_reading(13.2), weight_reading(2.83, 0.02)]
    ).mixture
    assert rate.draws.total_coils.mean() == pytest.approx(9.0, abs=0.4)


def test_magnet_and_weight_tell_the_alloy():
    case = Case(find_material("unknown wire"), Ends.CLOSED_GROUND)
    fine = [wire_reading(1.2, 0.003), *caliper()[1:]]
    odds = posterior([*fine, magnet_reading(Pull.NONE)], case).mixture.family_odds
    assert odds.get("music wire", 0.0) < 0.1
    assert odds["302 stainless"] > 0.4
    odds = posterior([*fine, magnet_reading(Pull.STRONG)], case).mixture.family_odds
    assert odds["music wire"] > 0.8
    assert "phosphor bronze" not in odds


def test_stainless_is_told_from_music_wire_by_a_fine_bench():
    case = Case(find_material("unknown steel"), Ends.CLOSED)
    dims = [
        wire_reading(1.2, 0.003),
        outside_reading(13.2, 0.01),
        count_reading(22.0, 0.02),
        free_length_reading(80.0),
    ]
    soft = 71e3 * 1.2**4 / (8 * 12.0**3 * 20)
    odds = posterior([*dims, bench(soft, 0.005 * soft)], case).mixture.family_odds
    assert odds["302 stainless"] > 0.8


@pytest.mark.parametrize(
    ("readings", "missing"),
    [
        ([wire_reading(1.2)], "outside or inside diameter, total_coils"),
        ([wire_reading(1.2), count_reading(9)], "outside or inside diameter"),
        ([outside_reading(13.2), count_reading(9)], "wire_diameter_mm"),
        ([wire_reading(1.2), inside_reading(10.8)], "total_coils"),
        ([], "readings are empty"),
    ],
)
def test_what_is_missing_is_named(readings, missing):
    with pytest.raises(ValueError, match=missing):
        posterior(readings)


def test_a_bench_alone_is_enough_for_a_rate():
    fit = fit_bench([2, 4, 6, 8], [3.4, 6.8, 10.3, 13.8])
    components = solve([rate_reading(fit)], MUSIC)
    require_known_rate(components)
    value, u = components[0].log_rate()
    assert np.exp(value) == pytest.approx(fit.rate_N_per_mm, rel=5e-3)
    assert u == pytest.approx(fit.u_N_per_mm / fit.rate_N_per_mm, rel=0.05)


@pytest.mark.parametrize(
    ("make", "field"),
    [
        (lambda: wire_reading(0.0), "wire"),
        (lambda: wire_reading(float("nan")), "wire"),
        (lambda: outside_reading(-3.0), "outside_diameter"),
        (lambda: outside_reading(13.0, 0.0), "u_outside_diameter"),
        (lambda: count_reading(1e9), "total_coils"),
        (lambda: free_length_reading(38e3), "free_length_mm"),
        (lambda: weight_reading(float("inf")), "weight"),
        (lambda: coat_reading(-0.1), "coat_thickness_mm"),
        (lambda: touching_reading(12.0, 0), "touching_coils"),
    ],
)
def test_bad_readings_name_their_field(make, field):
    with pytest.raises(ValueError, match=field):
        make()


def test_coverage_over_random_springs():
    """Truth inside the 95 % band in 90 to 98 %, and sound evidence narrows it on average.

    ``COVERAGE_SPRINGS=3000`` runs the long version; the default is quick, so its lower limit is
    two standard deviations of the count wider.
    """
    count = int(os.environ.get("COVERAGE_SPRINGS", "150"))
    outcomes = simulate(count)
    slack = 2 * (0.95 * 0.05 / count) ** 0.5 if count < 1000 else 0.0
    inside = np.mean([one.inside for one in outcomes])
    assert 0.90 - slack <= inside <= 0.98 + slack
    for kind, sets, left in left_by_evidence(outcomes):
        # A coat's thickness hardly enters the rate: no wider than the draws scatter.
        assert left < (1.0 if sets >= 20 else 1.05), kind
    assert np.mean([one.questioned for one in outcomes]) < 0.05
