"""The printed sheet on the page: get it, and tell the length of its line."""

from functools import partial

import streamlit as st

from vision.reference import SHEET, named
from vision.sheet_layout import PAPERS


def _printed(paper: str) -> bytes:
    from ui.sheet_pdf import sheet_pdf  # the first page waits for no PDF

    return sheet_pdf(paper)


def choose_sheet() -> str:
    """Draw the sheet's downloads and the entry of its line; return the reference's name."""
    with st.container(horizontal=True):
        for paper in PAPERS:
            st.download_button(
                f"Sheet to print, {paper} (PDF)",
                partial(_printed, paper),
                f"coilreckon-sheet-{paper}.pdf",
                "application/pdf",
                key=f"sheet_{paper}",
                on_click="ignore",
            )
    printed = st.number_input(
        "Length of its check line as printed [mm]",
        value=None,
        step=0.1,
        format="%.1f",
        placeholder="such as 149.3",
        key="check_line",
        bind="query-params",
        help="Measure it with a ruler: printers that fit to the page make it shorter.",
    )
    if printed is None:
        return SHEET.kind
    kind = f"{SHEET.kind}:{printed:g}"
    if named(kind) is None:
        st.warning(
            f"A check line of {printed:g} mm is not likely: it is {SHEET.size_mm[0]:.0f} mm long "
            "where the page is printed at 100 %. Measure from tick to tick, in mm."
        )
        return SHEET.kind
    return kind
