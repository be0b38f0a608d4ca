"""Coins: a round rim of known diameter at a known height, the side wall seen below it."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from vision._cv import sample
from vision.camera import Camera
from vision.photo import Photo
from vision.reference import Reference
from vision.references import span
from vision.references.circles import Ring, doubted, rings_within
from vision.references.concentric import widened
from vision.references.finding import Finding, LoneCoin
from vision.references.lattice import axes_of
from vision.references.pose import U_LENS, Problem, Unknown, solve
from vision.references.rim_reader import SURELY, read_all_round, read_rims, rim_beyond
from vision.references.rims import across, rims
from vision.references.rounds import FEWEST, Rounds
from vision.references.slant import (
    U_RIM_PX,
    Slant,
    Told,
    circle_reach,
    outline_of,
)
from vision.references.squares import squares_told
from vision.references.view import View, view_of
from vision.references.wall import EDGE_MM, slant_by_wall

Array = NDArray[np.float64]

U_THICKNESS_MM = 0.1
U_WALL = 0.05  # share of the wall in a rim that was read
U_SPIN = 0.01  # about the normal: means nothing, but must not be left free [rad]
MOST_ROUNDS = 40  # whose rims are read
ANY_OVAL = 100.0  # the shape has told the slant already
LEAST_SEEN, COVERED_SEEN = 0.65, 0.55  # part of the way round, and of one that may be covered
CLEARER = 0.1  # by how much more of one that was left must be seen to put the chosen one in doubt
LEAST_FILLED = 0.33  # measured: coins from 0.42 on, rings of wire below 0.23
LEAST_MIDDLE = 0.3  # measured: coins from 0.38 on, washers and links of a chain below 0.21
# Which metal is the more golden, from memory: the middle (1) or the border (-1).
TWO_METALS = {"coin:EUR-2": 1, "coin:EUR-1": -1, "coin:GBP-2": -1, "coin:CAD-2": 1}
LEAST_GOLDEN = 6.0
# Where its border and its middle are so alike it is the core that was seen: nine whole coins had 5
# and more, either way, a core 0.1.
ALIKE_GOLDEN = 3.0
# Parts of the rim: within it, where a coin of two metals still has its border and a ring of wire
# has not, and where the table lies.
INNER, BEHIND_WIRE, BESIDE = (0.5, 0.6, 0.7), (0.76, 0.78, 0.8), (1.15, 1.25, 1.35)
MIDDLE = (0.0, 0.15, 0.3)  # where a washer or a link shows the table, and a coin does not
SEED = 7  # for trial points only: the same photo gives the same answer


def coins(photo: Photo) -> list[Ring]:
    """Return the rims of everything coin-like in a photo, the clearest first."""
    return find_rims(view_of(photo))


def find_rims(view: View, covered: bool = False) -> list[Ring]:
    """Return the rims of everything coin-like in a photo, the clearest first.

    Where none is seen for most of its way round, one that is `covered` in part may be meant.
    """
    every = rims(view, np.random.default_rng(SEED))
    found = [r for r in every if r.seen > LEAST_SEEN]
    if covered and not found:
        found = [r for r in every if r.seen - doubted(r) > COVERED_SEEN]
    # What lies on a coin, or is struck on it, is none; and a ring or a washer is likely none.
    coins = [r for r in found if not any(_lies_on(r, other) for other in found)]
    return sorted(coins, key=lambda r: _hollow(view, r) or _holds_another(r, coins))


def _hollow(view: View, ring: Ring) -> bool:
    return _filled(view, ring) < LEAST_FILLED or _holed(view, ring)


def _holds_another(ring: Ring, coins: list[Ring]) -> bool:
    """Tell whether another lies partly in a ring, as a coin in a key ring or on another coin."""
    return any(across(ring, other.middle, other.radius_px) for other in coins)


def _holed(view: View, ring: Ring) -> bool:
    """Tell whether the table shows in the middle of a ring."""
    return _filled(view, ring, MIDDLE) < LEAST_MIDDLE


def _filled(view: View, ring: Ring, within: tuple[float, ...] = INNER) -> float:
    """Return how far the colour within a ring lies from the table's, beside that of its border."""
    inner, border, table = (_colour(view, ring, p) for p in (within, (0.88, 0.91, 0.94), BESIDE))
    return float(np.linalg.norm(inner - table) / (np.linalg.norm(border - table) + 1e-9))


def _of_wire(view: View, ring: Ring) -> bool:
    """Tell whether the table shows within a ring, and close behind it more than its border does."""
    return _filled(view, ring) < LEAST_FILLED and _filled(view, ring, BEHIND_WIRE) < 0.5


