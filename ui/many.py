"""Many photos into one table, in several processes; what was measured once stays measured."""

import hashlib
import json
import os
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from joblib import Parallel, delayed
from joblib.externals.loky import get_reusable_executor

from ui.batch import Wanted, measure_each
from ui.contract import refused_object
from ui.measuring import unforeseen
from ui.pictures import SUFFIXES
from vision.refusal import Refusal

Objects = list[dict[str, Any]]
#: Photos tried one by one where a process ended under its work, to find the one that ended it.
ALONE_PER_WORKER = 4


@dataclass(frozen=True, slots=True)
class Task:
    """A photo to measure: its name within the folder, its place, and which file it was."""

    name: str
    path: Path
    stamp: str


def tasks_of(folder: Path) -> list[Task]:
    """Return all pictures below a folder, by name.

    Raises
    ------
    ValueError
        If there is no such folder, or no picture in it.
    """
    if not folder.is_dir():
        raise ValueError(f"there is no folder {folder}")
    found = []
    for path in sorted(folder.rglob("*")):
        within = path.relative_to(folder)
        hidden = any(part.startswith(".") for part in within.parts)
        if path.suffix.lower() in SUFFIXES and path.is_file() and not hidden:
            stat = path.stat()
            found.append(Task(within.as_posix(), path, f"{stat.st_size}-{stat.st_mtime_ns}"))
    if not found:
        raise ValueError(f"there is no picture in {folder}")
    return found


class Journal:
    """What has been measured so far, a photo a line, beside the table.

    Parameters
    ----------
    path : Path
        Its file; a line that was cut off is measured again.
    how : str
        How photos are measured; what was measured otherwise does not count.
    """

    def __init__(self, path: Path, how: str) -> None:
        self._path, self._how = path, hashlib.sha256(how.encode()).hexdigest()[:16]
        self._done: dict[tuple[str, str], Objects] = {}
        if path.exists():
            self._read()
        self._file = path.open("ab")

    def _read(self) -> None:
        for line in self._path.read_bytes().split(b"\n"):
            try:
                one = json.loads(line)
                if one["how"] == self._how:
                    self._done[one["photo"], one["stamp"]] = one["told"]
            except (ValueError, KeyError, TypeError):
                continue

    def told(self, task: Task) -> Objects | None:
        """Return what was told of a photo, None where it is still to be measured."""
        return self._done.get((task.name, task.stamp))

    def write(self, task: Task, told: Objects) -> None:
        """Remember a photo, now and after a power cut."""
        self._done[task.name, task.stamp] = told
        line = {"photo": task.name, "stamp": task.stamp, "how": self._how, "told": told}
        # Begun on a new line, so that one cut off before spoils itself alone.
        self._file.write(b"\n" + json.dumps(line).encode())
        self._file.flush()
        os.fsync(self._file.fileno())

    def close(self) -> None:
        """Let go of the file."""
        self._file.close()


def measured(task: Task, how: Wanted) -> tuple[Task, Objects]:
    """Measure one photo, wherever this runs; whatever it does, it is told."""
    try:
        (outcomes,) = measure_each([task.path], how)
        told = [one.as_json() | {"photo": task.name} for one in outcomes]
    except Exception as problem:
        told = [refused_object(task.name, unforeseen(problem))]
    return task, told


def measure_many(
    tasks: Sequence[Task],
    journal: Journal,
    how: Wanted,
    workers: int,
    act: Callable[[Task, Wanted], tuple[Task, Objects]] = measured,
) -> Iterator[Task]:
    """Measure what the journal does not hold yet, and yield each photo once it stands there.

    Where the processes run is joblib's: on this machine, or where `joblib.parallel_config` says.

    Parameters
    ----------
    tasks : sequence of Task
        All photos wanted.
    journal : Journal
        What is done, and grows.
    how : Wanted
        How they are measured.
    workers : int
        Processes at once; -1 for one a core.
    act : callable
        What measures one photo.
    """
    while left := [task for task in tasks if journal.told(task) is None]:
        try:
            run = Parallel(n_jobs=workers, return_as="generator_unordered", batch_size=1)
            for task, told in run(delayed(act)(task, how) for task in left):
                journal.write(task, told)
                yield task
        except Exception:  # a process ended under its work, and all others with it
            left = [task for task in left if journal.told(task) is None]
            for task in left[: ALONE_PER_WORKER * max(workers, os.cpu_count() or 1)]:
                journal.write(task, _alone(task, how, act))
                yield task


def _alone(task: Task, how: Wanted, act: Callable[[Task, Wanted], tuple[Task, Objects]]) -> Objects:
    """Measure a photo in a process with nothing else in it: if that ends, this photo ended it."""
    try:
        told: Objects = get_reusable_executor(max_workers=1).submit(act, task, how).result()[1]
        return told
    except Exception:
        why = Refusal(
            "ended-the-program",
            "view",
            "Measuring this photo ended the program that did it.",
            "Leave it out, or look at it by itself; please report it.",
        )
        return [refused_object(task.name, why)]


class Progress:
    """How far it is, and how long it will take, in words.

    Parameters
    ----------
    total, done : int
        Photos in all, and those measured before.
    clock : callable
        Tells the time [s].
    """

    def __init__(self, total: int, done: int, clock: Callable[[], float] = time.monotonic) -> None:
        self._total, self._done, self._before = total, done, done
        self._clock, self._began = clock, clock()

    def step(self) -> str:
        """Count one more, and return how far it is."""
        self._done += 1
        left = self._total - self._done
        took = self._clock() - self._began
        seconds = left * took / (self._done - self._before)
        return f"{self._done} of {self._total} photos" + (
            f", {_words(seconds)} left" if left else ""
        )


def _words(seconds: float) -> str:
    """Return a time as a person would say it.

    Examples
    --------
    >>> _words(42.0), _words(200.0), _words(9000.0)
    ('about 42 s', 'about 3 min', 'about 2.5 h')
    """
    if seconds < 100.0:
        return f"about {max(seconds, 1.0):.0f} s"
    return (
        f"about {seconds / 60.0:.0f} min" if seconds < 6000.0 else f"about {seconds / 3600.0:.1f} h"
    )


def flat(told: Mapping[str, Any]) -> dict[str, Any]:
    """Return an object of the contract as one row: each quantity in four columns."""
    row: dict[str, Any] = {}
    for name, value in told.items():
        if name == "geometry":
            for quantity, parts in value.items():
                row |= _columns(quantity, parts)
        elif isinstance(value, dict) and "low" in value:
            row |= _columns(name, value)
        elif name == "reference":
            row["reference"] = value["kind"]
        elif name == "flags":
            row["flags"] = "; ".join(value)
        elif name == "timings_ms":
            row["seconds"] = round(sum(value.values()) / 1000.0, 3)
        elif name in ("covariance", "budget"):
            row[name] = json.dumps(value)
        else:
            row[name] = value
    return row


def _columns(name: str, parts: Mapping[str, float]) -> dict[str, float]:
    return {name: parts["value"], **{f"{name}_{k}": parts[k] for k in ("u", "low", "high")}}
