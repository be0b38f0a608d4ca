"""Recognition: odds that mean what they say, on springs drawn from their own errors."""

import numpy as np
import pytest

from tests.ui.collection.springs import made
from ui.collection.matching import match
from ui.collection.record import Spring

DRAWER = {
    "a": made("Quay 7 front"),
    "b": made("Quay 7 rear", d=1.5),
    "c": made("Slipway", d=0.9, mean=8.0, coils=12.0, length=40.0),
}


def measured(true, rng, u=0.006):
    """Return a spring measured once more, wrong by its own errors."""
    exact = np.array(true.values)
    sigma = u * exact * [1, 1, 1, 1, 4]
    values = exact + sigma * rng.standard_normal(5)
    matrix = np.diag(sigma**2)
    return Spring("?", tuple(values), tuple(map(tuple, matrix.tolist())), hand=true.hand)


def test_the_same_spring_is_recognised():
    found = match(measured(DRAWER["b"], np.random.default_rng(1)), DRAWER)
    assert found.matches[0].keys == ("b",)
    assert found.matches[0].chance > 0.95


def test_chances_add_up():
    found = match(made(d=1.45, u=0.02), DRAWER, least=0.0)
    assert sum(m.chance for m in found.matches) + found.none_of_these == pytest.approx(1.0)


def test_a_stranger_is_none_of_these():
    found = match(made(d=1.1, mean=14.0, coils=6.0, length=50.0), DRAWER)
    assert found.none_of_these > 0.99
    assert found.matches == ()


def test_twins_are_called_indistinguishable_whatever_the_noise():
    drawer = DRAWER | {"twin": made("Quay 7 front, other side", d=1.401)}
    for seed in range(20):
        found = match(measured(drawer["a"], np.random.default_rng(seed)), drawer)
        assert set(found.matches[0].keys) == {"a", "twin"}


def test_the_other_hand_is_hardly_the_same_spring():
    right, left = made(hand="right"), made(hand="left")
    found = match(made(hand="right"), {"right": right, "left": left}, least=0.0)
    assert {m.keys for m in found.matches} == {("right",), ("left",)}
    assert found.matches[0].keys == ("right",)
    assert found.matches[0].chance > 10 * found.matches[1].chance


def test_odds_mean_what_they_say():
    """Of matches told with a chance near p, a share near p must be true (60 % to 90 %: +-12 %)."""
    rng = np.random.default_rng(7)
    told, true = [], []
    drawer = {str(k): made(str(k), d=1.4 * 1.012**k) for k in range(6)}
    for _ in range(400):
        key = str(rng.integers(0, 6))
        spring = measured(drawer[key], rng, 0.008)
        for one in match(spring, drawer, prior_none=0.02, least=0.0).matches:
            told.append(one.chance)
            true.append(key in one.keys)
    told, true = np.array(told), np.array(true)
    for low, high in ((0.05, 0.4), (0.4, 0.8), (0.8, 1.01)):
        some = (told >= low) & (told < high)
        assert some.sum() > 20
        assert true[some].mean() == pytest.approx(told[some].mean(), abs=0.12)


def test_an_empty_drawer_holds_none():
    assert match(made(), {}).none_of_these == 1.0
