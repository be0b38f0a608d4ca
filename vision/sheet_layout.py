"""The printable sheet: markers round a field for the spring, and a line to check the print by.

Lengths are in mm from the middle of the page, x to the right and y up.

The field's colour suits metal. It is a lilac of middle lightness: as far from black as from bright
steel, so that neither edge blooms into it; strong enough in hue that grey steel does not melt into
it, weak enough not to dye its flanks; and its hue lies across from those of brass and copper, and
between those of red and blue paint. It is printed matte, so no lamp is mirrored beside the wire.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

#: Width and height [mm]: ISO 216; 8.5 x 11 in.
PAPERS = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
#: sRGB.
FIELD_RGB = (176, 150, 196)
#: Length of the line to be measured after printing [mm].
CHECK_LINE_MM = 150.0
#: The markers are squares of 6 x 6 modules, the outer ones black: OpenCV's dictionary 4X4_50.
MARKER_MM, MODULES = 18.0, 6
ALONG, DOWN = 5, 7  # markers in a row and in a column
MARGIN_MM, FOOT_MM, QUIET_MM = 11.0, 24.0, 4.0
FIRST_ID = {"A4": 0, "Letter": 20}


@dataclass(frozen=True, slots=True)
class Layout:
    """Where things are on a sheet.

    Attributes
    ----------
    paper : str
        ``A4`` or ``Letter``.
    size_mm : tuple of float
        Width and height of the page [mm].
    ids : tuple of int
        Numbers of the markers; the two papers share none.
    middles : ndarray, shape (N, 2)
        Their middles [mm].
    field : ndarray, shape (2, 2)
        Lower left and upper right corner of the field [mm].
    check_line : ndarray, shape (2, 2)
        Ends of the line to be measured [mm].
    """

    paper: str
    size_mm: tuple[float, float]
    ids: tuple[int, ...]
    middles: Array
    field: Array
    check_line: Array

    def corners(self, number: int) -> Array:
        """Return the corners (4, 2) of a marker [mm]: upper left, then clockwise as printed."""
        half = MARKER_MM / 2.0
        around = np.array([[-half, half], [half, half], [half, -half], [-half, -half]])
        return np.asarray(self.middles[self.ids.index(number)] + around)

    def field_corners(self) -> Array:
        """Return the corners (4, 2) of the field in turn [mm]."""
        (left, low), (right, high) = self.field
        return np.array([[left, low], [right, low], [right, high], [left, high]])


def layout(paper: str) -> Layout:
    """Return the sheet for a paper.

    Parameters
    ----------
    paper : str
        ``A4`` or ``Letter``.

    Raises
    ------
    ValueError
        If there is no sheet for it.
    """
    if paper not in PAPERS:
        raise ValueError(f"there is no sheet for paper {paper!r}; choose {' or '.join(PAPERS)}")
    wide, tall = PAPERS[paper]
    right = wide / 2.0 - MARGIN_MM - MARKER_MM / 2.0
    top = tall / 2.0 - MARGIN_MM - MARKER_MM / 2.0
    bottom = -tall / 2.0 + FOOT_MM + MARKER_MM / 2.0
    # Halves of a millimetre, so that a printer of any fineness need not round.
    x, y = (
        np.round(2.0 * np.linspace(*span)) / 2.0
        for span in ((-right, right, ALONG), (bottom, top, DOWN))
    )
    middles = [(a, b) for b in (top, bottom) for a in x]
    middles += [(a, b) for b in y[1:-1] for a in (-right, right)]
    inner = MARKER_MM / 2.0 + QUIET_MM
    field = np.array([[-right + inner, bottom + inner], [right - inner, top - inner]])
    line = np.array([[-0.5, 0.0], [0.5, 0.0]]) * CHECK_LINE_MM + [0.0, -tall / 2.0 + 15.0]
    ids = tuple(range(FIRST_ID[paper], FIRST_ID[paper] + len(middles)))
    return Layout(paper, (wide, tall), ids, np.array(middles), field, line)


def layout_of(number: int) -> Layout | None:
    """Return the sheet that a marker belongs to, or None."""
    return next((s for s in map(layout, PAPERS) if number in s.ids), None)
