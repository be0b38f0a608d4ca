import cv2
import numpy as np

from mechanics.materials import find_material
from ui.answer import answer_of
from ui.sketching import drawing_jpeg, sketch_of


def test_dimensions_are_written_with_the_digits_that_the_band_allows(seen):
    sketch = sketch_of(seen, answer_of(seen.geometry, find_material("music wire")).told)
    assert sketch.wire == "wire 1.200 mm"
    assert sketch.outside == "outside 13.20 mm"
    assert sketch.length == "free length 40.00 mm"
    assert sketch.reference == "Bank or member card"


def test_without_a_scale_no_dimension_is_written(seen):
    sketch = sketch_of(seen, None)
    assert (sketch.wire, sketch.outside, sketch.length) == ("", "", "")


def test_the_drawing_is_a_jpeg_of_phone_friendly_size(seen):
    data = drawing_jpeg(np.full((900, 1600, 3), 120, np.uint8), seen, None)
    picture = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR)
    assert picture.shape[1] == 1200
    assert len(data) < 700_000
