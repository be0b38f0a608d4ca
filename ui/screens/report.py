"""The report as a download."""

from collections.abc import Callable
from datetime import date

import streamlit as st

from ui.answer import Answer
from ui.report import Subject, report_pdf
from ui.units import Units


def offer_report(answer: Answer, subject: Subject, units: Units) -> None:
    """Draw the button for a spring's report."""
    offer_pdf(lambda: report_pdf(answer, subject, units, date.today()))


def offer_pdf(make: Callable[[], bytes]) -> None:
    """Draw the button that makes the report; it is made when the button is pressed."""
    st.download_button(
        "Report, one page (PDF)",
        make,
        "coil-spring.pdf",
        "application/pdf",
        key="report",
        on_click="ignore",
        width="stretch",
    )
