"""Photos shown to the page lately, so that a reload or a lost session finds them again."""

import hashlib
import threading
from collections import OrderedDict
from collections.abc import Hashable
from dataclasses import dataclass
from typing import Generic, TypeVar

Value = TypeVar("Value")


@dataclass(frozen=True, slots=True)
class Shown:
    """A photo's hash, its bytes and its file name."""

    key: str
    data: bytes
    name: str


class PhotoStore:
    """Keeps the latest photos by the hash of their bytes, in memory only, up to a total size.

    Parameters
    ----------
    room_bytes : int
        Room for all of them together; the oldest go first [bytes].
    """

    def __init__(self, room_bytes: int = 120_000_000) -> None:
        self._room = room_bytes
        self._kept: OrderedDict[str, Shown] = OrderedDict()
        # Streamlit runs each person's script in a thread of its own.
        self._lock = threading.Lock()

    def put(self, data: bytes, name: str) -> str:
        """Keep a photo and return its key."""
        key = hashlib.sha256(data).hexdigest()
        with self._lock:
            self._kept[key] = Shown(key, data, name)
            self._kept.move_to_end(key)
            while len(self._kept) > 1 and self._size() > self._room:
                self._kept.popitem(last=False)
        return key

    def get(self, key: str) -> Shown | None:
        """Return the photo of that key, None where it is gone."""
        with self._lock:
            shown = self._kept.get(key)
            if shown is not None:
                self._kept.move_to_end(key)
            return shown

    def _size(self) -> int:
        return sum(len(shown.data) for shown in self._kept.values())


class Lately(Generic[Value]):
    """Keeps the results asked for last, by what they were asked with.

    Parameters
    ----------
    most : int
        How many; the one asked for longest ago goes first [-].
    """

    def __init__(self, most: int) -> None:
        self._most = most
        self._kept: OrderedDict[Hashable, Value] = OrderedDict()
        self._lock = threading.Lock()

    def put(self, key: Hashable, value: Value) -> None:
        """Keep a result."""
        with self._lock:
            self._kept[key] = value
            self._kept.move_to_end(key)
            while len(self._kept) > self._most:
                self._kept.popitem(last=False)

    def get(self, key: Hashable) -> Value | None:
        """Return the result of that key, None where it is gone."""
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
            return self._kept.get(key)
