"""Tensile strength of spring wire by material and size, and the share of it that torsion may use.

A table between its own sizes (straight in log-log), the power law A / d^m beyond them.

References
----------
.. [1] ASTM A228, A227 and A313 as quoted by a wire mill's data pages (second-hand copies).
.. [2] Shigley, Mechanical Engineering Design, 10e, tables 10-4, 10-5, 10-6. Music wire, oil
   tempered and hard drawn constants read in worked solutions; the other rows from memory.
.. [3] ASTM A231 (copy of SA-231).
"""

import math
from dataclasses import dataclass

import numpy as np

from mechanics.check import require_positive
from mechanics.units import MM_PER_INCH

MPA_PER_KSI = 6.894757293168


@dataclass(frozen=True, slots=True)
class PowerLaw:
    """S = A / d^m over a range of wire: A [MPa mm^m], m [-], sizes [mm]. A minimum strength."""

    A: float
    m: float
    smallest_mm: float
    largest_mm: float


@dataclass(frozen=True, slots=True)
class Strength:
    """Tensile strength as supplied.

    Attributes
    ----------
    low_MPa, high_MPa : float
        The standard's minimum and maximum, or the law and 12 % above it [MPa].
    extrapolated : bool
        The size lies outside every source.
    source : str
        Where it comes from.
    """

    low_MPa: float
    high_MPa: float
    extrapolated: bool
    source: str


@dataclass(frozen=True, slots=True)
class TorsionShare:
    """Shares of the tensile strength in torsion [-].

    Attributes
    ----------
    allowable : float
        Static design limit before set is removed [2]_ (table 10-6).
    elastic_low, elastic_high : float
        Range of the elastic limit [2]_ (table 10-5): beyond it a spring takes a set.
    """

    allowable: float
    elastic_low: float
    elastic_high: float


#: Width of a standard's strength range over its minimum where only the minimum is known:
#: the tables of A228 and A227 run from 10 to 15 % [1]_.
_RANGE_ABOVE_MINIMUM = 0.12

LAWS = {
    "music wire": (PowerLaw(2211, 0.145, 0.10, 6.5),),
    "oil tempered": (PowerLaw(1855, 0.187, 0.5, 12.7),),
    "hard drawn": (PowerLaw(1783, 0.190, 0.7, 12.7),),
    "chrome-vanadium": (PowerLaw(2005, 0.168, 0.8, 11.1),),
    "chrome-silicon": (PowerLaw(1974, 0.108, 1.6, 9.5),),
    "302 stainless": (
        PowerLaw(1867, 0.146, 0.3, 2.5),
        PowerLaw(2065, 0.263, 2.5, 5.0),
        PowerLaw(2911, 0.478, 5.0, 10.0),
    ),
    "phosphor bronze": (
        PowerLaw(1000, 0.0, 0.1, 0.6),
        PowerLaw(913, 0.028, 0.6, 2.0),
        PowerLaw(932, 0.064, 2.0, 7.5),
    ),
}

#: Steps of size [in] with minimum and maximum [ksi] [1]_. The copy prints 255 for the maximum at
#: 0.036, a misprint for 355.
_A228 = """
.004 439 485  .006 415 459  .008 399 441  .010 387 428  .012 377 417  .014 369 408  .016 362 400
.018 356 393  .020 350 387  .024 341 377  .028 333 368  .032 327 361  .036 321 355  .040 315 349
.045 309 342  .051 303 335  .059 296 327  .063 293 324  .072 287 317  .080 282 312  .090 276 305
.100 271 300  .112 266 294  .125 261 288  .140 256 283  .156 251 277  .177 245 270  .192 241 267
.207 238 264  .225 235 260  .250 230 255
"""
#: Class I minimum to class II maximum: which class a found spring has is not known.
_A227 = """
.020 283 364  .023 279 360  .026 275 356  .029 271 352  .032 266 347  .035 261 342  .041 255 332
.048 248 325  .054 243 316  .062 237 308  .072 232 301  .080 227 296  .092 220 287  .106 216 281
.120 210 273  .135 206 269  .148 203 265  .162 200 261  .177 195 256  .192 192 251  .207 190 247
.225 186 243  .250 182 239  .312 174 227  .375 167 220  .438 165 216  .500 156 205
"""
_A313 = """
.009 325 355  .010 320 350  .012 316 346  .014 312 342  .016 308 338  .018 304 334  .020 300 330
.024 292 322  .028 289 318  .031 285 315  .034 282 310  .037 280 308  .041 275 304  .045 272 300
.050 267 295  .054 265 293  .058 261 289  .063 258 285  .070 252 281  .075 250 278  .080 246 275
"""
#: Sizes [mm] and strengths [MPa] [3]_.
_A231 = """
0.50 2060 2260  0.60 2030 2220  0.70 2000 2160  0.80 1980 2140  0.90 1960 2120  1.00 1940 2100
1.20 1900 2060  1.40 1860 2020  1.60 1820 1980  1.80 1800 1960  2.00 1780 1930  2.50 1720 1860
3.00 1660 1800  3.50 1620 1760  4.00 1580 1720  5.00 1520 1640  6.00 1460 1600  8.00 1400 1540
10.00 1360 1500  12.00 1320 1460
"""


