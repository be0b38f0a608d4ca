"""The first page waits for nothing that it does not need; what comes next is loaded after it."""

import os
import subprocess
import sys

import pytest

HEAVY = ("altair", "cv2", "pandas", "reportlab", "scipy", "skimage", "sqlalchemy")


def test_the_empty_photo_page_loads_without_seeing_reckoning_and_keeping():
    code = "import sys, ui.screens.by_photo, ui.screens.look, ui.gate; print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    loaded = set(done.stdout.split())
    assert "ui.screens.by_photo" in loaded
    assert sorted(loaded & set(HEAVY)) == []


@pytest.mark.parametrize(("given", "threads"), [({}, "1"), ({"OPENBLAS_NUM_THREADS": "2"}, "2")])
def test_blas_multiplies_in_one_thread_unless_it_is_told_otherwise(given, threads):
    """What is said after NumPy has come is not heard."""
    code = (
        "import os, sys, ui.cli; print(os.environ['OPENBLAS_NUM_THREADS'], 'numpy' in sys.modules)"
    )
    others = {k: v for k, v in os.environ.items() if k != "OPENBLAS_NUM_THREADS"}
    command = [sys.executable, "-c", code]
    done = subprocess.run(command, capture_output=True, text=True, check=True, env=others | given)
    assert done.stdout.split() == [threads, "False"]
