"""Several photos of one spring fused into one geometry.

Each photo's error has a part of its own, which averages away, and parts that the others share: the
reference's own size, the lens, and what the wire map makes of this wire in this light. The photos
are weighted by their own parts; the shared ones stay in the band whole.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from mechanics.ends import Ends
from mechanics.geometry import NAMES, SpringGeometry
from vision.measure import Measurement
from vision.refusal import Refusal

Array = NDArray[np.float64]

#: Share of the rest of each variance (edges, tips, faces) that photos of one spring by one phone
#: have in common, in the order of `NAMES`: a judgement, no source.
IN_COMMON = np.array([0.5, 0.5, 0.5, 0.5])
#: Chance of so much difference below which photos do not agree, and from which they do.
DISAGREE, AGREE = 0.005, 0.05
_LABELS = dict(zip(NAMES, ("wire", "mean diameter", "total coils", "free length"), strict=True))


@dataclass(frozen=True, slots=True)
class Fused:
    """One spring from several photos.

    Attributes
    ----------
    geometry : SpringGeometry
        Dimensions with covariance [mm].
    kind, hand : str
        As most photos have it.
    used, left_out : tuple of int
        Places of the photos that count, and of those that do not go with them.
    chi2, dof, chance : float, int, float
        Agreement of those that count: chi-squared of their own parts, its degrees of freedom and
        the chance of as much [-].
    difference : str
        What they differ in most, in words.
    farthest : int or None
        Place of the photo that lies farthest from the others, where three or more disagree.
    flags : tuple of str
        Codes of what should be told.
    """

    geometry: SpringGeometry
    kind: str
    hand: str
    used: tuple[int, ...]
    left_out: tuple[int, ...]
    chi2: float
    dof: int
    chance: float
    difference: str
    farthest: int | None
    flags: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Mean:
    """The weighted mean of some photos' values, with its covariance and their agreement."""

    values: Array
    covariance: Array
    chi2: float
    dof: int
    chance: float
    worst: int


def fuse(photos: Sequence[Measurement]) -> Fused | Refusal:
    """Return one geometry from several photos of one spring.

    Parameters
    ----------
    photos : sequence of Measurement
        Two or more, to scale.

    Returns
    -------
    Fused or Refusal
        The spring, or why the photos do not go together.
    """
    if len(photos) < 2:
        return _refused("Fusing needs at least two measured photos of the spring.")
    if any(one.scale is None and not one.shared for one in photos):
        return _refused("Photos without a scale give proportions, and those are not fused.")
    used, mean = _that_agree(photos)
    left_out = tuple(i for i in range(len(photos)) if i not in used)
    kept = [photos[i] for i in used]
    flags = _flags(kept, mean, left_out)
    covariance = mean.covariance
    if mean.chance < DISAGREE:
        # Nothing tells which is wrong: the band grows until it could hold them all.
        covariance = covariance * max(mean.chi2 / mean.dof, 1.0)
    try:
        geometry = SpringGeometry(mean.values, covariance, _most_ends(kept), *_small_end(kept))
    except ValueError as error:
        return _refused(f"The photos together add up to no spring: {error}.")
    return Fused(
        geometry,
        _most([one.kind for one in kept]),
        _most([one.hand for one in kept if one.hand != "unknown"] or ["unknown"]),
        used,
        left_out,
        mean.chi2,
        mean.dof,
        mean.chance,
        _difference(kept, mean.worst),
        _farthest(kept, mean),
        flags,
    )


def _mean(photos: Sequence[Measurement]) -> _Mean:
    """Return the mean weighted by the photos' own covariances.

    Not by the whole covariance: its best weights may be negative where much is shared, and then
    rest on how well that share is known.
    """
    values = np.array([one.geometry.values for one in photos])
    causes = sorted({one.cause for photo in photos for one in photo.shared})
    # Effects of the causes that are told apart, shape (photos, causes, 4).
    told = np.array(
        [
            [
                next((e.effect for e in photo.shared if e.cause == cause), np.zeros(4))
                for cause in causes
            ]
            for photo in photos
        ]
    ).reshape(len(photos), len(causes), 4)
    rest = np.array([one.geometry.covariance for one in photos])
    rest = rest - np.einsum("kci,kcj->kij", told, told)
    alike = np.array([_root(one) for one in rest]) * IN_COMMON**0.5
    own = np.array([_positive(r - a @ a.T) for r, a in zip(rest, alike, strict=True)])
    inverse = np.linalg.inv(own)
    within = np.linalg.inv(inverse.sum(axis=0))
    weight = within @ inverse
    mean = np.einsum("kij,kj->i", weight, values)
    # What is shared comes in with the weights' sum over the photos, as one error.
    common = [np.einsum("kij,kj->i", weight, told[:, c]) for c in range(len(causes))]
    map_part = np.einsum("kij,kjm->im", weight, alike)
    covariance = within + map_part @ map_part.T
    covariance += sum((np.outer(g, g) for g in common), np.zeros((4, 4)))
    off = values - mean
    each = np.einsum("ki,kij,kj->k", off, inverse, off)
    dof = 4 * (len(photos) - 1)
    chi2 = float(each.sum())
    spread = np.abs(off / np.sqrt(np.einsum("kii->ki", own)))
    chance = float(stats.chi2.sf(chi2, dof))
    worst = int(spread.max(axis=0).argmax())
    return _Mean(mean, (covariance + covariance.T) / 2.0, chi2, dof, chance, worst)


