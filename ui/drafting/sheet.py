"""A sheet of strokes and words, as SVG for the page and as a drawing for the report."""

from collections.abc import Sequence
from dataclasses import dataclass
from types import MappingProxyType
from xml.sax.saxutils import escape

import numpy as np
from numpy.typing import NDArray
from reportlab.graphics.shapes import Drawing, Polygon, PolyLine, Rect, String
from reportlab.lib.colors import HexColor

Array = NDArray[np.float64]

INK, PAPER, RULE = "#1C2830", "#FBFAF6", "#1B5E72"
TEXT_PT = 12.0
#: What takes their places by night, as in `look.toml`; the wire stays light, and its edges dark.
NIGHT = MappingProxyType({PAPER: "#1D272E", RULE: "#6FC3D6"})
NIGHT_INK = "#E8E9E3"


@dataclass(frozen=True, slots=True)
class Stroke:
    """A line through points (N, 2) [pt], y upwards, with round ends or not; or a filled area."""

    points: Array
    colour: str
    width: float
    fill: bool = False
    round: bool = False


@dataclass(frozen=True, slots=True)
class Words:
    """A text at a point [pt]: its middle, or its start or end."""

    text: str
    at: tuple[float, float]
    anchor: str = "middle"


@dataclass(frozen=True, slots=True)
class Sheet:
    """What is drawn on a sheet of a size [pt], in that order."""

    size: tuple[float, float]
    parts: tuple[Stroke | Words, ...]
    title: str


def svg(sheet: Sheet, theme: str = "light") -> str:
    """Return the sheet as an SVG picture on paper of its own, ``light`` or ``dark``."""
    wide, tall = sheet.size
    body = "".join(_element(part, tall, theme == "dark") for part in sheet.parts)
    paper = NIGHT[PAPER] if theme == "dark" else PAPER
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide:.0f} {tall:.0f}" '
        f'width="{wide:.0f}" height="{tall:.0f}" role="img">'
        f"<title>{escape(sheet.title)}</title>"
        f'<rect width="100%" height="100%" rx="8" fill="{paper}"/>{body}</svg>'
    )


def _element(part: Stroke | Words, tall: float, night: bool) -> str:
    if isinstance(part, Words):
        x, y = part.at
        ink = NIGHT_INK if night else INK
        return (
            f'<text x="{x:.1f}" y="{tall - y:.1f}" text-anchor="{part.anchor}" fill="{ink}" '
            f'font-family="sans-serif" font-size="{TEXT_PT:g}">{escape(part.text)}</text>'
        )
    points = " ".join(f"{x:.1f},{tall - y:.1f}" for x, y in part.points)
    colour = NIGHT.get(part.colour, part.colour) if night else part.colour
    if part.fill:
        return f'<polygon points="{points}" fill="{colour}"/>'
    cap = ' stroke-linecap="round"' if part.round else ""
    return (
        f'<polyline points="{points}" fill="none" stroke="{colour}" '
        f'stroke-width="{part.width:.2f}" stroke-linejoin="round"{cap}/>'
    )


def flowable(sheet: Sheet, font: str, size: float = TEXT_PT) -> Drawing:
    """Return the sheet as a drawing of the PDF library, its words in a font that is registered."""
    out = Drawing(*sheet.size)
    paper = Rect(0, 0, *sheet.size, rx=6, ry=6, fillColor=HexColor(PAPER), strokeColor=None)
    out.add(paper)
    for part in sheet.parts:
        if isinstance(part, Words):
            x, y = part.at
            out.add(
                String(
                    x,
                    y,
                    part.text,
                    fontName=font,
                    fontSize=size,
                    textAnchor=part.anchor,
                    fillColor=HexColor(INK),
                )
            )
        elif part.fill:
            shape = Polygon(_flat(part.points), fillColor=HexColor(part.colour), strokeColor=None)
            out.add(shape)
        else:
            colour = HexColor(part.colour)
            line = PolyLine(_flat(part.points), strokeColor=colour, strokeWidth=part.width)
            line.strokeLineJoin, line.strokeLineCap = 1, int(part.round)
            out.add(line)
    return out


def _flat(points: Array) -> Sequence[float]:
    return [float(v) for v in points.ravel()]
