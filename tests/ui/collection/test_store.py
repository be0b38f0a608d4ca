"""The collection keeps what it is given, finds it again, and loses nothing by a slip."""

import pytest

from tests.ui.collection.springs import made
from ui.collection.store import Collection


def test_a_kept_spring_comes_back_the_same_after_a_restart(collection, url):
    spring = made(tags=("front", "soft"), place="drawer 3", notes="Größe ½″, läuft")
    key = collection.keep(spring, b"drawing", b"photo")
    collection.close()
    again = Collection(url)
    assert again.get(key).spring == spring
    assert again.drawing(key) == b"drawing"
    again.close()


def test_search_holds_every_word_in_any_field_and_case(collection):
    collection.keep(made("Quay 7 front", tags=("Soft",), place="drawer 3"))
    collection.keep(made("Quay 7 rear", tags=("stiff",)))
    collection.keep(made("100 % brass_wire"))
    names = [kept.spring.name for kept in collection.find("quay SOFT")]
    assert names == ["Quay 7 front"]
    assert len(collection.find("quay")) == 2
    # What means something to a database is looked for as it stands.
    assert [k.spring.name for k in collection.find("%")] == ["100 % brass_wire"]
    assert [k.spring.name for k in collection.find("_")] == ["100 % brass_wire"]


def test_sorted_and_filtered_by_numbers(collection):
    for name, d in (("thick", 2.0), ("thin", 0.8), ("middle", 1.4)):
        collection.keep(made(name, d=d))
    assert [k.spring.name for k in collection.find(sort="wire")] == ["thin", "middle", "thick"]
    assert [k.spring.name for k in collection.find(sort="rate")] == ["thin", "middle", "thick"]
    assert collection.find()[0].spring.name == "middle"
    middle = made("middle").rate_N_per_mm
    found = collection.find(rate_N_per_mm=(0.9 * middle, 1.1 * middle))
    assert [k.spring.name for k in found] == ["middle"]


def test_a_deleted_spring_is_gone_and_can_be_brought_back(collection):
    key = collection.keep(made())
    collection.delete(key)
    assert collection.get(key) is None
    assert collection.find() == []
    collection.undelete(key)
    assert collection.get(key).spring == made()
    assert [c.what for c in collection.history(key)] == ["brought back", "deleted", "kept"]


def test_an_edit_is_remembered_and_an_impossible_one_changes_nothing(collection):
    key = collection.keep(made())
    collection.edit(key, name="Slipway rear", tags=("rear",))
    assert collection.get(key).spring.name == "Slipway rear"
    assert collection.history(key)[0].before == made()
    assert [k.id for k in collection.find("slipway")] == [key]
    with pytest.raises(ValueError, match="needs a name"):
        collection.edit(key, name=" ")
    assert collection.get(key).spring.name == "Slipway rear"
    with pytest.raises(ValueError, match="not in the collection"):
        collection.edit("nothing", name="x")


def test_a_copy_has_its_own_life_and_the_same_drawing(collection):
    key = collection.keep(made(), b"drawing")
    copy = collection.duplicate(key)
    collection.edit(copy, notes="cut by two turns")
    assert collection.get(key).spring.notes == ""
    assert collection.get(copy).spring.name == "Quay 7 front (copy)"
    assert collection.drawing(copy) == b"drawing"


def test_migrating_twice_changes_nothing_and_the_tables_are_the_models(collection, url):
    """The migrations and the classes must not drift apart: alembic sees no difference."""
    from alembic.autogenerate import compare_metadata
    from alembic.migration import MigrationContext

    from ui.collection.tables import Base

    Collection(url).close()
    with collection._engine.connect() as connection:
        assert compare_metadata(MigrationContext.configure(connection), Base.metadata) == []


def test_a_collection_of_the_former_tables_is_brought_up_to_date_and_loses_nothing(url):
    """Kept before torsion springs were (0002), opened by this program."""
    from datetime import UTC, datetime
    from pathlib import Path

    from alembic import command
    from alembic.config import Config
    from sqlalchemy import create_engine, insert

    import ui.collection
    from ui.collection.tables import ChangeRow, PictureRow, SpringRow

    engine, config, key = create_engine(url), Config(), "0" * 32
    config.set_main_option("script_location", f"{Path(ui.collection.__file__).parent}/migrations")
    config.set_main_option("path_separator", "os")
    spring, at = made(place="drawer 3"), datetime(2026, 3, 1, tzinfo=UTC)
    row = {"id": key, "record": spring.as_dict(), "name": spring.name, "words": "quay"}
    row |= {"wire_mm": 1.4, "outside_mm": 13.0, "rate_newton_mm": spring.rate_N_per_mm}
    with engine.begin() as connection:
        config.attributes["connection"] = connection
        command.upgrade(config, "0002")
        connection.execute(insert(SpringRow).values(**row, created=at, changed=at))
        connection.execute(insert(PictureRow).values(spring_id=key, drawing=b"drawing"))
        connection.execute(insert(ChangeRow).values(spring_id=key, what="kept", at=at))
    engine.dispose()
    now = Collection(url)
    assert [kept.spring for kept in now.find("quay", rate_N_per_mm=(0.0, 1e9))] == [spring]
    assert now.drawing(key) == b"drawing"
    assert [change.what for change in now.history(key)] == ["kept"]
    now.close()
