"""Torsion springs and rectangular wire against worked examples, tables and a handbook's formula."""

import math

import numpy as np
import pytest

from mechanics.draws import draw_spring
from mechanics.ends import Ends
from mechanics.geometry import SpringGeometry, Width
from mechanics.limits import draw_solid_length
from mechanics.load import Seating, buckling_deflection
from mechanics.materials import find_material
from mechanics.rate import bergstraesser_factor, spring_rate
from mechanics.rectangular import curved, rectangular_rate, torsion_constant, torsion_modulus
from mechanics.ring_sector import Places, solve_turn
from mechanics.torsion import (
    PRACTICE_PER_TURN,
    bending_stress,
    draw_torsion,
    torsion_active_coils,
    torsion_rate_per_turn,
    torsion_stress_factor,
    wound_diameter,
)
from mechanics.uncertainty import Quantity


def test_jindal_example_8_9():
    """Music wire 1.5 mm, OD 16, 4.25 turns, legs 20 + 20, E 200 GPa, M 497.25 N mm.

    The book winds the body's 4.25 turns only (0.327 turn), then closes to 13.46 mm.
    """
    D = 14.5
    assert torsion_active_coils(4.25, D, (20, 20)) - 4.25 == pytest.approx(0.293, abs=5e-4)
    turns = 497.25 / torsion_rate_per_turn(1.5, D, 4.25, 200e3, PRACTICE_PER_TURN)
    assert turns == pytest.approx(0.327, abs=5e-4)
    assert wound_diameter(D, 4.25, turns) == pytest.approx(13.46, abs=5e-3)


def test_jindal_example_8_9_recalculated():
    """The same spring with its legs counted: Na 4.543, Ki 1.0836, 1423 N mm a turn."""
    n = torsion_active_coils(4.25, 14.5, (20, 20))
    assert n == pytest.approx(4.543, abs=5e-4)
    assert torsion_stress_factor(14.5 / 1.5) == pytest.approx(1.0836, abs=5e-5)
    rate = torsion_rate_per_turn(1.5, 14.5, n, 200e3, PRACTICE_PER_TURN)
    assert rate == pytest.approx(1423, abs=0.5)


def test_bhandari_example_10_21():
    """d 1.6, D 18, E 207 GPa, 3 N mm a radian: 393 coils (rounded up from 392.5)."""
    one = torsion_rate_per_turn(1.6, 18, 1, 207e3) / (2 * math.pi)
    assert math.ceil(one / 3) == 393


def test_shigley_example_10_8_from_memory():
    """Music wire 0.072 in, OD 19/32, 4.25 turns, legs 1 + 1 in, E 28.5 Mpsi: 29.2 lbf in/turn."""
    inch, mpsi = 25.4, 6894.757293168
    D = (19 / 32 - 0.072) * inch
    n = torsion_active_coils(4.25, D, (inch, inch))
    assert n == pytest.approx(4.657, abs=2e-3)
    rate = torsion_rate_per_turn(0.072 * inch, D, n, 28.5 * mpsi, PRACTICE_PER_TURN)
    assert rate / 112.984829027617 == pytest.approx(29.2, abs=0.05)


def test_en_13906_3_from_memory():
    """E d^4 / (3667 D n) a degree."""
    assert torsion_rate_per_turn(2, 20, 5, 206e3) / 360 == pytest.approx(
        206e3 * 16 / (3667 * 20 * 5), rel=1e-4
    )


@pytest.mark.parametrize(
    ("C", "Ki"),
    [
        (3, 1.3333),
        (4, 1.2292),
        (5, 1.1750),
        (6, 1.1417),
        (7, 1.1190),
        (8, 1.1027),
        (10, 1.0806),
        (12, 1.0663),
        (15, 1.0524),
        (20, 1.0388),
    ],
)
def test_bending_factor_table(C, Ki):
    """Computed apart from this code from the formula that Jindal prints."""
    assert torsion_stress_factor(C) == pytest.approx(Ki, abs=6e-5)


def test_bending_stress_is_moment_over_modulus():
    assert bending_stress(np.pi * 8 / 32 * 100, 2.0) == pytest.approx(100)


def test_torsion_band_runs_from_practice_to_theory():
    out = draw_torsion(
        (1.5, 1e-4),
        (14.5, 1e-3),
        (4.54, 1e-3),
        find_material("music wire"),
        np.random.default_rng(0),
    ).rate
    theory = torsion_rate_per_turn(1.5, 14.5, 4.54, 206e3)
    assert theory / 1.06 * 0.97 < out.per_turn.value < theory
    assert out.per_degree.value == pytest.approx(out.per_turn.value / 360)


@pytest.mark.parametrize(
    ("ratio", "J", "W"),
    [
        (1.0, 0.1406, 0.208),
        (1.5, 0.196, 0.231),
        (2.0, 0.229, 0.246),
        (3.0, 0.263, 0.267),
        (5.0, 0.291, 0.291),
        (10.0, 0.312, 0.312),
    ],
)
def test_timoshenko_table_of_rectangular_bars(ratio, J, W):
    """Timoshenko and Goodier, torsion of rectangular bars: J = k1 b t^3, W = k2 b t^2 (memory)."""
    assert torsion_constant(ratio, 1.0) / ratio == pytest.approx(J, abs=6e-4)
    assert torsion_modulus(1.0, ratio) / ratio == pytest.approx(W, abs=6e-4)


