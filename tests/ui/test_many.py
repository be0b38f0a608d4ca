"""Thousands of photos: resumed, told how long, whatever one photo does, here and on a cluster."""

import csv
import io
import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from typer.testing import CliRunner

import ui.many
from mechanics.materials import find_material
from ui.batch import wanted
from ui.cli import app
from ui.contract import refused_object
from ui.many import Journal, Progress, flat, measure_many, tasks_of
from ui.screens.by_photo import SAMPLE
from vision.refusal import Refusal

HOW = wanted("auto", 0.03, find_material("unknown steel"), False, None)


def run(*arguments):
    return CliRunner().invoke(app, ["batch", *map(str, arguments)])


@pytest.fixture
def folder(tmp_path):
    """Photos of every kind of use and of none, in folders of one another."""
    inside = tmp_path / "tins"
    (inside / "upper shelf").mkdir(parents=True)
    for number in range(6):
        (inside / f"spring {number}.jpg").write_bytes(b"milk %d" % number)
    (inside / "upper shelf" / "=1+1.png").write_bytes(b"")
    (inside / ".hidden.jpg").write_bytes(b"no")
    (inside / "notes.txt").write_text("no photo")
    return inside


def quick(task, how):
    """Stand in for the measuring, at once."""
    return task, [refused_object(task.name, Refusal("milk", "photo", "It is milk.", "Drink it."))]


def deadly(task, how):
    """End the process that works on one of the photos."""
    if "3" in task.name:
        os.kill(os.getpid(), signal.SIGKILL)
    return quick(task, how)


def slow(task, how):
    time.sleep(0.4)
    return quick(task, how)


def test_pictures_are_found_below_the_folder_and_nothing_else(folder):
    assert [task.name for task in tasks_of(folder)] == [
        *(f"spring {number}.jpg" for number in range(6)),
        "upper shelf/=1+1.png",
    ]
    empty = folder / "empty"
    empty.mkdir()
    with pytest.raises(ValueError, match="no picture"):
        tasks_of(empty)


def test_a_photo_that_ends_the_program_is_named_and_all_others_are_measured(folder, tmp_path):
    tasks = tasks_of(folder)
    journal = Journal(tmp_path / "journal", "how")
    done = [task.name for task in measure_many(tasks, journal, HOW, 2, deadly)]
    assert sorted(done) == [task.name for task in tasks]
    told = {task.name: journal.told(task)[0]["reason"] for task in tasks}
    assert told.pop("spring 3.jpg") == "ended-the-program"
    assert set(told.values()) == {"milk"}
    journal.close()


def test_what_stands_in_the_journal_is_not_measured_again(folder, tmp_path):
    tasks, path = tasks_of(folder), tmp_path / "journal"
    journal = Journal(path, "how")
    for task in tasks[:4]:
        journal.write(*quick(task, HOW))
    journal.close()
    # The power went while a line was written.
    path.write_bytes(path.read_bytes()[:-30])
    # And a photo was changed since.
    tasks[1].path.write_bytes(b"another picture")
    tasks = tasks_of(folder)
    again = Journal(path, "how")
    done = [task.name for task in measure_many(tasks, again, HOW, 1, quick)]
    assert sorted(done) == sorted(["spring 1.jpg", *(task.name for task in tasks[3:])])
    again.close()
    other = Journal(path, "another reference")
    assert [other.told(task) for task in tasks] == [None] * len(tasks)
    other.close()


def test_killed_and_called_again_it_goes_on(folder, tmp_path):
    for number in range(3):
        (folder / f"real {number}.jpg").write_bytes(SAMPLE.read_bytes())
    out = tmp_path / "table.csv"
    command = [sys.executable, "-c", "from ui.cli import app; app()", "batch", str(folder)]
    command += ["--out", str(out), "--workers", "1", "--reference", "card"]
    first = subprocess.Popen(command, stderr=subprocess.PIPE, text=True, process_group=0)
    first.stderr.readline()
    os.killpg(first.pid, signal.SIGKILL)
    first.wait()
    first.stderr.close()
    assert not out.exists()
    journal = out.with_name("table.csv.journal")
    before = [line for line in journal.read_bytes().split(b"\n") if line]
    assert before
    done = subprocess.run(command, capture_output=True, text=True, timeout=300)
    assert done.returncode == 3, done.stderr
    assert "10 of 10 photos" in done.stderr
    assert " left" in done.stderr
    assert journal.read_bytes().startswith(b"\n" + before[0])
    rows = list(csv.DictReader(io.StringIO(out.read_text(), newline="")))
    assert [row["status"] for row in rows if row["photo"].startswith("real")] == ["measured"] * 3
    assert float(rows[0]["wire_diameter_mm"]) == pytest.approx(1.39, rel=0.02)
    assert float(rows[0]["wire_diameter_mm_low"]) < 1.39
    assert "not a picture" in rows[3]["message"]
    # A file's name is a stranger's word, too.
    assert rows[-1]["photo"] == "upper shelf/=1+1.png"


