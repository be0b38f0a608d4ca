import json
import re

import pytest
from typer.testing import CliRunner

from ui.cli import app

CALL = ["rate", "--wire", "1.2", "--outside", "13.2", "--total-coils", "14", "--ends", "closed"]
AGREED = (
    "rate_N_per_mm",
    "active_coils",
    "solid_length_mm",
    "spring_index",
    "wahl_factor",
    "bergstraesser_factor",
    "shear_modulus_GPa",
)


def run(*arguments):
    return CliRunner().invoke(app, list(arguments))


def test_rate_prints_the_agreed_keys_on_one_line():
    done = run(*CALL, "--json")
    assert done.exit_code == 0
    assert done.stdout.count("\n") == 1
    told = json.loads(done.stdout)
    for key in AGREED:
        assert set(told[key]) == {"value", "u", "low", "high"}
        assert told[key]["low"] <= told[key]["value"] <= told[key]["high"]


def test_stress_factors_agree_with_the_published_example():
    """Shigley 10e, example 10-1: C 10.8 (d 0.037 in, D 0.400 in) gives K_B 1.124 (from memory)."""
    wire, mean = 0.037 * 25.4, 0.400 * 25.4
    done = run("rate", f"--wire={wire}", f"--mean={mean}", "--active-coils=10.5", "--json")
    told = json.loads(done.stdout)
    assert told["spring_index"]["value"] == pytest.approx(10.8, abs=0.05)
    assert told["bergstraesser_factor"]["value"] == pytest.approx(1.124, abs=0.001)


def test_an_uncertain_wire_widens_the_rate_fourfold():
    exact = ["--u-diameter=0", "--u-coils=0", "--json"]
    relative = []
    for u in ("0", "0.036"):
        told = json.loads(run(*CALL, *exact, f"--u-wire={u}").stdout)["rate_N_per_mm"]
        relative.append(told["u"] / told["value"])
    # 3 % of wire, 12 % of rate; the mean diameter under an outside reading adds 0.9 %.
    assert (relative[1] ** 2 - relative[0] ** 2) ** 0.5 == pytest.approx(0.129, rel=0.1)


def test_same_call_same_answer():
    assert run(*CALL, "--json").stdout == run(*CALL, "--json").stdout


def test_plain_output_names_the_rate_in_three_units():
    done = run(*CALL)
    assert done.exit_code == 0
    for unit in ("N/mm", "gf/mm", "lb/in"):
        assert re.search(rf"Rate, {unit} +[\d.]+ +95 %: [\d.]+ to [\d.]+", done.stdout)


@pytest.mark.parametrize("ends", ["closed-and-ground", "Closed and ground", "closed_ground"])
def test_ends_are_read_however_they_are_joined(ends):
    done = run(*CALL[:-1], ends, "--json")
    assert json.loads(done.stdout)["active_coils"]["value"] == 12.0


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (["rate", "--wire", "1.2", "--total-coils", "8"], "exactly one of --outside"),
        ([*CALL, "--mean", "12"], "exactly one of --outside"),
        ([*CALL, "--active-coils", "12"], "exactly one of --total-coils"),
        ([*CALL, "--material", "cheese"], "no material is called 'cheese'"),
        ([*CALL[:-1], "bent"], "no ends are called 'bent'"),
        (["rate", "--wire", "5", "--outside", "6", "--total-coils", "8"], "does not fit"),
        (["rate", "--wire", "thick"], "Invalid value"),
    ],
)
def test_a_wrong_call_says_why_and_exits_2(call, words):
    done = run(*call)
    assert done.exit_code == 2
    assert words in done.stderr
    assert done.stdout == ""
