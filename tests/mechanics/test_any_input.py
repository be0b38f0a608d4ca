"""Any numbers at all: a sentence that names what is wrong, or an answer with a finite band."""

import math

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from mechanics.bench import Gauge, fit_bench
from mechanics.conflicts import reconcile
from mechanics.corner import Corner, sag
from mechanics.draws import draw_spring
from mechanics.ends import Ends
from mechanics.estimate import estimate_rate
from mechanics.evidence import Case
from mechanics.geometry import SpringGeometry, Width
from mechanics.limits import find_limits, load_at
from mechanics.materials import MATERIALS
from mechanics.readings import (
    count_reading,
    free_length_reading,
    outside_reading,
    touching_reading,
    weight_reading,
    wire_reading,
)
from mechanics.stretch import stretch
from mechanics.torsion import draw_torsion, torsion_active_coils
from mechanics.whatif import cut, plan_cut
from mechanics.whole_readings import rate_reading

#: A number of the size that belongs there, off by a unit or a digit, or no number at all.
WILD = st.one_of(
    st.floats(),
    st.sampled_from([0.0, -1.0, math.nan, math.inf, -math.inf, 1e9, 1e-9, 1e300, 5e-324]),
)


def about(value):
    usual = st.floats(0.3 * value, 3.0 * value)
    return st.one_of(usual, usual, usual, st.sampled_from([25.4 * value, value / 25.4]), WILD)


READ = {
    "wire": about(1.2),
    "outside": about(13.2),
    "turns": about(9.0),
    "length": about(38.0),
    "weight": about(2.9),
    "touching": about(12.0),
    "force": about(3.4),
    "u": about(0.02),
}
LOOSE = settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True
)


def tried(act):
    """What an act gives, or None where it was refused in a sentence."""
    try:
        return act()
    except ValueError as refused:
        said = str(refused)
    assert len(said) > 15
    assert not any(word in said for word in ("array", "matrix", "Singular", "SVD"))
    return None


def is_sound(q):
    return q.low <= q.high and (math.isfinite(q.value) or math.isinf(q.high))


@LOOSE
@given(st.fixed_dictionaries(READ), st.sampled_from(Ends), st.sampled_from(MATERIALS))
def test_dimensions(read, ends, material):
    def act():
        values = np.array([read["wire"], read["outside"], read["turns"], read["length"]])
        u = np.array([min(abs(read["u"]), 1e6)] * 4)
        geometry = SpringGeometry(values, np.diag(u**2), ends)
        rng = np.random.default_rng(0)
        rate = estimate_rate(geometry, material, rng)
        return rate, draw_spring(geometry, material, rng, 400)

    found = tried(act)
    if found is None:
        return
    rate, draws = found
    assert 0.0 < rate.low_N_per_mm <= rate.high_N_per_mm < math.inf
    rng = np.random.default_rng(0)
    for more in (
        lambda: find_limits(draws, rng).quantities.values(),
        lambda: load_at(draws, read["touching"], rng).values(),
        lambda: cut(draws, read["weight"], rng).after.values(),
        lambda: [plan_cut(draws, read["force"], rng).exact_turns],
        lambda: stretch(draws, read["touching"], rng, read["length"]).after.values(),
        lambda: sag(
            draws, Corner(read["force"], 1.0, read["length"], read["touching"]), rng
        ).quantities.values(),
    ):
        assert all(is_sound(q) for q in tried(more) or [])


@settings(LOOSE, max_examples=12)
@given(st.fixed_dictionaries(READ), st.sampled_from(Ends))
def test_evidence(read, ends):
    def act():
        bench = fit_bench([2.0, 4.0], [read["force"], 2 * read["force"]], Gauge())
        return [
            wire_reading(read["wire"], read["u"]),
            outside_reading(read["outside"]),
            count_reading(read["turns"]),
            free_length_reading(read["length"]),
            weight_reading(read["weight"]),
            touching_reading(read["touching"], 10),
            rate_reading(bench),
        ]

    readings = tried(act)
    if readings is None:
        return
    case, rng = Case(MATERIALS[0], ends), np.random.default_rng(0)
    found = tried(lambda: reconcile(readings, case, rng, 500))
    if found is None:
        return
    band = found.mixture.rate_N_per_mm
    assert 0.0 < band.low <= band.high < math.inf


@LOOSE
@given(st.fixed_dictionaries(READ), st.sampled_from(MATERIALS))
def test_torsion_and_rectangular(read, material):
    d, D, turns, u = read["wire"], read["outside"], read["turns"], read["u"]
    rng = np.random.default_rng(0)

    def wound():
        n = torsion_active_coils(turns, D, (read["length"], read["length"]))
        return draw_torsion((d, u), (D, u), (n, u), material, rng, 400).rate.per_turn

    def flat():
        values = np.array([d, D, turns, read["length"]])
        width, most = Width(read["weight"], u), min(abs(u), 1e6)
        geometry = SpringGeometry(values, most**2 * np.eye(4), Ends.CLOSED, width=width)
        return find_limits(draw_spring(geometry, material, rng, 400), rng)

    q = tried(wound)
    assert q is None or 0.0 <= q.low <= q.high < math.inf
    limits = tried(flat)
    assert limits is None or all(is_sound(one) for one in limits.quantities.values())


@pytest.mark.parametrize(
    ("act", "said"),
    [
        (lambda: wire_reading(1.2, 1e-30), "u_wire"),
        (lambda: weight_reading(1e9), "weight"),
        (lambda: touching_reading(12.0, 9.5), "touching_coils"),
        (lambda: touching_reading(12.0, math.nan), "touching_coils"),
        (lambda: torsion_active_coils(1e9, 14.5), "body_coils"),
        (lambda: torsion_active_coils(4.0, 14.5, (20.0, 1e9)), "leg_mm"),
    ],
)
def test_what_is_wrong_is_named(act, said):
    with pytest.raises(ValueError, match=said):
        act()
