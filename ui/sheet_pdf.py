"""The printable sheet as a PDF of one page."""

import io

import cv2
import numpy as np
from reportlab.lib.colors import Color, black
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from ui.report import BOLD, PLAIN, register_type
from vision.sheet_layout import (
    CHECK_LINE_MM,
    FIELD_RGB,
    MARKER_MM,
    MODULES,
    Layout,
    layout,
)

NOTES = (
    "Print at 100 %, not fitted to the page, on plain matte paper. Then measure the line above "
    "with a ruler",
    "and tell its length with the photo. Lay the spring on the field, lay the sheet flat, and "
    "hold the phone level",
    "above it; a part of the markers is enough. Wear eye protection; never release a spring "
    "under load.",
)


def sheet_pdf(paper: str) -> bytes:
    """Return the sheet for a paper as a PDF.

    Parameters
    ----------
    paper : str
        ``A4`` or ``Letter``.

    Raises
    ------
    ValueError
        If there is no sheet for it.
    """
    sheet = layout(paper)
    register_type()
    out = io.BytesIO()
    page = Canvas(out, pagesize=tuple(v * mm for v in sheet.size_mm))
    page.setTitle(f"Coilreckon sheet, {paper}")
    page.translate(0.5 * sheet.size_mm[0] * mm, 0.5 * sheet.size_mm[1] * mm)
    page.setFillColor(Color(*(v / 255.0 for v in FIELD_RGB)))
    (left, low), (right, high) = sheet.field
    page.rect(left * mm, low * mm, (right - left) * mm, (high - low) * mm, stroke=0, fill=1)
    page.setFillColor(black)
    for number in sheet.ids:
        _marker(page, sheet, number)
    _foot(page, sheet)
    page.showPage()
    page.save()
    return out.getvalue()


def _marker(page: Canvas, sheet: Layout, number: int) -> None:
    """Draw a marker, each row of black modules in one piece, so that no seams are left."""
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    modules = cv2.aruco.generateImageMarker(dictionary, number, MODULES) == 0
    step = MARKER_MM / MODULES
    x, y = sheet.corners(number)[0]
    path = page.beginPath()
    for row in range(MODULES):
        edges = np.flatnonzero(np.diff(np.r_[False, modules[row], False]))
        for first, last in edges.reshape(-1, 2):
            top = y - row * step
            path.rect(
                (x + first * step) * mm, (top - step) * mm, (last - first) * step * mm, step * mm
            )
    page.drawPath(path, stroke=0, fill=1)


def _foot(page: Canvas, sheet: Layout) -> None:
    """Draw the line to be measured, between the outer sides of two ticks, and the notes."""
    (x0, y), (x1, _) = sheet.check_line
    page.setLineWidth(0.2 * mm)
    page.line(x0 * mm, y * mm, x1 * mm, y * mm)
    for x in (x0, x1):
        page.line(x * mm, (y - 2.0) * mm, x * mm, (y + 2.0) * mm)
    page.setFont(BOLD, 8)
    page.drawCentredString(0.0, (y + 1.2) * mm, f"{CHECK_LINE_MM:.0f} mm, from tick to tick")
    page.setFont(PLAIN, 6.5)
    for k, line in enumerate(NOTES):
        page.drawCentredString(0.0, (y - 4.0 - 2.8 * k) * mm, line)
