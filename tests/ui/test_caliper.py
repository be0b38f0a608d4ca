from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mechanics.ends import Ends
from mechanics.materials import find_material
from mechanics.rate import spring_rate
from ui.answer import answer_of_readings
from ui.caliper import Across, Count, Readings, geometry_of, without_doubt, working_geometry

MUSIC = find_material("music wire")


def reckon(readings, material):
    answer = answer_of_readings(readings, material)
    return answer.rate, answer.told


def test_outside_and_inside_readings_give_the_same_mean():
    readings = [
        Readings(1.2, 13.2, 14, across=Across.OUTSIDE),
        Readings(1.2, 12.0, 14, across=Across.MEAN),
        Readings(1.2, 10.8, 14, across=Across.INSIDE),
    ]
    assert [geometry_of(r).values[1] for r in readings] == pytest.approx([12.0] * 3)


@pytest.mark.parametrize(("across", "sign"), [(Across.OUTSIDE, -1), (Across.INSIDE, 1)])
def test_the_wire_enters_the_mean_diameter_with_its_error(across, sign):
    cov = geometry_of(Readings(1.2, 12.0, 14, across=across, u_wire_mm=0.02)).covariance
    assert cov[0, 1] == pytest.approx(sign * 0.02**2)
    assert cov[1, 1] == pytest.approx(0.05**2 + 0.02**2)


def test_counted_active_coils_are_the_ones_that_work():
    """Shigley 10e, problem 10-3: d 2.5, D 28.5 mm, 13 active, G 81 GPa give 1.314 N/mm."""
    readings = Readings(2.5, 28.5, 13, 120.0, Across.MEAN, Count.ACTIVE, ends=Ends.CLOSED_GROUND)
    rate, told = reckon(without_doubt(readings), MUSIC)
    # Our modulus is 80.35 GPa, and curvature and pitch move the rate by less than half a percent.
    assert rate.rate_N_per_mm == pytest.approx(1.314 * 80.35 / 81.0, rel=0.005)
    assert told["total_coils"].value == pytest.approx(15.0)
    assert told["active_coils"].value == 13.0


def test_counting_active_coils_settles_the_doubt_of_the_ends():
    total = Readings(1.2, 13.2, 14, 45.0, ends=Ends.CLOSED, u_wire_mm=0.0)
    active = Readings(1.2, 13.2, 12, 45.0, count=Count.ACTIVE, ends=Ends.CLOSED, u_wire_mm=0.0)
    wide, narrow = reckon(total, MUSIC)[0], reckon(active, MUSIC)[0]
    assert narrow.rate_N_per_mm == pytest.approx(wide.rate_N_per_mm, rel=1e-6)
    assert narrow.u_N_per_mm < wide.u_N_per_mm


def test_working_part_keeps_the_pitch():
    full = Readings(1.2, 13.2, 12, 45.0, count=Count.ACTIVE, ends=Ends.CLOSED)
    assert working_geometry(full).pitch_mm == pytest.approx(geometry_of(full).pitch_mm)


def test_a_free_length_left_out_hardly_moves_the_rate_and_is_not_told():
    known = reckon(Readings(1.2, 13.2, 14, 45.0, ends=Ends.CLOSED), MUSIC)
    unknown = reckon(Readings(1.2, 13.2, 14, ends=Ends.CLOSED), MUSIC)
    assert unknown[0].rate_N_per_mm == pytest.approx(known[0].rate_N_per_mm, rel=0.005)
    assert "free_length_mm" in known[1]
    assert not {"free_length_mm", "pitch_mm"} & set(unknown[1])


@pytest.mark.parametrize(
    ("readings", "words"),
    [
        (Readings(5.0, 6.0, 4), "does not fit"),
        (Readings(1.0, 10.0, 1.5, ends=Ends.CLOSED), "leave none to work"),
        (Readings(1.0, 10.0, 10, 5.0), "shorter than"),
        (Readings(0.0, 10.0, 10), "wire diameter must be"),
        (Readings(1.0, float("nan"), 10), "outside diameter must be"),
        (Readings(1.0, 10.0, 10, u_wire_mm=-0.1), "uncertainty"),
    ],
)
def test_impossible_readings_are_named(readings, words):
    with pytest.raises(ValueError, match=words):
        reckon(readings, MUSIC)


@settings(deadline=None, max_examples=50)
@given(st.floats(0.3, 4), st.floats(4, 14), st.floats(4, 30), st.sampled_from(list(Ends)))
def test_value_lies_in_its_band(d, index, coils, ends):
    rate, told = reckon(Readings(d, (index + 1) * d, coils, ends=ends), MUSIC)
    basic = spring_rate(d, index * d, told["active_coils"].value, 80_350.0)
    assert rate.rate_N_per_mm == pytest.approx(basic, rel=0.025)
    assert all(q.low <= q.value <= q.high for q in told.values())


def test_bands_come_from_the_stated_uncertainty():
    told = reckon(Readings(1.2, 13.2, 14, u_wire_mm=0.02, u_diameter_mm=0.05), MUSIC)[1]
    wire, mean = told["wire_diameter_mm"], told["mean_diameter_mm"]
    assert (wire.high - wire.low) / 2 == pytest.approx(1.96 * 0.02, rel=0.03)
    assert mean.u == pytest.approx(np.hypot(0.05, 0.02), rel=0.03)


@pytest.mark.parametrize("doubt", ["u_wire_mm", "u_diameter_mm", "u_coils", "u_free_length_mm"])
def test_an_uncertainty_as_large_as_its_reading_is_refused(doubt):
    with pytest.raises(ValueError, match="as large as the"):
        geometry_of(replace(Readings(1.2, 12.0, 14.0, 45.0), **{doubt: 60.0}))
