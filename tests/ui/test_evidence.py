import pytest

from mechanics.ends import Ends
from mechanics.materials import find_material
from mechanics.readings import Coat
from mechanics.whole_readings import Pull, magnet_reading, photo_reading, rate_reading
from ui.answer import answer_of, answer_of_readings
from ui.caliper import Across, Count, Readings
from ui.evidence import KINDS, evidence_of, improved, load_test, pressed_coils

STEEL = find_material("unknown steel")
READINGS = Readings(1.2, 13.2, 14, 45.0, ends=Ends.CLOSED)


def half_width(answer):
    q = answer.told["rate_N_per_mm"]
    return (q.high - q.low) / 2 / q.value


def test_a_weight_and_a_magnet_narrow_the_band():
    plain = answer_of_readings(READINGS, STEEL)
    base = evidence_of(READINGS)
    weighed = improved(plain, base, [KINDS["weight"].build(4.7, 0.05)])
    both = improved(plain, base, [KINDS["weight"].build(4.7, 0.05), magnet_reading(Pull.STRONG)])
    assert half_width(both) < half_width(weighed) < half_width(plain)
    assert weighed.notes == ()


def test_no_more_evidence_gives_the_same_rate_as_before():
    plain = answer_of_readings(READINGS, STEEL)
    same = improved(plain, evidence_of(READINGS), [])
    before, after = plain.told["rate_N_per_mm"], same.told["rate_N_per_mm"]
    assert after.value == pytest.approx(before.value, rel=0.01)
    assert half_width(same) == pytest.approx(half_width(plain), rel=0.05)


@pytest.mark.parametrize(
    ("across", "diameter"), [(Across.OUTSIDE, 13.2), (Across.MEAN, 12.0), (Across.INSIDE, 10.8)]
)
def test_every_way_of_reading_the_coil_is_understood(across, diameter):
    readings = Readings(1.2, diameter, 12, 45.0, across, Count.ACTIVE, Ends.CLOSED)
    plain = answer_of_readings(readings, STEEL)
    told = improved(plain, evidence_of(readings), [KINDS["weight"].build(4.7, 0.05)]).told
    assert told["outer_diameter_mm"].value == pytest.approx(13.2, abs=0.05)
    assert told["active_coils"].value == pytest.approx(12.0, abs=0.15)


def test_a_contradiction_is_named_not_averaged():
    plain = answer_of_readings(READINGS, STEEL)
    told = improved(plain, evidence_of(READINGS), [KINDS["outside"].build(10.8, 0.05)])
    assert "inside diameter" in told.notes[0]
    assert told.told["outer_diameter_mm"].value == pytest.approx(13.2, abs=0.05)


def test_a_load_test_beats_any_caliper():
    plain = answer_of_readings(READINGS, STEEL)
    fit = load_test([0.0, 5.0, 10.0, 15.0], [2.0, 7.0, 12.0, 17.0])
    told = improved(plain, evidence_of(READINGS), [rate_reading(fit)])
    assert told.told["rate_N_per_mm"].value == pytest.approx(1.0, rel=0.02)
    assert half_width(told) < 0.07


def test_a_photo_is_evidence_like_any_other(seen):
    answer = answer_of(seen.geometry, STEEL)
    better = improved(answer, [photo_reading(seen.geometry)], [pressed_coils(12.0, 10)], Coat.BARE)
    assert better.told["wire_diameter_mm"].u < answer.told["wire_diameter_mm"].u
    assert half_width(better) < half_width(answer)


def test_what_was_not_measured_stays_untold():
    readings = Readings(1.2, 13.2, 14, ends=Ends.CLOSED)
    plain = answer_of_readings(readings, STEEL)
    told = improved(plain, evidence_of(readings), [KINDS["weight"].build(4.7, 0.05)]).told
    assert not {"free_length_mm", "pitch_mm"} & set(told)


def test_counted_from_free_only_the_middle_of_a_load_test_counts():
    """20 to 80 % of the travel (common practice, no source), so no coil that closes late."""
    travel, force = [2.0, 5.0, 10.0, 15.0, 19.5], [2.0, 5.0, 10.0, 15.0, 24.0]
    assert load_test(travel, force).rate_N_per_mm > 1.1
    middle = load_test(travel, force, to_solid_mm=20.0)
    assert middle.rate_N_per_mm == pytest.approx(1.0)
    assert middle.left_out == (0, 4)
