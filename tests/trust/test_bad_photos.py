"""Photos by the thousand that are no good: a picture, or one sentence; quickly, in little memory.

``make fuzz`` tries the same for long, and by coverage where atheris is installed.
"""

import json
import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from tests.trust.fuzzing import LONGEST_MS, fuzz
from tests.trust.memory import now_bytes
from tests.trust.pictures import (
    REFUSED_KINDS,
    assert_plain,
    blocks,
    encoded,
    kinds,
    many_scans,
    png_of,
    with_exif,
)
from vision.photo import Photo, decode
from vision.refusal import Refusal

ONE_GB = 1_000_000_000

#: One thing that happens to a file on its way: where (as a share of its length), and what.
HARM = st.tuples(
    st.floats(0.0, 1.0),
    st.sampled_from(["flip", "cut", "drop", "zero", "put", "twice"]),
    st.integers(0, 255),
    st.binary(max_size=40),
)


def harmed(data, harms):
    for where, what, number, more in harms:
        at = min(int(where * len(data)), max(len(data) - 1, 0))
        if what == "flip" and data:
            data = data[:at] + bytes([data[at] ^ (number or 1)]) + data[at + 1 :]
        elif what == "cut":
            data = data[:at]
        elif what == "drop":
            data = data[:at] + data[at + number :]
        elif what == "zero":
            data = data[:at] + bytes(min(number, len(data) - at)) + data[at + number :]
        elif what == "put":
            data = data[:at] + more + data[at:]
        else:
            data = data[:at] + data[at // 2 :]
    return data


def photo_or_sentence(data, name):
    found = decode(data, name)
    if isinstance(found, Refusal):
        assert_plain(found, name)
        assert found.stage == "photo"
        return
    assert isinstance(found, Photo)
    assert found.rgb.dtype == np.uint8
    assert found.rgb.ndim == 3
    assert found.rgb.shape[2] == 3
    assert found.focal_35mm is None or 8.0 <= found.focal_35mm <= 400.0


@fuzz()
@given(st.sampled_from(sorted(kinds())), st.lists(HARM, max_size=6))
def test_harmed_files_of_every_kind(kind, harms):
    photo_or_sentence(harmed(kinds()[kind], harms), "IMG_0417.jpg")


@fuzz()
@given(st.sampled_from(sorted(kinds())), st.sampled_from(sorted(kinds())), st.floats(0.0, 1.0))
def test_one_file_s_head_on_another_s_body(head, body, share):
    first, second = kinds()[head], kinds()[body]
    photo_or_sentence(first[: int(share * len(first))] + second[int(share * len(second)) :], "a")


@fuzz()
@given(st.binary(max_size=400))
def test_any_bytes(data):
    photo_or_sentence(data, "a.png")


TAGS = st.dictionaries(
    st.sampled_from(["t112", "t10f", "t11a", "t128", "t8769", "t8825", "ta005", "t927c"]),
    st.one_of(
        st.integers(0, 2**32 - 1),
        st.text(max_size=20),
        st.binary(max_size=40),
        st.tuples(st.integers(0, 2**32 - 1), st.integers(0, 2**32 - 1)),
    ),
    max_size=4,
)


@fuzz()
@given(TAGS, st.lists(HARM, max_size=4))
def test_any_exif_is_read_or_left(tags, harms):
    exif = with_exif()
    for tag, value in tags.items():
        exif[int(tag[1:], 16)] = value
    try:
        body = exif.tobytes()
    except Exception:
        # What the library cannot write, no test can send.
        body = with_exif().tobytes()
    data = encoded(Image.fromarray(blocks()), "JPEG", exif=harmed(body, harms)[:60_000])
    found = decode(data, "a.jpg")
    # The picture itself is whole: whatever its EXIF says, it is shown.
    assert isinstance(found, Photo)
    assert sorted(found.rgb.shape) == [3, 260, 320]


@pytest.mark.parametrize("kind", sorted(kinds()))
def test_whole_files_of_every_kind_and_wrong_names(kind):
    found = decode(kinds()[kind], "notes.txt")
    if kind in REFUSED_KINDS:
        assert_plain(found, "notes.txt")
    else:
        assert isinstance(found, Photo)
        assert sorted(found.rgb.shape) == [3, 260, 320]


#: The largest that are read at all, in each form whose copies could fill the memory; and bombs.
BIG = {
    "16 bit": (lambda: png_of(9280, 7000, 16, 0), None),
    "16-bit colour": (lambda: png_of(9280, 7000, 16, 2), None),
    "grey and alpha": (lambda: png_of(9280, 7000, 8, 4), None),
    "colour and alpha": (lambda: png_of(9280, 7000, 8, 6), None),
    "interlaced": (lambda: png_of(9280, 7000, 8, 6, 1), None),
    "bomb": (lambda: png_of(30_000, 30_000, 1, 0), "too-large"),
    "longest": (lambda: png_of(16_500, 250, 8, 2), None),
    "panorama": (lambda: png_of(64_000, 250, 8, 2), "too-long"),
    "scans": (lambda: many_scans(20_000), "cut-short"),
}
CHILD = """
import json, sys, time
from tests.trust.memory import peak_bytes
from vision.photo import read
began = time.perf_counter()
found = read(sys.argv[1])
took = time.perf_counter() - began
print(json.dumps([getattr(found, "reason", None), took, peak_bytes()]))
"""


@pytest.mark.parametrize("case", sorted(BIG))
def test_the_largest_and_bombs_stay_within_time_and_memory(case, tmp_path):
    """Each in a process of its own, so that no other's memory counts."""
    make, expected = BIG[case]
    path = tmp_path / "big.png"
    path.write_bytes(make())
    done = subprocess.run(
        [sys.executable, "-c", CHILD, str(path)],
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    )
    reason, took, peak = json.loads(done.stdout)
    assert reason == expected
    assert took < LONGEST_MS / 1000.0
    assert peak < ONE_GB


def test_a_thousand_harmed_files_leave_no_memory_behind():
    rng = np.random.default_rng(6)
    files = sorted(kinds().items())
    for _ in range(60):
        decode(files[int(rng.integers(len(files)))][1], "a")
    before = now_bytes()
    for _ in range(1000):
        data = bytearray(files[int(rng.integers(len(files)))][1])
        for at in rng.integers(0, len(data), 4):
            data[at] = int(rng.integers(256))
        photo_or_sentence(bytes(data), "a")
    assert now_bytes() - before < 100_000_000
