"""The audit of the pinned versions passes nothing that it could not look up."""

import json
import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.trust import audit

LOCK = (Path(__file__).parents[2] / "requirements.lock").read_text()

#: In the form that pip-audit's JSON has (pip-audit 2.10, "dependencies" of its report).
CLEAN = {"name": "numpy", "version": "2.0", "vulns": []}
UNKNOWN = {"name": "zipp", "skip_reason": "Dependency not found on PyPI"}
FAULTY = {
    "name": "pillow",
    "version": "9.0.0",
    "vulns": [{"id": "PYSEC-2022-10", "fix_versions": ["9.0.1"], "aliases": []}],
}


@pytest.mark.parametrize(
    ("rows", "status", "words"),
    [
        ([CLEAN, CLEAN], 0, "Audited: 2 versions, no known fault"),
        ([CLEAN, FAULTY], 1, "KNOWN FAULT: pillow 9.0.0: PYSEC-2022-10 (mended in 9.0.1)"),
        ([UNKNOWN, FAULTY], 1, "AUDITED IN PART: 1 of 2 not known: zipp"),
        ([CLEAN, UNKNOWN], 3, "AUDITED IN PART"),
        ([UNKNOWN, UNKNOWN], 3, "NOT AUDITED: the list of faults knew none of the 2"),
        ([], 3, "NOT AUDITED"),
    ],
)
def test_what_was_not_looked_up_is_not_passed(rows, status, words):
    found = audit.read(json.dumps({"dependencies": rows, "fixes": []}))
    assert found.status == status
    assert words in found.told()


@pytest.mark.parametrize("said", ["", "no such host", '{"other": 1}'])
def test_no_answer_is_no_audit(said, monkeypatch, capsys):
    answer = subprocess.CompletedProcess([], 1, said, "ConnectionError: no such host")
    monkeypatch.setattr(subprocess, "run", lambda *_, **__: answer)
    assert audit.main() == audit.UNANSWERED
    assert capsys.readouterr().out.startswith("NOT AUDITED: the list of faults did not answer")


def test_every_pinned_version_is_asked_for(monkeypatch):
    asked = []
    answer = subprocess.CompletedProcess([], 0, '{"dependencies": []}', "")
    monkeypatch.setattr(subprocess, "run", lambda command, **_: asked.append(command) or answer)
    audit.main()
    (command,) = asked
    assert command[:3] == [sys.executable, "-m", "pip_audit"]
    lock = Path(command[command.index("--requirement") + 1])
    assert lock.read_text() == LOCK
    assert all(re.match(r"^[A-Za-z0-9._-]+(\[[a-z,]+\])?==", line) for line in LOCK.splitlines())
