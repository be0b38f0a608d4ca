"""Writes a small file of every kind, to begin fuzzing with: ``python -m tests.trust.seeds DIR``."""

import sys
from pathlib import Path

from tests.trust.pictures import kinds, with_exif
from tests.ui.collection.springs import made
from ui.collection.exchange import to_csv, to_json

if __name__ == "__main__":
    folder = Path(sys.argv[1])
    some = [made("Quay 7", tags=("a",)), made("Slipway")]
    files = {
        "photo": list(kinds().values()),
        "exif": [with_exif().tobytes()[6:]],
        "springs": [to_json(some).encode(), to_csv(some).encode(), b"part;wire;od\n1;1,2;13\n"],
    }
    for target, all_of_it in files.items():
        (folder / target).mkdir(parents=True, exist_ok=True)
        for number, data in enumerate(all_of_it):
            (folder / target / f"{number}").write_bytes(data)
