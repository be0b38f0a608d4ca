"""Commands about a spring that is known by its dimensions."""

import json

import pytest
from typer.testing import CliRunner

from mechanics.ends import Ends
from mechanics.materials import find_material
from ui.answer import answer_of_readings
from ui.caliper import Readings
from ui.cli import app
from ui.collection.record import spring_of
from ui.collection.store import URL_VARIABLE, Collection

SPRING = [
    "--wire=1.2",
    "--outside=13.2",
    "--total-coils=10",
    "--ends=closed-and-ground",
    "--free-length=45",
    "--material=music wire",
]
CORNER = ["--load=6", "--lever=1.5", "--droop=44", "--bump=25"]
TWO = ["--second", "wire=1.3,free-length=44"]
READ = ["--wire=1.2", "--outside=13.2", "--total-coils=9", "--free-length=38"]
STATED = ["--material=music wire", "--ends=closed and ground"]


def run(*arguments):
    return CliRunner().invoke(app, list(arguments))


def told(*arguments):
    done = run(*arguments, "--json")
    assert done.exit_code == 0, done.output
    assert done.stdout.count("\n") == 1
    return json.loads(done.stdout)


def is_quantity(value):
    return set(value) == {"value", "u", "low", "high"}


def test_limits_are_told_with_bands():
    out = told("limits", *SPRING, "--curve")
    for name in ("solid_length_mm", "usable_deflection_mm", "natural_frequency_Hz", "mass_g"):
        assert is_quantity(out[name])
    assert out["solid_length_mm"]["value"] == pytest.approx(12.0, abs=0.1)
    curve = out["load_curve"]
    assert curve["force_N"][0] == 0.0
    assert curve["force_N"][-1] == pytest.approx(out["force_at_solid_N"]["value"], rel=0.05)


def test_limits_never_reached_are_null_and_said():
    assert told("limits", *SPRING)["buckling_deflection_mm"]["value"] is None
    assert "Buckling deflection, mm   not reached" in run("limits", *SPRING).stdout


def test_a_small_end_makes_a_cone():
    cone = told("limits", *SPRING, "--small-end=8")
    assert (
        cone["force_at_solid_N"]["value"] > 2 * told("limits", *SPRING)["force_at_solid_N"]["value"]
    )


def test_hooks_are_told_as_an_extension_spring():
    out = told("limits", *SPRING[:3], "--ends=hooks", "--free-length=35")
    assert is_quantity(out["initial_tension_N"])
    assert "coils part" in out["cautions"][0]


def test_load_at_a_deflection_is_told():
    out = told("limits", *SPRING, "--at=10")
    assert out["at"]["force_N"]["value"] == pytest.approx(
        10 * out["rate_N_per_mm"]["value"], rel=0.01
    )
    assert is_quantity(out["at"]["energy_mJ"])
    pulled = told("limits", *SPRING[:3], "--ends=hooks", "--free-length=35", "--at=5")["at"]
    assert is_quantity(pulled["hook_bending_stress_MPa"])


def test_a_progressive_spring_by_its_stretches():
    runs = ["--run=3/2.0", "--run=4/5.0"]
    out = told("limits", "--wire=1", "--outside=11", "--ends=closed", *runs, "--curve")
    rate = out["load_curve"]["rate_N_per_mm"]
    assert rate[-1] == pytest.approx(7 / 4 * rate[0], rel=0.05)
    assert out["travel_to_solid_mm"]["value"] == pytest.approx(19.0, abs=0.3)


def test_cut_in_half_doubles_the_rate():
    out = told("what-if", *SPRING, "cut", "--turns=5")
    assert out["rate_ratio"]["low"] < 2.05 < out["rate_ratio"]["high"]
    assert set(out["before"]) == set(out["after"])
    assert any("eye protection" in line for line in out["cautions"])


def test_cut_for_a_rate_tells_the_safe_cut():
    out = told("what-if", *SPRING, "cut", "--target=2.2", "--load=20")
    assert out["safe_turns"] <= out["exact_turns"]["value"]
    assert out["whole_turns"] == int(out["safe_turns"])
    out = told("what-if", *SPRING, "cut", "--target=50")
    assert out["safe_turns"] is None or out["reason"]


