"""A queue before what takes long and much memory: a few at a time, in the order they came."""

import threading
from collections import deque
from collections.abc import Callable, Iterator
from contextlib import contextmanager


def place_text(before: int) -> str:
    """Return the place in the queue in words.

    Examples
    --------
    >>> place_text(1)
    '1 photo is before yours.'
    """
    return f"{before} photos are before yours." if before != 1 else "1 photo is before yours."


class Turns:
    """Lets some work begin only when its turn has come.

    Parameters
    ----------
    at_once : int
        How many may work at a time [-].
    """

    #: How often one that waits is told its place, and may so notice that nobody waits any more [s].
    TELL_SECONDS = 0.5

    def __init__(self, at_once: int) -> None:
        self._at_once, self._busy = at_once, 0
        self._line: deque[object] = deque()
        self._changed = threading.Condition()

    @contextmanager
    def turn(self, tell: Callable[[int], object]) -> Iterator[None]:
        """Wait for a turn, and give it back at the end.

        Parameters
        ----------
        tell : callable
            Is told again and again how many are before this one, while it waits; what it raises
            ends the waiting.
        """
        me = object()
        with self._changed:
            self._line.append(me)
        working = False
        try:
            while not (working := self._begins(me)):
                tell(self._before(me))
            yield
        finally:
            with self._changed:
                if working:
                    self._busy -= 1
                else:
                    self._line.remove(me)
                self._changed.notify_all()

    def _begins(self, me: object) -> bool:
        """Return whether the turn has come, after waiting a little for it."""
        with self._changed:
            if not self._free(me):
                self._changed.wait(self.TELL_SECONDS)
            if not self._free(me):
                return False
            self._line.popleft()
            self._changed.notify_all()
            self._busy += 1
            return True

    def _free(self, me: object) -> bool:
        return self._line[0] is me and self._busy < self._at_once

    def _before(self, me: object) -> int:
        with self._changed:
            return self._line.index(me) + self._busy
