"""The comparison with known truth: what it counts, shown on a spring whose errors are known."""

import json
from dataclasses import replace

import pytest
from typer.testing import CliRunner

import ui.measuring
from mechanics.rate import spring_rate
from ui.accuracy import G_GPA, score_folder, true_values
from ui.accuracy_table import (
    altogether_wrong,
    group_lines,
    score_line,
    summary_lines,
    unflagged_of,
)
from vision.refusal import Refusal

# The made-up spring of conftest: wire 1.2, mean 12, 9.25 turns, 40 long, closed ends.
TRUTH = {
    "kind": "compression",
    "hand": "right",
    "ends": "closed",
    "wire_diameter_mm": 1.2,
    "mean_diameter_mm": 12.0,
    "outer_diameter_mm": 13.2,
    "mean_diameter_small_end_mm": None,
    "total_coils": 9.25,
    "active_coils": 7.25,
    "free_length_mm": 40.0,
    "reference": {"type": "eur_2", "size_mm": 25.75},
}


@pytest.fixture
def score(sight, photo):
    """Return what comes of the made-up photo with some of its truth changed."""

    def compare(named="", **changed):
        photo.with_suffix(".json").write_text(json.dumps(TRUTH | changed))
        return list(score_folder(photo.parent, named))

    return compare


def test_the_truth_has_no_error_and_lies_in_its_band(score):
    (one,) = score()
    assert one.errors["wire"] == pytest.approx(0.0)
    assert one.errors["coils"] == pytest.approx(0.0)
    # Textbook formula against ours: curvature 3/(16 C^2) and pitch, together below 1 %.
    assert abs(one.errors["rate"]) < 0.01
    assert all(one.inside.values())
    assert all(one.right.values())


def test_errors_are_relative_to_the_truth_and_stars_mark_those_outside_the_band(score):
    (one,) = score(wire_diameter_mm=1.0, total_coils=9.5, hand="left")
    assert one.errors["wire"] == pytest.approx(0.2)
    assert one.errors["coils"] == pytest.approx(-0.25)
    assert not one.inside["wire"]
    assert "+20.00%*" in score_line(one)
    assert "-0.25*" in score_line(one)
    assert "hand?" in score_line(one)


def test_the_reference_is_that_of_the_truth_unless_another_is_named(score, sight):
    score()
    score("auto")
    score(reference={"type": "ruler", "graduation_mm": 1.0})
    assert sight == ["coin:EUR-2", "auto", "ruler:mm"]


def test_the_summary_counts_refusals_and_takes_the_middle(score, sight, monkeypatch):
    off = [score(wire_diameter_mm=1.2 / factor)[0] for factor in (1.01, 1.02, 1.10)]
    no = Refusal("no-spring", "view", "No.", "Look.")
    monkeypatch.setattr(ui.measuring, "measure", lambda photo, reference, marks: no)
    off += score()
    assert "refused: no-spring" in score_line(off[-1])
    lines = summary_lines(off)
    assert lines[0] == "measured 3 of 4"
    assert "2.00%" in lines[1]
    assert "10.00%" in lines[2]


def test_what_is_altogether_wrong_is_counted_and_so_is_what_says_nothing_of_it(score):
    (right,), (off,) = score(), score(total_coils=TRUTH["total_coils"] - 1.0)
    told = [replace(one, flags=flags) for one in (right, off) for flags in ((), ("rough-fit",))]
    assert [altogether_wrong(one) for one in told] == [False, False, True, True]
    assert unflagged_of(told) == [told[0], told[2]]
    assert "altogether wrong: 2, without a flag: 1" in summary_lines(told)


def test_true_rate_is_the_textbooks():
    """G d^4 / (8 D^3 n), Shigley 10e equation 10-9; a cone of equal ends is a cylinder."""
    rate = spring_rate(1.2, 12.0, 7.25, 1000 * G_GPA)
    assert true_values(TRUTH)["rate"] == pytest.approx(rate)
    cone = true_values(TRUTH | {"mean_diameter_small_end_mm": 6.0})["rate"]
    # Mean of D^3 along a cone from 12 to 6: (12^4 - 6^4) / (4 * 6).
    assert rate / cone == pytest.approx((12**4 - 6**4) / 24 / 12**3)


def test_a_folder_without_truth_is_a_wrong_call(tmp_path):
    import typer

    from ui.accuracy import main

    app = typer.Typer()
    app.command()(main)
    done = CliRunner().invoke(app, [str(tmp_path)])
    assert done.exit_code == 2
    assert "no photo with a JSON file" in done.stderr


def test_scores_are_told_by_kind_of_photo_and_against_what_was_claimed(score):
    scores = score(wire_diameter_mm=1.0) * 3 + score(finish="painted blue")
    lines = group_lines(scores)
    assert any(line.startswith("reference coin") and "   4 " in line for line in lines)
    # One photo is no group.
    assert not any("painted blue" in line for line in lines)
    (told,) = [line for line in summary_lines(scores[:3]) if line.startswith("rms error")]
    ratio = 0.2 / scores[0].claimed["wire"]
    assert float(told.split()[5]) == pytest.approx(ratio, rel=0.02)
