"""One glossary: the document is the page's own, and every label has its entry."""

from pathlib import Path

from ui.glossary import TERMS, markdown
from ui.words import DIMENSION_LABELS


def test_the_document_is_that_of_the_page():
    document = Path(__file__).parents[2] / "docs" / "glossary.md"
    assert document.read_text(encoding="utf-8") == markdown()


def test_every_dimension_is_explained_once():
    names = [term.name for term in TERMS]
    assert len(names) == len(set(names))
    assert set(DIMENSION_LABELS.values()) <= set(names)
