"""Kills a program at random moments of its work, and looks at what is left.

``python -m tests.trust.killing 100`` prints one JSON object: how often each work was cut off.
The work is done in a forked child, which tells through a pipe what was confirmed to it; SIGKILL
leaves it no time to tidy up.
"""

import json
import os
import random
import signal
import sqlite3
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from tests.ui.collection.springs import made
from ui.collection.exchange import from_json, to_json
from ui.collection.opening import opened
from ui.collection.store import Collection
from ui.files import write_whole

#: Springs in a file that is imported, in a collection that is migrated, in a file exported.
MANY = 200
DRAWING = bytes(50_000)
Tell = Callable[[str], None]


def url_of(folder: Path) -> str:
    return f"sqlite:///{folder / 'springs.sqlite'}"


def save(folder: Path, tell: Tell) -> None:
    """Keep, edit, put away and bring back; each is told once it is done."""
    collection = Collection(url_of(folder))
    tell("ready")
    for number in range(10_000):
        key = collection.keep(made(f"Quay {number}"), DRAWING)
        tell(f"kept {key} Quay {number}")
        collection.edit(key, name=f"Slipway {number}", notes="moved")
        tell(f"kept {key} Slipway {number}")
        if number % 3 == 0:
            collection.delete(key)
            tell(f"deleted {key}")
            collection.undelete(key)
            tell(f"kept {key} Slipway {number}")


def after_saving(folder: Path, told: list[str]) -> None:
    collection = Collection(url_of(folder))
    last = {line.split()[1]: line for line in told if line != "ready"}
    order = list(last)
    for key, line in last.items():
        kept = collection.get(key)
        # What was under way when the end came may be done or not; all before it is as told.
        if key != order[-1]:
            assert kept is not None, line
            assert kept.spring.name == line.split(maxsplit=2)[2], line
            assert collection.drawing(key) == DRAWING
        else:
            assert kept is not None or line.startswith(("deleted", "kept")), line
            assert kept is None or kept.spring.name.split()[1] == str(len(order) - 1)
            assert collection.history(key)[-1].what == "kept"
    # At most one more than was told: the one whose confirmation did not come through.
    assert len(order) <= len(collection.find()) + 1 <= len(order) + 2
    collection.close()


def take_in(folder: Path, tell: Tell) -> None:
    """Import a file of many springs again and again."""
    collection = Collection(url_of(folder))
    text = to_json([made(f"Quay {number}") for number in range(MANY)])
    tell("ready")
    for _ in range(1000):
        collection.keep_all(from_json(text))
        tell("imported")


def after_taking_in(folder: Path, told: list[str]) -> None:
    collection = Collection(url_of(folder))
    count, confirmed = len(collection.find()), told.count("imported")
    assert count in (MANY * confirmed, MANY * (confirmed + 1)), (count, confirmed)
    collection.close()


def old_collection(folder: Path) -> None:
    """Make a collection as the first form had it."""
    opened(url_of(folder)).dispose()
    collection = Collection(url_of(folder))
    collection.keep_all([made(f"Quay {number}") for number in range(MANY)])
    collection.close()
    file = sqlite3.connect(folder / "springs.sqlite")
    file.execute("drop table setting")
    file.execute("update alembic_version set version_num = '0001'")
    file.commit()
    file.close()


def migrate(folder: Path, tell: Tell) -> None:
    tell("ready")
    Collection(url_of(folder)).close()
    tell("migrated")


def after_migrating(folder: Path, told: list[str]) -> None:
    collection = Collection(url_of(folder))
    assert len(collection.find()) == MANY
    collection.remember("unit", "gf/mm")
    assert collection.setting("unit") == "gf/mm"
    collection.close()
    copy = sqlite3.connect(folder / "springs-form-0001.sqlite")
    assert copy.execute("pragma integrity_check").fetchone() == ("ok",)
    assert copy.execute("select count(*) from spring").fetchone() == (MANY,)
    assert copy.execute("select version_num from alembic_version").fetchone() == ("0001",)
    copy.close()


def after_opening(folder: Path, told: list[str]) -> None:
    collection = Collection(url_of(folder))
    assert collection.find() == []
    collection.close()


def export(folder: Path, tell: Tell) -> None:
    """Write the collection to one file, again and again."""
    springs = [made(f"Quay {number}") for number in range(MANY)]
    file = folder / "springs.json"
    write_whole(file, to_json(springs).encode())
    tell("ready")
    for number in range(10_000):
        springs[0] = made(f"Slipway {number}")
        write_whole(file, to_json(springs).encode())
        tell(str(number))


def after_exporting(folder: Path, told: list[str]) -> None:
    springs = from_json((folder / "springs.json").read_text())
    assert len(springs) == MANY
    if len(told) > 1:
        assert springs[0].name in (f"Slipway {told[-1]}", f"Slipway {int(told[-1]) + 1}")


def nothing(folder: Path) -> None:
    """Nothing is needed before."""


#: What is done, what must be there before and after, and how long it may run at most [s].
WORKS = {
    "saving": (save, nothing, after_saving, 0.06),
    "importing": (take_in, nothing, after_taking_in, 0.15),
    "opening": (migrate, nothing, after_opening, 0.03),
    "migrating": (migrate, old_collection, after_migrating, 0.035),
    "exporting": (export, nothing, after_exporting, 0.06),
}


def killed(work: str, moment: random.Random) -> bool:
    """Kill one child in its work and check what it left; tell whether it was cut off."""
    act, prepare, check, longest = WORKS[work]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        prepare(folder)
        here, there = os.pipe()
        child = os.fork()
        if child == 0:
            os.close(here)
            act(folder, lambda line: os.write(there, f"{line}\n".encode()) and None)
            os._exit(0)
        os.close(there)
        with os.fdopen(here) as pipe:
            assert pipe.readline() == "ready\n"
            time.sleep(moment.uniform(0.0, longest))
            os.kill(child, signal.SIGKILL)
            # What was told before the end still stands in the pipe.
            told = ["ready", *pipe.read().split("\n")[:-1]]
        _, status = os.waitpid(child, 0)
        check(folder, told)
        return os.WIFSIGNALED(status)


def main(rounds: int, seed: int = 6) -> None:
    moment = random.Random(seed)
    cut = dict.fromkeys(WORKS, 0)
    for number in range(rounds):
        work = list(WORKS)[number % len(WORKS)]
        cut[work] += killed(work, moment)
    print(json.dumps({"killed": rounds, "cut off in the middle": cut}))


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
