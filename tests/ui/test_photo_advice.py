"""Advice is one sentence each, and the docs say the same."""

from pathlib import Path

import pytest
from typer.testing import CliRunner

from ui.cli import app
from ui.photo_advice import BEFORE_THE_PHOTO

DOCS = Path(__file__).parents[2] / "docs" / "photos.md"


@pytest.mark.parametrize("sentence", BEFORE_THE_PHOTO)
def test_one_sentence_each_as_in_the_docs(sentence):
    assert sentence.endswith(".")
    assert ". " not in sentence
    assert sentence in DOCS.read_text(encoding="utf-8")


def test_the_command_tells_it_before():
    said = " ".join(CliRunner().invoke(app, ["measure", "--help"]).stdout.split())
    assert BEFORE_THE_PHOTO[0] in said
