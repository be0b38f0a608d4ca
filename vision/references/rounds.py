"""How far the table slants, as all that is round in a photo tells together.

Seen at a slant, a circle becomes an ellipse whose axes and direction depend on where it lies: away
from the middle of the picture by a first-order term, so that many circles tell the slant and its
sense, which one alone does not. Each by itself is off: a wall seen below the rim and a lens that
bends outwards pull it along the line to the middle, light from one side pulls all of them one way,
and some round things are not quite circles. The first three are fitted along; the last is met by
weights that let go of what stands apart.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vision.references.circles import Ring
from vision.references.lattice import Weighed, axes_of, lattice, lattice_along, weighed
from vision.references.slant import Told
from vision.references.view import View

Array = NDArray[np.float64]

FEWEST = 4  # circles that are believed against the shape of a single one
# One round outline, beside what pulls them all alike: measured on coins in photographs.
U_OVAL, U_OVAL_PX = 0.003, 0.4
# Share of the wall seen, bend of the lens, and a pull that all share: values and their doubt.
# a wall that was looked for separately has no share left.
USUAL, U_USUAL = np.array([0.5, 0.0, 0.0, 0.0]), np.array([0.5, 0.015, 0.004, 0.004])
RIMS, U_RIMS = np.array([0.0, 0.0, 0.0, 0.0]), np.array([0.1, 0.015, 0.004, 0.004])
TAIL = 8.0  # from this square of the misfit on, an outline is let go of
STEEPEST, STEP, ROUNDS = 0.54, 0.03, 4


@dataclass(frozen=True, slots=True)
class Rounds:
    """Round outlines as a camera of focal length one sees them.

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
    upper : bool
        Whether they are upper rims alone, without the wall below.
    """

    place: Array
    radius: Array
    oval: Array
    u: Array
    upper: bool = False

    @classmethod
    def of(cls, view: View, rings: Sequence[Ring], upper: bool = False) -> "Rounds":
        """Return the outlines of a photo."""
        radius_px = np.array([r.radius_px for r in rings])
        return cls(
            (np.array([r.middle for r in rings]) - view.centre_px) / view.focal_px,
            radius_px / view.focal_px,
            np.array([r.shape[3:] / r.radius_px for r in rings]),
            np.hypot(U_OVAL, U_OVAL_PX / radius_px),
            upper,
        )

    def slant(self, height: float, told: Told | None = None) -> Weighed:
        """Return the slant that explains them best, with its covariance.

        Parameters
        ----------
        height : float
            Usual height of the outlines above the table, of its distance [-].
        told : Told or None
            What else tells the slant.
        """
        if told is not None:
            grid = lattice_along(*told.likeliest())
            return weighed(grid, self.chi2(grid, height) + told.chi2(grid))
        grid = lattice(np.zeros(2), STEEPEST, STEP)
        coarse = weighed(grid, self.chi2(grid, height))
        spread = 3.0 * float(np.sqrt(np.trace(coarse.cov))) + 0.005
        grid = lattice(coarse.normal, spread, spread / 10.0)
        return weighed(grid, self.chi2(grid, height))

    def chi2(self, normals: Array, height: float) -> Array:
        """Return the robust sum of squares (T,) at slants (T, 2), what pulls them at its best.

        Where the outlines scatter by more than their uncertainty, the sum is lowered accordingly.
        """
        seen, up = ovals(normals, self.place, self.radius)
        off = (self.oval - seen).reshape(len(normals), -1)
        columns = self._pulls(up * height)
        usual, u_usual = (RIMS, U_RIMS) if self.upper else (USUAL, U_USUAL)
        u = np.repeat(self.u, 2)
        weight = np.ones((len(normals), len(self.u)))
        for _ in range(ROUNDS):
            w = np.repeat(weight, 2, axis=1) / u**2
            square = columns.transpose(0, 2, 1) @ (columns * w[..., None])
            right = (columns * (w * off)[..., None]).sum(axis=1) + usual / u_usual**2
            pulls = np.linalg.solve(square + np.diag(1.0 / u_usual**2), right[..., None])
            left = ((off - (columns @ pulls)[..., 0]) / u).reshape(len(normals), -1, 2)
            misfit = (left**2).sum(axis=2)
            weight = 1.0 / (1.0 + misfit / TAIL)
        total = TAIL * np.log1p(misfit / TAIL).sum(axis=1)
        # The median of a sum of two squares is 2 ln 2.
        scatter = float(np.median(misfit[total.argmin()])) / (2.0 * np.log(2.0))
        prior = (((pulls[..., 0] - usual) / u_usual) ** 2).sum(axis=1)
        return np.asarray(total / max(1.0, scatter) + prior)

    def _pulls(self, up: Array) -> Array:
        """Return how walls, lens and light each pull the outlines: (T, 2 K, 4)."""
        along = np.linalg.norm(up, axis=2, keepdims=True)
        # Two circles apart by a vector: their common outline is oval by 2 / (3 pi) of it.
        wall = _double(up) / np.maximum(along, 1e-9) * 2.0 / (3.0 * np.pi * self.radius[:, None])
        lens = np.broadcast_to(_double(self.place), wall.shape)
        light = np.broadcast_to(np.eye(2), (*wall.shape[:2], 2, 2))
        columns = np.concatenate([wall[..., None], lens[..., None], light], axis=-1)
        return np.asarray(columns.reshape(len(up), -1, 4))


def ovals(normals: Array, place: Array, radius: Array) -> tuple[Array, Array]:
    """Return how oval circles on slanted tables look, and which way up is there.

    Parameters
    ----------
    normals : ndarray, shape (T, 2)
        Normals of the tables across the view [-].
    place, radius : ndarray, shape (K, 2) and (K,)
        Where circles are seen, and their radii there, at focal length one [-].

    Returns
    -------
    oval : ndarray, shape (T, K, 2)
        Second harmonics of their radii over the mean [-].
    up : ndarray, shape (T, K, 2)
        How far they move for each part of their distance that they stand higher [-].
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
    oval = split / (1.0 + np.sqrt(1.0 - (split**2).sum(axis=-1, keepdims=True)))
    up = third[:, None, :2] - place * third[:, None, 2:]
    return np.asarray(oval), np.asarray(up)


def _double(vectors: Array) -> Array:
    """Return vectors (..., 2) at twice their angle, their length squared."""
    x, y = vectors[..., 0], vectors[..., 1]
    return np.stack([x * x - y * y, 2.0 * x * y], axis=-1)
