import io

import numpy as np
import pytest
from PIL import Image, ImageOps

from vision.photo import Photo, decode, read
from vision.refusal import Refusal


def blocks(width: int = 400, height: int = 300) -> np.ndarray:
    """Return a picture whose four quarters differ, so that every turn shows."""
    rgb = np.zeros((height, width, 3), np.uint8)
    rgb[: height // 2, : width // 2] = (200, 40, 40)
    rgb[: height // 2, width // 2 :] = (40, 200, 40)
    rgb[height // 2 :, : width // 2] = (40, 40, 200)
    rgb[height // 2 :, width // 2 :] = (220, 220, 220)
    return rgb


def encoded(image: Image.Image, form: str, **options) -> bytes:
    out = io.BytesIO()
    image.save(out, form, **options)
    return out.getvalue()


def pixels(result: Photo | Refusal) -> np.ndarray:
    assert isinstance(result, Photo), result
    return result.rgb.astype(int)


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
@pytest.mark.parametrize("turn", range(1, 9))
def test_every_orientation_is_applied_once(form, turn):
    """Checked against Pillow's own reading of the EXIF orientation tag (CIPA DC-008, 0x0112)."""
    exif = Image.Exif()
    exif[0x0112] = turn
    data = encoded(Image.fromarray(blocks()), form, exif=exif, quality=95)
    upright = ImageOps.exif_transpose(Image.open(io.BytesIO(data))).convert("RGB")
    assert np.abs(pixels(decode(data, "a")) - np.asarray(upright, int)).max() <= 3


def test_heic_is_read_upright():
    import pillow_heif

    exif = Image.Exif()
    exif[0x0112] = 6
    heif = pillow_heif.from_pillow(Image.fromarray(blocks()))
    out = io.BytesIO()
    heif.save(out, exif=exif.tobytes(), quality=90)
    rgb = pixels(decode(out.getvalue(), "a.heic"))
    assert rgb.shape == (400, 300, 3)
    assert np.abs(rgb[100, 75] - (40, 40, 200)).max() < 12


def test_focal_length_is_kept_and_the_place_is_not():
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0xA405] = 26
    exif.get_ifd(0x8825)[2] = (52.0, 1.0, 2.0)
    photo = decode(encoded(Image.fromarray(blocks()), "JPEG", exif=exif), "a.jpg")
    assert isinstance(photo, Photo)
    assert photo.focal_35mm == 26.0
    assert set(Photo.__slots__) == {"rgb", "sha256", "name", "focal_35mm"}


def test_an_unknown_focal_length_written_as_zero_is_none():
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0xA405] = 0
    photo = decode(encoded(Image.fromarray(blocks()), "JPEG", exif=exif), "a.jpg")
    assert isinstance(photo, Photo)
    assert photo.focal_35mm is None


@pytest.mark.parametrize("mode", ["L", "LA", "P", "RGBA", "1", "I;16"])
def test_other_png_modes_become_colour(mode):
    grey = Image.fromarray(np.full((300, 400), 255, np.uint8))
    if mode == "I;16":
        image = Image.fromarray(np.full((300, 400), 65535, np.uint16))
    else:
        image = grey.convert(mode)
    assert pixels(decode(encoded(image, "PNG"), "a.png")).min() == 255


def test_cmyk_jpeg_keeps_its_colours():
    data = encoded(Image.fromarray(blocks()).convert("CMYK"), "JPEG", quality=95)
    assert np.abs(pixels(decode(data, "a.jpg")) - blocks())[20:100, 20:150].max() < 12


def test_see_through_shows_white():
    image = Image.new("RGBA", (400, 300), (0, 0, 0, 0))
    assert pixels(decode(encoded(image, "PNG"), "a.png")).min() == 255


def huge_png() -> bytes:
    """Return the header of a 20 000 x 20 000 PNG and one row: a few bytes, 1.2 GB decoded."""
    data = bytearray(encoded(Image.fromarray(blocks()), "PNG"))
    import struct
    import zlib

    data[16:24] = struct.pack(">II", 20000, 20000)
    data[29:33] = struct.pack(">I", zlib.crc32(bytes(data[12:29])))
    return bytes(data)


JPEG = encoded(Image.fromarray(blocks()), "JPEG")


@pytest.mark.parametrize(
    ("data", "reason"),
    [
        (b"", "empty-file"),
        (b"Shopping: wire, files, tea\n" * 40, "not-a-picture"),
        (JPEG[: len(JPEG) // 2], "cut-short"),
        (JPEG[:-2], "cut-short"),
        (JPEG[:30], "not-a-picture"),
        (encoded(Image.fromarray(blocks()), "PNG")[:-60], "cut-short"),
        (encoded(Image.new("RGB", (1, 1)), "PNG"), "too-small"),
        (huge_png(), "too-large"),
        (encoded(Image.new("L", (9000, 9000)), "PNG"), "too-large"),
        (encoded(Image.fromarray(blocks()), "GIF"), "not-a-picture"),
        (b"\x00\x00\x00\x18ftypheic" + bytes(300), "not-a-picture"),
    ],
)
def test_bad_bytes_are_refused_in_plain_words(data, reason):
    refusal = decode(data, "photo.jpg")
    assert isinstance(refusal, Refusal)
    assert (refusal.reason, refusal.stage) == (reason, "photo")
    assert "photo.jpg" in refusal.message
    assert refusal.try_this.endswith(".")


def test_a_folder_and_a_missing_file_are_refused(tmp_path):
    for path in (tmp_path, tmp_path / "gone.jpg"):
        refusal = read(path)
        assert isinstance(refusal, Refusal)
        assert refusal.reason == "not-a-file"


def test_read_decodes_what_the_file_holds(tmp_path):
    path = tmp_path / "spring.png"
    path.write_bytes(JPEG)
    photo = read(str(path))
    assert isinstance(photo, Photo)
    assert photo.name == "spring.png"
    assert photo.rgb.shape == (300, 400, 3)
