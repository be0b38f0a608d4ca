"""What can be wrong with a collection's file or server, as one sentence for its owner."""

from collections.abc import Iterator
from contextlib import contextmanager

#: What a database says, and what that means to its owner.
_MEANINGS = (
    (("full", "disk i/o", "no space"), "there is no room left on the disk: make some"),
    (("readonly", "read-only", "permission", "not authorized"), "its folder may not be written to"),
    (("unable to open", "no such file"), "its folder is not there or may not be written to"),
    (("locked",), "another program holds it: close that, or wait a moment"),
    (("not a database", "malformed", "corrupt"), "its file is damaged: put back a copy of it"),
    (("connect", "server", "timeout"), "its server does not answer"),
)


class CollectionError(ValueError):
    """The collection cannot be opened, read or written; the message says why and what to do."""


@contextmanager
def told_plainly() -> Iterator[None]:
    """Turn what a database or its folder complains of into `CollectionError`."""
    from sqlalchemy.exc import SQLAlchemyError

    try:
        yield
    except (SQLAlchemyError, OSError) as problem:
        said = str(getattr(problem, "orig", None) or problem)
        meaning = next(
            (meaning for words, meaning in _MEANINGS if any(w in said.lower() for w in words)), said
        )
        raise CollectionError(
            f"the collection cannot be used: {meaning}; what was kept before is still there"
        ) from problem
