"""The drawing of a measurement, with its dimensions written as the band allows."""

from collections.abc import Mapping, Sequence
from typing import Any

import cv2
import numpy as np

from mechanics.uncertainty import Quantity
from ui.contract import Measured
from ui.figures import value_text
from ui.words import reference_label
from vision.draw import WIDTH_PX, Pixels, Sketch, draw
from vision.draw_numbered import draw_numbered


def sketch_of(seen: Measured, told: Mapping[str, Quantity] | None) -> Sketch:
    """Return what to draw; without `told` (no scale) the dimensions stay unwritten."""
    labels = {"wire": "", "outside": "", "length": ""}
    if told is not None:
        labels = {
            "wire": f"wire {value_text(told['wire_diameter_mm'])} mm",
            "outside": f"outside {value_text(told['outer_diameter_mm'])} mm",
            "length": f"free length {value_text(told['free_length_mm'])} mm",
        }
    scale = seen.scale
    return Sketch(
        seen.outline_px,
        seen.axis_px,
        None if scale is None else scale.outline_px,
        reference="" if scale is None else reference_label(scale.reference.kind),
        **labels,
        length_px=seen.length_px,
    )


def drawing_jpeg(rgb: Pixels, seen: Measured, told: Mapping[str, Quantity] | None) -> bytes:
    """Return the drawing as a JPEG file, about 1200 px wide."""
    return _jpeg(draw(rgb, sketch_of(seen, told)))


def numbered_jpeg(
    rgb: Pixels, springs: Sequence[tuple[Measured, Mapping[str, Quantity] | None]]
) -> bytes:
    """Return a drawing of several springs, each with its number, as a JPEG file."""
    return _jpeg(draw_numbered(rgb, [sketch_of(seen, told) for seen, told in springs]))


def photo_jpeg(rgb: Pixels) -> bytes:
    """Return the photo itself as a JPEG file, at most 1200 px wide."""
    scale = min(1.0, WIDTH_PX / rgb.shape[1])
    return _jpeg(cv2.resize(rgb, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA))


def _jpeg(rgb: Any) -> bytes:
    done, data = cv2.imencode(".jpg", rgb[:, :, ::-1], [cv2.IMWRITE_JPEG_QUALITY, 85])
    if not done:
        raise RuntimeError("the drawing could not be written as a JPEG")
    return np.asarray(data).tobytes()