def _rows(text: str, mm: float, mpa: float) -> tuple[tuple[float, float, float], ...]:
    numbers = [float(word) for word in text.split()]
    return tuple(
        (size * mm, low * mpa, high * mpa)
        for size, low, high in zip(numbers[::3], numbers[1::3], numbers[2::3], strict=True)
    )


TABLES = {
    "music wire": ("ASTM A228 (supplier copy)", _rows(_A228, MM_PER_INCH, MPA_PER_KSI)),
    "hard drawn": ("ASTM A227, both classes (supplier copy)", _rows(_A227, 25.4, MPA_PER_KSI)),
    "302 stainless": ("ASTM A313 class 1 (supplier copy)", _rows(_A313, 25.4, MPA_PER_KSI)),
    "chrome-vanadium": ("ASTM A231 (copy)", _rows(_A231, 1.0, 1.0)),
}

#: Music, hard drawn, oil tempered, chrome-vanadium and chrome-silicon elastic ranges read in
#: Shigley table 10-5; 45 % for music wire read in problem 10-3; the rest from memory.
SHARES = {
    "music wire": TorsionShare(0.45, 0.45, 0.60),
    "hard drawn": TorsionShare(0.45, 0.45, 0.55),
    "oil tempered": TorsionShare(0.50, 0.45, 0.50),
    "chrome-vanadium": TorsionShare(0.50, 0.65, 0.75),
    "chrome-silicon": TorsionShare(0.50, 0.65, 0.75),
    "302 stainless": TorsionShare(0.35, 0.45, 0.55),
    "316 stainless": TorsionShare(0.35, 0.40, 0.55),
    "17-7PH stainless": TorsionShare(0.35, 0.55, 0.60),
    "phosphor bronze": TorsionShare(0.35, 0.45, 0.50),
    "spring brass": TorsionShare(0.35, 0.35, 0.50),
    "beryllium copper": TorsionShare(0.35, 0.45, 0.55),
}

#: Wires without a law of their own borrow the nearest in strength, with a range to match
#: (from memory): factor on the minimum, factor on the maximum, name of the lender.
_BORROWED = {
    "316 stainless": (0.80, 0.95, "302 stainless"),
    "17-7PH stainless": (0.95, 1.10, "302 stainless"),
    "spring brass": (0.75, 1.00, "phosphor bronze"),
    "beryllium copper": (1.10, 1.50, "phosphor bronze"),
}


def power_law_MPa(name: str, d: float) -> tuple[float, bool]:
    """Return A / d^m and whether the size lies outside the law's range [2]_.

    Parameters
    ----------
    name : str
        Family of wire, a key of `LAWS`.
    d : float
        Wire diameter [mm].

    Examples
    --------
    Shigley problem 10-3, music wire of 2.5 mm:

    >>> power_law_MPa("music wire", 2.5)[0]
    1935.9
    """
    require_positive(wire_diameter_mm=d)
    laws = LAWS[name]
    outside = not laws[0].smallest_mm <= d <= laws[-1].largest_mm
    law = next((one for one in laws if d <= one.largest_mm), laws[-1])
    # Beyond its range the law is held at its last size: an extrapolated strength is no strength.
    size = min(max(d, law.smallest_mm), law.largest_mm)
    return float(law.A / size**law.m), outside


def tensile_strength(name: str, d: float) -> Strength:
    """Return the range of tensile strength of a wire as supplied.

    Parameters
    ----------
    name : str
        Family of wire, a key of `SHARES`.
    d : float
        Wire diameter [mm].

    Raises
    ------
    ValueError
        If the family is not known or the diameter not positive.
    """
    require_positive(wire_diameter_mm=d)
    if name not in SHARES:
        raise ValueError(f"no strength is known for {name!r}; choose one of: {', '.join(SHARES)}")
    if name in _BORROWED:
        low, high, lender = _BORROWED[name]
        lent = tensile_strength(lender, d)
        source = f"assumed from {lender}, from memory"
        return Strength(low * lent.low_MPa, high * lent.high_MPa, lent.extrapolated, source)
    if name in TABLES:
        source, rows = TABLES[name]
        if rows[0][0] <= d <= rows[-1][0]:
            sizes, lows, highs = (np.log(column) for column in zip(*rows, strict=True))
            at = math.log(d)
            low = math.exp(float(np.interp(at, sizes, lows)))
            return Strength(low, math.exp(float(np.interp(at, sizes, highs))), False, source)
    low, outside = power_law_MPa(name, d)
    return Strength(low, (1.0 + _RANGE_ABOVE_MINIMUM) * low, outside, "Shigley table 10-4")


def allowable_shear_MPa(name: str, d: float) -> float:
    """Return the static design limit in torsion before set is removed [2]_, in MPa.

    Parameters
    ----------
    name : str
        Family of wire, a key of `SHARES`.
    d : float
        Wire diameter [mm].
    """
    return SHARES[name].allowable * tensile_strength(name, d).low_MPa
