"""Pictures of every form and mode that a phone, a messenger or a mischief-maker may send."""

import io
import struct
import zlib
from functools import cache

import numpy as np
from PIL import Image

from ui.screens.by_photo import SAMPLE
from vision.photo import Photo
from vision.refusal import Refusal

SIDE = (320, 260)


def blocks(size=SIDE):
    """Return a picture with structure, so that a decoder has something to do."""
    across, down = np.meshgrid(np.arange(size[0]), np.arange(size[1]))
    return np.stack([across % 256, down % 256, (across * down) % 256], 2).astype(np.uint8)


def encoded(image, form, **options):
    out = io.BytesIO()
    image.save(out, form, **options)
    return out.getvalue()


def with_exif(**more):
    """Return EXIF as a phone writes it: turned, with lens, maker and place."""
    exif = Image.Exif()
    exif[0x0112], exif[0x010F], exif[0x0110] = 6, "Harbour", "Quay 7"
    exif.get_ifd(0x8769)[0xA405] = 26
    exif.get_ifd(0x8825)[2] = (52.0, 1.0, 2.0)
    for tag, value in more.items():
        exif[int(tag[1:], 16)] = value
    return exif


def heic(image, exif=None):
    import pillow_heif

    out = io.BytesIO()
    more = {} if exif is None else {"exif": exif.tobytes()}
    pillow_heif.from_pillow(image).save(out, quality=60, **more)
    return out.getvalue()


@cache
def kinds():
    """Return a small file of every kind, by its name."""
    colour = Image.fromarray(blocks())
    grey, deep = colour.convert("L"), Image.fromarray(blocks()[..., 0].astype(np.uint16) * 257)
    clear = colour.copy()
    clear.putalpha(grey)
    frames = [colour.rotate(angle) for angle in (10, 20)]
    moving = {"save_all": True, "append_images": frames, "duration": 80}
    return {
        "jpeg": encoded(colour, "JPEG", quality=70),
        "jpeg, progressive": encoded(colour, "JPEG", progressive=True),
        "jpeg, EXIF": encoded(colour, "JPEG", exif=with_exif()),
        "jpeg, grey": encoded(grey, "JPEG"),
        "jpeg, CMYK": encoded(colour.convert("CMYK"), "JPEG"),
        "jpeg, many pictures": encoded(colour, "MPO", save_all=True, append_images=frames),
        "png": encoded(colour, "PNG"),
        "png, EXIF": encoded(colour, "PNG", exif=with_exif()),
        "png, 16 bit": encoded(deep, "PNG"),
        "png, alpha": encoded(clear, "PNG"),
        "png, grey and alpha": encoded(clear.convert("LA"), "PNG"),
        "png, palette": encoded(colour.quantize(16), "PNG", transparency=3),
        "png, one bit": encoded(colour.convert("1"), "PNG"),
        "png, interlaced": png_of(SIDE[0], SIDE[1], 8, 2, 1),
        "png, moving": encoded(colour, "PNG", **moving),
        "webp": encoded(colour, "WEBP", quality=60, exif=with_exif()),
        "webp, moving": encoded(colour, "WEBP", **moving),
        "webp, alpha": encoded(clear, "WEBP", lossless=True),
        "heic": heic(colour, with_exif()),
        "heic, alpha": heic(clear),
        "gif, moving": encoded(colour, "GIF", **moving),
        "tiff": encoded(colour, "TIFF"),
        "bmp": encoded(colour, "BMP"),
    }


#: No picture of a spring that this program reads has these.
REFUSED_KINDS = ("gif, moving", "tiff", "bmp")


#: The seven passes of an interlaced PNG (W3C PNG, third edition, 8.1): first column and row, steps.
ADAM7 = (
    (0, 0, 8, 8),
    (4, 0, 8, 8),
    (0, 4, 4, 8),
    (2, 0, 4, 4),
    (0, 2, 2, 4),
    (1, 0, 2, 2),
    (0, 1, 1, 2),
)


def png_of(wide, tall, depth, colour, interlace=0):
    """Return a whole PNG of zeros: small as a file, as large as one likes unpacked."""
    bits = depth * {0: 1, 2: 3, 3: 1, 4: 2, 6: 4}[colour]
    packer, body = zlib.compressobj(1), b""
    for left, top, across, down in ADAM7 if interlace else ((0, 0, 1, 1),):
        columns = -(-(wide - left) // across)
        row = bytes(1 + (columns * bits + 7) // 8)
        body += b"".join(packer.compress(row) for _ in range(top, tall, down))
    body += packer.flush()
    header = struct.pack(">IIBBBBB", wide, tall, depth, colour, 0, 0, interlace)
    chunks = ((b"IHDR", header), (b"IDAT", body), (b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(map(_chunk, *zip(*chunks, strict=True)))


def _chunk(name, data):
    return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))


def many_scans(count, size=(4000, 3000)):
    """Return a progressive JPEG whose last scan comes again and again."""
    data = encoded(Image.new("RGB", size, "grey"), "JPEG", progressive=True)
    scan = data[data.rindex(b"\xff\xda") : -2]
    return data[:-2] + count * scan + data[-2:]


def assert_plain(refusal, name=""):
    """A refusal is one sentence on what is wrong and one on what to do."""
    assert isinstance(refusal, Refusal), refusal
    assert name in refusal.message
    assert refusal.message.endswith(".")
    assert refusal.try_this.endswith(".")
    assert "\n" not in refusal.message


def photo_of(rgb):
    """Return pixels as a photo that was read."""
    rgb = np.ascontiguousarray(rgb, dtype=np.uint8)
    rgb.setflags(write=False)
    return Photo(rgb, "0417", "odd", None)


def sample():
    """Return the pixels of the sample photo."""
    return np.asarray(Image.open(SAMPLE))
