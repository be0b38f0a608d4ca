"""How far the table slants under a coin, as far as its outlines tell.

Seen at a slant, the outline of a coin is not one ellipse. It is the common outline of the upper rim
and of the foot, and the wall between them makes up for nearly all of the foreshortening up to 12
degrees; or it is the upper rim alone, where the wall is lost in its shadow. Rings within the upper
face, which have no wall, tell the slant's size, and how they sit in the outline its direction. A
circle has two poses, mirrored at the line of sight. So the answer is sought over all slants and
walls at once instead of from one start.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vision.reference import Reference
from vision.references.circles import Ring
from vision.references.lattice import axes_of, lattice, lattice_along, weighed
from vision.references.view import View

Array = NDArray[np.float64]

STEEPEST, STEP = 0.48, 0.06  # sine of the slant
WALLS = (0.0, 0.5, 1.0)
POINTS, INDEPENDENT = 36, 8.0
# Rounded rims, side light and wear pull the edge of a coin more than that of a card.
U_RIM_PX, U_RING_PX = 0.4, 0.7
U_CONCENTRIC_MM, U_ROUND_PX = 0.06, 0.4
ROUGH = 3.0  # an edge that scatters is off in long waves too


@dataclass(frozen=True, slots=True)
class Slant:
    """How the table slants.

    Attributes
    ----------
    normal : ndarray, shape (2,)
        The table's normal across the camera's axis [-].
    cov : ndarray, shape (2, 2)
        Its covariance.
    wall, u_wall : float
        How much of the side wall belongs to the outline, from 0, where it is as dark as its shadow,
        to 1, and its standard uncertainty [-].
    """

    normal: Array
    cov: Array
    wall: float
    u_wall: float


@dataclass(frozen=True, slots=True)
class Told:
    """What something else than the coin tells of the slant, as a quadratic about one.

    Attributes
    ----------
    normal : ndarray, shape (2,)
        A slant: the table's normal across the camera's axis [-].
    information : ndarray, shape (2, 2)
        Inverse of the covariance by which it is told.
    pull : ndarray, shape (2,)
        Half the slope there of twice the log-likelihood: away from `normal` where that is not the
        likeliest.
    """

    normal: Array
    information: Array
    pull: Array

    def likeliest(self) -> tuple[Array, Array]:
        """Return the slant that it tells by itself (2,), and its covariance (2, 2)."""
        cov = np.asarray(np.linalg.inv(self.information), np.float64)
        return self.normal + cov @ self.pull, cov

    def chi2(self, normals: Array) -> Array:
        """Return the misfit (T,) of slants (T, 2)."""
        off = normals - self.normal
        square = ((off @ self.information) * off).sum(axis=1)
        return np.asarray(square - 2.0 * off @ self.pull)


@dataclass(frozen=True, slots=True)
class Outline:
    """Points of a round outline with outward normals (N, 2), and their uncertainty.

    Positions are those of a camera of focal length one about its principal point; `u` and `u_oval`,
    how far the outline may be oval by itself, are in the same unit.
    """

    points: Array
    normals: Array
    u: float
    u_oval: float

    def off(self, reach: Array, oval: Array) -> Array:
        """Return the rows (..., N) of predicted reaches, the outline being somewhat oval."""
        cos, sin = self.normals.T
        own = oval[..., :1] * (cos**2 - sin**2) + oval[..., 1:] * 2.0 * cos * sin
        return np.asarray(((self.points * self.normals).sum(axis=1) - reach - own) / self.u)


def outline_of(ring: Ring, u_px: float, centre_px: Array, focal_px: float) -> Outline:
    """Return a ring as a camera of focal length one sees it."""
    points = ring.points[:: max(1, len(ring.points) // POINTS)]
    angle = np.arctan2(*(points - ring.centre).T[::-1])
    cos, sin = np.cos(angle), np.sin(angle)
    slope = np.column_stack([-sin, cos, -2 * np.sin(2 * angle), 2 * np.cos(2 * angle)])
    across = slope @ ring.shape[1:]
    radius = np.linalg.norm(points - ring.centre, axis=1)
    normals = np.column_stack([radius * cos + across * sin, radius * sin - across * cos])
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    independent = np.sqrt(max(len(points) / INDEPENDENT, 1.0))
    u = np.hypot(ring.rms_px, u_px) * independent
    oval = np.hypot(U_ROUND_PX, ROUGH * ring.rms_px / ring.seen)
    return Outline(
        (points - centre_px) / focal_px, normals, float(u) / focal_px, float(oval) / focal_px
    )


def circle_reach(first: Array, second: Array, middle: Array, radius: Array, ways: Array) -> Array:
    """Return how far images of circles reach along directions.

    Parameters
    ----------
    first, second : ndarray, shape (T, 3)
        Two unit vectors across each other in the circle's plane, in camera axes.
    middle : ndarray, shape (T, 3)
        Its middle in camera axes [mm].
    radius : ndarray, shape (T,)
        Its radius [mm].
    ways : ndarray, shape (N, 2)
        Unit directions in the picture of a camera of focal length one.

    Returns
    -------
    ndarray, shape (T, N)
        Greatest position along each direction.

    Notes
    -----
    The image is the conic whose dual is H diag(r², r², -1) Hᵀ, with H the map of the circle's plane
    to the picture; a line with normal n at distance h touches it where (n, -h) lies on the dual.
    """
    dual = radius[:, None, None] ** 2 * (
        first[:, :, None] * first[:, None] + second[:, :, None] * second[:, None]
    )
    dual = dual - middle[:, :, None] * middle[:, None]
    a = ((ways @ dual[:, :2, :2]) * ways).sum(axis=2)
    b, c = dual[:, :2, 2] @ ways.T, dual[:, 2, 2, None]
    return np.asarray((b - np.sqrt(np.maximum(b * b - a * c, 0.0))) / c)


def slant_of(
    view: View,
    rim: Ring,
    within: tuple[Ring, ...],
    reference: Reference,
    told: Told | None = None,
) -> Slant:
    """Return the slant by its mean and covariance over all slants, each by its likelihood.

    Parameters
    ----------
    view : View
        The photo.
    rim : Ring
        Outer outline of the coin.
    within : tuple of Ring
        Rings of its face.
    reference : Reference
        The coin.
    told : Told or None
        What else tells the slant.
    """
    seen = _Seen.of(view, rim, within, reference)
    if told is not None:
        coarse = _answer(seen, lattice_along(*told.likeliest()), told)
        return _answer(seen, lattice_along(coarse.normal, coarse.cov), told)
    coarse = _answer(seen, lattice(np.zeros(2), STEEPEST, STEP), None)
    spread = 2.5 * float(np.sqrt(np.trace(coarse.cov)))
    return _answer(seen, lattice(coarse.normal, spread, spread / 5.0), None)


@dataclass(frozen=True, slots=True)
class _Seen:
    """A coin's outlines and what is known of it before its slant: place, distance [mm], sizes."""

    outer: Outline
    inner: tuple[Outline, ...]
    place: Array
    far: float
    radius: float
    height: float
    sizes: tuple[float, ...]

    @classmethod
    def of(cls, view: View, rim: Ring, within: tuple[Ring, ...], reference: Reference) -> "_Seen":
        """Return the outlines of a coin as a camera of focal length one sees them."""
        radius = reference.size_mm[0] / 2.0
        return cls(
            outline_of(rim, U_RIM_PX, view.centre_px, view.focal_px),
            tuple(outline_of(r, U_RING_PX, view.centre_px, view.focal_px) for r in within),
            (rim.middle - view.centre_px) / view.focal_px,
            view.focal_px * radius / rim.radius_px,
            radius,
            reference.thickness_mm,
            tuple(radius * r.radius_px / rim.radius_px for r in within),
        )

    @property
    def units(self) -> Array:
        """Scale of each unknown: place, distance, oval of the rim; size, place, oval of rings."""
        scale = [self.outer.u, self.outer.u, 0.05, self.outer.u_oval, self.outer.u_oval]
        for ring in self.inner:
            scale += [0.05, U_CONCENTRIC_MM, U_CONCENTRIC_MM, ring.u_oval, ring.u_oval]
        return np.array(scale)

    def rows(self, normals: Array, wall: float, x: Array) -> Array:
        """Return the rows (T, M) at slants (T, 2) with unknowns (T, K) in their units."""
        first, second, third = axes_of(normals)
        v = x * self.units
        foot = np.column_stack([self.place + v[:, :2], np.ones(len(v))])
        foot = foot * self.far * np.exp(v[:, 2:3])
        top, whole = foot + self.height * third, np.full(len(v), self.radius)
        ways = self.outer.normals
        reach = np.maximum(
            circle_reach(first, second, top, whole, ways),
            circle_reach(first, second, top - wall * self.height * third, whole, ways),
        )
        found = [self.outer.off(reach, v[:, 3:5]), x[:, 3:5]]
        for k, (ring, size) in enumerate(zip(self.inner, self.sizes, strict=True)):
            w = v[:, 5 + 5 * k : 10 + 5 * k]
            middle = top + w[:, 1:2] * first + w[:, 2:3] * second
            reach = circle_reach(first, second, middle, size * np.exp(w[:, 0]), ring.normals)
            found += [ring.off(reach, w[:, 3:5]), x[:, 6 + 5 * k : 10 + 5 * k]]
        return np.concatenate(found, axis=1)


