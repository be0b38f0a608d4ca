"""Where coins may lie in a photo: circles of a small copy, each followed to its outer rim."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, maximum_filter1d

from vision._cv import circles, enlarge_points, sample
from vision.references.circles import RAYS, Ring, around, harmonics, outer_rim
from vision.references.concentric import widened
from vision.references.lines import usual_step
from vision.references.view import View

Array = NDArray[np.float64]

RADII_PX = ((12, 130), (130, 320))  # in the reduced copy; the large ones apart, for they are few
BESIDE_PX, ROUND_PART = 4.0, 0.55
# On a table of lines and print every place differs from its neighbour; there a coin differs in the
# same way all round: the mean of the differences over their scatter, and how many are tried.
LEAST_ALIKE, MOST_ALIKE, MOST_TRIED = 0.6, 8, 100

# A circle is of its own, not of the ring that it lies in, where its middle lies so far off that
# one's, it is so much smaller and still reaches so far, in parts of that ring's radius.
ASKEW, SMALLER, REACHES = 0.12, 0.92, 0.95

# Of the fainter edge close beyond a rim: how it is sampled, how far out it lies at least, and how
# steep it is at least beside the rim and beside what lies farther out.
EDGE_STEP_PX, EDGE_SMOOTH_PX, EDGE_APART_PX, FAINT_EDGE, CLEAR_EDGE = 0.25, 0.5, 1.2, 0.15, 1.6


def rims(view: View, rng: np.random.Generator) -> list[Ring]:
    """Return the outer rims of what is round in a photo, each once, the clearest first.

    Parameters
    ----------
    view : View
        The photo.
    rng : numpy.random.Generator
        For the choice of trial points.
    """
    proposed, part, alike = _proposed(view)
    order = np.argsort(-alike)
    plain, likely = order[part[order] > ROUND_PART][:MOST_TRIED], order[:MOST_ALIKE]
    tried = np.union1d(plain, likely[alike[likely] > LEAST_ALIKE])  # by size, as they were
    found = _rims_of(view, proposed[tried], rng)
    return sorted(found, key=lambda r: -r.seen)


def _rims_of(view: View, proposed: Array, rng: np.random.Generator) -> list[Ring]:
    """Return the outer rims near circles (N, 3) of the reduced picture, each once."""
    found: list[Ring] = []
    for x, y, radius in proposed:
        centre, radius_px = enlarge_points(np.array([x, y]), view.factor), radius / view.factor
        if any(_same(r, centre, radius_px) for r in found):
            continue
        rim = outer_rim(view.rgb, centre, radius_px, rng)
        if rim and not any(_same(r, rim.middle, rim.radius_px) for r in found):
            found.append(_to_the_edge(view.rgb, widened(view.rgb, rim)))
    return found


def _to_the_edge(rgb: NDArray[np.uint8], ring: Ring) -> Ring:
    """Return the ring moved out to the fainter edge close beyond it, where one shows all round.

    A coin's edge is rounded: where its flat rim ends is often the steepest place, and its outline,
    where the table begins, lies up to a hundredth of the radius farther out.
    """
    if 0.016 * ring.radius_px < EDGE_APART_PX:
        return ring
    near = np.arange(-0.006, 0.024, EDGE_STEP_PX / ring.radius_px) * ring.radius_px
    radii = (harmonics(RAYS) @ ring.shape)[:, None] + near
    points = ring.centre + radii[..., None] * around(RAYS)[:, None]
    last = np.array(rgb.shape[1::-1]) - 1.0
    colours = sample(rgb, np.clip(points, 0.0, last)).astype(np.float64)
    slope = gaussian_filter1d(colours, EDGE_SMOOTH_PX / EDGE_STEP_PX, axis=1, order=1)
    steep = np.median(np.linalg.norm(slope, axis=2), axis=0)
    main = float(steep[np.abs(near) < 0.006 * ring.radius_px].max())
    beyond = float(np.median(steep[near > 0.018 * ring.radius_px]))
    least = max(FAINT_EDGE * main, CLEAR_EDGE * beyond)
    where = (near > EDGE_APART_PX) & (near < 0.016 * ring.radius_px) & (steep > least)
    peak = where & (steep >= maximum_filter1d(steep, 9))
    peak[[0, -1]] = False
    if not peak.any():
        return ring
    out = float(near[np.flatnonzero(peak)[-1]])
    share = 1.0 + out / ring.radius_px
    away = ring.points - ring.centre
    moved = ring.points + out * away / np.linalg.norm(away, axis=1, keepdims=True)
    return replace(ring, shape=ring.shape * [share, 1.0, 1.0, share, share], points=moved)


def _proposed(view: View) -> tuple[Array, Array, Array]:
    """Return circles (N, 3) of the reduced picture, large first.

    With them, on which part of its way round (N,) each differs inside from outside, and how alike
    it differs there: the mean difference over its scatter (N,).
    """
    channels = ((0, 2.5), (1, 4.0), (2, 4.0))
    found = np.vstack(
        [circles(view.small[:, :, k], gain, span) for span in RADII_PX for k, gain in channels]
    )
    if not len(found):
        return found, np.zeros(0), np.zeros(0)
    found = found[np.argsort(-found[:, 2])]
    ways = around(48)
    inner, outer = (
        sample(view.smooth, found[:, None, :2] + (found[:, 2] + d)[:, None, None] * ways)
        for d in (-BESIDE_PX, BESIDE_PX)
    )
    apart = np.linalg.norm(outer - inner, axis=-1)
    scatter = np.linalg.norm((outer - inner).std(axis=1), axis=-1) / np.sqrt(3.0) + 1.0
    alike: Array = np.linalg.norm((outer - inner).mean(axis=1), axis=-1) / scatter
    differs: Array = (apart > 1.2 + 2.0 * usual_step(view.smooth)).mean(axis=1)
    return found, differs, alike


def _same(ring: Ring, centre: Array, radius: float) -> bool:
    """Tell whether a circle is that ring, or lies in it."""
    apart = float(np.linalg.norm(ring.middle - centre))
    near = apart < 0.5 * ring.radius_px and radius < 1.1 * ring.radius_px
    return bool(near and not across(ring, centre, radius))


def across(ring: Ring, centre: Array, radius: float) -> bool:
    """Tell whether a circle is of its own though it lies in a ring: a coin may, in a key ring.

    It reaches that on one side; lines of a coin's face are about its middle, or far from its rim.
    """
    apart = float(np.linalg.norm(ring.middle - centre)) / ring.radius_px
    part = radius / ring.radius_px
    return ASKEW < apart < 1.0 and part < SMALLER and apart + part > REACHES