def _root(matrix: Array) -> Array:
    """Return the symmetric root of a covariance, in which each row stays with its quantity."""
    values, vectors = np.linalg.eigh(_positive(matrix))
    return np.asarray(vectors * np.sqrt(values) @ vectors.T)


def _positive(matrix: Array) -> Array:
    """Return a covariance without negative variances, which differences of them may have."""
    u = np.sqrt(np.maximum(np.diag(matrix), 1e-12))
    values, vectors = np.linalg.eigh(matrix / np.outer(u, u))
    return np.asarray(vectors * np.maximum(values, 1e-3) @ vectors.T * np.outer(u, u))


def _that_agree(photos: Sequence[Measurement]) -> tuple[tuple[int, ...], _Mean]:
    """Return the places of the photos that go together, and their mean.

    Where they differ too much, the one without which the others agree best is left out, and again,
    as long as most of them stay; where those that stay do not agree either, all of them count.
    """
    used = tuple(range(len(photos)))
    mean = whole = _mean(photos)
    if whole.chance >= DISAGREE:
        return used, whole
    while 2 * (len(used) - 1) > len(photos):
        used, mean = _without_the_farthest(photos, used)
        if mean.chance > AGREE:
            return used, mean
    return tuple(range(len(photos))), whole


def _without_the_farthest(
    photos: Sequence[Measurement], used: Sequence[int]
) -> tuple[tuple[int, ...], _Mean]:
    """Return the places but that of the photo without which the others agree best; their mean."""
    fewer = [tuple(i for i in used if i != odd) for odd in used]
    tries = [(some, _mean([photos[i] for i in some])) for some in fewer]
    return min(tries, key=lambda one: one[1].chi2)


def _farthest(photos: Sequence[Measurement], mean: _Mean) -> int | None:
    """Return the place of the photo that lies farthest from the others where they disagree."""
    if mean.chance >= DISAGREE or len(photos) < 3:
        return None
    places = range(len(photos))
    near, _ = _without_the_farthest(photos, places)
    return next(i for i in places if i not in near)


def _flags(kept: Sequence[Measurement], mean: _Mean, left_out: tuple[int, ...]) -> tuple[str, ...]:
    seen = {one.geometry.ends for one in kept} - {Ends.UNKNOWN}
    holds = {
        "photos-disagree": mean.chance < DISAGREE,
        "photo-left-out": bool(left_out),
        "ends-differ": len(seen) > 1,
        "hand-differs": len({one.hand for one in kept} - {"unknown"}) > 1,
    }
    # What every photo suffers from is not mended by having several.
    common = set.intersection(*(set(one.flags) for one in kept))
    ours = tuple(code for code, true in holds.items() if true)
    return ours + tuple(code for code in kept[0].flags if code in common)


def _most(words: Sequence[str]) -> str:
    return Counter(words).most_common(1)[0][0]


def _most_ends(kept: Sequence[Measurement]) -> Ends:
    """Return the ends that most photos show; of equally many, what the nearest photo shows."""
    nearest = sorted(kept, key=lambda one: -one.wire_px)
    known = [one.geometry.ends for one in nearest if one.geometry.ends is not Ends.UNKNOWN]
    return Counter(known).most_common(1)[0][0] if known else Ends.UNKNOWN


def _small_end(kept: Sequence[Measurement]) -> tuple[float, float]:
    ratios = np.array([one.geometry.small_end_ratio for one in kept])
    if _most([one.kind for one in kept]) != "conical":
        return 1.0, 0.0
    cones = ratios[ratios < 1.0]
    u = float(np.mean([one.geometry.u_small_end_ratio for one in kept if one.taper is not None]))
    share = float(IN_COMMON[1] + (1.0 - IN_COMMON[1]) / len(cones))
    return float(cones.mean()), u * share**0.5


def _difference(kept: Sequence[Measurement], worst: int) -> str:
    values = [one.geometry.values[worst] for one in kept]
    name = NAMES[worst]
    unit = " mm" if name.endswith("_mm") else ""
    return f"{_LABELS[name]}: " + ", ".join(f"{v:.4g}" for v in values) + unit


def _refused(message: str) -> Refusal:
    return Refusal(
        "not-fused", "geometry", message, "Take each photo of the same spring, with its scale."
    )
