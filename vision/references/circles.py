"""Round outlines in a photo to a fraction of a pixel: a coin's rim, and the rings of its face."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, maximum_filter1d

from vision._cv import sample

Array = NDArray[np.float64]

RAYS, STEP_PX, NEAR, FAR = 360, 0.5, 0.78, 1.22
MOST_LEAN = 0.15  # second harmonic of the radius: a tilt of about 45 degrees
INNERMOST, RING_SEEN, RING_RMS, MOST_RINGS = 0.5, 0.7, 0.5, 2
LEAST_GROWN = 0.42
SMOOTH_STEPS = 2.4  # under which the slope is taken
TRIALS, LEAST_SEEN, ALMOST, MOST_PEAKS = 2000, 0.5, 0.88, 6
TOGETHER = 128  # shapes whose radii the processor keeps near: all at once takes three times as long
# What an oval loses at most, and the lean at which it loses half: a tilt of about 21 degrees.
OVAL, USUAL_LEAN = 0.2, 0.035


@dataclass(frozen=True, slots=True)
class Ring:
    """A round outline.

    Attributes
    ----------
    centre : ndarray, shape (2,)
        From where the radius is counted [px].
    shape : ndarray, shape (5,)
        Radius, its first harmonic (cosine, sine) and its second [px].
    points : ndarray, shape (N, 2)
        Outline points that were used [px].
    rms_px : float
        Their scatter about the shape [px].
    seen : float
        Part of the way round on which an edge is seen, of it or of a ring within it [-].
    """

    centre: Array
    shape: Array
    points: Array
    rms_px: float
    seen: float

    @property
    def middle(self) -> Array:
        """Centre of the outline, shape (2,) [px]."""
        return np.asarray(self.centre + self.shape[1:3])

    @property
    def radius_px(self) -> float:
        """Mean radius [px]."""
        return float(self.shape[0])

    @property
    def lean(self) -> float:
        """How oval it is: second harmonic over the mean [-]."""
        return float(np.hypot(self.shape[3], self.shape[4])) / self.radius_px

    def outline(self, n: int = 180) -> Array:
        """Return points (n, 2) round the outline [px]."""
        angle = np.linspace(0.0, 2.0 * np.pi, n, endpoint=False)
        radius = weights(angle) @ self.shape
        return np.asarray(self.centre + radius[:, None] * _ray(angle))


def outer_rim(
    rgb: NDArray[np.uint8], centre: Array, radius: float, rng: np.random.Generator
) -> Ring | None:
    """Return the outermost closed outline near a circle, or None where there is none.

    Notes
    -----
    Trial ellipses go through edge points on three rays. The one that meets an edge on most rays
    would often be a line of the relief or the rim of an inner ring; so of all that are met nearly
    as often the largest is the rim. Shadows are not met all the way round.
    """
    angle = np.linspace(0.0, 2.0 * np.pi, RAYS, endpoint=False)
    peaks = _peaks_near(rgb, centre, (NEAR * radius, FAR * radius))
    if peaks is None:
        return None
    shapes = _trials(angle, peaks, radius, rng)
    if not len(shapes):
        return None
    found = _all_fitted(centre, peaks, _best_by_size(shapes, _met(shapes, peaks, 2.0)))
    if not found:
        return None
    lead = found[_met(np.array([f.shape for f in found]), peaks, 1.0).argmax()]
    found += _all_fitted(centre, peaks, _about(lead, peaks, (NEAR * radius, FAR * radius)))
    best = _outermost(found, peaks)
    return None if best is None else _grown(rgb, best)


def _about(lead: Ring, peaks: "_Peaks", span: tuple[float, float]) -> Array:
    """Return shapes (N, 5) as oval as a ring, about its middle, that meet edges more than others.

    The more a coin slants the fewer trials have its oval; but its rim and the rings of its face
    all have the same, and one of them is met by a trial most often.
    """
    sizes = np.arange(*span, peaks.unit)
    shapes = sizes[:, None] / lead.radius_px * lead.shape
    shapes[:, 1:3] = lead.shape[1:3]
    met = _met(shapes, peaks, 2.0)
    return np.asarray(shapes[(met >= maximum_filter1d(met, 5)) & (met > 0.8 * LEAST_SEEN)])


def _outermost(found: list[Ring], peaks: "_Peaks") -> Ring | None:
    """Return the largest of the rings that meet nearly as much of an edge as the best, or None."""
    met = _met(np.array([f.shape for f in found]), peaks, 1.0)
    seen = met > LEAST_SEEN
    if not seen.any():
        return None
    met = met - np.array([doubted(f) for f in found])
    least = ALMOST * float(met[seen].max())
    good = [(m, f) for f, m, s in zip(found, met, seen, strict=True) if s and m >= least]
    outermost = max(f.radius_px for _, f in good)
    # Of trials of one outline the one that is met best.
    return max((c for c in good if c[1].radius_px > 0.97 * outermost), key=lambda c: c[0])[1]


def doubted(ring: Ring) -> float:
    """Return what an oval counts less: more often than a steep slant it is a rim and its shadow."""
    return float(OVAL / (1.0 + (USUAL_LEAN / max(ring.lean, 1e-9)) ** 2))


def _all_fitted(centre: Array, peaks: "_Peaks", shapes: Array) -> list[Ring]:
    return [f for f in (_fitted(centre, peaks, s) for s in shapes) if f is not None]


def _grown(rgb: NDArray[np.uint8], ring: Ring) -> Ring:
    """Return the ring outside a ring, about the same middle, where even half of one is seen.

    A white coin on a white table shows its rim on the shaded side only, and a line of its face all
    the way round.
    """
    peaks = _peaks_near(rgb, ring.middle, (0.95 * ring.radius_px, FAR * ring.radius_px))
    if peaks is None:
        return ring
    least = 1.0 + max(0.02, 3.0 / ring.radius_px)
    own = _met(np.array([[ring.radius_px, 0.0, 0.0, *ring.shape[3:]]]), peaks, 1.5)
    lean = np.array([1.0, 0.0, 0.0, *(ring.shape[3:] / ring.radius_px)])
    shapes = ring.radius_px * np.arange(least, 1.16, 1.0 / ring.radius_px)[:, None] * lean
    for shape in shapes[np.argsort(-_met(shapes, peaks, 2.5))[:8]]:
        outer = _fitted(ring.middle, peaks, shape, keep_lean=True)
        if outer is None or outer.radius_px < least * ring.radius_px:
            continue
        # The border of a contact shadow runs close to a rim that is seen all round.
        part = 0.6 if outer.radius_px < 1.05 * ring.radius_px else 0.45
        if _met(outer.shape[None], peaks, 1.0)[0] > max(LEAST_GROWN, part * float(own[0])):
            return _grown(rgb, replace(outer, seen=max(outer.seen, ring.seen)))
    return ring


def ring_about(rgb: NDArray[np.uint8], ring: Ring, radius: float) -> Ring | None:
    """Return the ring of some radius about the middle of another, or None where none is seen.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (H, W, 3)
        Whole photo.
    ring : Ring
        Whose middle and oval it has, nearly.
    radius : float
        Its radius, nearly [px].
    """
    peaks = _peaks_near(rgb, ring.middle, (0.95 * radius, 1.05 * radius))
    if peaks is None:
        return None
    lean = np.array([1.0, 0.0, 0.0, *(ring.shape[3:] / ring.radius_px)])
    return _fitted(ring.middle, peaks, radius * lean)


def rings_within(rgb: NDArray[np.uint8], rim: Ring) -> tuple[Ring, ...]:
    """Return the rings about the middle of a rim, smaller than it: lines of a coin's face.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (H, W, 3)
        Whole photo.
    rim : Ring
        Outer rim.
    """
    span = (INNERMOST * rim.radius_px, 0.985 * rim.radius_px)
    peaks = _peaks_near(rgb, rim.middle, span)
    if peaks is None:
        return ()
    lean = np.array([1.0, 0.0, 0.0, *(rim.shape[3:] / rim.radius_px)])
    shapes = np.arange(*span, 1.0)[:, None] * lean
    met = _met(shapes, peaks, 2.5)
    best = (met >= maximum_filter1d(met, 7)) & (met > LEAST_SEEN)
    fitted = (_fitted(rim.middle, peaks, s) for s in shapes[best][np.argsort(-met[best])])
    chosen: list[Ring] = []
    for ring in fitted:
        if ring is None or ring.seen < RING_SEEN or ring.rms_px > RING_RMS * peaks.unit:
            continue
        if all(abs(ring.radius_px - c.radius_px) > 2.0 for c in chosen):
            chosen.append(ring)
    return tuple(chosen[:MOST_RINGS])


def _peaks_near(
    rgb: NDArray[np.uint8], centre: Array, span: tuple[float, float]
) -> "_Peaks | None":
    """Return the steepest places along rays between two radii, or None outside the photo.

    Beyond the photo's edge it goes on as at its edge, where nothing is steep.
    """
    angle = np.linspace(0.0, 2.0 * np.pi, RAYS, endpoint=False)
    radii = np.arange(*span, max(STEP_PX, span[1] / 400.0))
    points = centre + radii[:, None] * _ray(angle)[:, None]
    last = np.array(rgb.shape[1::-1]) - 1.0
    within = np.clip(points, 0.0, last)
    if (points[0] != within[0]).any():
        return None
    colours = sample(rgb, within).astype(np.float64)
    slope = gaussian_filter1d(colours, SMOOTH_STEPS, axis=1, order=1)
    return _peaks(np.sqrt((slope**2).sum(axis=2)) / (radii[1] - radii[0]), radii)


@dataclass(frozen=True, slots=True)
class _Peaks:
    """The steepest places along each ray: radius (RAYS, K) [px], infinite where none; weight.

    The unit [px], by which nearness is judged, grows with the coin: its edges are less ideal.
    """

    at: Array
    weight: Array
    unit: float


def _peaks(steep: Array, radii: Array) -> _Peaks:
    """Return where, along each ray, the slope is one of the largest and more than texture."""
    rows = np.arange(len(steep))[:, None]
    outside = float(np.median(steep[:, int(0.8 * steep.shape[1]) :]))
    peak = (steep >= maximum_filter1d(steep, 5, axis=1)) & (steep > 2.5 * outside + 0.5)
    heights = np.where(peak, steep, 0.0)
    best = np.argsort(-heights, axis=1)[:, :MOST_PEAKS]
    height, inner = heights[rows, best], np.clip(best, 1, steep.shape[1] - 2)
    left, middle, right = (steep[rows, inner + k] for k in (-1, 0, 1))
    bend = np.minimum(left - 2.0 * middle + right, -1e-9)
    at = radii[inner] + (radii[1] - radii[0]) * np.clip(0.5 * (left - right) / bend, -1.0, 1.0)
    # Slopes count up to a part of a strong one, so that relief does not outweigh a faint rim.
    strong = 0.4 * float(np.percentile(height[:, 0], 80)) + 1e-9
    unit = 2.0 * float(radii[1] - radii[0])
    return _Peaks(np.where(height > 0, at, np.inf), np.minimum(height / strong, 1.0), unit)


def _trials(angle: Array, peaks: _Peaks, radius: float, rng: np.random.Generator) -> Array:
    """Return shapes (N, 5) through peaks on three rays that stand well apart, leaning at random."""
    count = np.isfinite(peaks.at).sum(axis=1)
    some = np.flatnonzero(count)
    if len(some) < RAYS // 3:
        return np.zeros((0, 5))
    spread = rng.integers(0, RAYS, (TRIALS, 1)) + np.arange(3) * RAYS // 3
    spread = (spread + rng.integers(-40, 41, (TRIALS, 3))) % RAYS
    rays = some[np.clip(np.searchsorted(some, spread), 0, len(some) - 1)]
    # Peaks come by their height, and the higher ones are chosen more often.
    at = peaks.at[rays, (rng.random(rays.shape) ** 2 * count[rays]).astype(int)]
    lean = rng.normal(0.0, 0.02 * radius, (TRIALS, 2))
    basis = weights(angle)[rays]
    solvable = np.abs(np.linalg.det(basis[..., :3])) > 0.5
    rest = at - (basis[..., 3:] @ lean[..., None])[..., 0]
    first = np.linalg.solve(basis[solvable][..., :3], rest[solvable][..., None])[..., 0]
    shapes = np.hstack([first, lean[solvable]])
    return np.asarray(shapes[np.hypot(shapes[:, 1], shapes[:, 2]) < 0.2 * shapes[:, 0]])


def _met(shapes: Array, peaks: _Peaks, reach_px: float) -> Array:
    """Return how much of an edge each shape (N, 5) meets on its way round, up to 1."""
    across = weights(np.linspace(0.0, 2.0 * np.pi, RAYS, endpoint=False)).T
    some = (shapes[k : k + TOGETHER] @ across for k in range(0, len(shapes), TOGETHER))
    met = [_met_at(radius, peaks, reach_px * peaks.unit) for radius in some]
    return np.concatenate([np.zeros(0), *met])


def _met_at(radius: Array, peaks: _Peaks, reach_px: float) -> Array:
    """Return the same of shapes by their radius on each ray (N, RAYS) [px]."""
    best, off = np.zeros_like(radius), np.empty_like(radius)
    for at, weight in zip(peaks.at.T, peaks.weight.T, strict=True):  # all at once takes longer
        np.abs(np.subtract(radius, at, out=off), out=off)
        np.maximum(best, (off < reach_px) * weight, out=best)
    return np.asarray(best.mean(axis=1))


def _best_by_size(shapes: Array, met: Array) -> Array:
    """Return of the shapes of each size the one that meets most of an edge, where it meets much."""
    bins = (shapes[:, 0] / max(2.0, 0.01 * float(np.median(shapes[:, 0])))).astype(int)
    order = np.lexsort((-met, bins))
    first = order[np.unique(bins[order], return_index=True)[1]]
    good = first[met[first] > 0.6 * met.max()]
    return np.asarray(shapes[good])


def _fitted(centre: Array, peaks: _Peaks, shape: Array, keep_lean: bool = False) -> Ring | None:
    """Return the ring through the peaks nearest to a shape, by robust least squares.

    With `keep_lean` only its size and place are fitted: half a ring does not tell its lean.
    """
    angle, rows = np.linspace(0.0, 2.0 * np.pi, RAYS, endpoint=False), np.arange(RAYS)
    basis, lean = weights(angle), shape[3:] / shape[0]
    if keep_lean:
        basis = np.column_stack([1.0 + basis[:, 3:] @ lean, basis[:, 1:3]])
        shape = shape[:3]
    for reach in peaks.unit * np.array([5.0, 4.0, 3.0, 2.0, 1.5, 1.2]):
        off = np.abs(peaks.at - (basis @ shape)[:, None])
        nearest = off.argmin(axis=1)
        use = off[rows, nearest] < reach
        if use.mean() < 0.8 * LEAST_SEEN:
            return None
        at = peaks.at[rows, nearest]
        weight = np.sqrt(peaks.weight[rows, nearest][use])
        shape = np.linalg.lstsq(basis[use] * weight[:, None], at[use] * weight, rcond=None)[0]
    left = at[use] - basis[use] @ shape
    if keep_lean:
        shape = np.append(shape, shape[0] * lean)
    if np.hypot(shape[3], shape[4]) > MOST_LEAN * shape[0]:
        return None
    points = centre + at[use, None] * _ray(angle[use])
    rms = float(np.sqrt(np.mean(left**2)))
    return Ring(centre, np.asarray(shape), np.asarray(points), rms, float(use.mean()))


def harmonics(rays: int) -> Array:
    """Return what radius and harmonics weigh on rays all round, shape (rays, 5)."""
    return weights(np.linspace(0.0, 2.0 * np.pi, rays, endpoint=False))


def around(rays: int) -> Array:
    """Return unit vectors all round, shape (rays, 2)."""
    return _ray(np.linspace(0.0, 2.0 * np.pi, rays, endpoint=False))


def weights(angle: Array) -> Array:
    """Return what radius and harmonics weigh at angles, shape (..., 5)."""
    return np.stack(
        [np.ones_like(angle), np.cos(angle), np.sin(angle), np.cos(2 * angle), np.sin(2 * angle)],
        axis=-1,
    )


def _ray(angle: Array) -> Array:
    return np.stack([np.cos(angle), np.sin(angle)], axis=-1)
