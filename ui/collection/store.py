"""Keeps springs in a database: SQLite in the user's data folder, or any by its URL."""

import os
import uuid
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from platformdirs import user_data_path
from sqlalchemy import select
from sqlalchemy.orm import Session

from ui.collection.opening import WRITES, opened
from ui.collection.record import Spring, fit_to_keep
from ui.collection.tables import ChangeRow, PictureRow, SettingRow, SpringRow, now
from ui.collection.trouble import told_plainly

#: Names a database other than the one in the user's data folder.
URL_VARIABLE = "COILRECKON_DATABASE"

#: By what springs are sorted, as people choose it.
SORTS: dict[str, tuple[Any, ...]] = {
    "latest first": (SpringRow.changed.desc(),),
    "name": (SpringRow.name,),
    # Torsion springs, which have none, stand last on every database.
    "rate": (SpringRow.rate_newton_mm.is_(None), SpringRow.rate_newton_mm),
    "wire": (SpringRow.wire_mm,),
    "outside diameter": (SpringRow.outside_mm,),
}


@dataclass(frozen=True, slots=True)
class Kept:
    """A spring of the collection, by its id, with when it was kept and last changed."""

    id: str
    spring: Spring
    created: datetime
    changed: datetime


@dataclass(frozen=True, slots=True)
class Change:
    """What happened to a spring, when, and what it was before."""

    at: datetime
    what: str
    before: Spring | None


def usual_url() -> str:
    """Return the database's URL: from the environment, or a file in the user's data folder."""
    named = os.environ.get(URL_VARIABLE)
    if named:
        return named
    with told_plainly():
        folder = user_data_path("coilreckon", ensure_exists=True)
    return f"sqlite:///{folder / 'springs.sqlite'}"


