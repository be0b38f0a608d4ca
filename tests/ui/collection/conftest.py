"""A collection on each kind of database."""

import os

import pytest

from ui.collection.store import Collection

#: Without it the tests run on SQLite alone; .ci/run starts a server and names it here.
SERVER = "COILRECKON_TEST_DATABASE"


@pytest.fixture(params=["sqlite", "postgresql"])
def url(request, tmp_path):
    if request.param == "sqlite":
        return f"sqlite:///{tmp_path / 'springs.sqlite'}"
    if SERVER not in os.environ:
        pytest.skip(f"{SERVER} names no server")
    from sqlalchemy import create_engine, text

    engine = create_engine(os.environ[SERVER])
    with engine.begin() as connection:
        connection.execute(text("drop schema public cascade; create schema public"))
    engine.dispose()
    return os.environ[SERVER]


@pytest.fixture
def collection(url):
    collection = Collection(url)
    yield collection
    collection.close()
