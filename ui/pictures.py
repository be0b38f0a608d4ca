"""The pictures of a folder, in the order in which a person would list them."""

import re
from collections.abc import Iterable, Iterator
from pathlib import Path

#: File names of pictures; what is in them is judged when they are read.
SUFFIXES = (".jpg", ".jpeg", ".png", ".webp", ".heic", ".heif")


def pictures_of(paths: Iterable[Path]) -> list[Path]:
    """Return the files named, with each folder replaced by the pictures in it.

    A folder without pictures stays, so that it is refused by name.

    Parameters
    ----------
    paths : iterable of Path
        Files and folders, in the order wanted.
    """
    return [picture for path in paths for picture in _of_one(path)]


def _of_one(path: Path) -> Iterator[Path]:
    if not path.is_dir():
        yield path
        return
    inside = [
        one
        for one in path.iterdir()
        if one.suffix.lower() in SUFFIXES and one.is_file() and not one.name.startswith(".")
    ]
    yield from sorted(inside, key=_as_listed) or [path]


def _as_listed(path: Path) -> list[tuple[int, str]]:
    """Return a key that puts ``spring 10`` after ``spring 9``."""
    parts = re.split(r"(\d+)", path.name.casefold())
    return [(int(part), "") if part.isdecimal() else (0, part) for part in parts]
