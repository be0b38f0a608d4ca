"""Asks for known faults of the pinned versions, and says plainly where nobody answered.

``python -m tests.trust.audit``: 0 where every version was looked up and none has a known fault,
1 where one has, 3 where the list of faults knows nothing of some version or does not answer. The
asking itself is pip-audit's; that alone passes a version that it could not look up.
``--unanswered-passes`` ends with 0 instead of 3, and says the same: a machine without the list
can go on.
"""

import json
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
FAULTY, UNANSWERED = 1, 3
ASK = ("pip_audit", "--no-deps", "--disable-pip", "--progress-spinner", "off", "--format", "json")


@dataclass(frozen=True, slots=True)
class Audit:
    """What is known of the pinned versions: looked up, not looked up, and the faults of some."""

    looked_up: list[str]
    unknown: list[str]
    faults: list[str]

    @property
    def status(self) -> int:
        """0, or what to end with."""
        if self.faults:
            return FAULTY
        return UNANSWERED if self.unknown or not self.looked_up else 0

    def told(self) -> str:
        """Return it in words, the faults first."""
        lines = [f"KNOWN FAULT: {fault}" for fault in self.faults]
        every = len(self.looked_up) + len(self.unknown)
        if not self.looked_up:
            lines.append(f"NOT AUDITED: the list of faults knew none of the {every} versions.")
        elif self.unknown:
            names = ", ".join(self.unknown)
            lines.append(f"AUDITED IN PART: {len(self.unknown)} of {every} not known: {names}.")
        elif not self.faults:
            lines.append(f"Audited: {every} versions, no known fault.")
        return "\n".join(lines)


def read(text: str) -> Audit:
    """Return what pip-audit's JSON says."""
    rows = json.loads(text)["dependencies"]
    looked_up = [row for row in rows if "vulns" in row]
    return Audit(
        [row["name"] for row in looked_up],
        [row["name"] for row in rows if "vulns" not in row],
        [
            f"{row['name']} {row['version']}: {fault['id']}"
            + (f" (mended in {', '.join(fault['fix_versions'])})" if fault["fix_versions"] else "")
            for row in looked_up
            for fault in row["vulns"]
        ],
    )


def main(lock: Path = ROOT / "requirements.lock") -> int:
    """Ask, print and return the status."""
    command = [sys.executable, "-m", *ASK, "--requirement", str(lock)]
    done = subprocess.run(command, capture_output=True, text=True)
    try:
        audit = read(done.stdout)
    except (ValueError, KeyError):  # a traceback or a sentence instead of an answer
        why = (done.stderr.strip().splitlines() or ["no word from pip-audit"])[-1]
        print(f"NOT AUDITED: the list of faults did not answer ({why}).")
        return UNANSWERED
    print(audit.told())
    return audit.status


if __name__ == "__main__":
    status = main()
    lenient = status == UNANSWERED and "--unanswered-passes" in sys.argv
    raise SystemExit(0 if lenient else status)
