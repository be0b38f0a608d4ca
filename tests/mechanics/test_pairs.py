"""Matching two springs: chances against closed forms."""

import numpy as np
import pytest
from scipy import stats

from mechanics.draws import draw_spring
from mechanics.ends import Ends
from mechanics.geometry import SpringGeometry
from mechanics.materials import Family, Material, find_material
from mechanics.pairs import compare, pair_draws


def spring(d, seed, material="music wire", u_d=0.0):
    values = np.array([d, 12.0, 80.0, 300.0])
    geometry = SpringGeometry(values, np.diag([u_d, 0, 0, 0]) ** 2, Ends.OPEN)
    steel = find_material(material) if isinstance(material, str) else material
    return draw_spring(geometry, steel, np.random.default_rng(seed), 8000)


def rng():
    return np.random.default_rng(9)


def test_chance_of_a_match_is_the_normal_integral():
    """Two springs of u 1 % wire each: log ratio normal with 4 x 1.41 %, exact modulus."""
    exact = Material("exact", (Family(80.0, 0.0),), "none")
    out = compare(spring(1.2, 1, exact, 0.012), spring(1.2, 2, exact, 0.012), 5.0, rng())
    u = np.hypot(4 * 0.01 * 2**0.5, 0.004)
    expected = 2 * stats.norm.cdf(np.log(1.05) / u) - 1
    assert out.chance == pytest.approx(expected, abs=0.02)


def test_one_wire_cancels_its_modulus():
    """Music wire's 1.7 % twice is 2.4 % apart; from one wire only the spread in it is left."""
    apart = compare(spring(1.2, 1), spring(1.2, 2), 3.0, rng())
    together = compare(spring(1.2, 1), spring(1.2, 2), 3.0, rng(), same_wire=True)
    assert together.ratio.u < 0.4 * apart.ratio.u
    assert together.chance > 0.97 > apart.chance


def test_one_wire_of_unknown_alloy_cancels_the_alloy():
    apart = compare(spring(1.2, 1, "unknown steel"), spring(1.2, 2, "unknown steel"), 3.0, rng())
    together = compare(
        spring(1.2, 1, "unknown steel"), spring(1.2, 2, "unknown steel"), 3.0, rng(), same_wire=True
    )
    assert apart.chance < 0.75 < together.chance
    assert "likely" in together.sentence


def test_a_thicker_wire_is_no_match():
    out = compare(spring(1.2, 1), spring(1.3, 2), 5.0, rng(), same_wire=True)
    assert out.chance < 0.01
    assert out.ratio.value == pytest.approx((1.3 / 1.2) ** 4, rel=0.02)
    assert "unlikely" in out.sentence


def test_one_wire_that_both_springs_learned_is_counted_once():
    """Both saw a modulus 3 % low with u 1.5 %: their one prior must not count twice.

    Prior u 1.69 %, two readings of u 1.5 %: mean -3 (2/1.5^2)/(2/1.5^2 + 1/1.69^2) = -2.15 %.
    """
    learned = []
    for seed in (1, 2):
        draws = spring(1.2, seed)
        log = np.log(draws.shear_modulus_MPa / 80350.0)
        weight = np.exp(-0.5 * ((log + 0.03) / 0.015) ** 2)
        pick = np.random.default_rng(3 + seed).choice(log.size, 8000, p=weight / weight.sum())
        learned.append(draws.take(pick))
    a, _, weight = pair_draws(*learned, rng())
    log = np.log(learned[0].shear_modulus_MPa[a] / 80350.0)
    assert float(weight @ log) == pytest.approx(-0.0215, abs=0.0015)
    assert compare(*learned, 3.0, rng(), same_wire=True).chance > 0.97


@pytest.mark.parametrize("bad", [0.0, -1.0, float("nan")])
def test_a_percentage_must_be_positive(bad):
    with pytest.raises(ValueError, match="within_percent"):
        compare(spring(1.2, 1), spring(1.2, 2), bad, rng())


def test_one_wire_cannot_be_two_materials():
    with pytest.raises(ValueError, match="same_wire"):
        compare(spring(1.2, 1), spring(1.2, 2, "phosphor bronze"), 5.0, rng(), same_wire=True)