class Collection:
    """The owner's springs.

    Parameters
    ----------
    url : str
        SQLAlchemy's, such as ``sqlite:///springs.sqlite`` or ``postgresql+psycopg://...``.

    Raises
    ------
    CollectionError
        By every method, too: if the file or the server cannot be used; what was kept stays.
    """

    def __init__(self, url: str) -> None:
        with told_plainly():
            self._engine = opened(url)

    def close(self) -> None:
        """Let go of the database."""
        self._engine.dispose()

    def keep(self, spring: Spring, drawing: bytes | None = None, photo: bytes | None = None) -> str:
        """Add a spring with its pictures, and return its id.

        Raises
        ------
        ValueError
            If it is none that can be kept; see `fit_to_keep`.
        """
        fit_to_keep(spring)
        with self._writing() as session:
            return _add(session, spring, drawing, photo)

    def keep_all(self, springs: Sequence[Spring]) -> list[str]:
        """Add springs, all or none of them, and return their ids.

        Raises
        ------
        ValueError
            If one of them is none that can be kept.
        """
        for spring in springs:
            fit_to_keep(spring)
        with self._writing() as session:
            return [_add(session, spring) for spring in springs]

    def get(self, key: str) -> Kept | None:
        """Return a spring, None where it is not there or was deleted."""
        with self._reading() as session:
            row = session.get(SpringRow, key)
            return None if row is None or row.deleted is not None else _kept(row)

    def find(
        self,
        words: str = "",
        sort: str = "latest first",
        rate_N_per_mm: tuple[float, float] | None = None,  # noqa: N803
    ) -> list[Kept]:
        """Return the springs that hold every word, in order.

        Parameters
        ----------
        words : str
            Looked for in names, tags, places, notes and trade names, whatever their case.
        sort : str
            Key of `SORTS`.
        rate_N_per_mm : tuple of float, optional
            Least and most rate [N/mm].
        """
        query = select(SpringRow).where(SpringRow.deleted.is_(None))
        for word in words.lower().split():
            query = query.where(SpringRow.words.contains(word, autoescape=True))
        if rate_N_per_mm is not None:
            query = query.where(SpringRow.rate_newton_mm.between(*rate_N_per_mm))
        query = query.order_by(*SORTS[sort], SpringRow.id)
        with self._reading() as session:
            return [_kept(row) for row in session.scalars(query)]

    def edit(self, key: str, **fields: Any) -> None:
        """Change fields of a spring; what it was before is remembered.

        Raises
        ------
        ValueError
            If the spring is not there or a field is impossible; then nothing is changed.
        """
        with self._writing() as session:
            row = _row(session, key)
            before = Spring.from_dict(row.record)
            after = fit_to_keep(replace(before, **fields))
            session.add(ChangeRow(spring_id=key, what="edited", before=before.as_dict()))
            for column, value in _columns(after).items():
                setattr(row, column, value)
            row.changed = now()

    def duplicate(self, key: str) -> str:
        """Return the id of a copy, pictures and all."""
        with self._reading() as session:
            spring = Spring.from_dict(_row(session, key).record)
            pictures = session.get(PictureRow, key)
            shown = (None, None) if pictures is None else (pictures.drawing, pictures.photo)
        return self.keep(replace(spring, name=f"{spring.name} (copy)"), *shown)

    def delete(self, key: str) -> None:
        """Put a spring away; `undelete` brings it back."""
        self._mark(key, "deleted", now())

    def undelete(self, key: str) -> None:
        """Bring a deleted spring back."""
        self._mark(key, "brought back", None)

    def history(self, key: str) -> list[Change]:
        """Return what happened to a spring, latest first."""
        query = select(ChangeRow).where(ChangeRow.spring_id == key).order_by(ChangeRow.id.desc())
        with self._reading() as session:
            return [
                Change(c.at, c.what, None if c.before is None else Spring.from_dict(c.before))
                for c in session.scalars(query)
            ]

    def drawing(self, key: str) -> bytes | None:
        """Return the drawing of a spring as JPEG, None where there is none."""
        with self._reading() as session:
            row = session.get(PictureRow, key)
            return None if row is None else row.drawing

    def setting(self, name: str) -> str | None:
        """Return what was chosen last, None where nothing was."""
        with self._reading() as session:
            row = session.get(SettingRow, name)
            return None if row is None else row.value

    def remember(self, name: str, value: str) -> None:
        """Keep a choice for the next visit."""
        with self._writing() as session:
            session.merge(SettingRow(name=name, value=value))

    @contextmanager
    def _reading(self) -> Iterator[Session]:
        with told_plainly(), Session(self._engine) as session:
            yield session

    @contextmanager
    def _writing(self) -> Iterator[Session]:
        """All that is done within is kept when it ends, or none of it."""
        engine = self._engine.execution_options(**{WRITES: True})
        with told_plainly(), Session(engine) as session, session.begin():
            yield session

    def _mark(self, key: str, what: str, at: datetime | None) -> None:
        with self._writing() as session:
            _row(session, key).deleted = at
            session.add(ChangeRow(spring_id=key, what=what, before=None))


def _add(
    session: Session, spring: Spring, drawing: bytes | None = None, photo: bytes | None = None
) -> str:
    key = uuid.uuid4().hex
    session.add(SpringRow(id=key, **_columns(spring)))
    session.flush()
    if drawing is not None:
        session.add(PictureRow(spring_id=key, photo=photo, drawing=drawing))
    session.add(ChangeRow(spring_id=key, what="kept", before=None))
    return key


def _row(session: Session, key: str) -> SpringRow:
    row = session.get(SpringRow, key)
    if row is None:
        raise ValueError("this spring is not in the collection any more")
    return row


def _kept(row: SpringRow) -> Kept:
    return Kept(row.id, Spring.from_dict(row.record), row.created, row.changed)


def _columns(spring: Spring) -> dict[str, Any]:
    parts: Sequence[str] = (
        spring.name,
        spring.place,
        spring.notes,
        spring.material,
        spring.kind,
        spring.ends,
        spring.hand,
        *spring.tags,
    )
    return {
        "record": spring.as_dict(),
        "name": spring.name,
        "wire_mm": spring.wire_mm,
        "outside_mm": spring.outside_mm,
        "rate_newton_mm": spring.rate_N_per_mm,
        "words": " ".join(parts).lower(),
    }
