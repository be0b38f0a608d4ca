"""Coins of one photo by the scale from one of them: ``python -m ui.coin_check PHOTO``.

Every coin is given the size that its currency has nearest to what was measured; the table tells how
far it is off. A photo of a handful of coins, one of them named, so tests the scale.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

import numpy as np
import typer

from vision.photo import Photo, read
from vision.reference import COINS, Reference, named
from vision.references import coin
from vision.references.view import view_of
from vision.refusal import Refusal
from vision.scale import Scale, find_scale


@dataclass(frozen=True, slots=True)
class Checked:
    """One coin.

    Attributes
    ----------
    middle_px : tuple of float
        Where it lies [px].
    diameter_mm : float
        As measured [mm].
    nearest : Reference
        The coin of that currency whose size is nearest.
    is_scale : bool
        Whether it is the coin that gave the scale.
    """

    middle_px: tuple[float, float]
    diameter_mm: float
    nearest: Reference
    is_scale: bool

    @property
    def error(self) -> float:
        """Measured over true diameter, less one [-]."""
        return self.diameter_mm / self.nearest.size_mm[0] - 1.0


def check_coins(photo: Photo, scale: Scale, among: Sequence[Reference]) -> list[Checked]:
    """Return every coin of a photo, measured through the camera of its scale.

    Parameters
    ----------
    photo : Photo
        The photo.
    scale : Scale
        From one of the coins.
    among : sequence of Reference
        What the coins may be.
    """
    view = view_of(photo)
    own = scale.outline_px.mean(axis=0)
    found = []
    for rim in coin.find_rims(view):
        size = coin.diameter(view, rim, scale.camera, scale.reference.thickness_mm)
        nearest = min(among, key=lambda r: abs(r.size_mm[0] - size))
        # Its own height, now that it is known.
        size = coin.diameter(view, rim, scale.camera, nearest.thickness_mm)
        x, y = rim.middle
        is_scale = bool(np.linalg.norm(rim.middle - own) < 0.5 * rim.radius_px)
        found.append(Checked((float(x), float(y)), size, nearest, is_scale))
    return found


def table(checked: Sequence[Checked]) -> str:
    """Return the table as text, with what nine in ten keep within."""
    lines = [f"{'x':>6}{'y':>7}{'measured':>11}  {'nearest coin':<16}{'error':>7}"]
    for one in checked:
        x, y = one.middle_px
        mark = "  gave the scale" if one.is_scale else ""
        lines.append(
            f"{x:6.0f}{y:7.0f}{one.diameter_mm:8.2f} mm  {one.nearest.kind:<16}"
            f"{100.0 * one.error:+6.2f}%{mark}"
        )
    others = np.array([one.error for one in checked if not one.is_scale])
    if len(others):
        lines.append(
            f"{len(others)} others: median {100 * np.median(others):+.2f} %, median size of the "
            f"error {100 * np.median(np.abs(others)):.2f} %, within 1 %: "
            f"{100 * np.mean(np.abs(others) < 0.01):.0f} %, worst "
            f"{100 * others[np.abs(others).argmax()]:+.2f} %"
        )
    return "\n".join(lines)


def main(
    photo: Annotated[Path, typer.Argument(help="A photo of several coins.")],
    reference: Annotated[str, typer.Option(help="The coin that gives the scale.")] = "coin:EUR-2",
    only: Annotated[str, typer.Option(help="Coins that may lie there: EUR-0.1,EUR-0.2.")] = "",
) -> None:
    """Print the coins of a photo, measured by the scale from one of them."""
    seen, wanted = read(photo), named(reference)
    scale = seen if isinstance(seen, Refusal) else find_scale(seen, reference)
    if isinstance(seen, Refusal) or isinstance(scale, Refusal) or wanted is None:
        typer.echo(scale.message if isinstance(scale, Refusal) else "not a coin", err=True)
        raise typer.Exit(3)
    kinds = {f"coin:{k.strip()}" for k in only.split(",") if k.strip()}
    currency = wanted.kind.partition("-")[0] + "-"
    among = [c for c in COINS if c.kind in kinds or (not kinds and c.kind.startswith(currency))]
    camera = scale.camera
    typer.echo(f"slant {camera.tilt_deg:.1f} degrees")
    typer.echo(table(check_coins(seen, scale, among)))


if __name__ == "__main__":
    typer.run(main)