@pytest.mark.parametrize(
    ("change", "key"),
    [
        (["stretch", "--longer=10", "--seat=40"], "rate_ratio"),
        (["seats", "--first=40", "--second=25"], "after"),
        (["shim", "--seat=40", "--thickness=3"], "before"),
        (["sag", *CORNER], "after"),
        (["swap", *TWO, *CORNER], "collar_mm"),
        (["in-line", *TWO], "rate_N_per_mm"),
        (["nested", *TWO], "changes_at_N"),
        (["nested", *TWO, "--load=20"], "first_force_N"),
        (["in-line", *TWO], "before"),
    ],
)
def test_every_change_is_told_both_ways(change, key):
    out = told("what-if", *SPRING, *change)
    assert out["change"] == change[0]
    assert key in out
    plain = run("what-if", *SPRING, *change)
    assert plain.exit_code == 0
    assert "95 %" in plain.stdout


@pytest.mark.parametrize(
    "change",
    [
        ["cut", "--turns=2"],
        ["stretch", "--longer=10", "--seat=40"],
        ["seats", "--first=40", "--second=25"],
        ["shim", "--seat=40", "--thickness=3"],
        ["sag", *CORNER],
        ["swap", *TWO, *CORNER],
    ],
)
def test_before_and_after_tell_the_same_things_with_bands(change):
    out = told("what-if", *SPRING, *change)
    assert set(out["before"]) == set(out["after"])
    assert all(is_quantity(q) for when in ("before", "after") for q in out[when].values())
    plain = run("what-if", *SPRING, *change).stdout
    assert plain.index("Before") < plain.index("After")


def test_a_spring_of_the_collection_is_swapped_in(tmp_path, monkeypatch):
    url = f"sqlite:///{tmp_path / 'springs.sqlite'}"
    monkeypatch.setenv(URL_VARIABLE, url)
    collection = Collection(url)
    answer = answer_of_readings(
        Readings(1.3, 13.2, 10.0, 44.0, ends=Ends.CLOSED_GROUND), find_material("music wire")
    )
    collection.keep(spring_of(answer, "Blue, rear"))
    collection.close()
    out = told("what-if", *SPRING, "swap", "--second=kept=blue", *CORNER)
    same = told("what-if", *SPRING, "swap", "--second=wire=1.3,outside=13.2,free-length=44",
                *CORNER)  # fmt: skip
    assert out["rate_ratio"]["value"] == pytest.approx(same["rate_ratio"]["value"], rel=0.02)
    assert out["collar_mm"]["value"] == pytest.approx(same["collar_mm"]["value"], abs=0.05)
    assert "no spring of that name" in run("pair", "--first=kept=green").output


def test_a_second_spring_has_its_own_errors_of_reading():
    """Two equal descriptions: the ratio of two springs each read with u 9 % is 13 % apart."""
    out = told("what-if", *SPRING, "swap", "--second", "", *CORNER)
    assert out["rate_ratio"]["u"] > 0.1


def test_reconcile_tells_the_agreed_keys_and_what_to_measure_next():
    out = told("reconcile", *READ, *STATED, "--weight=2.83:0.02", "--bench=2=3.4,4=6.8,6=10.3")
    for name in ("rate_N_per_mm", "active_coils", "solid_length_mm", "spring_index"):
        assert is_quantity(out[name])
    assert is_quantity(out["wahl_factor"])
    assert is_quantity(out["shear_modulus_GPa"])
    assert out["conflicts"] == []
    after = [one["after"] for one in out["measure_next"]]
    assert [round(one, 3) for one in after] == sorted(round(one, 3) for one in after)


def test_reconcile_names_a_slip():
    out = told("reconcile", "--wire=1.2", "--outside=10.8:0.05", *READ[2:], *STATED,
               "--weight=2.83:0.02", "--bench=2=3.44,4=6.88,6=10.33")  # fmt: skip
    assert out["conflicts"][0]["reading"] == "outside diameter"
    assert "inside" in out["conflicts"][0]["slip"]


