"""Do the tests notice when a line of `mechanics` is changed? A seeded sample of every module.

``python -m tests.trust.mutants [--each 40] [--seed 1] [--only MODULE ...]`` prints how many of the
changes that were tried some test noticed, by module, and writes those that none did, each with
its difference, into ``build/mutants.txt``. The changing and judging is mutmut's: it runs only the
tests that call the changed function, and a change that makes them run for long counts as noticed.
"""

import argparse
import json
import random
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
MUTANTS = ROOT / "mutants"
OUT = ROOT / "build" / "mutants.txt"
#: Changes tried by one run of mutmut: one that is ended from outside costs no more than these.
BATCH = 100
#: What mutmut's exit codes mean: tests passed, no test calls the function. All others noticed.
PASSED, NO_TEST = 0, 33


@dataclass(frozen=True, slots=True)
class Score:
    """One module's changes: how many there are, which were tried, which none noticed."""

    module: str
    possible: int
    tried: list[str]
    unnoticed: list[str]

    def row(self) -> str:
        """Return a row of the table in docs/trust.md."""
        noticed = len(self.tried) - len(self.unnoticed)
        share = f"{100 * noticed / len(self.tried):.0f} %" if self.tried else "none"
        return f"| {self.module} | {self.possible} | {len(self.tried)} | {noticed} | {share} |"


def mutmut(*arguments: str) -> str:
    """Run mutmut where the project lies, and return what it printed."""
    command = [str(Path(sys.executable).with_name("mutmut")), *arguments]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True)
    if done.returncode:
        said = (done.stdout + done.stderr).splitlines()
        raise SystemExit("\n".join([*said[-60:], f"mutmut ended with {done.returncode}"]))
    return done.stdout


def codes_of(module: str) -> dict[str, int | None]:
    """Return mutmut's exit code of each change of a module, none where it was not tried."""
    file = MUTANTS / "mechanics" / f"{module}.py.meta"
    return dict(json.loads(file.read_text())["exit_code_by_key"]) if file.exists() else {}


def drawn(names: list[str], each: int, draw: random.Random) -> list[str]:
    """Return `each` of the names, all if they are fewer, in their order."""
    return sorted(draw.sample(sorted(names), min(each, len(names))))


def scored(module: str, chosen: list[str]) -> Score:
    """Return how the chosen changes of a module fared."""
    codes = codes_of(module)
    unnoticed = [name for name in chosen if codes[name] in (PASSED, NO_TEST)]
    untried = [name for name in chosen if codes[name] is None]
    assert untried == [], untried
    return Score(module, len(codes), chosen, unnoticed)


def sample(modules: list[str], each: int, seed: int) -> list[Score]:
    """Try a sample of each module's changes."""
    mutmut("run", "--max-children", "1", "mechanics.units.*")  # makes all, and times the tests
    chosen = {m: drawn(list(codes_of(m)), each, random.Random(f"{seed} {m}")) for m in modules}
    names = [name for some in chosen.values() for name in some]
    for first in range(0, len(names), BATCH):
        mutmut("run", "--max-children", "1", *names[first : first + BATCH])
    return [scored(module, names) for module, names in chosen.items()]


def main() -> None:
    """Print the table, and write what nobody noticed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--each", type=int, default=40)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", nargs="*")
    given = parser.parse_args()
    every = sorted(p.stem for p in (ROOT / "mechanics").glob("*.py") if p.stem != "__init__")
    scores = sample(given.only or every, given.each, given.seed)
    print("| module | changes there are | tried | noticed | share |\n|---|---|---|---|---|")
    for score in scores:
        print(score.row())
    tried = [name for score in scores for name in score.tried]
    unnoticed = [name for score in scores for name in score.unnoticed]
    print(Score("all", sum(s.possible for s in scores), tried, unnoticed).row())
    OUT.parent.mkdir(exist_ok=True)
    OUT.write_text("\n".join(mutmut("show", name) for name in unnoticed))


if __name__ == "__main__":
    main()
