"""Whole pictures of the wrong things: measured or refused in a sentence, within 20 s and 1 GB."""

import json
import subprocess
import sys

import cv2
import numpy as np
import pytest

from tests.trust.fuzzing import LONGEST_MS
from tests.trust.pictures import sample

ONE_GB = 1_000_000_000


def grey(values):
    return np.repeat(np.asarray(values)[:, :, None], 3, axis=2)


def stripes(period):
    return grey(np.tile((np.arange(4000) // period) % 2 * 255, (3000, 1)))


def rings():
    x, y = np.meshgrid(np.arange(4000) - 2000.0, np.arange(3000) - 1500.0)
    return grey(128 + 120 * np.sin(np.hypot(x, y) / 5.0))


def screenshot():
    """Return a phone's screen that shows the photo between bars of its viewer."""
    screen = np.full((2400, 1080, 3), 18, np.uint8)
    screen[700:1510] = cv2.resize(sample(), (1080, 810))
    cv2.putText(screen, "25 Nov 22:04", (60, 120), cv2.FONT_HERSHEY_SIMPLEX, 2, (240,) * 3, 3)
    return screen


ODD = {
    "noise": lambda: np.random.default_rng(0).integers(0, 255, (3000, 4000, 3)),
    "night": lambda: np.zeros((3000, 4000, 3)),
    "stripes": lambda: stripes(16),
    "fine stripes": lambda: stripes(4),
    "rings": rings,
    "tiles of springs": lambda: np.tile(cv2.resize(sample(), (600, 450)), (8, 8, 1)),
    "panorama": lambda: cv2.resize(sample(), (16_500, 1000)),
    "ribbon": lambda: cv2.resize(sample(), (240, 16_500)),
    "thumbnail": lambda: cv2.resize(sample(), (320, 240)),
    "screenshot": screenshot,
}
CHILD = """
import json, sys, time
import numpy as np
from tests.trust.memory import peak_bytes
from tests.trust.pictures import photo_of
from vision.measure import measure
for asked in sys.argv[1:]:
    path, *references = asked.split(",")
    picture = photo_of(np.load(path))
    for reference in references:
        began, cpu = time.perf_counter(), time.process_time()
        found = measure(picture, reference)
        # Whichever is less: other programs may hold the processors.
        took = min(time.perf_counter() - began, time.process_time() - cpu)
        told = [path, reference, getattr(found, "reason", "measured"), took]
        print(json.dumps([*told, peak_bytes()]))
"""


#: What takes longest of all without a scale, and what is a photo after all, but a smaller one.
LONGEST, A_PHOTO = "fine stripes", "screenshot"


def test_odd_pictures_stay_within_time_and_memory(tmp_path):
    """With what lies beside looked for, and without it what takes longest."""
    within_bounds(tmp_path, {case: ("auto", *["none"] * (case == LONGEST)) for case in ODD})


@pytest.mark.thorough
def test_odd_pictures_without_a_scale_stay_within_time_and_memory(tmp_path):
    within_bounds(tmp_path, dict.fromkeys(ODD, ("none",)))


def within_bounds(folder, asked):
    """One process sees them all, as a server would, so that what one leaves behind counts too."""
    paths = {str(folder / f"{number}.npy"): case for number, case in enumerate(asked)}
    for path, case in paths.items():
        np.save(path, np.asarray(ODD[case](), np.uint8))
    given = [",".join((path, *asked[case])) for path, case in paths.items()]
    command = [sys.executable, "-W", "error", "-c", CHILD, *given]
    done = subprocess.run(command, capture_output=True, text=True, timeout=400)
    assert done.returncode == 0, done.stderr
    told = [json.loads(line) for line in done.stdout.splitlines()]
    assert len(told) == sum(map(len, asked.values()))
    for path, reference, reason, took, peak in told:
        case = paths[path]
        assert took < LONGEST_MS / 1000.0, (case, reference)
        assert peak < ONE_GB, (case, reference)
        # None of the others shows a spring to scale.
        if reference == "auto" and case != A_PHOTO:
            assert reason != "measured", case
