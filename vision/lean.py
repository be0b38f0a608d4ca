"""A lone coin tells the slant badly, a spring beside it well: the scale with what both tell.

Seen aslant, a coin is nearly as round as from above, and of two slants mirrored at the line of
sight it prefers neither. A spring's front and back strands move against each other. Its fit is
free to turn the table within the coin's doubt, but to first order only, and how far away a coin
lies depends on its slant to the second.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vision.camera import DoubtedCamera
from vision.fitted import FittedSpring
from vision.photo import Photo
from vision.references.slant import Told
from vision.refusal import Refusal
from vision.scale import Scale, told_slant
from vision.spring_fit import fit_spring
from vision.turns import seen_anew

Array = NDArray[np.float64]

#: Least turn of the table for which the scale is found again [rad]: what the fit left out goes
#: with its square, and five degrees move lengths by a fifth of a per cent.
LEAST_TURN = 0.087
#: Of what the spring tells so much is told: it is heeded once more as the spring is fitted again.
HEEDED = 0.25
#: Nothing tells the slant worse than this [-]: about thirty degrees.
NO_SLANT = 0.5
#: How well the spring must be explained before, and how much worse it may be afterwards.
LEAST_OVERLAP, WORSE = 0.72, 0.03
#: By how much its turns and the logarithm of its radius may change: it is the same spring.
SAME_TURNS, SAME_SIZE = 0.6, 0.15


@dataclass(frozen=True, slots=True)
class _Doubt:
    """Where a slant lies (2,) and its covariance (2, 2)."""

    normal: Array
    cov: Array


def leaned(
    photo: Photo, scale: Scale | None, camera: DoubtedCamera, found: FittedSpring
) -> tuple[Scale, FittedSpring] | None:
    """Return scale and spring with what the spring tells of the slant, or None to leave them.

    Parameters
    ----------
    photo : Photo
        The photo.
    scale : Scale or None
        What the coin alone told.
    camera : DoubtedCamera
        The camera by that.
    found : FittedSpring
        The spring through that camera.
    """
    if scale is None or scale.lone_coin is None or found.touching:
        return None
    if found.overlap < LEAST_OVERLAP:
        return None
    before, after = _slants(camera, found)
    if float(np.linalg.norm(after.normal - before.normal)) < LEAST_TURN:
        return None
    other = told_slant(photo, scale, _told(before, after))
    there = DoubtedCamera.of(other.camera, [one for _, one in other.variants])
    again = next((one for one in _again(found, there) if _still(one, found)), None)
    return None if again is None else (other, again)


def _again(found: FittedSpring, camera: DoubtedCamera) -> Iterator[FittedSpring]:
    """Yield the spring fitted through another camera, from what it was or, failing that, anew."""
    yield seen_anew(found, camera)
    for drawing in (False, True):
        fitted = fit_spring(found.view, camera, drawing)
        if not isinstance(fitted, Refusal):
            yield fitted


def _still(again: FittedSpring, found: FittedSpring) -> bool:
    """Tell whether it is the same spring, explained as well."""
    turns = abs(again.helix.turns - found.helix.turns)
    size = abs(again.helix["log_radius"] - found.helix["log_radius"])
    as_well = again.overlap > found.overlap - WORSE
    return bool(as_well and turns < SAME_TURNS and size < SAME_SIZE)


def _slants(camera: DoubtedCamera, found: FittedSpring) -> tuple[_Doubt, _Doubt]:
    """Return the slant before the spring was fitted and after."""
    upright = np.array([0.0, 0.0, 1.0])
    # Turning the world by a small vector moves its upright by their cross product.
    moves = np.cross(camera.moves[:, 3:6], upright) @ camera.best.rotation[:2].T
    spread = found.fit.covariance[-camera.causes :, -camera.causes :]
    return (
        _Doubt(camera.best.rotation[:2, 2], moves.T @ moves + 1e-8 * np.eye(2)),
        _Doubt(found.camera.rotation[:2, 2], moves.T @ spread @ moves + 1e-8 * np.eye(2)),
    )


def _told(before: _Doubt, after: _Doubt) -> Told:
    """Return what the spring alone has told: the slant after it less the slant before it."""
    prior = np.linalg.inv(before.cov)
    sizes, ways = np.linalg.eigh(np.linalg.inv(after.cov) - prior)
    information = (ways * np.maximum(sizes, NO_SLANT**-2)) @ ways.T
    pull = prior @ (after.normal - before.normal)
    return Told(after.normal, HEEDED * information, HEEDED * pull)
