"""What several photos of one spring tell beyond one: the table's arithmetic, and real pictures."""

import json
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
import typer
from typer.testing import CliRunner

import ui.measuring
from tests.ui.test_accuracy import TRUTH
from ui.accuracy_table import COLUMNS, Score
from ui.fusing import groups_of, main, measure_folder, measure_group
from ui.fusing_table import Group, alike, band_ratio, group_lines, summary_lines
from vision.refusal import Refusal

#: Three views of one rendered spring beside a coin: ``python -m fixtures.scenes.photos --views 3
#: --first 3000212 --count 1 --pixels 1024x768 --wire-px 11-20 --samples 32 --quality 86
#: --variant scalar_rgb``.
PICTURES = Path("fixtures/pictures/one-spring")
NAMES = [column for column, _, _ in COLUMNS]


def run(*arguments):
    app = typer.Typer()
    app.command()(main)
    return CliRunner().invoke(app, [str(one) for one in arguments])


@pytest.fixture
def folder(tmp_path, photo):
    """Three photos of one spring, two of another, and one that belongs to none."""
    inside = tmp_path / "groups"
    inside.mkdir()
    for name in ("a-1", "a-2", "a-3", "b-1", "b-2", "scene-3000001"):
        (inside / f"{name}.jpg").write_bytes(photo.read_bytes())
        (inside / f"{name}.json").write_text(json.dumps(TRUTH))
    (inside / "a-4.jpg").write_bytes(photo.read_bytes())  # nothing is known of it
    return inside


@pytest.fixture
def shows(monkeypatch, measurement):
    """Let photos show springs by their file's name; what is no spring is refused."""

    def show(values_by_name):
        def measure(photo, reference, marks):
            values = values_by_name.get(photo.name.partition(".")[0])
            if values is None:
                return Refusal("no-spring", "view", "No.", "Look.")
            geometry = replace(measurement.geometry, values=np.array(values))
            return replace(measurement, geometry=geometry)

        monkeypatch.setattr(ui.measuring, "measure", measure)

    return show


SPRING = np.array([1.2, 12.0, 9.25, 40.0])
THIN, THICK = SPRING * [0.99, 1, 1, 1], SPRING * [1.01, 1, 1, 1]


def test_photos_are_grouped_by_name_and_only_with_their_truth(folder):
    found = {name: [path.stem for path in paths] for name, paths in groups_of(folder).items()}
    assert found == {"a": ["a-1", "a-2", "a-3"], "b": ["b-1", "b-2"]}


def test_photos_of_one_name_must_be_of_one_spring(folder):
    (folder / "b-2.json").write_text(json.dumps(TRUTH | {"wire_diameter_mm": 1.5}))
    done = run(folder)
    assert done.exit_code == 2
    assert "b-1, b-2" in done.stderr


def test_a_folder_without_numbered_photos_is_a_wrong_call(tmp_path):
    done = run(tmp_path)
    assert done.exit_code == 2
    assert "NAME-1.jpg" in done.stderr


def test_errors_of_photos_apart_and_together(shows, folder):
    """Two photos a hundredth off to either side: nothing is left of it together."""
    shows({"b-1": THIN, "b-2": THICK})
    one = measure_group(("b", groups_of(folder)["b"]))
    assert [photo.errors["wire"] for photo in one.photos] == pytest.approx([-0.01, 0.01])
    assert one.fused.errors["wire"] == pytest.approx(0.0, abs=1e-4)
    assert all(one.fused.inside.values())
    assert one.fused.claimed["wire"] < one.photos[0].claimed["wire"]
    assert one.trouble == ""
    assert [line.split()[0] for line in group_lines(one)[:3]] == ["b-1", "b-2", "="]


def test_groups_that_are_not_whole_are_counted_and_named(shows, folder):
    shows({"a-1": SPRING, "a-2": SPRING, "b-1": SPRING, "b-2": SPRING * [1.3, 1, 1, 1]})
    groups = list(measure_folder(folder))
    lines = summary_lines(groups)
    assert lines[0].startswith("0 of 2 groups")
    assert any(line.startswith("2 of 2 groups: all that gave a fused") for line in lines)
    (a,) = [line for line in lines if line.startswith("  a: ")]
    (b,) = [line for line in lines if line.startswith("  b: ")]
    assert a == "  a: a-3 was refused (no-spring)"
    assert "they disagree in wire: 1.2, 1.56 mm" in b


def test_one_that_does_not_go_with_the_others_is_named(shows, folder):
    shows({"a-1": THIN, "a-2": SPRING * [1.3, 1, 1, 1], "a-3": THICK})
    one = measure_group(("a", groups_of(folder)["a"]))
    assert one.trouble == "a-2 was left out"
    assert one.fused.photo == "= fused of 2"


