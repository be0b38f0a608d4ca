"""A spring that cannot be is refused in a sentence that names the field."""

import numpy as np
import pytest

from mechanics.draws import draw_spring
from mechanics.ends import Ends
from mechanics.estimate import estimate_rate
from mechanics.geometry import SpringGeometry
from mechanics.materials import find_material

GOOD = {"wire": 1.2, "mean": 12.0, "turns": 9.0, "length": 38.0}


def geometry(ratio=1.0, u_ratio=0.0, ends=Ends.CLOSED, **changed):
    values = np.array(list((GOOD | changed).values()))
    return SpringGeometry(values, np.diag((1e-3 * values) ** 2), ends, ratio, u_ratio)


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"wire": 1.2 / 25.4}, "wire_diameter_mm"),
        ({"wire": 1.2 * 25.4}, "wire_diameter_mm"),
        ({"mean": 12 / 25.4}, "mean_diameter_mm"),
        ({"mean": 12 * 25.4}, "mean_diameter_mm"),
        ({"length": 38 / 25.4}, "free_length_mm"),
        ({"length": 38 * 25.4}, "free_length_mm"),
        ({"turns": 1e9}, "total_coils"),
        ({"turns": 90.0}, "turns"),
        ({"turns": float("nan")}, "total_coils"),
        ({"wire": 13.0}, "thicker than the coil"),
    ],
)
def test_a_slip_names_its_field(changed, field):
    with pytest.raises(ValueError, match=field):
        geometry(**changed)


@pytest.mark.parametrize("ratio", [0.0, -0.5, 1.5, float("nan")])
def test_a_cone_has_a_small_end(ratio):
    with pytest.raises(ValueError, match="small_end_ratio"):
        geometry(ratio)


def test_covariance_of_not_a_number_is_refused():
    with pytest.raises(ValueError, match="covariance"):
        SpringGeometry(np.array(list(GOOD.values())), np.full((4, 4), np.nan))


def test_a_cone_is_stiffer_than_its_large_end_and_softer_than_its_small_end():
    material = find_material("music wire")

    def rate(ratio, mean):
        return estimate_rate(
            geometry(ratio, mean=mean), material, np.random.default_rng(0)
        ).rate_N_per_mm

    assert rate(1.0, 12.0) < rate(0.6, 12.0) < rate(1.0, 7.2)


def test_taper_enters_the_budget_as_it_enters_the_band():
    material = find_material("music wire")
    sure = estimate_rate(geometry(0.6), material, np.random.default_rng(0))
    vague = estimate_rate(geometry(0.6, 0.03), material, np.random.default_rng(0))
    added = (vague.u_N_per_mm**2 - sure.u_N_per_mm**2) ** 0.5 / sure.rate_N_per_mm
    (taper,) = (part.u_relative for part in vague.budget if part.cause == "taper")
    assert added == pytest.approx(taper, rel=0.1)


def test_hooks_hold_touching_coils_that_all_work():
    spring = geometry(ends=Ends.HOOKS, length=60.0)
    assert spring.pitch_mm == 1.2
    assert spring.active_coils == pytest.approx(9.39)


def test_draws_without_a_working_coil_are_left_out():
    values = np.array([1.2, 12.0, 3.0, 20.0])
    vague = SpringGeometry(values, np.diag([0.0, 0.0, 0.3, 0.0]) ** 2, Ends.CLOSED)
    draws = draw_spring(vague, find_material("music wire"), np.random.default_rng(1))
    assert draws.size < 40_000
    assert draws.active_coils.min() > 0.2
