"""A photo: from the bytes that came to upright pixels, once, for every later step."""

import hashlib
import io
import warnings
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageFile

from vision.refusal import Refusal

Pixels = NDArray[np.uint8]

FORMATS = ("JPEG", "PNG", "WEBP")
LARGEST_FILE_BYTES = 200_000_000
# 64 megapixels are 192 MB once decoded; phones that offer more also offer 12.
LARGEST_PIXELS = 65_000_000
SMALLEST_SIDE_PX = 240
#: The longest panoramas of phones; OpenCV ends at 32 767, and no ruler is worth so long a search.
LONGEST_SIDE_PX = 16_500
_STRIP_ROWS = 256
#: A progressive JPEG has about ten scans; each costs a pass over all pixels, however few its bytes.
MOST_SCANS = 100
#: What decoders raise on garbage: each another error, so all of them.
_GARBAGE = Exception
ORIENTATION, EXIF_IFD, FOCAL_35MM = 0x0112, 0x8769, 0xA405


@dataclass(frozen=True, slots=True)
class Photo:
    """Upright pixels and what the camera said of itself; never the place.

    Attributes
    ----------
    rgb : ndarray of uint8, shape (H, W, 3)
        Picture after the orientation tag was applied.
    sha256 : str
        Hash of the bytes as they came: the key of every cache.
    name : str
        File name, for messages.
    focal_35mm : float or None
        35 mm equivalent focal length, from EXIF [mm].
    """

    rgb: Pixels
    sha256: str
    name: str
    focal_35mm: float | None


def read(path: str | Path) -> Photo | Refusal:
    """Read and decode a picture file; see `decode`."""
    path = Path(path)
    if path.is_dir():
        return _refuse("not-a-file", f"{path.name} is a folder.", "Name the photos inside it.")
    if not path.is_file():
        return _refuse("not-a-file", f"There is no file {path.name}.", "Check the name.")
    if path.stat().st_size > LARGEST_FILE_BYTES:
        return _too_large(path.name)
    try:
        data = path.read_bytes()
    except OSError as error:
        why = error.strerror or "it could not be opened"
        return _refuse(
            "not-readable", f"{path.name} cannot be read: {why}.", "Copy it and try again."
        )
    return decode(data, path.name)


def decode(data: bytes, name: str) -> Photo | Refusal:
    """Decode a JPEG, PNG, WebP or HEIC picture.

    Parameters
    ----------
    data : bytes
        The file as it came; judged by what is in it, never by its name.
    name : str
        File name, for messages.

    Returns
    -------
    Photo or Refusal
        Upright 8-bit colour; of its EXIF only the 35 mm equivalent focal length is kept.
    """
    if not data:
        return _refuse("empty-file", f"{name} is empty.", "Send or copy the photo once more.")
    if len(data) > LARGEST_FILE_BYTES:
        return _too_large(name)
    with warnings.catch_warnings():
        # What the library thinks of odd metadata is of no use to the person.
        warnings.simplefilter("ignore")
        return _decode(data, name)


def _decode(data: bytes, name: str) -> Photo | Refusal:
    try:
        picture = _open(data)
    except Image.DecompressionBombError:
        return _too_large(name)
    except _GARBAGE:
        return _refuse(
            "not-a-picture",
            f"{name} is not a picture that can be read.",
            "Use a JPEG, PNG, WebP or HEIC photo as it comes from the camera.",
        )
    if picture.width * picture.height > LARGEST_PIXELS:
        return _too_large(name)
    if max(picture.size) > LONGEST_SIDE_PX:
        return _refuse(
            "too-long",
            f"{name} is {max(picture.size)} pixels long, as panoramas are.",
            "Take one ordinary photo of the spring and what lies beside it.",
        )
    if min(picture.size) < SMALLEST_SIDE_PX:
        return _refuse(
            "too-small",
            f"{name} is only {picture.width} by {picture.height} pixels, too few to measure.",
            "Use the photo at the camera's own size, not a thumbnail.",
        )
    rgb = _pixels(data, picture)
    if rgb is None:
        return _refuse(
            "cut-short",
            f"{name} is damaged or cut short: part of the picture is missing.",
            "Send or copy the photo once more.",
        )
    turn, focal = _exif(picture)
    rgb = np.ascontiguousarray(_upright(rgb, turn))
    rgb.setflags(write=False)
    return Photo(rgb, hashlib.sha256(data).hexdigest(), name, focal)


