"""Killed, full, read-only, newer, older: what was confirmed is there, and it is told in words."""

import json
import os
import shutil
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest
from sqlalchemy import event
from streamlit.testing.v1 import AppTest

from tests.trust.killing import MANY, WORKS, old_collection, url_of
from tests.ui.collection.springs import made
from ui.collection.exchange import from_json, to_json
from ui.collection.store import URL_VARIABLE, Collection
from ui.collection.trouble import CollectionError

APP = Path(__file__).parents[2] / "ui" / "app.py"


@pytest.mark.parametrize("kills", [25, pytest.param(100, marks=pytest.mark.thorough)])
def test_killed_at_random_moments_nothing_confirmed_is_lost(kills):
    done = subprocess.run(
        [sys.executable, "-m", "tests.trust.killing", str(kills)],
        capture_output=True,
        text=True,
        timeout=300,
        env=os.environ | {"OPENBLAS_NUM_THREADS": "1"},
    )
    assert done.returncode == 0, done.stderr
    cut = json.loads(done.stdout)["cut off in the middle"]
    assert set(cut) == set(WORKS)
    # A kill that always came too late would show nothing.
    assert sum(cut.values()) > 0.6 * kills


LIMITED = """
import resource, sys
from tests.ui.collection.springs import made
from ui.collection.store import Collection
collection = Collection(sys.argv[1])
first = collection.keep(made("first"))
# As on a full disk, the next pages are not written (setrlimit(2), RLIMIT_FSIZE).
resource.setrlimit(resource.RLIMIT_FSIZE, (150_000, -1))
try:
    collection.keep(made("too much"), bytes(400_000))
except ValueError as problem:
    print(problem)
resource.setrlimit(resource.RLIMIT_FSIZE, (-1, -1))
print([one.spring.name for one in collection.find()])
collection.keep(made("second"))
print(sorted(one.spring.name for one in collection.find()))
"""


def test_a_disk_that_takes_no_more_is_told_and_what_was_kept_stays(tmp_path):
    done = subprocess.run(
        [sys.executable, "-c", LIMITED, url_of(tmp_path)],
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert done.returncode == 0, done.stderr
    told, before, after = done.stdout.splitlines()
    assert "there is no room left on the disk" in told
    assert before == "['first']"
    assert after == "['first', 'second']"


def test_a_full_database_is_told_in_the_same_words(tmp_path):
    """SQLite's own word for a full disk, by its limit of pages (pragma max_page_count)."""
    collection = Collection(url_of(tmp_path))
    key = collection.keep(made())
    collection._engine.dispose()

    @event.listens_for(collection._engine, "connect")
    def few_pages(connection, _):
        connection.execute("pragma max_page_count = 40")

    with pytest.raises(CollectionError, match="no room left"):
        collection.keep(made(), bytes(500_000))
    assert collection.get(key).spring == made()
    assert len(collection.find()) == 1
    collection.close()


def test_of_an_import_that_fails_nothing_is_kept(tmp_path):
    collection = Collection(url_of(tmp_path))
    some = [made(f"Quay {k}") for k in range(400)]
    collection._engine.dispose()

    @event.listens_for(collection._engine, "connect")
    def few_pages(connection, _):
        connection.execute("pragma max_page_count = 40")

    with pytest.raises(CollectionError, match="no room left"):
        collection.keep_all(some)
    assert collection.find() == []
    collection.close()


READ_ONLY = """
import sys
from pathlib import Path
from tests.ui.collection.springs import made
from ui.collection.store import Collection
from ui.files import write_whole
try:
    collection = Collection(sys.argv[1])
    print([one.spring.name for one in collection.find()])
    collection.keep(made("more"))
except ValueError as problem:
    print(problem)
try:
    write_whole(Path(sys.argv[2]), b"new")
except OSError as problem:
    print(problem.strerror)
"""


def powerless(*command):
    """Run a command without a superuser's power to write where nobody may."""
    if os.geteuid() == 0:
        if shutil.which("setpriv") is None:
            pytest.skip("this superuser cannot be kept from writing")
        command = ("setpriv", "--bounding-set=-all", "--inh-caps=-all", *command)
    return subprocess.run(command, capture_output=True, text=True, timeout=60)


@pytest.mark.parametrize("there", [True, False], ids=["springs in it", "empty"])
def test_a_folder_that_may_not_be_written_to_is_told(tmp_path, there):
    folder = tmp_path / "locked"
    folder.mkdir()
    (folder / "sheet.pdf").write_bytes(b"old")
    if there:
        collection = Collection(url_of(folder))
        collection.keep(made("first"))
        collection.close()
        (folder / "springs.sqlite").chmod(0o444)
    folder.chmod(0o555)
    done = powerless(sys.executable, "-c", READ_ONLY, url_of(folder), folder / "sheet.pdf")
    folder.chmod(0o755)
    assert done.returncode == 0, done.stderr
    *springs, told, file = done.stdout.splitlines()
    assert springs == (["['first']"] if there else [])
    assert "may not be written to" in told
    assert file == "Permission denied"
    assert (folder / "sheet.pdf").read_bytes() == b"old"
    assert sorted(one.suffix for one in folder.iterdir()) == [".pdf", ".sqlite"][: 1 + there]


def test_the_page_says_so_and_still_reckons(tmp_path, monkeypatch):
    import streamlit as st

    file = tmp_path / "springs.sqlite"
    file.write_bytes(b"milk, eggs, springs\n" * 100)
    monkeypatch.setenv(URL_VARIABLE, f"sqlite:///{file}")
    st.cache_resource.clear()
    page = AppTest.from_file(str(APP), default_timeout=60)
    for name, value in (("by", "Caliper"), ("wire", "1.2"), ("diameter", "13.2"), ("coils", "9")):
        page.query_params[name] = value
    page.run()
    assert not page.exception
    assert page.metric[0].value.endswith("N/mm")
    assert "its file is damaged" in page.error[0].value
    page.query_params["by"] = "Collection"
    page.run()
    assert not page.exception
    assert "put back a copy" in page.error[0].value
    assert file.read_bytes().startswith(b"milk")
    st.cache_resource.clear()


def test_a_newer_collection_is_refused_and_left_alone(tmp_path):
    Collection(url_of(tmp_path)).close()
    path = tmp_path / "springs.sqlite"
    file = sqlite3.connect(path)
    file.execute("update alembic_version set version_num = '0417'")
    file.commit()
    file.close()
    before = path.read_bytes()
    with pytest.raises(CollectionError, match="a newer Coilreckon has made this collection"):
        Collection(url_of(tmp_path))
    assert path.read_bytes() == before
    assert [one.name for one in tmp_path.iterdir()] == [path.name]


def test_an_older_collection_is_brought_up_to_date_with_a_copy_beside_it(tmp_path):
    old_collection(tmp_path)
    collection = Collection(url_of(tmp_path))
    assert len(collection.find()) == MANY
    assert collection.setting("unit") is None
    collection.close()
    names = sorted(one.name for one in tmp_path.iterdir())
    assert names == ["springs-form-0001.sqlite", "springs.sqlite"]
    copy = sqlite3.connect(tmp_path / names[0])
    assert copy.execute("select count(*) from spring").fetchone() == (MANY,)
    assert copy.execute("select version_num from alembic_version").fetchone() == ("0001",)
    copy.close()


def test_a_newer_file_of_springs_is_refused():
    newer = to_json([made()]).replace('"version": 1', '"version": 2')
    with pytest.raises(ValueError, match="a newer Coilreckon wrote it"):
        from_json(newer)