def _colour(view: View, ring: Ring, parts: tuple[float, ...]) -> Array:
    """Return the usual colour on rings about a ring's middle, given as parts of it, L*a*b* (3,)."""
    places = ring.middle + np.multiply.outer(parts, ring.outline(90) - ring.middle)
    colours = sample(view.small, (places + 0.5) * view.factor - 0.5)
    return np.asarray(np.median(colours, axis=(0, 1)), np.float64)


def _lies_on(ring: Ring, other: Ring) -> bool:
    apart = float(np.linalg.norm(ring.middle - other.middle))
    near = ring.radius_px < other.radius_px and apart < other.radius_px
    return near and not across(other, ring.middle, ring.radius_px)


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
    """Return those of several rims that may be the coin, none where all are rings of wire.

    Only coins of two metals have a look of their own: which of them is the more golden. Where none
    has it, all are returned; and where the clearest has not, it follows those that have.
    """
    found = [r for r in found if not _of_wire(view, r)]
    if whole := [r for r in found if not _holed(view, r)]:
        # A coin's middle may be of the table's colour, and in a link's its neighbour shows.
        plain = max(r.seen for r in whole) + CLEARER
        found = [r for r in found if r.seen > plain] + whole
    golden = TWO_METALS.get(reference.kind)
    if golden is None or len(found) < 2:
        return found
    alike = [r for r in found if golden * _more_golden(view, r) > LEAST_GOLDEN]
    if alike and alike[0] is found[0]:
        return alike
    return alike + [r for r in found if not any(r is like for like in alike)]


def outdone(view: View, rim: Ring, found: Sequence[Ring]) -> bool:
    """Tell whether another rim is seen much farther round than the one that was chosen.

    It was left as a washer, and may be a coin with a middle of the table's colour; a ring of wire
    on print may be what was chosen.
    """
    clearer = (r for r in found if r.seen > rim.seen + CLEARER)
    return any(not _of_wire(view, r) for r in clearer)


def whole_rim(view: View, rim: Ring, reference: Reference) -> tuple[Ring, bool]:
    """Return a coin's rim, or the one beyond a ring of its face taken for it, and if in doubt.

    A coin of two metals is known by both: where one shows alone, and a circle farther out, that is
    its rim. Around any other coin such a circle is a doubt.

    Parameters
    ----------
    view : View
        The photo.
    rim : Ring
        The rim that was chosen.
    reference : Reference
        Which coin it is.
    """
    if (read := rim_beyond(view.rgb, rim)) is not None:
        return read, False
    outer = widened(view.rgb, rim, faint=True)
    if reference.kind not in TWO_METALS or _two_metals(view, rim):
        return rim, outer is not rim
    return (outer, False) if _two_metals(view, outer) else (rim, True)


def _two_metals(view: View, rim: Ring) -> bool:
    return abs(_more_golden(view, rim)) > ALIKE_GOLDEN


def _more_golden(view: View, rim: Ring) -> float:
    """Return how much yellower the middle of a coin is than its border, b* of L*a*b*.

    Nothing where the table shows in the middle: then the ring is of wire, or one of a chain.
    """
    middle, border, table = (
        _colour(view, rim, parts) for parts in ((0.2, 0.3, 0.4, 0.5), (0.82, 0.86, 0.9), BESIDE)
    )
    hollow = _filled(view, rim) < LEAST_FILLED
    if hollow or np.linalg.norm(middle - table) < LEAST_GOLDEN:
        return 0.0
    return float(middle[2] - border[2])


def explained(view: View, rim: Ring, reference: Reference, others: Sequence[Ring] = ()) -> Finding:
    """Return the camera that explains a coin.

    Parameters
    ----------
    view : View
        The photo.
    rim : Ring
        Its outer rim.
    reference : Reference
        Which coin it is.
    others : sequence of Ring
        What else is round in the photo: it tells the slant, its size does not matter.
    """
    if len(others) + 1 < FEWEST:
        near, within = read_rims(view.rgb, rim).upper(rim), rings_within(view.rgb, rim)
        read = read_all_round(view.rgb, near)
        return leaning(view, LoneCoin(near, read, within, squares_told(view)), reference)
    upper, slant = _among(view, rim, others)
    return _found(view, upper, reference, slant)


