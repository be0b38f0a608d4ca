"""Labels for drawers: what is in it, at a glance, and a QR code that opens the spring."""

import io
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import reportlab
from reportlab.graphics import renderPDF
from reportlab.graphics.barcode.qr import QrCodeWidget
from reportlab.graphics.shapes import Drawing
from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

MARGIN_MM, PAD_MM = 8.0, 2.0
#: Smallest and largest label that is drawn [mm]: below, no phone reads the code.
LEAST_MM, MOST_MM = (40.0, 18.0), (190.0, 120.0)
#: Sizes to choose from, width and height [mm]: common drawers of parts cabinets, a judgement.
SIZES_MM = ((50.0, 20.0), (60.0, 25.0), (70.0, 36.0), (100.0, 50.0))
PLAIN, BOLD = "Vera", "VeraBd"
_FONTS = Path(reportlab.__file__).with_name("fonts")
#: Largest and smallest type [pt].
_TYPE_PT = (14.0, 4.5)


@dataclass(frozen=True, slots=True)
class Label:
    """What stands on a label.

    Attributes
    ----------
    name : str
        In bold.
    lines : tuple of str
        Below it, the most important first: what does not fit is left out from the end.
    address : str
        What the QR code holds.
    """

    name: str
    lines: tuple[str, ...]
    address: str


def labels_pdf(labels: Sequence[Label], size_mm: tuple[float, float]) -> bytes:
    """Return labels on sheets of A4, with lines to cut along, as a PDF file.

    Parameters
    ----------
    labels : sequence of Label
        In their order, row by row.
    size_mm : (float, float)
        Width and height of a label [mm].

    Raises
    ------
    ValueError
        If the size is not one that can be printed and read, or there is no label.
    """
    wide, tall = size_mm
    for side, least, most, name in zip(
        size_mm, LEAST_MM, MOST_MM, ("width", "height"), strict=True
    ):
        if not least <= side <= most:
            raise ValueError(
                f"the {name} of a label must be {least:g} to {most:g} mm, not {side:g}"
            )
    if not labels:
        raise ValueError("there is no spring to make a label for")
    for name in (PLAIN, BOLD):
        pdfmetrics.registerFont(TTFont(name, str(_FONTS / f"{name}.ttf")))
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=A4, invariant=1)
    canvas.setTitle("Drawer labels")
    columns = int((A4[0] / mm - 2 * MARGIN_MM) // wide)
    rows = int((A4[1] / mm - 2 * MARGIN_MM) // tall)
    for number, label in enumerate(labels):
        place = number % (columns * rows)
        if number and place == 0:
            canvas.showPage()
        left = MARGIN_MM + wide * (place % columns)
        top = A4[1] / mm - MARGIN_MM - tall * (place // columns)
        _draw(canvas, label, (left * mm, (top - tall) * mm), (wide * mm, tall * mm))
    canvas.showPage()
    canvas.save()
    return out.getvalue()


def _draw(
    canvas: Canvas, label: Label, corner: tuple[float, float], size: tuple[float, float]
) -> None:
    x, y = corner
    wide, tall = size
    pad = PAD_MM * mm
    canvas.setStrokeGray(0.7)
    canvas.setLineWidth(0.3)
    canvas.rect(x, y, wide, tall)
    side = min(tall - 2 * pad, 0.4 * wide)
    _code(canvas, label.address, (x + pad, y + (tall - side) / 2.0), side)
    left = x + side + 2 * pad
    room = x + wide - pad - left
    _write(canvas, label, (left, y + tall - pad), (room, tall - 2 * pad))


def _code(canvas: Canvas, text: str, corner: tuple[float, float], side: float) -> None:
    code = QrCodeWidget(text, barLevel="L", barBorder=1)
    x0, y0, x1, y1 = code.getBounds()
    drawing = Drawing(side, side, transform=[side / (x1 - x0), 0, 0, side / (y1 - y0), 0, 0])
    drawing.add(code)
    renderPDF.draw(drawing, canvas, *corner)


def _write(
    canvas: Canvas, label: Label, corner: tuple[float, float], room: tuple[float, float]
) -> None:
    """Write the name and as many lines as fit, each as large as its width allows."""
    left, y = corner
    bottom = y - room[1]
    # A third of the height for the name at most, so that the rate stands below it.
    for text, font, share in ((label.name, BOLD, 0.34), *((s, PLAIN, 0.24) for s in label.lines)):
        size = min(_TYPE_PT[0], share * room[1])
        size = min(size, size * room[0] / max(canvas.stringWidth(text, font, size), 1e-9))
        size = max(size, _TYPE_PT[1])
        if y - 1.15 * size < bottom - 0.5:
            return
        text = _shortened(canvas, text, font, size, room[0])
        canvas.setFont(font, size)
        canvas.setFillGray(0.0)
        canvas.drawString(left, y - 0.95 * size, text)
        y -= 1.25 * size


def _shortened(canvas: Canvas, text: str, font: str, size: float, room: float) -> str:
    if canvas.stringWidth(text, font, size) <= room + 0.1:
        return text
    while text and canvas.stringWidth(f"{text}…", font, size) > room:
        text = text[:-1]
    return f"{text.rstrip()}…"
