"""The report: one page whatever is written on it, with the numbers of the answer."""

import re
from datetime import date

import cv2
import numpy as np
from reportlab.platypus import Paragraph, Table

from mechanics.materials import find_material
from ui.answer import answer_of
from ui.figures import band_text
from ui.report import Subject, _story, contents_of, report_pdf
from ui.units import Units
from ui.words import CAUTIONS

DAY = date(2026, 3, 1)


def words(flowables):
    """Return every word that would be printed."""
    out = []
    for one in flowables:
        if isinstance(one, str):
            out.append(one)
        elif isinstance(one, list | tuple):
            out += words(one)
        elif isinstance(one, Table):
            out += words(one._cellvalues)
        elif isinstance(one, Paragraph):
            out.append(one.getPlainText())
    return out


def pages(pdf):
    return len(re.findall(rb"/Type /Page\b(?!s)", pdf))


def answer(seen):
    return answer_of(seen.geometry, find_material("music wire"))


def test_it_is_one_page_with_its_drawing(seen):
    done, jpeg = cv2.imencode(".jpg", np.full((1700, 1200, 3), 120, np.uint8))
    assert done
    subject = Subject("Quay 7 front", "compression", "right", ("photo",), (), jpeg.tobytes())
    pdf = report_pdf(answer(seen), subject, Units("gf/mm"), DAY)
    assert pdf.startswith(b"%PDF-")
    assert pages(pdf) == 1
    assert b"/Subtype /Image" in pdf


def test_however_much_is_written_it_stays_one_page(seen):
    notes = tuple(f"Note {k}: " + "look at the drawing closely. " * 8 for k in range(40))
    subject = Subject("<b>&", "compression", "right", ("photo",) * 60, notes)
    assert pages(report_pdf(answer(seen), subject, Units(), DAY)) == 1


def test_the_same_answer_gives_the_same_file(seen):
    subject = Subject("Quay 7 front", "compression", "right")
    first = report_pdf(answer(seen), subject, Units(), DAY)
    assert first == report_pdf(answer(seen), subject, Units(), DAY)


def test_numbers_bands_and_cautions_are_those_of_the_answer(seen):
    told = answer(seen).told
    subject = Subject("Quay 7 front", "compression", "right", ("photo", "Weight"), ("Look.",))
    said = "\n".join(
        words(_story(contents_of(answer(seen), subject, Units()), subject, Units(), DAY))
    )
    assert band_text(told["rate_N_per_mm"]) in said
    assert band_text(told["wire_diameter_mm"]) in said
    assert "photo, Weight" in said
    assert "Look." in said
    assert "2026-03-01" in said
    assert all(line in said for line in CAUTIONS)
