import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mechanics.ends import Ends
from mechanics.estimate import estimate_rate
from mechanics.geometry import SpringGeometry
from mechanics.materials import MATERIALS, Family, Material, find_material
from mechanics.rate import spring_rate
from mechanics.units import RATE_UNITS, convert_rate

EXACT_G = Material("exact", (Family(80.0, 0.0),), "none")


def spring(u_d=0.0, u_D=0.0, scale=0.0, n_t=14.0, ends=Ends.CLOSED) -> SpringGeometry:
    values = np.array([1.2, 12.0, n_t, 3.2 * n_t])
    common = scale * values * [1, 1, 0, 1]
    cov = np.diag([u_d**2, u_D**2, 0.0, 0.0]) + np.outer(common, common)
    return SpringGeometry(values, cov, ends)


def relative_u(geometry, material=EXACT_G):
    out = estimate_rate(geometry, material, np.random.default_rng(7))
    return out.u_N_per_mm / out.rate_N_per_mm


def test_shared_scale_error_enters_with_power_one():
    base = relative_u(spring(n_t=102, ends=Ends.OPEN))
    with_scale = relative_u(spring(scale=0.02, n_t=102, ends=Ends.OPEN))
    assert (with_scale**2 - base**2) ** 0.5 == pytest.approx(0.02, rel=0.05)


def test_wire_error_enters_with_power_four():
    base = relative_u(spring(n_t=102, ends=Ends.OPEN))
    with_wire = relative_u(spring(u_d=0.012, n_t=102, ends=Ends.OPEN))
    assert (with_wire**2 - base**2) ** 0.5 == pytest.approx(0.04, rel=0.05)


def test_budget_adds_up_to_the_monte_carlo_spread():
    geometry = spring(u_d=0.01, u_D=0.02, scale=0.005, n_t=30)
    out = estimate_rate(geometry, find_material("music wire"), np.random.default_rng(1))
    total = sum(np.sign(c.u_relative) * c.u_relative**2 for c in out.budget) ** 0.5
    assert out.u_N_per_mm / out.rate_N_per_mm == pytest.approx(total, rel=0.05)


def test_same_seed_same_band():
    runs = [estimate_rate(spring(), EXACT_G, np.random.default_rng(3)) for _ in range(2)]
    assert runs[0] == runs[1]


def test_a_wrong_covariance_is_refused():
    with pytest.raises(ValueError, match="negative eigenvalue"):
        SpringGeometry(np.array([1.0, 9.0, 8.0, 30.0]), np.diag([1.0, -1.0, 0.0, 0.0]))


@pytest.mark.parametrize("bad", [0.0, -1.0, float("nan"), float("inf")])
def test_every_dimension_must_be_positive(bad):
    for k, field in enumerate(["wire_diameter_mm", "mean_diameter_mm", "total_coils"]):
        values = np.array([1.0, 9.0, 8.0, 30.0])
        values[k] = bad
        with pytest.raises(ValueError, match=field):
            SpringGeometry(values, np.zeros((4, 4)))


def test_no_active_coil_is_named():
    with pytest.raises(ValueError, match="leave no active coil"):
        estimate_rate(spring(n_t=1.5), EXACT_G, np.random.default_rng(0))


@given(st.floats(0.3, 5), st.floats(3.5, 15), st.floats(2, 40), st.floats(40e3, 85e3))
def test_rate_solved_back_gives_the_coils(d, C, n, G):
    rate = spring_rate(d, C * d, n, G)
    assert spring_rate(d, C * d, rate, G) == pytest.approx(n)


@given(st.floats(1e-3, 1e3), st.sampled_from(list(RATE_UNITS)), st.sampled_from(list(RATE_UNITS)))
def test_units_round_trip(value, a, b):
    assert convert_rate(convert_rate(value, a, b), b, a) == pytest.approx(value, rel=1e-12)


def test_unknown_steel_is_wider_than_any_steel_named():
    wide = find_material("unknown steel").u_shear_modulus_GPa
    steels = [m for m in MATERIALS if m.name in ("music wire", "hard drawn", "302 stainless")]
    assert all(wide > m.u_shear_modulus_GPa for m in steels)


def test_sampled_modulus_has_the_stated_spread():
    material = find_material("unknown steel")
    drawn = material.sample_GPa(200_000, np.random.default_rng(5))
    assert drawn.mean() == pytest.approx(material.shear_modulus_GPa, rel=1e-3)
    assert drawn.std() == pytest.approx(material.u_shear_modulus_GPa, rel=0.01)
