"""What may lie beside the spring, by name: sizes, tolerances, heights, and where they come from."""

from dataclasses import dataclass

ID1 = "ISO/IEC 7810 ID-1"


@dataclass(frozen=True, slots=True)
class Reference:
    """What lies beside the spring.

    Attributes
    ----------
    kind : str
        As named on the command line: ``card``, ``coin:EUR-2``, ``ruler:mm``, ``paper:A4``.
    size_mm : tuple of float
        Diameter, or long and short side, or distance of graduations [mm].
    u_mm : float
        Standard uncertainty of the size, from its tolerance and wear [mm].
    thickness_mm : float
        Height of the outline seen above the table [mm].
    source : str
        Where the numbers come from.
    """

    kind: str
    size_mm: tuple[float, ...]
    u_mm: float
    thickness_mm: float
    source: str


# Unused cards: 85.47 to 85.72 mm, taken as equally likely, so u = 0.072 mm.
CARD = Reference("card", (85.60, 53.98), 0.072, 0.76, ID1)

# ISO 216 allows 2 mm; office paper is cut far better, but that may not be assumed: half of the
# limit, equally likely. The spring lies on the sheet.
A4 = Reference("paper:A4", (297.0, 210.0), 0.58, 0.0, "ISO 216")
A5 = Reference("paper:A5", (210.0, 148.0), 0.58, 0.0, "ISO 216")
A6 = Reference("paper:A6", (148.0, 105.0), 0.43, 0.0, "ISO 216")
LETTER = Reference("paper:Letter", (279.4, 215.9), 0.58, 0.0, "8.5 x 11 in, from memory")

# The sizes of the A series have one shape: without a name the commonest is meant, and said so.
UNNAMED = (CARD, A4, LETTER)


def named(kind: str) -> Reference | None:
    """Return the reference of a name, or None where there is none of that name.

    Examples
    --------
    >>> named("paper:letter").size_mm
    (279.4, 215.9)
    >>> named("banknote") is None
    True
    """
    known = {r.kind.lower(): r for r in (CARD, A4, A5, A6, LETTER)}
    return known.get(kind.lower())


def kinds() -> tuple[str, ...]:
    """Return every name that `named` knows."""
    return tuple(r.kind for r in (CARD, A4, A5, A6, LETTER))