def _least_chi2(seen: _Seen, normals: Array, wall: float) -> Array:
    """Return at each slant (T, 2) the sum of squares, the other unknowns being at their best."""
    x = np.zeros((len(normals), len(seen.units)))
    for _ in range(2):
        now = seen.rows(normals, wall, x)
        columns = [
            (seen.rows(normals, wall, x + 1e-3 * e) - now) / 1e-3 for e in np.eye(x.shape[1])
        ]
        jacobian = np.stack(columns, axis=2)
        square = jacobian.transpose(0, 2, 1) @ jacobian + 1e-9 * np.eye(x.shape[1])
        x = x - np.linalg.solve(square, jacobian.transpose(0, 2, 1) @ now[..., None])[..., 0]
    return np.asarray((seen.rows(normals, wall, x) ** 2).sum(axis=1))


def _answer(seen: _Seen, normals: Array, told: Told | None) -> Slant:
    """Return mean and covariance over slants and shares of the wall."""
    chi2 = np.array([_least_chi2(seen, normals, wall) for wall in WALLS])
    found = weighed(normals, chi2 if told is None else chi2 + told.chi2(normals))
    walls, share = np.array(WALLS), found.weights.sum(axis=1)
    wall = float(share @ walls)
    u_wall = float(np.sqrt(share @ (walls - wall) ** 2) + 0.02)
    return Slant(found.normal, found.cov, wall, u_wall)
