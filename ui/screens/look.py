"""What frames the page: heading, small corrections of the look, cautions."""

import streamlit as st

from ui.glossary import TERMS
from ui.words import CAUTIONS

# Streamlit leaves room for a desktop's toolbar and stacks small gaps: a phone needs the room.
_STYLE = """
<style>
  .block-container { padding: 2rem 1rem 4rem; max-width: 46rem; }
  [data-testid="stHeader"] { height: 2rem; min-height: 2rem; }
  button, [role="radio"], [data-baseweb="select"] > div, input { min-height: 2.9rem; }
  :is(.stButton, .stDownloadButton, .stFormSubmitButton, .stFileUploader) button,
  [data-testid="stExpander"] summary { min-height: 2.75rem; }
  @media (pointer: coarse) {
    [data-testid="stElementToolbarButton"] button { min-width: 2.75rem; min-height: 2.75rem; }
  }
  /* On the narrowest phones a reading needs the room of its plus and minus. */
  @media (max-width: 380px) { [data-testid^="stNumberInputStep"] { display: none; } }
  h1 { padding: 0 0 0.4rem !important; font-size: 1.7rem !important; }
  [data-testid="stFileUploaderDropzoneInstructions"] { display: none; }
  [data-testid="stFileUploaderDropzone"] { padding: 0.6rem; }
  [data-testid="stFileUploaderDropzone"] button { width: 100%; }
  [role="radiogroup"] button { padding-left: 0.38rem; padding-right: 0.38rem; }
  [class*="st-key-open-"] button { justify-content: flex-start; text-align: left; }
  [data-testid="stButtonGroup"] button { min-height: 2.75rem; }
  /* The steps below the rate: as wide as the page, and as tall as a thumb. */
  [data-testid="stTabs"] [role="tab"] { min-height: 2.9rem; flex: 1 0 auto; }
  [data-testid="stTabs"] [role="tab"] { justify-content: center; }
  [data-testid="stTabs"] [role="tab"] p { font-size: 1rem; }
  /* The library's captions are too faint for sunlight (WCAG 2.2, 1.4.3). */
  [data-testid="stCaptionContainer"] { opacity: 1 !important; }
  [data-testid="stCaptionContainer"] p { color: light-dark(#4A575E, #B4BDBF); }
  /* A wide screen shows what was given on the left and what follows from it on the right. */
  @media (min-width: 1100px) {
    .block-container { max-width: 78rem; }
    .st-key-body:has(.st-key-left) {
      display: grid; grid-template-columns: minmax(0, 1fr) minmax(0, 1fr); gap: 0 2.5rem;
    }
    .st-key-body:has(.st-key-left) > * { grid-column: 2; margin-bottom: 1rem; }
    .st-key-body > :is(.st-key-left, :has(> .st-key-left)) {
      grid-column: 1; grid-row: 1 / span 60; align-self: start;
    }
    /* A drawing as tall as the window would hide the rate below it. */
    .st-key-left [data-testid="stImage"] img { max-height: 56vh; object-fit: contain; }
  }
  table { width: 100%; }
  td, th { padding: 0.3rem 0.5rem !important; }
  td:nth-child(2), td:nth-child(3) { font-variant-numeric: tabular-nums; white-space: nowrap; }
</style>
"""


def heading(opening: bool) -> None:
    """Draw the page's name and, on the opening page, what it is for.

    Later a phone has better use for that room: the rate comes with its band in sight.
    """
    st.html(_STYLE)
    st.title("Coilreckon", anchor=False)
    if opening:
        st.caption("From a spring in your hand to its rate, with an honest band.")


def cautions() -> None:
    """Draw the glossary and the cautions; they close every page."""
    st.divider()
    with st.expander("What the words mean"):
        lines = [f"- **{one.name}**: {one.meaning}" for one in TERMS]
        st.markdown("\n".join(lines))
    st.markdown("**Take care**\n\n" + "\n".join(f"- {line}" for line in CAUTIONS))
