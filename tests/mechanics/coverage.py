"""How often the truth lies in the fused band: ``python -m tests.mechanics.coverage 3000``.

Random springs with random sound evidence (`scenes`), each with a true rate drawn apart. Minutes.
"""

import sys
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from mechanics.conflicts import reconcile
from mechanics.evidence import Case
from tests.mechanics.scenes import ENDS, MATERIALS, random_readings, random_spring

_DRAWS = 2000


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of one spring with its evidence.

    Attributes
    ----------
    inside, questioned : bool
        Truth in the 95 % band; a reading named as contradicting the rest.
    narrowed : float or None
        Relative band with all evidence over that of wire, diameter and turns alone [-].
    active_coils : float
        Of the truth [-].
    case : Case
        What was stated.
    basic, extra : tuple of str
        Names of the readings.
    """

    inside: bool
    questioned: bool
    narrowed: float | None
    active_coils: float
    case: Case
    basic: tuple[str, ...]
    extra: tuple[str, ...]


def simulate(count: int, seed: int = 17) -> list[Outcome]:
    """Return what came of random springs."""
    rng, out = np.random.default_rng(seed), []
    for _ in range(count):
        truth, case = random_spring(rng)
        basic, extra = random_readings(truth, rng)
        fused, narrowed = reconcile(basic + extra, case, rng, _DRAWS), None
        band = fused.mixture.rate_N_per_mm
        if extra:
            before = reconcile(basic, case, rng, _DRAWS).mixture.rate_N_per_mm
            narrowed = band.u / band.value / (before.u / before.value)
        out.append(
            Outcome(
                bool(band.low <= truth.rate_N_per_mm[0] <= band.high),
                bool(fused.conflicts),
                narrowed,
                float(truth.active_coils[0]),
                case,
                tuple(one.name for one in basic),
                tuple(one.name for one in extra),
            )
        )
    return out


def inside_by_group(outcomes: list[Outcome]) -> list[tuple[str, int, float]]:
    """Return name, springs and share inside of each group worth telling apart."""
    groups: dict[str, Callable[[Outcome], bool]] = {
        "all": lambda one: True,
        "caliper": lambda one: len(one.basic) > 1,
        "photo": lambda one: len(one.basic) == 1,
        "something read again with one tool": lambda one: len(set(one.basic)) < len(one.basic),
        "fewer than four active coils": lambda one: one.active_coils < 4.0,
        **{name: lambda one, name=name: one.case.material.name == name for name in MATERIALS},
        **{f"ends {e}": lambda one, e=e: one.case.ends is e for e in ENDS},
    }
    rows = []
    for name, holds in groups.items():
        mine = [one.inside for one in outcomes if holds(one)]
        if mine:
            rows.append((name, len(mine), float(np.mean(mine))))
    return rows


def left_by_evidence(outcomes: list[Outcome]) -> list[tuple[str, int, float]]:
    """Return name, sets and mean share of the band left by each kind of evidence added alone."""
    added = [one for one in outcomes if one.narrowed is not None]
    kinds = sorted({one.extra[0] for one in added if len(one.extra) == 1})
    groups = {"any added evidence": added}
    groups |= {f"{kind} alone": [one for one in added if one.extra == (kind,)] for kind in kinds}
    return [(n, len(g), float(np.mean([one.narrowed for one in g]))) for n, g in groups.items()]


def main() -> None:
    """Print the table."""
    outcomes = simulate(int(sys.argv[1]) if len(sys.argv) > 1 else 300)
    print("| | springs | inside the 95 % band |\n|---|---|---|")
    for name, count, share in inside_by_group(outcomes):
        print(f"| {name} | {count} | {share:.1%} |")
    print("\n| | sets | band left, mean |\n|---|---|---|")
    for name, count, left in left_by_evidence(outcomes):
        print(f"| {name} | {count} | {left:.2f} |")
    print(f"\nquestioned: {np.mean([one.questioned for one in outcomes]):.1%}")


if __name__ == "__main__":
    main()