@pytest.mark.parametrize("ratio", [1.0, 1.5, 2.0, 3.0])
def test_machinerys_handbook_deflection_of_a_coil(ratio):
    """2.45 P D^3/(G t^3 (b - 0.56 t)) (from memory): an approximation good to 3 %."""
    handbook = 79.3e3 * (ratio - 0.56) / (2.45 * 20.0**3)
    assert rectangular_rate(1.0, ratio, 20.0, 1.0, 79.3e3) == pytest.approx(handbook, rel=0.03)


def test_square_of_equal_area_is_a_little_softer_than_round():
    side = math.sqrt(math.pi / 4) * 2
    # A wide coil: nothing of its curvature is left.
    square, round_ = rectangular_rate(side, side, 400, 8, 80e3), spring_rate(2, 400, 8, 80e3)
    assert square / round_ == pytest.approx(0.1406 * side**4 / (math.pi * 16 / 32), rel=1e-3)
    assert square < round_


@pytest.mark.parametrize(("C", "psi"), [(3, 0.97742), (5, 0.99228), (8, 0.99704), (20, 0.99953)])
def test_turn_of_round_wire_is_the_one_computed_apart(C, psi):
    """The solver of rectangular turns on a circle: Ritz values of another reckoning, to 5 digits.

    Its stress factor is Bergstraesser's within 0.2 %, as Shigley's equation 10-5 prints it.
    """
    turn = solve_turn(*circle(0.5), C / 2, (0.5, 0.5))
    straight = 2 * math.pi * (C / 2) ** 3 / (math.pi / 32)
    assert turn.compliance / straight == pytest.approx(psi, abs=6e-6)
    assert turn.stress * math.pi / (8 * C) == pytest.approx(bergstraesser_factor(C), rel=2e-3)


@pytest.mark.parametrize("C", [3.0, 4.0, 6.0, 10.0])
def test_stress_of_square_wire_by_wahl_from_memory(C):
    """Wahl, Mechanical Springs: 1 + 1.2/C + 0.56/C^2 + 0.5/C^3 for a square (from memory)."""
    wahl = 1 + 1.2 / C + 0.56 / C**2 + 0.5 / C**3
    assert curved(1.0, 1.0, C)[1] == pytest.approx(wahl, rel=2e-3)


@pytest.mark.parametrize("sides", [(1.0, 1.0), (1.0, 2.0), (3.0, 1.0), (1.0, 5.0)], ids=str)
def test_a_wide_coil_bears_like_a_straight_bar(sides):
    """Index 2000: nothing is left of the curvature but what the polynomials miss, 0.5 %."""
    stiffer, stress = curved(*sides, 2000.0 * sides[0])
    assert stiffer == pytest.approx(1.0, abs=1e-4)
    assert stress == pytest.approx(1.0, abs=6e-3)


def test_rate_goes_with_the_sides_by_their_powers():
    """A flat wire goes as its thin side cubed: 1 % of it is 2.4 to 3 % of the rate."""
    vague = [
        flat_spring((3.0, 0.0), (1.0, u), 102.0, Ends.OPEN, "chrome-silicon") for u in (0.0, 0.02)
    ]
    rates = [Quantity.from_draws(one.rate_N_per_mm) for one in vague]
    added = (rates[1].u ** 2 - rates[0].u ** 2) ** 0.5 / rates[0].value
    assert 2.4 * 0.02 < added < 3.1 * 0.02


def test_solid_length_of_flat_wire_has_a_band():
    """Side along the axis times turns; u adds up from side, count and the ends' own spread."""
    draws = flat_spring((3.0, 0.03), (2.0, 0.03), 9.0, Ends.CLOSED_GROUND, u_turns=0.1)
    solid = Quantity.from_draws(draw_solid_length(draws, np.random.default_rng(1)))
    assert solid.value == pytest.approx(18.0, abs=0.02)
    assert solid.u == pytest.approx(np.hypot(9 * 0.03, 2.0 * np.hypot(0.1, 0.2)), rel=0.03)


def flat_spring(width, height, turns, ends, material="music wire", u_turns=0.0):
    """Draws of a spring of mean diameter 16 whose sides are value and u."""
    values = np.array([height[0], 16.0, turns, 2.2 * height[0] * turns])
    cov = np.diag([height[1], 0.0, u_turns, 0.0]) ** 2
    geometry = SpringGeometry(values, cov, ends, width=Width(*width))
    return draw_spring(geometry, find_material(material), np.random.default_rng(4))


def circle(radius):
    """The bubble and the places of a round section, for the solver of turns."""

    def bubble(x, z):
        return radius**2 - x**2 - z**2, -2 * x, -2 * z

    node, weight = np.polynomial.legendre.leggauss(24)
    rho, angle = radius * (node + 1) / 2, np.arange(64) * 2 * np.pi / 64
    area = np.repeat(rho * weight * radius / 2, 64) * 2 * np.pi / 64
    x, z = (np.outer(rho, f(angle)).ravel() for f in (np.cos, np.sin))
    around = np.linspace(0, 2 * np.pi, 361)
    return bubble, Places(x, z, area, radius * np.cos(around), radius * np.sin(around))


@pytest.mark.parametrize("seating", Seating)
def test_buckling_of_any_section_is_the_printed_formula_for_round_wire(seating):
    """roymech.co.uk, Springs stability: J = 2 I gives its constants back."""
    steel = (120.0, 20.0, seating, 207e3, 79.3e3)
    assert buckling_deflection(*steel, (2.0, 2.0)) == buckling_deflection(*steel)


def test_bad_sides_are_named():
    with pytest.raises(ValueError, match="wire_height_mm"):
        torsion_constant(1.0, 0.0)
    with pytest.raises(ValueError, match="wire_width_mm"):
        rectangular_rate(20.0, 1.0, 16.0, 5.0, 80e3)
