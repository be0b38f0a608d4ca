"""Opens a database, and brings its tables up to date without ever losing what is in it."""

import os
import sqlite3
from pathlib import Path
from typing import Any

from alembic import command
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, Engine, create_engine, event

from ui.collection.trouble import CollectionError

#: Execution option of transactions that write.
WRITES = "writes"


def opened(url: str) -> Engine:
    """Return the database of a URL, its tables up to date.

    An older SQLite file is copied beside itself before it is changed; a change that is cut off
    leaves the file as it was.

    Raises
    ------
    CollectionError
        If a newer program has made it.
    """
    engine = create_engine(url)
    if engine.dialect.name == "sqlite":
        event.listen(engine, "connect", _leave_transactions_alone)
        event.listen(engine, "begin", _begin)
    try:
        _update(engine)
    except BaseException:
        engine.dispose()
        raise
    return engine


def _leave_transactions_alone(connection: sqlite3.Connection, _: Any) -> None:
    """Keep Python's driver from ending a transaction where tables are made: all or nothing."""
    connection.isolation_level = None


def _begin(connection: Connection) -> None:
    # One that reads first and writes then would have to be tried again where two meet.
    writes = connection.get_execution_options().get(WRITES)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def _update(engine: Engine) -> None:
    config = Config()
    config.set_main_option("script_location", str(Path(__file__).with_name("migrations")))
    config.set_main_option("path_separator", "os")
    steps = ScriptDirectory.from_config(config)
    newest = steps.get_current_head()
    with engine.connect() as connection:
        before = MigrationContext.configure(connection).get_current_revision()
    if before == newest:
        return
    if before is not None:
        if before not in {step.revision for step in steps.walk_revisions()}:
            raise CollectionError(
                "a newer Coilreckon has made this collection: update this one; nothing was changed"
            )
        _copy(engine, before)
    with engine.execution_options(**{WRITES: True}).begin() as connection:
        # Another process may have done it while this one waited.
        if MigrationContext.configure(connection).get_current_revision() != newest:
            config.attributes["connection"] = connection
            command.upgrade(config, "head")


def _copy(engine: Engine, revision: str) -> None:
    """Write a copy of an SQLite file beside it, named after the form that it has."""
    name = engine.url.database
    if engine.dialect.name != "sqlite" or not name or name == ":memory:":
        return
    path = Path(name)
    copy = path.with_name(f"{path.stem}-form-{revision}{path.suffix}")
    half = copy.with_name(f"{copy.name}.{os.getpid()}")
    try:
        source, target = sqlite3.connect(path), sqlite3.connect(half)
        try:
            source.backup(target)
        finally:
            target.close()
            source.close()
        os.replace(half, copy)
    finally:
        half.unlink(missing_ok=True)
