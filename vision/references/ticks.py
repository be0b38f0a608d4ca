"""Rows of graduations: found by their rhythm along a line, then every one by itself."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.fft import rfft
from scipy.ndimage import gaussian_filter1d, median_filter, uniform_filter1d

from vision._cv import sample_grey

Array = NDArray[np.float64]
Grey = NDArray[np.uint8]
#: The row with the clearest rhythm, the middles of its windows and their periods: see `rhythm`.
Rhythm = tuple[int, Array, Array]

SHORTEST_PX, LONGEST_PX = 4.5, 48.0  # distance of graduations
WINDOW_PX, HOP_PX, MOST_WINDOWS = 256, 128, 48
ROW_PX, REACH_PX = 3.0, 90.0  # rows beside a line
RHYTHM = 0.34  # part of a window's power on a rhythm and its two overtones
FEWEST, FEWEST_ROWS = 25, 4  # graduations that are needed, and rows in which they show
FEWEST_WINDOWS, MOST_UNSTEADY = 3, 0.04  # whose rhythm tells how it changes; off that, of itself
MOST_UNEVEN = 0.06  # scatter, of the distance of graduations
STRAY = 4.0  # times the usual scatter: no graduation
PRESENT = 0.4  # of the usual contrast
ROWS_AT_ONCE = 16  # whose spectra are held in memory


@dataclass(frozen=True, slots=True)
class Ticks:
    """A row of graduations.

    Attributes
    ----------
    number : ndarray of int, shape (N,)
        Which graduation each is, counted from an arbitrary one.
    points : ndarray, shape (M, N, 2)
        Its middle line at M distances from the ruler's edge [px], NaN where it is not seen.
    length : ndarray, shape (N,)
        Its length [px].
    period_px : float
        Usual distance from one to the next [px].
    rms_px : float
        Scatter about an even row [px].
    """

    number: NDArray[np.int64]
    points: Array
    length: Array
    period_px: float
    rms_px: float


@dataclass(frozen=True, slots=True)
class Strip:
    """Greys beside a line: rows across (R, L), sampled every pixel along.

    Attributes
    ----------
    start, along, across : ndarray, shape (2,)
        First point of the line, unit direction along it and across it [px].
    offsets : ndarray, shape (R,)
        Where each row lies across [px].
    grey : ndarray, shape (R, L)
        Grey values, the slow part taken away.
    """

    start: Array
    along: Array
    across: Array
    offsets: Array
    grey: NDArray[np.float32]

    def negative(self) -> "Strip":
        """Return it with light and dark changed over: light marks on a dark ruler."""
        return replace(self, grey=-self.grey)

    def place(self, offset: Array, at: Array) -> Array:
        """Return pixels (..., 2) of positions along and offsets across."""
        return np.asarray(self.start + at[..., None] * self.along + offset[..., None] * self.across)


def strip_of(grey: Grey, ends: Array, reach_px: float = REACH_PX) -> Strip:
    """Return the strip beside the line between two points (2, 2), to both sides [px]."""
    along = (ends[1] - ends[0]) / np.linalg.norm(ends[1] - ends[0])
    across = np.array([-along[1], along[0]])
    # Wide strips are for finding the marks only: sixty rows a side will do.
    offsets = np.arange(-reach_px, reach_px + 0.1, max(ROW_PX, reach_px / 60.0))
    at = np.arange(int(np.linalg.norm(ends[1] - ends[0])), dtype=np.float64)
    points = ends[0] + at[:, None] * along + offsets[:, None, None] * across
    raw = sample_grey(grey, points).astype(np.float32)
    return Strip(ends[0], along, across, offsets, raw - gaussian_filter1d(raw, 14.0, axis=1))


def rhythm(strip: Strip) -> Rhythm:
    """Return the row with the clearest rhythm, the middles of its windows and their periods.

    Returns
    -------
    row : int
        Index of the row, -1 where there is none.
    middles, periods : ndarray, shape (W,)
        Of the windows that have the rhythm [px].
    """
    none = -1, np.zeros(0), np.zeros(0)
    length = strip.grey.shape[1]
    if length < WINDOW_PX:
        return none
    starts = np.arange(0, length - WINDOW_PX + 1, max(HOP_PX, length // MOST_WINDOWS))
    spread = 1.4826 * np.median(np.abs(strip.grey), axis=1, keepdims=True) + 1.0
    capped = np.clip(strip.grey, -4.0 * spread, 4.0 * spread)
    told = []
    for rows in np.array_split(capped, -(-len(capped) // ROWS_AT_ONCE)):
        windows = np.stack([rows[:, s : s + WINDOW_PX] for s in starts], axis=1)
        told.append(_strongest_rhythm(windows))
    share, period = (np.concatenate(one) for one in zip(*told, strict=True))
    steady = share > RHYTHM
    # Graduations show in several rows on end; a row alone is an edge that comes out as stairs.
    count = median_filter((share * steady).sum(axis=1), 3)
    if steady.sum(axis=1).max() < 2:
        return none
    clear = np.flatnonzero((count > 0.7 * count.max()) & steady.any(axis=1))
    if not len(clear):
        return none
    usual = [float(np.median(period[r][steady[r]])) for r in clear]
    # Past the ends of the short marks only the long ones keep a rhythm, a slower one.
    finest = clear[np.array(usual) < 1.25 * min(usual)]
    row = int(finest[np.argmax(count[finest])])
    middle = float(np.median(period[row][steady[row]]))
    good = steady[row] & (np.abs(period[row] / middle - 1.0) < 0.25)
    return row, (starts + WINDOW_PX / 2.0)[good], period[row][good]


def _strongest_rhythm(windows: NDArray[np.float32]) -> tuple[Array, Array]:
    """Return the share of power (R, W) on the best rhythm of windows (R, W, L), and its period."""
    padded = 4 * WINDOW_PX
    power = np.abs(rfft(windows * np.hanning(WINDOW_PX).astype(np.float32), padded, axis=2)) ** 2
    total = power[:, :, 8:].sum(axis=2) + 1e-9
    # A line of a Hann window spreads over four bins of the unpadded transform.
    near = uniform_filter1d(power, 13, axis=2) * 13.0
    bins = np.arange(int(padded / LONGEST_PX), int(padded / SHORTEST_PX))
    last = power.shape[2] - 1

    share = np.zeros((*windows.shape[:2], len(bins)))
    for half in range(1, 7):
        at = half * bins // 2
        there = near[:, :, np.minimum(at, last)] * (at <= last)
        # Less what lies between the lines: speckles have a smooth spectrum, and as much there.
        share += there if half % 2 == 0 else -there
    # The half of a rhythm has all its power on overtones: its own line must be there too.
    share *= near[:, :, bins] > 0.15 * share
    best = share.argmax(axis=2)
    top = np.take_along_axis(share, best[..., None], axis=2)[..., 0]
    return top / total, padded / bins[best]


def read_ticks(strip: Strip, beat: Rhythm) -> Ticks | None:
    """Return the graduations beside a line, or None where there is no row of them.

    The strip's rhythm, which its negative has too, gives the number of each graduation near it, as
    a projective map along the row; then every graduation is followed from row to row, towards its
    end and towards the edge.
    """
    row, middles, periods = beat
    if row < 0 or not len(periods):
        return None
    period = float(np.median(periods))
    at, depth = _minima(strip.grey[row], period)
    counted = _counted(at, depth, middles, periods)
    if counted is None:
        return None
    number, start = counted
    followed, contrast = _followed(strip, row, start, period)
    seen = contrast > PRESENT * np.median(contrast[row])
    length = float(strip.offsets[1] - strip.offsets[0]) * _run(seen, row)
    # Of the marks that nothing covers. The outermost rows lie half on the side face and half past
    # the ends of the marks.
    present = seen.mean(axis=1)
    shared = np.flatnonzero(present > 0.8 * present.max())[1:-1]
    if not len(shared):
        return None
    places = _without_strays(number, np.where(seen[shared], followed[shared], np.nan))
    points = strip.place(np.broadcast_to(strip.offsets[shared, None], places.shape), places)
    rms = float(np.sqrt(np.nanmean(_uneven(number, places) ** 2)))
    whole = np.isfinite(places).mean(axis=0) > 0.5
    if len(shared) < FEWEST_ROWS or rms > MOST_UNEVEN * period or whole.sum() < FEWEST:
        return None
    return Ticks(number[whole], np.asarray(points[:, whole]), length[whole], period, rms)


def _minima(profile: Array, period: float) -> tuple[Array, Array]:
    """Return dark places of a profile between samples, and how deep they are."""
    smooth = gaussian_filter1d(profile, max(0.8, 0.06 * period))
    inner = smooth[1:-1]
    at = 1 + np.flatnonzero((inner < smooth[:-2]) & (inner <= smooth[2:]))
    left, middle, right = smooth[at - 1], smooth[at], smooth[at + 1]
    bend = np.maximum(left - 2.0 * middle + right, 1e-9)
    around = uniform_filter1d(smooth, max(3, int(period)))
    return at + 0.5 * (left - right) / bend, around[at] - middle


def _counted(
    at: Array, depth: Array, middles: Array, periods: Array
) -> tuple[NDArray[np.int64], Array] | None:
    """Return numbers and positions of the dark places that keep the rhythm.

    Number as a function of position is projective: k(x) = f (x - x0) / (1 + c (x - x0)).
    """
    line, keeping = _steady(middles, 1.0 / periods)
    middles = middles[keeping]
    x0 = float(np.median(middles))
    within = (at > middles.min() - WINDOW_PX / 2) & (at < middles.max() + WINDOW_PX / 2)
    at, depth = at[within & (depth > 0)], depth[within & (depth > 0)]
    if len(at) < FEWEST:
        return None
    weight = np.minimum(depth, np.median(depth) * 1.5 + 1e-9)
    x = at - x0
    rates = np.polyval(line, x0) * np.linspace(0.97, 1.03, 61)
    bends = np.linspace(-3e-4, 3e-4, 121)
    # A rate at a time: all at once would take a hundred megabytes. The rates are evenly spaced, so
    # that each turns all by as much more.
    bent = 2j * np.pi * x / (1.0 + bends[:, None] * x)
    turned, step = weight * np.exp(rates[0] * bent), np.exp((rates[1] - rates[0]) * bent)
    power = np.zeros((len(rates), len(bends)))
    for told in power:
        told[:] = np.abs(turned.sum(axis=1))
        turned *= step
    rate_at, bend_at = np.unravel_index(int(power.argmax()), power.shape)
    best = np.array([rates[rate_at], bends[bend_at], 0.0])
    best[2] = np.angle((weight * np.exp(rates[rate_at] * bent[bend_at])).sum()) / (2 * np.pi)
    return _kept(x, depth, best, x0)


def _steady(middles: Array, rates: Array) -> tuple[Array, NDArray[np.bool_]]:
    """Return graduations a pixel as a straight line (2,) along windows, and which windows keep it.

    Past the ruler's ends the ribs of a cloth have a rhythm of their own. Of the lines through any
    two windows the one that most windows keep is the ruler's.
    """
    if len(middles) < FEWEST_WINDOWS:
        return np.array([0.0, float(np.median(rates))]), np.ones(len(middles), dtype=bool)
    one, two = np.triu_indices(len(middles), 1)
    slope = (rates[two] - rates[one]) / (middles[two] - middles[one])
    told = rates[one, None] + slope[:, None] * (middles - middles[one, None])
    keeping = np.abs(rates / np.maximum(told, 1e-9) - 1.0) < MOST_UNSTEADY
    kept = keeping[int(keeping.sum(axis=1).argmax())]
    return np.polyfit(middles[kept], rates[kept], 1), kept


def _kept(x: Array, depth: Array, map_: Array, x0: float) -> tuple[NDArray[np.int64], Array] | None:
    """Return numbers and positions of dark places near whole numbers, after refining the map."""
    for _ in range(4):
        k = map_[0] * x / (1.0 + map_[1] * x) - map_[2]
        number = np.rint(k).astype(np.int64)
        use = (np.abs(k - number) < 0.2) & (depth > 0.3 * np.median(depth))
        if use.sum() < FEWEST:
            return None
        # k (1 + c x) = f x - p (1 + c x): linear in f, c p and p together.
        n, xs = number[use].astype(np.float64), x[use]
        rows = np.column_stack([xs, -n * xs, np.ones_like(xs)])
        f, c, p = np.linalg.lstsq(rows, n, rcond=None)[0]
        map_ = np.array([f - c * p, c, -p])
    order = np.argsort(np.abs(k - number)[use])
    first = np.unique(number[use][order], return_index=True)[1]
    chosen = np.flatnonzero(use)[order[first]]
    if len(chosen) < FEWEST:
        return None
    return number[chosen], x[chosen] + x0


def _followed(strip: Strip, row: int, start: Array, period: float) -> tuple[Array, Array]:
    """Return where each graduation is in every row (R, N), and how dark against its sides."""
    rows = len(strip.offsets)
    smooth = gaussian_filter1d(strip.grey, max(0.8, 0.06 * period), axis=1)
    at, contrast = np.full((rows, len(start)), np.nan), np.zeros((rows, len(start)))
    for way in (1, -1):
        now, drift = start.copy(), 0.0
        for r in range(row, rows if way > 0 else -1, way):
            found, contrast[r] = _nearest_dark(smooth[r], now + drift, period)
            at[r] = found
            good = contrast[r] > PRESENT * np.median(contrast[row])
            if good.sum() > 5 and r != row:
                step = np.where(good, found - now, np.nan)
                drift = float(np.nanmedian(step))
                now = np.where(good, found, now + drift)
    return at, contrast


def _nearest_dark(profile: Array, guess: Array, period: float) -> tuple[Array, Array]:
    """Return the darkest place within a fifth of a period of guesses, and its contrast."""
    reach = max(1, round(0.2 * period))
    steps = np.arange(-reach, reach + 1)
    index = np.clip(np.rint(guess)[:, None].astype(int) + steps, 1, len(profile) - 2)
    best = index[np.arange(len(guess)), profile[index].argmin(axis=1)]
    left, middle, right = (profile[best + k] for k in (-1, 0, 1))
    bend = np.maximum(left - 2.0 * middle + right, 1e-9)
    half = max(2, round(0.5 * period))
    sides = [profile[np.clip(best + k, 0, len(profile) - 1)] for k in (-half, half)]
    return best + np.clip(0.5 * (left - right) / bend, -1.0, 1.0), np.minimum(*sides) - middle


def _run(seen: NDArray[np.bool_], row: int) -> Array:
    """Return in how many rows on end, that row among them, each graduation is seen."""
    count = np.zeros(seen.shape[1])
    for rows in (range(row, len(seen)), range(row - 1, -1, -1)):
        going = np.ones(seen.shape[1], dtype=bool)
        for r in rows:
            going &= seen[r]
            count += going
    return count


def _without_strays(number: NDArray[np.int64], places: Array) -> Array:
    """Return places (M, N) without those that lie far off an even row: edges of things on it."""
    for _ in range(2):
        off = np.abs(_uneven(number, places))
        usual = 1.4826 * float(np.nanmedian(off))
        places = np.where(off > STRAY * usual, np.nan, places)
    return places


def _uneven(number: NDArray[np.int64], places: Array) -> Array:
    """Return how far each place (M, N) lies from an even, projective row [px]."""
    off = np.full(places.shape, np.nan)
    for row, x in enumerate(places):
        use = np.isfinite(x)
        n = number[use].astype(np.float64)
        rows = np.column_stack([n, -n * x[use], np.ones_like(n)])
        a, c, b = np.linalg.lstsq(rows, x[use], rcond=None)[0]
        off[row, use] = x[use] - (a * n + b) / (1.0 + c * n)
    return off
