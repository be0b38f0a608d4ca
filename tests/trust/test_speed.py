"""The benchmark of time and memory runs on a small picture; what it prints are numbers that hold.

How long an answer takes tells of the machine as well, so no time is asserted.
"""

import math
import shutil
from dataclasses import replace
from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner

from tests.trust.memory import now_bytes, peak_bytes
from tests.trust.speed import Pace, main, summary

PICTURE = Path("fixtures/pictures/sample.jpg")


def run(folder):
    app = typer.Typer()
    app.command()(main)
    return CliRunner().invoke(app, [str(folder)])


@pytest.mark.thorough
def test_it_prints_finite_numbers_of_a_picture(tmp_path):
    for path in (PICTURE, PICTURE.with_suffix(".json")):
        shutil.copy(path, tmp_path)
    done = run(tmp_path)
    assert done.exit_code == 0, done.output
    row = next(r for r in done.stdout.splitlines() if r.startswith(PICTURE.name)).split()
    megapixels, decoding, answering, ratio, peak = map(float, row[1:6])
    assert row[6] == "measured"
    assert megapixels == pytest.approx(3.05, abs=0.1)
    assert all(math.isfinite(v) and v > 0 for v in (decoding, answering, ratio, peak))
    # The printed decoding is a rounded one: half of its last digit either way.
    assert answering / (decoding + 0.0006) * 0.98 < ratio < answering / (decoding - 0.0006) * 1.02
    assert "at most 700 MB: 1 of 1" in done.stdout


def test_memory_is_that_of_a_process_of_its_own():
    """A fresh interpreter holds less than this one did at most, once this one held 300 MB more."""
    from concurrent.futures import ProcessPoolExecutor
    from multiprocessing import get_context

    block = bytearray(b"x") * 300_000_000
    here = peak_bytes()
    assert here >= now_bytes() >= len(block)
    with ProcessPoolExecutor(1, mp_context=get_context("spawn"), max_tasks_per_child=1) as pool:
        there = pool.submit(peak_bytes).result()
    assert there < here - 0.9 * len(block)


def test_what_is_missed_is_counted():
    """Each limit of 12 MP photos: 8 times decoding, 2 s, 700 MB."""
    good = Pace("a.jpg", 12.0, 0.1, 0.8, 700_000_000, "measured")
    slow = replace(good, answer_s=2.1)
    heavy = replace(good, peak_bytes=701_000_000)
    said = summary([good, slow, heavy])
    assert said[0].split() == ["median", "0.100", "0.80", "8.0", "700"]
    assert said[1].split() == ["worst", "0.100", "2.10", "21.0", "701"]
    assert said[2:] == [
        "at most 8 times decoding: 2 of 3",
        "at most 2 s: 2 of 3",
        "at most 700 MB: 2 of 3",
    ]


def test_a_folder_without_a_jpeg_is_a_wrong_call(tmp_path):
    done = run(tmp_path)
    assert done.exit_code == 2
    assert "no JPEG" in done.stderr
