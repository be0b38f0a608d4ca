"""How the wire's centre line moves with each value of its helix: derivatives of `vision.helix`."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vision.helix import (
    BEND,
    NAMES,
    End,
    Helix,
    along_axis,
    frame,
    pitch_along,
    radius_at,
    turns_of,
)

Array = NDArray[np.float64]

_AT = {name: k for k, name in enumerate(NAMES)}


def moves_of_line(helix: Helix) -> Array:
    """Return how the sampled centre line moves with each value, (3, L, 16) [mm per unit].

    The samples, `vision.helix.turns_of`, move along the wire with its ends. Values that do nothing,
    as those of dead turns at an open end, have nought.
    """
    turn = turns_of(helix)
    pitch, x = pitch_along(helix, turn), along_axis(helix, turn)
    lift, out = _moves_in_frame(helix, turn, pitch, x)
    _, axes = frame(helix)
    moves = np.tensordot(axes.T, out, axes=1)
    moves[2] += lift
    moves[0, :, _AT["x"]] = moves[1, :, _AT["y"]] = 1.0
    return np.asarray(moves)


def _moves_in_frame(helix: Helix, turn: Array, pitch: Array, x: Array) -> tuple[Array, Array]:
    """Return moves straight up (16,), of all, and in the axis's frame (3, L, 16), of the line."""
    r, slope = helix.radius_mm, _slope(helix)
    radius = radius_at(helix, x)
    sin, cos = np.sin(2.0 * np.pi * turn), np.cos(2.0 * np.pi * turn)
    u = 2.0 * (turn - helix.anchor) / helix.span
    to_stop = np.linspace(0.0, 1.0, len(turn))

    # Along the axis, with the radius that goes with it where the coil is a cone.
    along = _moves_along_axis(helix, turn)
    along[:, _AT["start"]] += pitch * (1.0 - to_stop)
    along[:, _AT["stop"]] += pitch * to_stop
    wider = slope * along
    wider[:, _AT["log_radius"]] += radius
    wider[:, _AT["taper"]] += r * x / _length(helix)
    wider[:, _AT["log_pitch"]] -= slope * x
    out = np.stack([along, -helix.hand * sin[:, None] * wider, cos[:, None] * wider])
    out[1, :, _AT["bow"]] += r * u**2
    out[1, :, _AT["log_radius"]] += helix["bow"] * r * u**2

    # Around it: the samples turn as they move along the wire.
    beside = 4.0 * helix["bow"] * r * u / helix.span - helix.hand * 2.0 * np.pi * radius * cos
    around = np.stack([beside, -2.0 * np.pi * radius * sin])
    out[1:, :, _AT["start"]] += around * (1.0 - to_stop)
    out[1:, :, _AT["stop"]] += around * to_stop

    aside = helix["bow"] * r * u**2 - helix.hand * radius * sin
    lift, turned = _moves_of_frame(helix, np.stack([x, aside, radius * cos]))
    return lift, out + turned


def _moves_of_frame(helix: Helix, local: Array) -> tuple[Array, Array]:
    """Return moves straight up (16,), and of points in the frame (3, L) as it turns (3, L, 16).

    It turns about the upright with the heading, and dips with the cone.
    """
    x, beside, above = local
    r, q = helix.radius_mm, _slope(helix)
    cos, sin = 1.0 / np.hypot(1.0, q), q / np.hypot(1.0, q)
    out = np.zeros((3, len(x), len(NAMES)))
    out[:, :, _AT["heading"]] = [-beside * cos, x * cos - above * sin, beside * sin]
    lift = np.zeros(len(NAMES))
    lift[_AT["log_radius"]] = r / cos
    lift[_AT["log_wire"]] = 0.5 * helix.wire_mm
    for name, steeper in (("log_radius", q), ("taper", r / _length(helix)), ("log_pitch", -q)):
        dip = steeper * cos**2
        out[0, :, _AT[name]] = -above * dip
        out[2, :, _AT[name]] = x * dip
        lift[_AT[name]] += r * sin / cos**2 * dip
    return lift, out


def _length(helix: Helix) -> float:
    """Return the length along the axis over which a cone's taper is told [mm]."""
    return helix.span * float(np.exp(helix["log_pitch"]))


def _slope(helix: Helix) -> float:
    """Return by how much the radius grows along the axis [-]."""
    return helix.radius_mm * helix["taper"] / _length(helix)


@dataclass(frozen=True, slots=True)
class _Dead:
    """How a pitch goes over to that of an end's dead turns, along the wire (L,)."""

    share: Array
    pitch: float
    before: Array

    @property
    def after(self) -> Array:
        return self.before + self.share * (self.pitch - self.before)

    @property
    def moved(self) -> Array:
        """What the pitch loses per turn by which the dead turns are farther away [mm]."""
        return self.share * (1.0 - self.share) / BEND * (self.pitch - self.before)


def _dead(helix: Helix, which: int, distance: Array, before: Array) -> _Dead:
    if helix.ends[which] is End.OPEN:
        return _Dead(np.zeros(len(before)), 0.0, before)
    share = 1.0 / (1.0 + np.exp(np.clip(distance / BEND, -60, 60)))
    return _Dead(share, float(np.exp(helix[("log_pitch_start", "log_pitch_stop")[which]])), before)


def _moves_along_axis(helix: Helix, turn: Array) -> Array:
    """Return how places along the axis move with each value where turns (L,) stay, (L, 16)."""
    w = np.clip(2.0 * (turn - helix.anchor) / helix.span, -1.5, 1.5)
    plain = float(np.exp(helix["log_pitch"]))
    even = w * w - 1.0 / 3.0
    body = plain * (1.0 + helix["ramp"] * w + helix["bulge"] * even)
    first = _dead(helix, 0, turn - helix["start"] - helix["dead_start"], body)
    last = _dead(helix, 1, helix["stop"] - helix["dead_stop"] - turn, first.after)
    alive = (1.0 - first.share) * (1.0 - last.share)
    pitch = np.zeros((len(turn), len(NAMES)))
    for name, change in (
        ("log_pitch", body * alive),
        ("ramp", plain * w * alive),
        ("bulge", plain * even * alive),
        ("log_pitch_start", first.share * first.pitch * (1.0 - last.share)),
        ("log_pitch_stop", last.share * last.pitch),
        ("start", first.moved * (1.0 - last.share)),
        ("dead_start", first.moved * (1.0 - last.share)),
        ("stop", -last.moved),
        ("dead_stop", last.moved),
    ):
        pitch[:, _AT[name]] = change
    out = np.zeros_like(pitch)
    np.cumsum(0.5 * (pitch[1:] + pitch[:-1]) * np.diff(turn)[:, None], axis=0, out=out[1:])
    return np.asarray(out - _at_anchor(helix, turn, out))


def _at_anchor(helix: Helix, turn: Array, rows: Array) -> Array:
    """Return what rows (L, 16) at turns (L,) are at the anchor, (16,), as `numpy.interp` does."""
    k = int(np.clip(np.searchsorted(turn, helix.anchor) - 1, 0, len(turn) - 2))
    t = float(np.clip((helix.anchor - turn[k]) / (turn[k + 1] - turn[k]), 0.0, 1.0))
    return np.asarray(rows[k] + t * (rows[k + 1] - rows[k]))
