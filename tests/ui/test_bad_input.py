"""What people hand over by mistake: a plain sentence each, never a traceback or a full memory."""

import json
import struct
import subprocess
import sys
import zlib

import cv2
import numpy as np
import pytest

ONE_GB = 1_000_000_000

# The child tells its own peak; what getrusage tells begins with that of the process before it.
CHILD = """
import sys
from tests.trust.memory import peak_bytes
from ui.cli import app
try:
    app()
finally:
    print(peak_bytes(), file=sys.stderr)
"""


def huge_png(side=20_000):
    """A whole black PNG of one bit a pixel: 50 MB once unpacked, 1.2 GB as colours."""

    def chunk(name, data):
        return (
            struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))
        )

    header = struct.pack(">IIBBBBB", side, side, 1, 0, 0, 0, 0)
    rows = zlib.compress(bytes((1 + side // 8) * side), 1)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")
    )


def picture(side):
    rng = np.random.default_rng(1)
    done, data = cv2.imencode(".jpg", rng.integers(0, 255, (side, side, 3), np.uint8))
    assert done
    return data.tobytes()


CASES = {
    "text named .jpg": (lambda: b"milk, eggs, springs\n" * 40, "is not a picture"),
    "truncated JPEG": (lambda: picture(600)[:90_000], "damaged or cut short"),
    "1-pixel picture": (lambda: picture(1), "only 1 by 1 pixels"),
    "20,000 x 20,000 PNG": (huge_png, "larger than 65 megapixels"),
    "empty file": (lambda: b"", "is empty"),
}


def measure(*arguments):
    done = subprocess.run(
        [sys.executable, "-c", CHILD, "measure", *map(str, arguments)],
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert "Traceback" not in done.stderr + done.stdout
    return done, int(done.stderr.split()[-1])


def test_each_is_refused_in_one_plain_sentence_and_the_rest_goes_on(tmp_path):
    """All in one call: none of them may cost the others their answer."""
    paths = []
    for number, (make, _) in enumerate(CASES.values()):
        paths.append(tmp_path / f"bad{number}.jpg")
        paths[-1].write_bytes(make())
    folder = tmp_path / "album"
    folder.mkdir()
    paths += [folder, tmp_path / "not there.jpg"]
    done, peak = measure("--json", *paths)
    assert done.returncode == 3
    told = [json.loads(line) for line in done.stdout.splitlines()]
    assert [one["photo"] for one in told] == [str(path) for path in paths]
    expected = [words for _, words in CASES.values()] + ["is a folder", "There is no file"]
    for one, words in zip(told, expected, strict=True):
        assert one["status"] == "refused"
        assert one["stage"] == "photo"
        assert words in one["message"]
        assert one["message"].endswith(".")
        assert one["try"].endswith(".")
    assert peak < ONE_GB


@pytest.mark.parametrize("call", [[], ["--reference", "brick", "a.jpg"], ["--colour", "a.jpg"]])
def test_a_wrong_call_exits_2(call):
    done, _ = measure(*call)
    assert done.returncode == 2
    assert done.stdout == ""
