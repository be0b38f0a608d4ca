"""A report of one page: drawing, numbers with bands, how they were come by, cautions."""

import io
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from xml.sax.saxutils import escape

import reportlab
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Frame, Image, KeepInFrame, Paragraph, Spacer, Table

from mechanics.uncertainty import Quantity
from mechanics.units import RATE_UNITS
from ui.answer import Answer
from ui.charts import budget_rows
from ui.drafting.of_answer import plan_of
from ui.drafting.sheet import Sheet, flowable
from ui.figures import band_text, value_text
from ui.quantities import relabelled, scaled
from ui.units import Units
from ui.words import CAUTIONS, DIMENSION_LABELS

MARGIN = 16 * mm
PICTURE_WIDE, PICTURE_TALL = 88 * mm, 100 * mm
#: Both views side by side.
PLAN_WIDE = 150 * mm
#: Type that comes with the PDF library, so that every machine prints the same.
PLAIN, BOLD = "Vera", "VeraBd"
_FONTS = Path(reportlab.__file__).with_name("fonts")
_BODY = ParagraphStyle("body", fontName=PLAIN, fontSize=8.5, leading=11.5)
_SMALL = ParagraphStyle("small", parent=_BODY, fontSize=7.5, leading=10)
_HEAD = ParagraphStyle("head", fontName=BOLD, fontSize=10, leading=13, spaceBefore=6, spaceAfter=2)
_TITLE = ParagraphStyle("title", fontName=BOLD, fontSize=16, leading=20)
_RATE = ParagraphStyle("rate", fontName=BOLD, fontSize=19, leading=24)
METHOD = (
    "The rate is that of a helical spring of round wire, "
    "G d<super>4</super> / (8 D<super>3</super> n), with terms for curvature and pitch. Its band "
    "comes from 40 000 springs drawn within the errors of all dimensions, with the errors that "
    "they share, and within the spread of the material."
)
METHOD_FLAT = (
    "The rate is that of a helical spring of rectangular wire, 4 G J / (π D<super>3</super> n), "
    "with J by St Venant and what the coil's curvature adds by elasticity. Its band comes from "
    "springs drawn within the errors of all dimensions, within the spread of the material, and "
    "with 3 % for rolled corners."
)


@dataclass(frozen=True, slots=True)
class Subject:
    """What a report is about.

    Attributes
    ----------
    title : str
        The spring's name.
    kind, hand : str
        As seen.
    evidence : tuple of str
        What the numbers rest on.
    notes : tuple of str
        What should be told about the measurement, in sentences.
    drawing : bytes or None
        JPEG of what was seen.
    """

    title: str
    kind: str
    hand: str
    evidence: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    drawing: bytes | None = None


@dataclass(frozen=True, slots=True)
class Contents:
    """What stands on a report, whatever the kind of spring.

    Attributes
    ----------
    headline : str
        The rate, in large type.
    below : tuple of str
        What stands under it: its band, other units.
    rows : sequence of (str, Quantity)
        Dimensions, in the chosen unit.
    budget : tuple of str
        Where the uncertainty comes from, empty where it is not told apart.
    made : str
        Kind, hand, ends and material.
    method : str
        How the rate was reckoned.
    plan : Sheet
        The drawing to scale.
    notes, cautions : tuple of str
        Sentences.
    """

    headline: str
    below: tuple[str, ...]
    rows: Sequence[tuple[str, Quantity]]
    budget: tuple[str, ...]
    made: str
    method: str
    plan: Sheet
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = CAUTIONS


def register_type() -> None:
    """Make the type known to the PDF library, which forgets it with each process."""
    for name in (PLAIN, BOLD):
        pdfmetrics.registerFont(TTFont(name, str(_FONTS / f"{name}.ttf")))


def report_pdf(answer: Answer, subject: Subject, units: Units, day: date) -> bytes:
    """Return the report as a PDF file of one A4 page.

    Parameters
    ----------
    answer : Answer
        After all evidence.
    subject : Subject
        What it is about.
    units : Units
        To read in.
    day : date
        When it was measured.
    """
    return paged(contents_of(answer, subject, units), subject, units, day)


