"""How long the fuzzing looks: moderately here, ``make fuzz`` for long."""

import os
from collections.abc import Callable
from typing import TypeVar

from hypothesis import HealthCheck, settings

#: Inputs tried by each test; the environment names a larger number.
COUNT = int(os.environ.get("COILRECKON_FUZZ", "200"))
#: Nothing may take longer, whatever it is given [ms].
LONGEST_MS = 20_000


Result = TypeVar("Result")


def value_or_none(act: Callable[..., Result], *given: object) -> Result | None:
    """Return what something gives; where it refuses, that must be the usual error with words."""
    try:
        return act(*given)
    except ValueError as problem:
        said = str(problem).strip()
    assert said
    return None


def fuzz(share: float = 1.0) -> settings:
    """Return the settings of a test whose inputs cost so much that only a share is tried."""
    return settings(
        deadline=LONGEST_MS,
        suppress_health_check=list(HealthCheck),
        # The usual run is the same every time, so that it fails for a reason of its own.
        derandomize="COILRECKON_FUZZ" not in os.environ,
        max_examples=max(int(share * COUNT), 5),
        database=None,
    )
