"""Tables of the collection. Changes of them go through `migrations`."""

from datetime import UTC, datetime
from typing import Any

from sqlalchemy import JSON, DateTime, Float, ForeignKey, LargeBinary, String, Text
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column


def now() -> datetime:
    """Return the time, in UTC."""
    return datetime.now(UTC)


class Base(DeclarativeBase):
    """All tables."""


class SpringRow(Base):
    """A spring: its plain data, and beside it what is searched and sorted by."""

    __tablename__ = "spring"

    id: Mapped[str] = mapped_column(String(32), primary_key=True)
    record: Mapped[dict[str, Any]] = mapped_column(JSON)
    name: Mapped[str] = mapped_column(String(200), index=True)
    wire_mm: Mapped[float] = mapped_column(Float)
    outside_mm: Mapped[float] = mapped_column(Float)
    # None for a torsion spring, whose rate is another quantity.
    rate_newton_mm: Mapped[float | None] = mapped_column(Float, index=True)
    words: Mapped[str] = mapped_column(Text)
    created: Mapped[datetime] = mapped_column(DateTime(timezone=True), default=now)
    changed: Mapped[datetime] = mapped_column(DateTime(timezone=True), default=now)
    deleted: Mapped[datetime | None] = mapped_column(DateTime(timezone=True), default=None)


class PictureRow(Base):
    """The photo of a spring, and the drawing of what was seen in it."""

    __tablename__ = "picture"

    spring_id: Mapped[str] = mapped_column(ForeignKey("spring.id"), primary_key=True)
    photo: Mapped[bytes | None] = mapped_column(LargeBinary)
    drawing: Mapped[bytes] = mapped_column(LargeBinary)


class SettingRow(Base):
    """What the owner chose last, such as a unit."""

    __tablename__ = "setting"

    name: Mapped[str] = mapped_column(String(40), primary_key=True)
    value: Mapped[str] = mapped_column(String(200))


class ChangeRow(Base):
    """What happened to a spring, with its data before."""

    __tablename__ = "change"

    id: Mapped[int] = mapped_column(primary_key=True)
    spring_id: Mapped[str] = mapped_column(ForeignKey("spring.id"), index=True)
    at: Mapped[datetime] = mapped_column(DateTime(timezone=True), default=now)
    what: Mapped[str] = mapped_column(String(20))
    before: Mapped[dict[str, Any] | None] = mapped_column(JSON)