def contents_of(answer: Answer, subject: Subject, units: Units) -> Contents:
    """Return what stands on the report of a spring that is pressed or pulled."""
    told = answer.told
    rate = units.rate_of(told["rate_N_per_mm"])
    others = [
        f"{value_text(q)} {name} ({band_text(q)})"
        for name in ("N/mm", "gf/mm", "lb/in")
        if name != units.rate
        for q in [scaled(told["rate_N_per_mm"], 1.0 / RATE_UNITS[name])]
    ]
    made = f"Kind: {subject.kind}, hand {subject.hand}, ends {answer.draws.ends}."
    return Contents(
        f"{value_text(rate)} {units.rate}",
        (f"rate, 95 % band {band_text(rate)} {units.rate}", *others),
        relabelled(units.told(told), DIMENSION_LABELS),
        _budget(answer),
        f"{made} Material: {answer.material.name}.",
        METHOD_FLAT if "wire_width_mm" in told else METHOD,
        plan_of(answer, (subject.kind, subject.hand), units, PLAN_WIDE, beside=True),
        answer.notes,
    )


def paged(contents: Contents, subject: Subject, units: Units, day: date) -> bytes:
    """Return contents as a PDF file of one A4 page.

    Parameters
    ----------
    contents : Contents
        What stands on it.
    subject : Subject
        What it is about.
    units : Units
        To read in.
    day : date
        When it was measured.
    """
    register_type()
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=A4, invariant=1)
    canvas.setTitle(subject.title)
    wide, tall = A4[0] - 2 * MARGIN, A4[1] - 2 * MARGIN
    # Whatever is written, it stays one page: what is too long is shrunk.
    story = KeepInFrame(wide, tall, _story(contents, subject, units, day), mode="shrink")
    Frame(MARGIN, MARGIN, wide, tall, 0, 0, 0, 0).addFromList([story], canvas)
    canvas.showPage()
    canvas.save()
    return out.getvalue()


def _story(contents: Contents, subject: Subject, units: Units, day: date) -> list[Flowable]:
    numbers: list[Flowable] = [
        Paragraph(contents.headline, _RATE),
        Paragraph(contents.below[0], _BODY),
        *(Paragraph(line, _SMALL) for line in contents.below[1:]),
        Paragraph(f"Dimensions, {units.length}", _HEAD),
        _table(contents.rows),
    ]
    if contents.budget:
        numbers.append(Paragraph("Where the uncertainty comes from", _HEAD))
        numbers += [Paragraph(line, _BODY) for line in contents.budget]
    rests = f"Rests on: {', '.join(subject.evidence)}." if subject.evidence else ""
    below = [
        Paragraph("How it was come by", _HEAD),
        Paragraph(escape(f"{contents.made} {rests}"), _BODY),
        Paragraph(contents.method, _SMALL),
        *(Paragraph(escape(note), _BODY) for note in (*subject.notes, *contents.notes)),
        Paragraph("Take care", _HEAD),
        *(Paragraph(escape(line), _BODY) for line in contents.cautions),
    ]
    return [
        Paragraph(escape(subject.title), _TITLE),
        Paragraph(f"Coilreckon, {day:%Y-%m-%d}", _SMALL),
        Spacer(0, 4 * mm),
        _side_by_side(subject.drawing, numbers),
        flowable(contents.plan, PLAIN, 8.0),
        *below,
    ]


def _side_by_side(drawing: bytes | None, numbers: list[Flowable]) -> Flowable:
    if drawing is None:
        return Table([[numbers]], hAlign="LEFT")
    picture = Image(io.BytesIO(drawing))
    shrink = min(PICTURE_WIDE / picture.imageWidth, PICTURE_TALL / picture.imageHeight)
    picture.drawWidth, picture.drawHeight = (
        shrink * picture.imageWidth,
        shrink * picture.imageHeight,
    )
    rest = A4[0] - 2 * MARGIN - PICTURE_WIDE - 4 * mm
    style = [("VALIGN", (0, 0), (-1, -1), "TOP"), ("LEFTPADDING", (0, 0), (0, 0), 0)]
    return Table([[picture, numbers]], [PICTURE_WIDE + 4 * mm, rest], style=style)


def _table(rows: Sequence[tuple[str, Quantity]]) -> Table:
    cells = [["", "value", "95 % band"], *([n, value_text(q), band_text(q)] for n, q in rows)]
    style = [
        ("FONT", (0, 0), (-1, -1), PLAIN, 8),
        ("FONT", (0, 0), (-1, 0), BOLD, 8),
        ("LINEBELOW", (0, 0), (-1, -2), 0.25, "#C8C8C8"),
        ("ALIGN", (1, 0), (-1, -1), "RIGHT"),
        ("LEFTPADDING", (0, 0), (0, -1), 0),
        ("TOPPADDING", (0, 0), (-1, -1), 1.5),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 2),
    ]
    return Table(cells, style=style, hAlign="LEFT")


def _budget(answer: Answer) -> tuple[str, ...]:
    rows = budget_rows(answer.rate.budget)
    if not rows:
        return ("All readings together; their shares are not told apart.",)
    return tuple(f"{row['cause']}: {row['label']}" for row in rows[:6])
