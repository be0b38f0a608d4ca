"""Coins: a round rim of known diameter at a known height, the side wall seen below it."""

import numpy as np
from numpy.typing import NDArray

from vision._cv import sample
from vision.camera import Camera
from vision.photo import Photo
from vision.reference import Reference
from vision.references import span
from vision.references.circles import Ring, rims, rings_within
from vision.references.finding import Finding
from vision.references.pose import Problem, Unknown, solve
from vision.references.slant import (
    U_RIM_PX,
    Slant,
    axes_of,
    circle_reach,
    outline_of,
    slant_of,
)
from vision.references.view import View, view_of

Array = NDArray[np.float64]

U_THICKNESS_MM = 0.1
U_SPIN = 0.01  # about the normal: means nothing, but must not be left free [rad]
ANY_OVAL = 100.0  # the shape has told the slant already
SEED = 7  # for trial points only: the same photo gives the same answer
LEAST_SEEN = 0.65  # part of the way round
# Which metal is the more golden, from memory: the middle (1) or the border (-1).
TWO_METALS = {"coin:EUR-2": 1, "coin:EUR-1": -1, "coin:GBP-2": -1, "coin:CAD-2": 1}
LEAST_GOLDEN = 6.0
SEED = 7  # for trial points only: the same photo gives the same answer


def coins(photo: Photo) -> list[Ring]:
    """Return the rims of everything coin-like in a photo, the clearest first."""
    return find_rims(view_of(photo))


def find_rims(view: View) -> list[Ring]:
    """Return the rims of everything coin-like in a photo, the clearest first."""
    found = rims(view, np.random.default_rng(SEED))
    return [r for r in found if r.seen > LEAST_SEEN]


def marked(view: View, points_px: Array, reference: Reference) -> Finding:
    """Return the coin whose rim was marked at two opposite points; the marks alone if none shows.

    Parameters
    ----------
    view : View
        The photo.
    points_px : ndarray, shape (2, 2)
        The marks [px].
    reference : Reference
        Which coin it is.
    """
    middle = points_px.mean(axis=0)
    radius = float(np.linalg.norm(points_px[1] - points_px[0])) / 2.0
    near = [
        ring
        for ring in find_rims(view)
        if abs(ring.radius_px / radius - 1.0) < 0.2
        and float(np.linalg.norm(ring.middle - middle)) < 0.3 * radius
    ]
    return explained(view, near[0], reference) if near else span.marked(view, points_px, reference)


def choose(view: View, found: list[Ring], reference: Reference) -> list[Ring]:
    """Return those of several rims that have the coin's look, or all where none has.

    Only coins of two metals have a look of their own: which of them is the more golden.
    """
    golden = TWO_METALS.get(reference.kind)
    if golden is None or len(found) < 2:
        return found
    alike = [r for r in found if golden * _more_golden(view, r) > LEAST_GOLDEN]
    return alike or found


def _more_golden(view: View, rim: Ring) -> float:
    """Return how much yellower the middle of a coin is than its border, b* of L*a*b*."""
    outline = rim.outline(90) - rim.middle
    inner, outer = (
        float(
            np.median(
                [
                    sample(view.small, (rim.middle + part * outline + 0.5) * view.factor - 0.5)[
                        :, 2
                    ]
                    for part in parts
                ]
            )
        )
        for parts in ((0.2, 0.3, 0.4, 0.5), (0.82, 0.86, 0.9))
    )
    return inner - outer


def explained(view: View, rim: Ring, reference: Reference) -> Finding:
    """Return the camera that explains a coin.

    Parameters
    ----------
    view : View
        The photo.
    rim : Ring
        Its outer rim.
    reference : Reference
        Which coin it is.
    """
    slant = slant_of(view, rim, rings_within(view.rgb, rim), reference)
    start = _start_camera(view, rim, reference, slant)
    solution = solve(_problem(view, rim, reference, slant), start, view.focal)
    return Finding(reference, solution, rim.outline(), rim.rms_px, rim.seen)


def _start_camera(view: View, rim: Ring, reference: Reference, slant: Slant) -> Camera:
    """Return the camera that sees the coin's rim where it is, nearly."""
    axes = np.column_stack([axis[0] for axis in axes_of(slant.normal[None])])
    far = view.focal_px * reference.size_mm[0] / 2.0 / rim.radius_px
    place = np.append((rim.middle - view.centre_px) / view.focal_px, 1.0) * far
    return Camera(view.focal_px, view.centre_px, axes, place - reference.thickness_mm * axes[:, 2])


def _problem(view: View, rim: Ring, reference: Reference, slant: Slant) -> Problem:
    """Return the rows of the rim and of the slant, which has taken all that the shape tells."""
    outer = outline_of(rim, U_RIM_PX, view.centre_px, view.focal_px)
    unknowns = (
        Unknown("coin size", reference.size_mm[0], reference.u_mm),
        Unknown("thickness", reference.thickness_mm, U_THICKNESS_MM),
        *[Unknown("edges", 0.0, ANY_OVAL * outer.u_oval)] * 2,
        Unknown("wall", slant.wall, slant.u_wall),
    )
    whiten = np.linalg.inv(np.linalg.cholesky(slant.cov))

    def residuals(camera: Camera, values: Array) -> Array:
        first, second, third = camera.rotation.T[:, None]
        top, radius = camera.translation_mm + values[1] * third, np.array([values[0] / 2.0])
        ways, foot = outer.normals, top - values[4] * values[1] * third
        # The outline was brought to focal length one by the focal length first thought of.
        reach = np.maximum(
            circle_reach(first, second, top, radius, ways),
            circle_reach(first, second, foot, radius, ways),
        )[0]
        reach = reach * camera.focal_px / view.focal_px
        turn = camera.rotation
        held = whiten @ (turn[:2, 2] - slant.normal)
        return np.concatenate([outer.off(reach, values[2:4]), held, [turn[0, 1] / U_SPIN]])

    causes = ("edges",) * len(outer.points) + ("tilt", "tilt", "tilt")
    return Problem(residuals, unknowns, causes)