def test_a_group_without_a_spring_is_not_fused(shows, folder):
    shows({"b-1": SPRING})
    done = run(folder)
    assert done.exit_code == 0, done.output
    assert "0 of 2 groups" in done.stdout
    assert "b: b-2 was refused (no-spring); not fused" in done.stdout


def test_each_group_is_a_line_of_json(shows, folder, tmp_path):
    shows({"a-1": THIN, "a-2": SPRING, "a-3": THICK, "b-1": THIN})
    out = tmp_path / "told.jsonl"
    assert run(folder, "--out", out).exit_code == 0
    a, b = [json.loads(line) for line in out.read_text().splitlines()]
    assert (a["name"], len(a["photos"]), a["trouble"]) == ("a", 3, "")
    assert a["photos"][0]["errors"]["wire"] == pytest.approx(-0.01)
    assert a["fused"]["inside"] == dict.fromkeys(NAMES, True)
    assert b["fused"]["refused"] == "not-fused"


def score(error, u=1.0):
    each = dict.fromkeys(NAMES, error)
    inside = dict.fromkeys(NAMES, abs(error) < 2.0 * u)
    return Score("x", each, inside, dict.fromkeys(NAMES, u), {}, (), "", 0.0, {})


def made(errors, together, u=0.5):
    return Group("g", tuple(score(one) for one in errors), score(together, u), "")


def test_the_summary_sets_the_middle_photo_against_the_middle_fused_spring():
    groups = [made([0.01, -0.03], 0.01), made([0.04, 0.06], -0.02), made([0.05, 0.02], 0.03)]
    told = {line[:30].strip(): line[30:].split() for line in summary_lines(groups)}
    assert told["one photo, median error"][0] == "3.50%"
    assert told["fused, median error"][0] == "2.00%"
    assert told["one photo : fused"][0] == "1.75"
    assert told["band, fused : one photo"][0] == "0.50"
    assert told["one photo inside 95 % band"][0] == "100%"


def test_an_exactly_right_middle_has_no_ratio():
    told = summary_lines([made([0.01, -0.01], 0.0)])
    assert "nan" in next(line for line in told if line.startswith("one photo : fused"))


@pytest.mark.parametrize("share", [0.0, 0.5, 0.9])
def test_what_photos_have_wrong_alike_is_found_again(share):
    """Of 3000 groups with errors whose squares are shared to a known part."""
    rng = np.random.default_rng(4)
    groups = [
        made(share**0.5 * rng.standard_normal() + (1 - share) ** 0.5 * rng.standard_normal(4), 0.0)
        for _ in range(3000)
    ]
    assert alike(groups, "wire") == pytest.approx(share, abs=0.02)
    assert band_ratio(groups, "wire") == pytest.approx(0.5)


def test_refused_photos_count_for_nothing_in_the_figures():
    refused = Score("y", {}, {}, {}, {}, (), "no-spring", 0.0, {})
    with_one = replace(made([0.01, 0.03], 0.01), trouble="y was refused (no-spring)")
    with_one = replace(with_one, photos=(*with_one.photos, refused))
    told = {line[:30].strip(): line[30:].split() for line in summary_lines([with_one])}
    assert told["one photo, median error"][0] == "2.00%"


def test_real_pictures_of_one_spring_are_fused():
    """Three views of one spring, measured; nothing here is made up but the picture."""
    ((name, paths),) = groups_of(PICTURES).items()
    one = measure_group((name, paths))
    assert [photo.refused for photo in one.photos] == ["", "", ""]
    assert one.trouble == ""
    assert all(one.fused.inside.values())
    # Together they are told to be surer than one, by no more than the number of photos allows, and
    # err less than the worst.
    for column in ("wire", "outside", "coils", "length"):
        alone = [photo.claimed[column] for photo in one.photos]
        assert 3**-0.5 * min(alone) < one.fused.claimed[column] < np.median(alone)
        assert abs(one.fused.errors[column]) < max(abs(p.errors[column]) for p in one.photos)


def test_processes_side_by_side_tell_the_same_in_the_same_order(folder):
    """Grey photos, refused each: what is measured in them is not what is asked here.

    Small ones, for each is looked at twice in vain.
    """
    done, small = cv2.imencode(".jpg", np.full((240, 320, 3), 128, np.uint8))
    assert done
    for path in folder.glob("*.jpg"):
        path.write_bytes(small.tobytes())

    def told(groups):
        return [(one.name, [p.refused for p in one.photos], one.trouble) for one in groups]

    alone = told(measure_folder(folder))
    assert [name for name, _, _ in alone] == ["a", "b"]
    assert alone[0][1] == ["reference-not-found"] * 3
    assert told(measure_folder(folder, workers=2)) == alone
