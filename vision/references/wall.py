"""How far the table slants under a coin, by its rim and its outline as read on all rays.

Where both are told apart, the wall between them tells the slant to first order; see
`vision.references.rim_reader`. The rim alone tells its size by how oval it is, and so do the rings
of the face.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vision.reference import Reference
from vision.references.circles import Ring, weights
from vision.references.lattice import Weighed, axes_of
from vision.references.rim_reader import Rims
from vision.references.slant import (
    U_CONCENTRIC_MM,
    U_RING_PX,
    Outline,
    Told,
    circle_reach,
    likeliest_slant,
    outline_of,
)
from vision.references.view import View

Array = NDArray[np.float64]

#: By how much a coin's edges are rounded, above and below, and how well that is known [mm].
EDGE_MM, U_EDGE_MM = 0.12, 0.08
#: As how many stations count that tell apart from each other; what no reading is better than, and
#: no coin rounder [parts of the radius].
INDEPENDENT, FINEST, U_OVAL = 10.0, 0.0015, 0.0008
#: A reading off by more than this many times what it claims counts less.
FAR_OFF = 2.0


@dataclass(frozen=True, slots=True)
class _Read:
    """A coin's rim, outline and rings, and what is known of it before its slant: see `slant`."""

    rim: Outline
    outline: Outline
    inner: tuple[Outline, ...]
    place: Array
    far: float
    radius: float
    height: float
    sizes: tuple[float, ...]

    @property
    def units(self) -> Array:
        """Scale of each unknown: place, distance, oval, edge [mm]; size, place, oval of rings."""
        oval = self.rim.u_oval
        scale = [0.1 * oval, 0.1 * oval, 0.05, oval, oval, U_EDGE_MM]
        for ring in self.inner:
            scale += [0.05, U_CONCENTRIC_MM, U_CONCENTRIC_MM, ring.u_oval, ring.u_oval]
        return np.array(scale)

    def rows(self, normals: Array, x: Array) -> Array:
        """Return the rows (T, M) at slants (T, 2) with unknowns (T, K) in their units."""
        first, second, third = axes_of(normals)
        v = x * self.units
        foot = np.column_stack([self.place + v[:, :2], np.ones(len(v))])
        foot = foot * self.far * np.exp(v[:, 2:3])
        edge, whole = EDGE_MM + v[:, 5:6], np.full(len(v), self.radius)
        upper, lower = foot + (self.height - edge) * third, foot + edge * third
        rim = circle_reach(first, second, upper, whole, self.rim.normals)
        reach = np.maximum(
            circle_reach(first, second, upper, whole, self.outline.normals),
            circle_reach(first, second, lower, whole, self.outline.normals),
        )
        found = [
            self.rim.off(rim, v[:, 3:5]),
            self.outline.off(reach, v[:, 3:5]),
            x[:, 3:6],
        ]
        top = foot + self.height * third
        for k, (ring, size) in enumerate(zip(self.inner, self.sizes, strict=True)):
            w = v[:, 6 + 5 * k : 11 + 5 * k]
            middle = top + w[:, 1:2] * first + w[:, 2:3] * second
            reach = circle_reach(first, second, middle, size * np.exp(w[:, 0]), ring.normals)
            found += [ring.off(reach, w[:, 3:5]), x[:, 7 + 5 * k : 11 + 5 * k]]
        return np.concatenate(found, axis=1)


def slant_by_wall(
    view: View,
    rim: Ring,
    read: Rims,
    within: tuple[Ring, ...],
    reference: Reference,
    told: Told | None = None,
) -> Weighed:
    """Return the slant of a coin whose rim and outline were read, by mean and covariance.

    Parameters
    ----------
    view : View
        The photo.
    rim : Ring
        The ring along which it was read.
    read : Rims
        What was read.
    within : tuple of Ring
        Rings of its face.
    reference : Reference
        The coin.
    told : Told or None
        What else tells the slant.
    """
    read = read.in_pairs()
    radius, flat = reference.size_mm[0] / 2.0, float(np.mean(read.rim_px))
    seen = _Read(
        _outline(view, rim, read.angle, read.rim_px, read.u_rim_px),
        _outline(view, rim, read.angle, read.outline_px, read.u_outline_px),
        tuple(outline_of(r, U_RING_PX, view.centre_px, view.focal_px) for r in within),
        (rim.middle - view.centre_px) / view.focal_px,
        view.focal_px * radius / flat,
        radius,
        reference.thickness_mm,
        tuple(radius * r.radius_px / flat for r in within),
    )
    return likeliest_slant(seen, told)


def _outline(view: View, ring: Ring, angle: Array, radius: Array, u: Array) -> Outline:
    """Return readings on rays from a ring's centre as a camera of focal length one sees them."""
    shape = np.linalg.lstsq(weights(angle), radius, rcond=None)[0]
    cos, sin = np.cos(angle), np.sin(angle)
    slope = np.column_stack([-sin, cos, -2 * np.sin(2 * angle), 2 * np.cos(2 * angle)])
    across = slope @ shape[1:]
    normals = np.column_stack([radius * cos + across * sin, radius * sin - across * cos])
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    points = ring.centre + radius[:, None] * np.column_stack([cos, sin])
    off = np.abs(radius - weights(angle) @ shape)
    least = np.hypot(np.sqrt(2.0) * u, FINEST * shape[0])
    least *= np.maximum(off / (FAR_OFF * least), 1.0)
    least *= np.sqrt(len(angle) / INDEPENDENT)
    return Outline(
        (points - view.centre_px) / view.focal_px,
        normals,
        least / view.focal_px,
        U_OVAL * float(shape[0]) / view.focal_px,
    )
