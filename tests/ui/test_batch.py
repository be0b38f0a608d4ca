"""Many photos: folders, fusing, several springs in one, tables and drawings."""

import json
from dataclasses import replace

import cv2
import numpy as np
import pytest
from typer.testing import CliRunner

import ui.batch
import ui.measuring
from ui.cli import app
from ui.pictures import pictures_of
from vision.refusal import Refusal


def run(*arguments):
    return CliRunner().invoke(app, ["measure", *map(str, arguments)])


def told(done):
    return [json.loads(line) for line in done.stdout.splitlines()]


@pytest.fixture
def folder(tmp_path, photo):
    inside = tmp_path / "tin"
    inside.mkdir()
    for name in ("spring 10.jpg", "spring 9.JPG", "Spring 1.png"):
        (inside / name).write_bytes(photo.read_bytes())
    (inside / "notes.txt").write_text("milk")
    (inside / ".hidden.jpg").write_bytes(photo.read_bytes())
    return inside


@pytest.fixture
def two(monkeypatch, measurement):
    """Let every photo show two springs."""
    other = replace(measurement, axis_px=measurement.axis_px + 200.0, hand="left", flags=())
    monkeypatch.setattr(ui.batch, "measure_all", lambda photo, reference: (measurement, other))


def test_a_folder_is_its_pictures_as_a_person_lists_them(folder):
    names = [path.name for path in pictures_of([folder, folder / "notes.txt"])]
    assert names == ["Spring 1.png", "spring 9.JPG", "spring 10.jpg", "notes.txt"]


def test_a_folder_ends_in_a_table(sight, folder):
    done = run(folder)
    assert done.exit_code == 0
    table = done.stdout.strip().splitlines()[-4:]
    assert table[0].split()[:2] == ["photo", "kind"]
    assert [row.split("  ")[0] for row in table[1:]] == [
        "Spring 1.png", "spring 9.JPG", "spring 10.jpg"
    ]  # fmt: skip
    assert all("1.200" in row and "taken at a slant" in row for row in table[1:])
    assert len({row.index("compression") for row in table[1:]}) == 1
    assert [one["status"] for one in told(run(folder, "--json"))] == ["measured"] * 3


def test_a_refused_photo_stands_in_the_table_with_its_reason(sight, folder):
    (folder / "bad.jpg").write_bytes(b"no picture")
    done = run(folder)
    assert done.exit_code == 3
    row = next(line for line in reversed(done.stdout.splitlines()) if line.startswith("bad.jpg"))
    assert "refused" in row
    assert "not a picture" in row


def test_an_empty_folder_is_refused_by_name(tmp_path):
    empty = tmp_path / "empty"
    empty.mkdir()
    done = run(empty, "--json")
    assert done.exit_code == 3
    assert "empty" in told(done)[0]["message"]


def test_fused_comes_after_its_photos(monkeypatch, measurement, folder):
    values = [measurement.geometry.values + k * np.array([0.004, 0.01, 0, 0]) for k in range(3)]
    photos = iter([replace(measurement, geometry=replace(measurement.geometry, values=v))
                   for v in values])  # fmt: skip
    monkeypatch.setattr(ui.measuring, "measure", lambda photo, *_: next(photos))
    done = run(folder, "--fuse", "--json")
    assert done.exit_code == 0, done.output
    *alone, fused = told(done)
    assert [one["status"] for one in alone] == ["measured"] * 3
    assert fused["status"] == "fused"
    assert len(fused["photos"]) == 3
    assert fused["left_out"] == []
    assert fused["geometry"]["wire_diameter_mm"]["value"] == pytest.approx(1.204, abs=1e-3)
    u = [one["geometry"]["wire_diameter_mm"]["u"] for one in (alone[0], fused)]
    assert u[0] * 0.5**0.5 < u[1] < u[0]
    assert set(fused["agreement"]) == {
        "chi2",
        "dof",
        "chance",
        "differs_most_in",
        "farthest",
    }
    assert fused["rate_N_per_mm"]["u"] < alone[0]["rate_N_per_mm"]["u"]


def test_fused_is_told_to_people_with_what_differs(sight, folder):
    said = run(folder, "--fuse").stdout
    assert "Together, 3 photos: compression spring" in said
    assert "They differ most in" in said


