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
    from sqlalchemy import create_engine, make_url, text

    # Tests that run beside these have a schema of their own.
    own = os.environ.get("PYTEST_XDIST_WORKER", "alone")
    engine = create_engine(os.environ[SERVER])
    with engine.begin() as connection:
        connection.execute(text(f"drop schema if exists {own} cascade; create schema {own}"))
    engine.dispose()
    url = make_url(os.environ[SERVER]).update_query_dict({"options": f"-csearch_path={own}"})
    return url.render_as_string(hide_password=False)


@pytest.fixture
def collection(url):
    collection = Collection(url)
    yield collection
    collection.close()