def _refuse(reason: str, message: str, try_this: str) -> Refusal:
    return Refusal(reason, "photo", message, try_this)


def _too_large(name: str) -> Refusal:
    limit = LARGEST_PIXELS // 1_000_000
    return _refuse(
        "too-large",
        f"{name} is larger than {limit} megapixels.",
        "Take the photo at the camera's usual size; 8 to 12 megapixels are plenty.",
    )


def _open(data: bytes) -> ImageFile.ImageFile:
    """Read the header only: size, mode and EXIF."""
    formats: tuple[str, ...] = FORMATS
    if data[4:8] == b"ftyp":
        # Loads a library of its own, so only where it is needed.
        import pillow_heif

        pillow_heif.register_heif_opener()
        formats = ("HEIF",)
    return Image.open(io.BytesIO(data), formats=formats)


def _exif(picture: Image.Image) -> tuple[int, float | None]:
    """Return the orientation tag and the 35 mm equivalent focal length [mm]."""
    try:
        exif = picture.getexif()
        turn, focal = exif.get(ORIENTATION, 1), exif.get_ifd(EXIF_IFD).get(FOCAL_35MM)
        focal = float(focal) if focal is not None else None
    except _GARBAGE:
        return 1, None
    # Cameras write 0 where they do not know it.
    known = focal is not None and 8.0 <= focal <= 400.0
    return (turn if isinstance(turn, int) else 1), (focal if known else None)


def _pixels(data: bytes, picture: ImageFile.ImageFile) -> Pixels | None:
    """Return colour pixels as stored, or None where the file is damaged."""
    if picture.format in ("JPEG", "MPO") and picture.mode in ("RGB", "L"):
        if not _jpeg_is_whole(data) or data.count(b"\xff\xda") > MOST_SCANS:
            return None
        flags = cv2.IMREAD_COLOR_RGB | cv2.IMREAD_IGNORE_ORIENTATION
        try:
            decoded = cv2.imdecode(np.frombuffer(data, np.uint8), flags)
        except _GARBAGE:
            return None
        return None if decoded is None else np.asarray(decoded, np.uint8)
    try:
        return _eight_bit_colour(picture)
    except _GARBAGE:
        return None


def _jpeg_is_whole(data: bytes) -> bool:
    """Tell whether the end marker follows the scan.

    The fast decoder fills a missing part with grey and says nothing. Inside the scan a marker's
    first byte is always followed by zero or a restart, so the end marker cannot occur by chance.
    """
    at = 2
    while at + 4 <= len(data) and data[at] == 0xFF:
        marker, length = data[at + 1], int.from_bytes(data[at + 2 : at + 4], "big")
        if marker == 0xDA:
            return data.find(b"\xff\xd9", at) > 0
        at += 1 if marker == 0xFF else 2 + length
    return False


def _eight_bit_colour(picture: Image.Image) -> Pixels:
    """Return 8-bit colour of any mode; see-through parts show white.

    Strip by strip: the copies that a deep or a see-through picture needs on its way stay small.
    """
    picture.load()
    wide, tall = picture.size
    out = np.empty((tall, wide, 3), np.uint8)
    clear = "A" in picture.mode or "a" in picture.mode or "transparency" in picture.info
    for top in range(0, tall, _STRIP_ROWS):
        strip = picture.crop((0, top, wide, min(top + _STRIP_ROWS, tall)))
        out[top : top + _STRIP_ROWS] = _colour_strip(strip, clear)
    return out


def _colour_strip(strip: Image.Image, clear: bool) -> Pixels:
    if strip.mode.startswith("I") or strip.mode == "F":
        deep = np.asarray(strip).astype(np.float32)
        grey = np.clip(deep / 257.0 + 0.5, 0.0, 255.0).astype(np.uint8)
        return np.repeat(grey[:, :, None], 3, axis=2)
    if clear:
        strip = strip.convert("RGBA")
        strip = Image.alpha_composite(Image.new("RGBA", strip.size, "white"), strip)
    return np.asarray(strip.convert("RGB"), np.uint8)


def _upright(rgb: Pixels, turn: int) -> Pixels:
    """Apply the EXIF orientation tag: 1 to 8, anything else means upright."""
    if turn in (5, 6, 7, 8):
        rgb = np.asarray(cv2.transpose(rgb), np.uint8)
    across, down = turn in (2, 3, 6, 7), turn in (3, 4, 7, 8)
    if across or down:
        rgb = np.asarray(cv2.flip(rgb, -1 if across and down else int(across)), np.uint8)
    return rgb
