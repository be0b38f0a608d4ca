"""A photo as it may be kept and handed on: without place, time, owner and camera."""

import io

from PIL import Image

from vision.photo import EXIF_IFD, FOCAL_35MM, decode
from vision.refusal import Refusal

#: Of the JPEG that is kept: above it files grow without a gain for edges.
QUALITY = 92


def without_metadata(data: bytes) -> bytes | None:
    """Return a photo as an upright JPEG that tells nothing but the lens's focal length.

    A later measurement needs the 35 mm equivalent focal length; all else that a camera writes
    (place, time, owner, model, thumbnail) is left out.

    Parameters
    ----------
    data : bytes
        The file as it came.

    Returns
    -------
    bytes or None
        None where it is no photo.
    """
    photo = decode(data, "photo")
    if isinstance(photo, Refusal):
        return None
    exif = Image.Exif()
    if photo.focal_35mm is not None:
        exif.get_ifd(EXIF_IFD)[FOCAL_35MM] = round(photo.focal_35mm)
    out = io.BytesIO()
    Image.fromarray(photo.rgb).save(out, "JPEG", quality=QUALITY, exif=exif)
    return out.getvalue()