def test_a_table_as_parquet_keeps_numbers_as_numbers(tmp_path, sight, photo, monkeypatch):
    import shutil

    monkeypatch.setattr(ui.many, "Parallel", InThisProcess)
    shutil.copy(photo, tmp_path / "=spring.jpg")
    done = run(tmp_path, "--out", tmp_path / "table.parquet")
    assert done.exit_code == 0, done.stderr
    table = pd.read_parquet(tmp_path / "table.parquet")
    assert list(table["photo"]) == ["=spring.jpg", "spring.jpg"]
    assert table["rate_N_per_mm"].dtype == np.float64
    assert (table["rate_N_per_mm_low"] < table["rate_N_per_mm"]).all()
    assert set(table["flags"]) == {"tilted"}
    done = run(tmp_path, "--out", tmp_path / "table.csv")
    rows = list(csv.reader(io.StringIO((tmp_path / "table.csv").read_text())))
    assert rows[1][0] == "'=spring.jpg"


class InThisProcess:
    """Stands in for joblib where what is measured is made up in this process."""

    def __init__(self, **_):
        pass

    def __call__(self, calls):
        return (act(*given, **more) for act, given, more in calls)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (["nowhere", "--out", "t.csv"], "no folder nowhere"),
        ([".", "--out", "t.xlsx"], "must end in .parquet or .csv"),
        ([".", "--out", "t.csv", "--reference", "brick"], "no reference is called"),
    ],
)
def test_a_wrong_call_says_why(call, words):
    done = run(*call)
    assert done.exit_code == 2
    assert words in done.stderr


def test_how_long_it_will_take():
    now = iter([0.0, 1.0, 20.0])
    progress = Progress(100, 60, lambda: next(now))
    assert progress.step() == "61 of 100 photos, about 39 s left"
    assert progress.step() == "62 of 100 photos, about 6 min left"
    last = Progress(5, 4, lambda: 0.0)
    assert last.step() == "5 of 5 photos"


@pytest.mark.thorough
def test_on_a_cluster_a_killed_worker_costs_nothing(folder, tmp_path):
    """The same code through joblib's Dask backend, on a cluster of this machine."""
    distributed = pytest.importorskip("distributed")
    from ui.cluster import on_cluster

    cluster = distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None
    )
    journal = Journal(tmp_path / "journal", "how")
    try:
        pids = [worker.pid for worker in cluster.workers.values()]
        with on_cluster(cluster.scheduler_address):
            threading.Timer(0.6, os.kill, (pids[0], signal.SIGKILL)).start()
            done = [task.name for task in measure_many(tasks_of(folder), journal, HOW, -1, slow)]
        assert sorted(done) == [task.name for task in tasks_of(folder)]
        assert not Path(f"/proc/{pids[0]}").exists()
    finally:
        journal.close()
        cluster.close()


def test_every_object_of_the_contract_is_one_flat_row():
    told = {
        "photo": "a.jpg",
        "status": "measured",
        "reference": {"kind": "card", "size_mm": [1, 2]},
        "geometry": {"pitch_mm": {"value": 1.0, "u": 0.1, "low": 0.8, "high": 1.2}},
        "covariance": {"names": [], "matrix": []},
        "flags": ["tilted", "dark"],
        "timings_ms": {"fit": 500.0},
    }
    row = flat(told)
    assert row["pitch_mm"] == 1.0
    assert row["pitch_mm_u"] == 0.1
    assert row["reference"] == "card"
    assert row["flags"] == "tilted; dark"
    assert row["seconds"] == 0.5
    assert all(isinstance(value, str | float) for value in row.values())