def test_reconcile_takes_measured_photos(tmp_path):
    photo = {
        "photo": "a.jpg",
        "status": "measured",
        "ends": "closed and ground",
        "geometry": {
            "wire_diameter_mm": {"value": 1.2},
            "mean_diameter_mm": {"value": 12.0},
            "total_coils": {"value": 9.0},
            "free_length_mm": {"value": 38.0},
        },
        "covariance": {
            "matrix": [[1.4e-4, 0, 0, 0], [0, 2e-3, 0, 0], [0, 0, 6e-3, 0], [0, 0, 0, 0.02]]
        },
    }
    path = tmp_path / "measured.jsonl"
    path.write_text(json.dumps(photo) + "\n" + json.dumps({"status": "refused"}) + "\n")
    alone = told("reconcile", f"--measured={path}", *STATED)["rate_N_per_mm"]
    both = told("reconcile", f"--measured={path}", "--wire=1.2:0.004", *STATED)["rate_N_per_mm"]
    assert both["u"] < 0.9 * alone["u"]
    # The photo saw the ends; without them the turns that work are open to one.
    seen = told("reconcile", f"--measured={path}", STATED[0])["active_coils"]
    assert seen["value"] == pytest.approx(7.0, abs=0.05)
    photo |= {"taper": 0.6, "u_taper": 0.01}
    path.write_text(json.dumps(photo))
    cone = told("reconcile", f"--measured={path}", *STATED)["rate_N_per_mm"]["value"]
    assert cone / alone["value"] == pytest.approx(4 / (1.6 * 1.36), rel=0.02)
    path.write_text("not JSON\n")
    assert "is not what" in run("reconcile", f"--measured={path}").output
    path.write_text('{"status": "refused"}\n')
    assert "no measured photo" in run("reconcile", f"--measured={path}").output


def test_a_mean_diameter_and_a_small_end_can_be_read():
    by_mean = told("reconcile", "--wire=1.2", "--mean=12:0.05", *READ[2:], *STATED)
    assert by_mean["outer_diameter_mm"]["value"] == pytest.approx(13.2, abs=0.02)
    # The reckoned rate and the evidence agree, for a cylinder and for a cone.
    cone = ["--small-end=8.4"]
    for more in ([], cone):
        rate = told("rate", *READ, *STATED, *more)["rate_N_per_mm"]
        fused = told("reconcile", *READ, *STATED, *more)["rate_N_per_mm"]
        assert fused["value"] == pytest.approx(rate["value"], rel=0.03)
        assert fused["u"] == pytest.approx(rate["u"], rel=0.15)


def test_a_cone_by_its_rate():
    """Rate of a cone over its cylinder's: 4/((1 + q)(1 + q^2)), published-values 1.8."""
    cone, cylinder = (told("rate", *SPRING, *more) for more in (["--small-end=8.4"], []))
    q = 7.2 / 12.0
    ratio = cone["rate_N_per_mm"]["value"] / cylinder["rate_N_per_mm"]["value"]
    assert ratio == pytest.approx(4 / ((1 + q) * (1 + q**2)), rel=2e-3)
    assert cone["taper"] == pytest.approx(q)
    inside = told("rate", "--wire=1.2", "--inside=10.8", *SPRING[2:], "--small-end=6")
    assert inside["taper"] == pytest.approx(q)


def test_the_same_caliper_twice_is_not_two_calipers():
    once = told("reconcile", *READ, *STATED)["wire_diameter_mm"]["u"]
    twice = told("reconcile", *READ, *STATED, "--wire=1.2")["wire_diameter_mm"]["u"]
    other = told("reconcile", *READ, *STATED, "--wire=1.2:0.009")["wire_diameter_mm"]["u"]
    assert twice == pytest.approx(once * 0.75**0.5, rel=0.03)
    assert other == pytest.approx((0.02**-2 + 0.009**-2) ** -0.5, rel=0.03)


def test_pairs_by_caliper_and_by_bench():
    first = "wire=1.2,outside=13.2,total-coils=9,free-length=38,material=music wire"
    caliper = told("pair", "--first", first)
    bench = told("pair", "--first", first + ",bench=1.72", "--same-wire")
    assert bench["chance"] > caliper["chance"]
    assert is_quantity(bench["rate_ratio"])
    other = told("pair", "--first", first + ",bench=1.72", "--second", "wire=1.3,bench=2.4")
    assert other["chance"] < 0.01


