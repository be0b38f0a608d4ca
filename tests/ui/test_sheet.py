"""The sheet to print, on the command line and on the page."""

from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest
from typer.testing import CliRunner

from ui.cli import app

APP = Path(__file__).parents[2] / "ui" / "app.py"
SAMPLE = "fixtures/pictures/sample.jpg"


@pytest.mark.parametrize("paper", ["A4", "letter"])
def test_the_command_writes_a_pdf(tmp_path, paper):
    out = tmp_path / "sheet.pdf"
    result = CliRunner().invoke(app, ["sheet", "--paper", paper, "--out", str(out)])
    assert result.exit_code == 0
    assert out.read_bytes().startswith(b"%PDF")
    assert "--check-line" in result.output


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["sheet", "--paper", "A0", "--out", "x.pdf"], "no sheet for paper 'A0'"),
        (["sheet", "--out", "/no/such/folder/x.pdf"], "No such file"),
        (["measure", SAMPLE, "--reference", "card", "--check-line", "150"], "--reference sheet"),
        (["measure", SAMPLE, "--check-line", "15"], "not likely"),
    ],
)
def test_a_wrong_call_is_told_in_a_sentence(tmp_path, monkeypatch, arguments, says):
    result = CliRunner().invoke(app, arguments)
    assert result.exit_code == 2
    assert says in result.output
    assert not Path("x.pdf").exists()


def test_without_the_sheet_its_scale_is_refused():
    result = CliRunner().invoke(app, ["measure", SAMPLE, "--check-line", "149.3", "--json"])
    assert result.exit_code == 3
    assert '"reference-not-found"' in result.output


@pytest.fixture
def page():
    page = AppTest.from_file(str(APP), default_timeout=60)
    page.run()
    return page.selectbox(key="reference").set_value("sheet").run()


def test_the_page_gives_the_sheet_and_asks_for_its_line(page):
    assert not page.exception
    page.number_input(key="check_line").set_value(149.3)
    assert not page.run().exception
    assert not page.warning


def test_a_line_that_none_can_be_is_told(page):
    page.number_input(key="check_line").set_value(14.9).run()
    assert "tick to tick" in page.warning[0].value
