"""How far the table slants and the lens bends, as all that is round in a photo tells together.

Seen at a slant, a circle becomes an ellipse whose axes and direction depend on where it lies: away
from the middle of the picture by a first-order term, so that many circles tell the slant and its
sense, which one alone does not. Each by itself is off: a lens that bends outwards draws it along
the line to the middle, light from one side pulls all of them one way, and some round things are not
quite circles. The first two are fitted along; the last is met by weights that let go of what stands
apart.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vision.references.circles import Ring
from vision.references.lattice import axes_of, lattice, lattice_along, weighed
from vision.references.slant import Slant, Told
from vision.references.view import View

Array = NDArray[np.float64]

FEWEST = 4  # circles that are believed against the shape of a single one
# One rim that was read, beside what pulls them all alike: measured on coins in photographs.
U_OVAL, U_OVAL_PX = 0.0018, 0.25
# The bend of the lens and a pull that all share, before the rims tell them.
U_PULLS = np.array([0.03, 0.004, 0.004])
TAIL = 8.0  # from this square of the misfit on, an outline is let go of
STEEPEST, STEP, ROUNDS = 0.54, 0.03, 4


@dataclass(frozen=True, slots=True)
class Rounds:
    """The rims of round things as a camera of focal length one sees them.

    Attributes
    ----------
    place : ndarray, shape (K, 2)
        Their middles [-].
    radius : ndarray, shape (K,)
        Mean radii [-].
    oval : ndarray, shape (K, 2)
        Second harmonics of the radius over the mean (cosine, sine) [-].
    u : ndarray, shape (K,)
        Standard uncertainty of each of these [-].
    """

    place: Array
    radius: Array
    oval: Array
    u: Array

    @classmethod
    def of(cls, view: View, rings: Sequence[Ring]) -> "Rounds":
        """Return the rims of a photo."""
        radius_px = np.array([r.radius_px for r in rings])
        return cls(
            (np.array([r.middle for r in rings]) - view.centre_px) / view.focal_px,
            radius_px / view.focal_px,
            np.array([r.shape[3:] / r.radius_px for r in rings]),
            np.hypot(U_OVAL, U_OVAL_PX / radius_px),
        )

    def slant(self, told: Told | None = None) -> Slant:
        """Return the slant and the lens that explain them best.

        Parameters
        ----------
        told : Told or None
            What else tells the slant.
        """
        if told is not None:
            return self._answer(lattice_along(*told.likeliest()), told)
        coarse = self._answer(lattice(np.zeros(2), STEEPEST, STEP), None)
        spread = 3.0 * float(np.sqrt(np.trace(coarse.cov))) + 0.005
        return self._answer(lattice(coarse.normal, spread, spread / 10.0), None)

    def _answer(self, normals: Array, told: Told | None) -> Slant:
        chi2, lens, u_lens = self._explained(normals)
        found = weighed(normals, chi2 if told is None else chi2 + told.chi2(normals))
        mean = float(found.weights @ lens)
        spread = found.weights @ ((lens - mean) ** 2 + u_lens**2)
        return Slant(found.normal, found.cov, mean, float(np.sqrt(spread)))

    def _explained(self, normals: Array) -> tuple[Array, Array, Array]:
        """Return at slants (T, 2) the robust sum of squares, and the lens with its uncertainty.

        Where the rims scatter by more than their uncertainty, the sum is lowered accordingly.
        """
        off = (self.oval - ovals(normals, self.place, self.radius)).reshape(len(normals), -1)
        columns, u = self._pulls(), np.repeat(self.u, 2)
        weight = np.ones((len(normals), len(self.u)))
        for _ in range(ROUNDS):
            w = np.repeat(weight, 2, axis=1) / u**2
            square = (columns.T * w[:, None]) @ columns + np.diag(U_PULLS**-2)
            pulls = np.linalg.solve(square, ((w * off) @ columns)[..., None])[..., 0]
            left = ((off - pulls @ columns.T) / u).reshape(len(normals), -1, 2)
            misfit = (left**2).sum(axis=2)
            weight = 1.0 / (1.0 + misfit / TAIL)
        total = TAIL * np.log1p(misfit / TAIL).sum(axis=1)
        # The median of a sum of two squares is 2 ln 2.
        scatter = max(1.0, float(np.median(misfit[total.argmin()])) / (2.0 * np.log(2.0)))
        prior = ((pulls / U_PULLS) ** 2).sum(axis=1)
        u_lens = np.sqrt(scatter * np.linalg.inv(square)[:, 0, 0])
        chi2 = np.asarray(total / scatter + prior)
        return chi2, np.asarray(pulls[:, 0]), np.asarray(u_lens, np.float64)

    def _pulls(self) -> Array:
        """Return how the lens and light each pull the ovals: (2 K, 3)."""
        lens = _double(self.place)
        light = np.broadcast_to(np.eye(2), (len(lens), 2, 2))
        return np.concatenate([lens[..., None], light], axis=-1).reshape(-1, 3)


def ovals(normals: Array, place: Array, radius: Array) -> Array:
    """Return how oval circles on slanted tables look.

    Parameters
    ----------
    normals : ndarray, shape (T, 2)
        Normals of the tables across the view [-].
    place, radius : ndarray, shape (K, 2) and (K,)
        Where circles are seen, and their radii there, at focal length one [-].

    Returns
    -------
    ndarray, shape (T, K, 2)
        Second harmonics of their radii over the mean [-].
    """
    first, second, third = axes_of(normals)
    rays = np.column_stack([place, np.ones(len(place))])
    far = third[:, 2:] / (third @ rays.T)
    middle, size = rays * far[..., None], (radius * far)[..., None, None]
    # The dual conic of the image, as in slant.circle_reach.
    flat = first[:, :, None] * first[:, None] + second[:, :, None] * second[:, None]
    dual = size**2 * flat[:, None] - middle[..., :, None] * middle[..., None, :]
    centre = dual[..., :2, 2] / dual[..., 2:, 2]
    shape = centre[..., :, None] * centre[..., None, :] - dual[..., :2, :2] / dual[..., 2:, 2:]
    whole = shape[..., 0, 0] + shape[..., 1, 1]
    split = np.stack([shape[..., 0, 0] - shape[..., 1, 1], 2.0 * shape[..., 0, 1]], axis=-1)
    split = split / whole[..., None]
    return np.asarray(split / (1.0 + np.sqrt(1.0 - (split**2).sum(axis=-1, keepdims=True))))


def _double(vectors: Array) -> Array:
    """Return vectors (..., 2) at twice their angle, their length squared."""
    x, y = vectors[..., 0], vectors[..., 1]
    return np.stack([x * x - y * y, 2.0 * x * y], axis=-1)