def test_torsion_and_flat_wire():
    out = told("torsion", "--wire=1.5", "--mean=14.5", "--body-coils=4.25", "--legs=20,20")
    assert out["active_coils"] == pytest.approx(4.543, abs=1e-3)
    assert "N mm a turn" in run("torsion", "--wire=1.5", "--mean=14.5", "--body-coils=4").stdout
    flat = told("flat-wire", "--width=3", "--height=2", "--mean=16", "--total-coils=9",
                "--ends=closed")  # fmt: skip
    assert is_quantity(flat["rate_N_per_mm"])
    assert is_quantity(flat["solid_length_mm"])
    assert flat["solid_length_mm"]["value"] == pytest.approx(20.0)


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (["limits", *SPRING[:4]], "--free-length is needed"),
        (["limits", *SPRING, "--seating=loose"], "--seating"),
        (["limits", *SPRING, "--at=50"], "to solid"),
        (["limits", *SPRING, "--run=3/2"], "--run stands for"),
        (["limits", *SPRING[:2], "--run=3"], "TURNS/PITCH"),
        (["limits", *SPRING[:2], "--run=3/0.5"], "run_pitch_mm"),
        (["limits", *SPRING, "--small-end=20"], "the small end"),
        (["rate", *SPRING, "--small-end=nan"], "small end"),
        (["rate", *SPRING, "--u-coils=nan"], "uncertainty of the number of total coils"),
        (
            ["pair", "--first=wire=nan,outside=13.2,total-coils=9"],
            "wire must be a positive number, not nan",
        ),
        (["pair", "--first=wire=0,outside=13.2,total-coils=9"], "wire must be a positive number"),
        (["pair", "--first=wire=1.2,outside=nan,total-coils=9"], "outside_diameter must be"),
        (["pair", "--first=bench=nan"], "bench_rate"),
        (["reconcile", *READ, "--mean=nan"], "mean_diameter"),
        (["reconcile", *READ, "--small-end=-8"], "small_end"),
        (["what-if", *SPRING, "swap", "--second=kept=x,wire=2", *CORNER], "stands alone"),
        (["limits", "--wire=1.2", "--total-coils=9", "--free-length=30"], "exactly one of"),
        (["limits", *SPRING[:2], "--total-coils=1e9", *SPRING[3:]], "coils"),
        (["limits", "--wire=nan", *SPRING[1:]], "wire"),
        (["limits", "--wire=30.48", *SPRING[1:]], "does not fit"),
        (["what-if", *SPRING, "cut"], "exactly one of --turns or --target"),
        (["what-if", *SPRING, "cut", "--turns=9.5"], "turns_cut"),
        (["what-if", *SPRING, "stretch", "--longer=-3"], "longer_mm"),
        (["what-if", *SPRING, "nested", "--second=colour=red"], "colour=red"),
        (["what-if", *SPRING, "nested", "--second=wire=thick"], "not a number"),
        (["reconcile"], "readings are empty"),
        (["reconcile", "--wire=1.2"], "nothing tells yet"),
        (["reconcile", "--wire=thick"], "not a number"),
        (["reconcile", "--touching=12"], "LENGTH/COILS"),
        (["reconcile", *READ, "--bench=1,2"], "DEFLECTION=FORCE"),
        (["reconcile", *READ, "--magnet=maybe"], "--magnet"),
        (["reconcile", *READ, "--coat=gold"], "--coat"),
        (["reconcile", *READ, "--measured=/nowhere.jsonl"], "No such file"),
        (["reconcile", *READ, "--ends=bent"], "no ends are called"),
        (["pair", "--first=wire=1.2"], "exactly one of"),
        (["pair", "--first=bench=1.7", "--within=0"], "within_percent"),
        (["torsion", "--wire=1.5", "--mean=14", "--body-coils=4", "--legs=20"], "two lengths"),
        (["reconcile", *READ, "--touching=12/9.5"], "whole number"),
        (["torsion", "--wire=1.5", "--mean=14", "--body-coils=1e9"], "body_coils"),
        (["flat-wire", "--width=3", "--height=2", "--mean=16", "--total-coils=1e9"], "total_coils"),
        (["flat-wire", "--width=0.12", "--height=0.08", "--mean=16", "--total-coils=9"], "inches"),
        (["torsion", "--wire=0", "--mean=14", "--body-coils=4"], "wire_diameter_mm"),
        (["flat-wire", "--width=20", "--height=2", "--mean=16", "--total-coils=9"], "does not fit"),
    ],
)
def test_a_wrong_call_is_told_in_one_sentence(call, said):
    done = run(*call)
    assert done.exit_code == 2, done.output
    assert said in done.output
    assert "Traceback" not in done.output


@pytest.mark.parametrize("ends", ["closed, one end cut", "closed-one-end-cut"])
def test_cut_ends_can_be_named(ends):
    out = told("limits", *SPRING[:3], f"--ends={ends}", "--free-length=40")
    assert out["travel_to_solid_mm"]["value"] > 0
