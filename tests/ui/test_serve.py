import re
import socket
import subprocess
import sys
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest
from typer.testing import CliRunner

from tests.trust.phones import Phone
from tests.ui.browsing import wait_until_up
from ui.cli import app
from ui.gate import KEY_VARIABLE, link
from ui.serve import SETTINGS, free_port, lan_address

APP = Path(__file__).parents[2] / "ui" / "app.py"


def test_a_taken_port_is_named_and_a_free_one_found():
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        with pytest.raises(OSError, match=f"port {port} is taken"):
            free_port(port)
    assert free_port(0) > 0


def test_without_the_key_the_page_shows_and_reads_nothing(monkeypatch):
    monkeypatch.setenv(KEY_VARIABLE, "tide-417")
    for query in ({}, {"key": "ebb"}, {"key": ""}):
        page = AppTest.from_file(str(APP), default_timeout=60)
        for name, value in query.items():
            page.query_params[name] = value
        page.run()
        assert not page.exception
        assert "Open the page by its whole address" in page.info[0].value
        assert not page.get("file_uploader")
        assert not page.get("button_group")
    page = AppTest.from_file(str(APP), default_timeout=60)
    page.query_params["key"] = "tide-417"
    page.run()
    assert page.get("file_uploader")


def test_whoever_comes_by_a_label_types_the_key_and_finds_the_spring(monkeypatch, empty_collection):
    monkeypatch.setenv(KEY_VARIABLE, "tide-417")
    page = AppTest.from_file(str(APP), default_timeout=60)
    page.query_params["by"] = "Collection"
    page.query_params["spring"] = "0417"
    page.run()
    page.text_input[0].set_value("ebb").run()
    assert not page.subheader
    page.text_input[0].set_value("tide-417").run()
    assert not page.exception
    assert page.query_params["spring"] in ("0417", ["0417"])
    assert any("not in the collection" in note.value for note in page.info)


def test_links_within_the_page_carry_the_key(monkeypatch):
    monkeypatch.setenv(KEY_VARIABLE, "tide-417")
    assert link(by="Collection") == "?by=Collection&key=tide-417"


def test_a_phone_gets_an_address_with_a_key_and_a_code():
    try:
        address = lan_address()
    except OSError:
        pytest.skip("this machine is on no network")
    command = [sys.executable, "-c", "from ui.cli import app; app()", "serve", "--phone"]
    keys = set()
    for _ in range(2):
        server = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
        try:
            lines = []
            while not lines or "open http" not in lines[-1]:
                lines.append(server.stdout.readline())
            assert "█" in "".join(lines[:-1])
            found = re.search(rf"http://{re.escape(address)}:\d+/\?key=(\S+) ", lines[-1])
            keys.add(found[1])
        finally:
            server.terminate()
            server.wait(20)
            server.stdout.close()
    assert len(keys) == 2
    assert min(map(len, keys)) >= 12


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (["--certificate", "a.crt"], "go together"),
        (["--certificate", "no.crt", "--certificate-key", "no.key"], "there is no file no.crt"),
    ],
)
def test_a_wrong_call_says_why(call, words):
    done = CliRunner().invoke(app, ["serve", *call])
    assert done.exit_code == 2
    assert words in done.stderr


def test_what_fails_on_the_page_is_told_where_the_server_was_started(tmp_path):
    """Not on the page, and not on the output that `serve` shuts."""
    script = tmp_path / "leaky.py"
    script.write_text("raise ValueError('the keel is missing')")
    address = f"http://127.0.0.1:{(port := free_port(0))}"
    command = [sys.executable, "-m", "streamlit", "run", str(script), f"--server.port={port}"]
    server = subprocess.Popen(
        [*command, *SETTINGS], stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True
    )
    wait_until_up(address)
    Phone(address).close()
    server.terminate()
    assert "the keel is missing" in server.communicate(timeout=30)[1]