def test_it_is_said_why_photos_do_not_narrow_the_band_as_noise_alone_would(sight, folder):
    """Half of the variance is shared: three photos leave (1/2 + 1/6)^0.5 = 82 %, not 58 %."""
    said = run(folder, "--fuse").stdout
    assert "82% as wide as that of one photo; 3 photos" in said
    assert "would leave 58%" in said
    assert "how this wire looks in this light, the size of what lies beside it, the lens" in said
    fused = told(run(folder, "--fuse", "--json"))[-1]
    assert fused["wire_u_over_one_photo"] == pytest.approx((1 / 2 + 1 / 6) ** 0.5, rel=0.01)
    own = run(folder, "--fuse", "--reference", "self:outside=13.2", "--u", "0.2").stdout
    assert "how this wire looks in this light, your own reading" in own


def test_photos_that_disagree_are_told_so_and_not_why_bands_stay_wide(
    monkeypatch, measurement, folder
):
    values = [measurement.geometry.values * [k, 1, 1, 1] for k in (1.0, 1.3, 1.7)]
    photos = iter([replace(measurement, geometry=replace(measurement.geometry, values=v))
                   for v in values])  # fmt: skip
    monkeypatch.setattr(ui.measuring, "measure", lambda photo, *_: next(photos))
    said = run(folder, "--fuse").stdout
    assert "the band was widened" in said
    assert "as wide as that of one photo" not in said


def test_photos_that_do_not_go_together_are_refused(monkeypatch, sight, photo):
    done = run(photo, "--fuse", "--json")
    assert done.exit_code == 3
    assert told(done)[-1]["reason"] == "not-fused"


def test_a_reading_of_ones_own_is_common_to_all_photos(sight, folder):
    """The caliper's error of the scale does not average away over photos."""
    done = run(folder, "--fuse", "--json", "--reference", "self:outside=13.2", "--u", "0.2")
    assert done.exit_code == 0, done.output
    fused = told(done)[-1]["geometry"]["outer_diameter_mm"]
    assert fused["u"] == pytest.approx(0.2, rel=0.05)


def test_fused_photos_count_once_as_evidence(sight, folder, tmp_path):
    path = tmp_path / "told.jsonl"
    path.write_text(run(folder, "--fuse", "--json").stdout)
    done = CliRunner().invoke(app, ["reconcile", f"--measured={path}", "--json"])
    evidence = json.loads(done.stdout)["wire_diameter_mm"]
    fused = json.loads(path.read_text().splitlines()[-1])["geometry"]["wire_diameter_mm"]
    assert evidence["u"] == pytest.approx(fused["u"], rel=0.03)


def test_all_springs_of_a_photo_are_numbered(two, photo, tmp_path):
    done = run(photo, "--all", "--json", "--drawings", tmp_path / "seen")
    assert done.exit_code == 0, done.output
    assert [(one["spring"], one["hand"]) for one in told(done)] == [(1, "right"), (2, "left")]
    drawing = cv2.imread(str(tmp_path / "seen" / "spring-seen.jpg"))
    assert drawing.shape[1] == 1200
    assert f"{photo.name} #2" in run(photo, "--all").stdout


def test_a_photo_without_springs_has_no_number(monkeypatch, photo):
    no = Refusal("no-spring", "view", "No spring.", "Lay it on its side.")
    monkeypatch.setattr(ui.batch, "measure_all", lambda photo, reference: no)
    done = run(photo, "--all", "--json")
    assert done.exit_code == 3
    assert "spring" not in told(done)[0]


def test_a_drawing_of_one_spring(sight, photo, tmp_path):
    assert run(photo, "--drawings", tmp_path / "seen").exit_code == 0
    assert (tmp_path / "seen" / "spring-seen.jpg").stat().st_size > 1000


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--fuse", "--all"], "give one"),
        (["--fuse", "--reference", "none"], "needs a scale"),
        (["--all", "--reference", "self:wire=1.2"], "reading of one spring"),
        (["--all", "--reference", "brick"], "no reference is called"),
    ],
)
def test_a_wrong_call_is_told_before_anything_is_measured(photo, options, said):
    done = run(photo, *options)
    assert done.exit_code == 2
    assert said in done.output
