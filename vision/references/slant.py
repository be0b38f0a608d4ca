"""How far the table slants under a coin: what tells it, and the search over all slants.

A circle has two poses, mirrored at the line of sight, and seen from nearly above it is nearly round
at any slant. So the answer is sought over all slants at once instead of from one start.
"""

from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from vision.references.circles import Ring
from vision.references.lattice import Weighed, lattice, lattice_along, weighed

Array = NDArray[np.float64]

STEEPEST, STEP, LOOKS = 0.48, 0.04, 2  # sine of the slant
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
    lens, u_lens : float
        Bend of the lens (see `camera.Camera`) and its standard uncertainty [-].
    """

    normal: Array
    cov: Array
    lens: float
    u_lens: float


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

    def both(self, other: "Told | None") -> "Told":
        """Return what this and something else tell together."""
        if other is None:
            return self
        apart = other.information @ (self.normal - other.normal)
        return Told(
            self.normal, self.information + other.information, self.pull + other.pull - apart
        )

    def chi2(self, normals: Array) -> Array:
        """Return the misfit (T,) of slants (T, 2)."""
        off = normals - self.normal
        square = ((off @ self.information) * off).sum(axis=1)
        return np.asarray(square - 2.0 * off @ self.pull)


class Seen(Protocol):
    """What was seen of a coin: how far it is off at slants, with other unknowns in their units."""

    @property
    def units(self) -> Array:
        """Scale of each unknown (K,)."""

    def rows(self, normals: Array, x: Array) -> Array:
        """Return the rows (T, M) at slants (T, 2) with unknowns (T, K) in their units."""


@dataclass(frozen=True, slots=True)
class Outline:
    """Points of a round outline with outward normals (N, 2), and their uncertainty.

    Positions are those of a camera of focal length one about its principal point; `u`, of all or of
    each, and `u_oval`, how far the outline may be oval by itself, are in the same unit.
    """

    points: Array
    normals: Array
    u: float | Array
    u_oval: float

    def straightened(self, lens: float) -> "Outline":
        """Return it as a lens without bend would show it."""
        square = (self.points**2).sum(axis=1, keepdims=True)
        return replace(self, points=self.points / (1.0 + lens * square))

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


def likeliest_slant(seen: Seen, told: Told | None) -> Weighed:
    """Return the slant by which a coin looks as it was seen: its mean and covariance over all.

    Parameters
    ----------
    seen : Seen
        What was seen of the coin.
    told : Told or None
        What else tells the slant.
    """
    if told is not None:
        coarse = _answer(seen, lattice_along(*told.likeliest()), told)
        return _answer(seen, lattice_along(coarse.normal, coarse.cov), told)
    found, step = _answer(seen, lattice(np.zeros(2), STEEPEST, STEP), None), STEP
    for _ in range(LOOKS):  # a sharp likelihood falls between the slants of a wide lattice
        spread = max(2.5 * float(np.sqrt(np.trace(found.cov))), step)
        step = spread / 5.0
        found = _answer(seen, lattice(found.normal, spread, step), None)
    return found


def _least_chi2(seen: Seen, normals: Array) -> Array:
    """Return at each slant (T, 2) the sum of squares, the other unknowns being at their best."""
    x = np.zeros((len(normals), len(seen.units)))
    for _ in range(2):
        now = seen.rows(normals, x)
        columns = [(seen.rows(normals, x + 1e-3 * e) - now) / 1e-3 for e in np.eye(x.shape[1])]
        jacobian = np.stack(columns, axis=2)
        square = jacobian.transpose(0, 2, 1) @ jacobian + 1e-9 * np.eye(x.shape[1])
        x = x - np.linalg.solve(square, jacobian.transpose(0, 2, 1) @ now[..., None])[..., 0]
    return np.asarray((seen.rows(normals, x) ** 2).sum(axis=1))


def _answer(seen: Seen, normals: Array, told: Told | None) -> Weighed:
    """Return mean and covariance over slants."""
    chi2 = _least_chi2(seen, normals)
    return weighed(normals, chi2 if told is None else chi2 + told.chi2(normals))