def leaning(view: View, lone: LoneCoin, reference: Reference, told: Told | None = None) -> Finding:
    """Return the camera that explains a coin which lies alone.

    Its wall tells the slant, the rings of its face, and squares on the table where there are any.

    Parameters
    ----------
    view : View
        The photo.
    lone : LoneCoin
        What is seen of it.
    reference : Reference
        Which coin it is.
    told : Told or None
        What else tells the slant.
    """
    told = lone.squares if told is None else told.both(lone.squares)
    weighed = slant_by_wall(view, lone.rim, lone.read, lone.within, reference, told)
    slant = Slant(weighed.normal, weighed.cov, 0.0, U_LENS)
    found = _found(view, lone.read.upper(lone.rim), reference, slant)
    return replace(found, lone_coin=lone)


def hardly_read(lone: LoneCoin) -> bool:
    """Tell whether the rim of a lone coin is read less surely than those of coins are.

    What was taken for it may be a ring of its face, or one of wire.
    """
    return float(np.median(lone.read.u_rim_px)) > SURELY * lone.rim.radius_px


def _found(view: View, rim: Ring, reference: Reference, slant: Slant) -> Finding:
    """Return the camera that sees an upper rim where it is, under a slant."""
    start = _start_camera(view, rim, reference, slant)
    solution = solve(_problem(view, rim, reference, slant), start, view.focal)
    return Finding(reference, solution, rim.outline(), rim.rms_px, rim.seen)


def _among(view: View, rim: Ring, others: Sequence[Ring]) -> tuple[Ring, Slant]:
    """Return a coin's upper rim and the slant, which all that is round tells."""
    upper = [_upper(view, r) for r in [rim, *others][:MOST_ROUNDS]]
    return upper[0], Rounds.of(view, upper).slant(squares_told(view))


def _upper(view: View, rim: Ring) -> Ring:
    """Return the upper rim of a coin as it is read."""
    first = read_rims(view.rgb, rim).upper(rim)
    return read_all_round(view.rgb, first).upper(first)


def diameter(view: View, rim: Ring, camera: Camera, height_mm: float) -> float:
    """Return the diameter of a coin of unknown size on a table of known camera [mm].

    Parameters
    ----------
    view : View
        The photo.
    rim : Ring
        Its outer rim, as first seen.
    camera : Camera
        The camera.
    height_mm : float
        Height of the coin [mm].
    """
    points = camera.at_height(_upper(view, rim).outline(), height_mm - EDGE_MM)[:, :2]
    return float(2.0 * np.linalg.norm(points - points.mean(axis=0), axis=1).mean())


def _start_camera(view: View, rim: Ring, reference: Reference, slant: Slant) -> Camera:
    """Return the camera that sees the coin's rim where it is, nearly."""
    axes = np.column_stack([axis[0] for axis in axes_of(slant.normal[None])])
    far = view.focal_px * reference.size_mm[0] / 2.0 / rim.radius_px
    place = np.append((rim.middle - view.centre_px) / view.focal_px, 1.0) * far
    shift = place - reference.thickness_mm * axes[:, 2]
    return Camera(view.focal_px, view.centre_px, axes, shift, slant.lens)


def _problem(view: View, rim: Ring, reference: Reference, slant: Slant) -> Problem:
    """Return the rows of the rim and of the slant, which has taken all that the shape tells.

    Its widest circle lies where the rounding of its upper edge ends.
    """
    outer = outline_of(rim, U_RIM_PX, view.centre_px, view.focal_px)
    unknowns = (
        Unknown("coin size", reference.size_mm[0], reference.u_mm),
        Unknown("thickness", reference.thickness_mm, U_THICKNESS_MM),
        *[Unknown("edges", 0.0, ANY_OVAL * outer.u_oval)] * 2,
        Unknown("wall", 0.0, U_WALL),
    )
    whiten = np.linalg.inv(np.linalg.cholesky(slant.cov))

    def residuals(camera: Camera, values: Array) -> Array:
        first, second, third = camera.rotation.T[:, None]
        top = camera.translation_mm + (values[1] - EDGE_MM) * third
        radius = np.array([values[0] / 2.0])
        ways, foot = outer.normals, top - values[4] * values[1] * third
        # The outline was brought to focal length one by the focal length first thought of.
        reach = np.maximum(
            circle_reach(first, second, top, radius, ways),
            circle_reach(first, second, foot, radius, ways),
        )[0]
        reach = reach * camera.focal_px / view.focal_px
        turn = camera.rotation
        held = whiten @ (turn[:2, 2] - slant.normal)
        off = outer.straightened(camera.lens).off(reach, values[2:4])
        return np.concatenate([off, held, [turn[0, 1] / U_SPIN]])

    causes = ("edges",) * len(outer.points) + ("tilt", "tilt", "tilt")
    return Problem(residuals, unknowns, causes, slant.u_lens, slant.lens)
