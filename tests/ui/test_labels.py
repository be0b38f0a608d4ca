"""Drawer labels: what is printed can be read, by people and by a phone."""

import cv2
import numpy as np
import pypdfium2
import pytest

from ui.labels import LEAST_MM, SIZES_MM, Label, labels_pdf

NAME = "Quay 7 front"
LABEL = Label(
    NAME,
    ("3.02 N/mm", "95 % band 2.52 to 3.55", "wire 1.38, outside 13.02, length 33.5 mm", "drawer 3"),
    "http://192.168.178.31:8710/?by=Collection&spring=0123456789abcdef0123456789abcdef",
)


def picture(pdf, page=0, dpi=300):
    shown = pypdfium2.PdfDocument(pdf)[page].render(scale=dpi / 72.0)
    return np.ascontiguousarray(shown.to_numpy()[:, :, :3])


@pytest.mark.parametrize("size", [*SIZES_MM, LEAST_MM])
def test_the_code_opens_the_spring_and_the_label_has_its_size(size):
    pdf = labels_pdf([LABEL], size)
    shown = picture(pdf)
    text, _, _ = cv2.QRCodeDetector().detectAndDecode(shown)
    assert text == LABEL.address
    frame = np.argwhere(shown.min(axis=2) < 250)
    tall, wide = (np.ptp(frame, axis=0) + 1) * 25.4 / 300.0
    assert (wide, tall) == pytest.approx(size, abs=0.3)


def test_name_and_rate_are_on_the_smallest_label_whatever_the_name():
    for name in (NAME, "W" * 120):
        document = pypdfium2.PdfDocument(labels_pdf([Label(name, LABEL.lines, "x")], LEAST_MM))
        text = document[0].get_textpage().get_text_range()
        assert name[:7] in text
        assert "3.02 N/mm" in text


def test_many_labels_fill_sheets_in_order():
    labels = [Label(f"spring {k}", LABEL.lines, f"http://a/{k}") for k in range(60)]
    document = pypdfium2.PdfDocument(labels_pdf(labels, (50.0, 20.0)))
    assert len(document) == 2
    texts = [document[k].get_textpage().get_text_range() for k in (0, 1)]
    assert "spring 41" in texts[0]
    assert "spring 42" in texts[1]


@pytest.mark.parametrize("size", [(30.0, 20.0), (50.0, 10.0), (250.0, 20.0)])
def test_a_size_that_cannot_be_read_is_one_sentence(size):
    with pytest.raises(ValueError, match="of a label must be"):
        labels_pdf([LABEL], size)
