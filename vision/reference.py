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

# Diameter and height of the rim [mm] by ISO 4217 code and face value; round coins only.
_COINS: tuple[tuple[str, str, str], ...] = (
    (
        "EUR",
        "0.01 16.25 1.67, 0.02 18.75 1.67, 0.05 21.25 1.67, 0.1 19.75 1.93, 0.2 22.25 2.14, "
        "0.5 24.25 2.38, 1 23.25 2.33, 2 25.75 2.20",
        "Council Regulation (EC) 975/98",
    ),
    (
        "USD",
        "0.01 19.05 1.52, 0.05 21.21 1.95, 0.1 17.91 1.35, 0.25 24.26 1.75, 0.5 30.61 2.15, "
        "1 26.49 2.00",
        "US Mint, coin specifications",
    ),
    (
        "GBP",
        "0.01 20.3 1.65, 0.02 25.9 2.03, 0.05 18.0 1.70, 0.1 24.5 1.85, 2 28.4 2.50",
        "published tables, second-hand",
    ),
    (
        "CAD",
        "0.05 21.2 1.76, 0.1 18.03 1.22, 0.25 23.88 1.58, 1 26.5 1.95, 2 28.0 1.75",
        "published tables, second-hand; 0.25 and 1 from memory",
    ),
    (
        "AUD",
        "0.05 19.41 1.3, 0.1 23.60 1.9, 0.2 28.52 2.3, 1 25.00 2.8, 2 20.50 3.0",
        "struck sizes, second-hand; thickness from memory",
    ),
    (
        "JPY",
        "1 20.0 1.5, 5 22.0 1.5, 10 23.5 1.5, 50 21.0 1.7, 100 22.6 1.7, 500 26.5 1.8",
        "Japan Mint; thickness above 5 from memory",
    ),
    (
        "INR",
        "1 20.0 1.5, 2 23.0 1.7, 5 25.0 1.9, 10 27.0 1.8",
        "Gazette G.S.R. 184(E) of 2019, second-hand; thickness from memory",
    ),
    (
        "BRL",
        "0.01 17.0 1.65, 0.05 22.0 1.65, 0.1 20.0 2.23, 0.25 25.0 2.25, 0.5 23.0 2.85, 1 27.0 1.95",
        "Banco Central do Brasil, second-hand",
    ),
    (
        "MXN",
        "1 21.0 1.6, 2 23.0 1.7, 5 25.5 1.9, 10 28.0 2.2",
        "published tables, second-hand; 1, 2 and thickness from memory",
    ),
    (
        "CHF",
        "0.05 17.15 1.25, 0.1 19.15 1.45, 0.2 21.05 1.65, 0.5 18.20 1.25, 1 23.20 1.55, "
        "2 27.40 2.15, 5 31.45 2.35",
        "published tables, second-hand",
    ),
)
# No published tolerance was seen: 0.05 mm, equally likely, and wear (common practice, no source).
# The edge that is seen is that of a rounded rim: 80 euro coins in two photographs scattered by
# 0.13 mm about their sizes.
U_COIN_MM = 0.13


def _coins() -> tuple[Reference, ...]:
    found = []
    for currency, sizes, source in _COINS:
        for value, diameter, height in (entry.split() for entry in sizes.split(", ")):
            kind = f"coin:{currency}-{value}"
            found.append(Reference(kind, (float(diameter),), U_COIN_MM, float(height), source))
    return tuple(found)


COINS = _coins()

# Distance of graduations; the kind says the unit, the photo which part of it. Pitch: steel and
# plastic rules are good to 0.15 to 0.5 mm over 150 (EU classes I and II), so u = 0.15 %. The height
# of the graduated face is that of a steel rule.
U_PITCH, RULER_MM = 0.0015, 0.7
MPE = "EU length measures, class I to II"
RULER_MM_REF = Reference("ruler:mm", (1.0,), U_PITCH, RULER_MM, MPE)
RULER_INCH_REF = Reference("ruler:inch", (25.4 / 16.0,), U_PITCH * 25.4 / 16.0, RULER_MM, MPE)

# The sizes of the A series have one shape: without a name the commonest is meant, and said so.
UNNAMED = (CARD, A4, LETTER)

# The length of the printed sheet's check line. Printers keep to their size within half a per cent
# (common practice, no source) unless they are told to fit the page; a line that was measured with a
# ruler is known to a quarter of a millimetre, equally likely either way.
SHEET = Reference("sheet", (150.0,), 0.75, 0.0, "printed at 100 %, not checked")
U_CHECKED_MM, CHECKED = 0.15, "check line measured after printing"
RULERS = (RULER_MM_REF, RULER_INCH_REF)
ALL = (CARD, *COINS, *RULERS, A4, A5, A6, LETTER, SHEET)


def named(kind: str) -> Reference | None:
    """Return the reference of a name, or None where there is none of that name.

    Examples
    --------
    >>> named("paper:letter").size_mm
    (279.4, 215.9)
    >>> named("coin:EUR-0.50").kind
    'coin:EUR-0.5'
    >>> named("sheet:149.3").size_mm
    (149.3,)
    >>> named("banknote") is None
    True
    """
    shape, _, length = kind.strip().lower().partition(":")
    if shape == SHEET.kind and length:
        return _checked_sheet(length)
    return {r.kind.lower(): r for r in ALL}.get(_plain(kind))


def _checked_sheet(length: str) -> Reference | None:
    """Return the sheet whose check line has a length as printed [mm], None where none can."""
    try:
        printed = float(length)
    except ValueError:
        return None
    if not 0.5 < printed / SHEET.size_mm[0] < 1.5:
        return None
    return Reference(SHEET.kind, (printed,), U_CHECKED_MM, 0.0, CHECKED)


def _plain(kind: str) -> str:
    """Return a name in small letters, a coin's value without needless zeros."""
    shape, _, which = kind.strip().lower().partition(":")
    currency, dash, value = which.partition("-")
    try:
        return f"{shape}:{currency}-{float(value):g}" if dash else kind.strip().lower()
    except ValueError:
        return kind


def kinds() -> tuple[str, ...]:
    """Return every name that `named` knows."""
    return tuple(r.kind for r in ALL)
