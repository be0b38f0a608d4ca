"""What a reading is expected to bring is what it brings on average."""

import numpy as np
import pytest

from mechanics.bench import BenchFit
from mechanics.conflicts import reconcile
from mechanics.ends import Ends
from mechanics.evidence import Case, solve
from mechanics.geometry import SpringGeometry
from mechanics.materials import find_material
from mechanics.next_reading import rank_readings
from mechanics.readings import (
    count_reading,
    free_length_reading,
    outside_reading,
    weight_reading,
    wire_reading,
)
from mechanics.whole_readings import Pull, magnet_reading, photo_reading, rate_reading

CASE = Case(find_material("music wire"), Ends.CLOSED_GROUND)
PHOTO = photo_reading(
    SpringGeometry(np.array([1.2, 12.0, 9.0, 38.0]), np.diag([0.01, 0.04, 0.06, 0.1]) ** 2)
)


def caliper(u_wire=0.02):
    return [
        wire_reading(1.2, u_wire),
        outside_reading(13.2),
        count_reading(9.0),
        free_length_reading(38.0),
    ]


def known(readings=None, case=CASE):
    return reconcile(readings or caliper(), case, np.random.default_rng(0), 8000).mixture.draws


def ranked(draws):
    return {one.name: one for one in rank_readings(draws)}


@pytest.mark.parametrize(
    ("name", "read"),
    [
        (
            "Micrometer on the wire",
            lambda s, g: wire_reading(s.wire_diameter_mm[0] + g * 0.004, 0.004),
        ),
        ("Weigh it", lambda s, g: weight_reading(s.mass_g[0] * (1 + 0.01 * g), 0.01 * s.mass_g[0])),
        (
            "Force at two deflections",
            lambda s, g: rate_reading(
                BenchFit(
                    s.rate_N_per_mm[0] * (1 + 0.025 * g), 0.025 * s.rate_N_per_mm[0], 0, (), (), ()
                )
            ),
        ),
    ],
)
def test_expected_narrowing_is_the_average_of_what_happens(name, read):
    """Forty springs of the posterior are read in turn; the mean new spread is the promised one."""
    draws, rng = known(), np.random.default_rng(4)
    promise = ranked(draws)[name]
    before = np.log(draws.rate_N_per_mm).std()
    after = []
    for i in rng.integers(draws.size, size=40):
        reading = read(draws.take(np.array([i])), rng.standard_normal())
        after.append(solve([*caliper(), reading], CASE)[0].log_rate()[1])
    assert np.mean(after) / before == pytest.approx(promise.after / promise.now, rel=0.08)


def test_a_vague_wire_asks_for_a_bench_or_a_micrometer():
    names = [one.name for one in rank_readings(known())]
    assert set(names[:3]) == {
        "Force at two deflections",
        "Micrometer on the wire",
        "Length over ten touching coils",
    }
    assert names[-1] in ("Free length", "Weigh it on a kitchen scale")


def test_a_known_wire_asks_for_something_else():
    told = ranked(known(caliper(0.002)))
    assert told["Micrometer on the wire"].after > 0.97 * told["Micrometer on the wire"].now


def test_unknown_alloy_asks_for_a_magnet():
    mixed = known(case=Case(find_material("unknown wire"), Ends.CLOSED_GROUND))
    magnet = ranked(mixed)["Hold a magnet to it"]
    assert magnet.after < 0.8 * magnet.now
    assert "Hold a magnet to it" not in ranked(known())
    # It says the same each time.
    held = rank_readings(mixed, taken=[magnet_reading(Pull.NONE)])
    assert "Hold a magnet to it" not in {one.name for one in held}


def test_no_reading_is_expected_to_widen_the_band():
    assert all(one.after <= one.now for one in rank_readings(known()))


def test_the_sentence_shows_both_bands():
    said = ranked(known())["Weigh it"].sentence
    assert "±" in said
    assert "1 min" in said


def test_another_photo_of_many_brings_ever_less():
    """Half of a photo's variance is common to all: two leave 3/4 of it, three 2/3, never 1/2."""
    draws = known()
    after = [
        next(s.after for s in rank_readings(draws, taken=[PHOTO] * k) if s.name == "Another photo")
        for k in (0, 1, 4)
    ]
    assert after[0] < after[1] < after[2] < rank_readings(draws)[0].now


def test_a_second_reading_by_one_caliper_brings_less_than_by_another():
    """The promise for reading again with the same tool is what that reading then brings."""
    again = {one.name: one for one in rank_readings(known(), taken=caliper())}
    fresh = ranked(known())
    assert again["Caliper on the wire"].after > 1.1 * fresh["Caliper on the wire"].after
    assert again["Micrometer on the wire"] == fresh["Micrometer on the wire"]
    before, after = (
        solve(some, CASE)[0].log_rate()[1] for some in (caliper(), [*caliper(), wire_reading(1.2)])
    )
    told = again["Caliper on the wire"]
    assert after / before == pytest.approx(told.after / told.now, rel=0.03)


def test_too_few_draws_are_refused():
    with pytest.raises(ValueError, match="draws"):
        rank_readings(known().take(np.arange(10)))
