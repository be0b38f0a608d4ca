"""Fuzzing guided by coverage: ``make fuzz-coverage TARGET=photo SECONDS=60``.

Needs the extra ``fuzz`` (atheris, which has builds for some Pythons only).
"""

import sys


def fuzz(target: str) -> None:
    """Feed one target with bytes until the time is over or something breaks."""
    import atheris

    # What is imported here is watched for which of its lines an input reaches.
    with atheris.instrument_imports(include=["vision", "ui", "PIL", "pillow_heif"]):
        from tests.trust.test_bad_imports import draw_all, taken
        from tests.trust.test_bad_photos import photo_or_sentence
        from ui.collection.exchange import from_csv, from_json
        from ui.collection.supplier import read_table
        from vision.photo import _exif, _open

    def springs(data: bytes) -> None:
        text = data.decode("utf-8", "replace")
        draw_all(taken(from_json, text))
        draw_all(taken(from_csv, text))
        taken(read_table, text)

    def exif(data: bytes) -> None:
        turn, focal = _exif(_open(jpeg_with(data[:60_000])))
        assert isinstance(turn, int)
        assert focal is None or 8.0 <= focal <= 400.0

    targets = {"photo": lambda data: photo_or_sentence(data, "a"), "exif": exif, "springs": springs}
    atheris.Setup(sys.argv, targets[target])
    atheris.Fuzz()


def jpeg_with(exif: bytes) -> bytes:
    """Return the head of a grey JPEG of 256 x 256 with EXIF."""
    size = (len(exif) + 8).to_bytes(2, "big")
    frame = b"\xff\xc0\0\x0b\x08\x01\0\x01\0\x01\x01\x11\0\xff\xda\0\x08\x01\x01\0\0\x3f\0\xff\xd9"
    return b"\xff\xd8\xff\xe1" + size + b"Exif\0\0" + exif + frame


if __name__ == "__main__":
    fuzz(sys.argv.pop(1))
