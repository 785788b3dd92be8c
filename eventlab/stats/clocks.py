"""One clock against another: usual difference, steps and drift, from events that both tell."""

import itertools
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from eventlab.stats.slopes import theil_sen

Floats = npt.NDArray[np.float64]
Longs = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]

_CROWDED = 40
"""A row with more partners in reach than this tells nothing: its kind happens all the time."""

_BIN_S = 20.0
"""Width of the bins in which differences are counted; three together make a peak [s]."""

_PEAK_MIN = 5
_CLEAR = 0.6
"""A second peak must be lower than this share of the first."""

_SIDE = 6
"""Pairs on each side of a place that must differ for a step to be there."""

_SIDE_LEAST = 3
_MOST = 300
"""Pairs that a line is laid through; more are thinned evenly."""

_DAY_S = 86_400.0
_MAD_TO_SIGMA = 1.4826
_MEDIAN_ERROR = 1.2533
_TWO_SIDED = 1.96


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch over which a clock ran evenly.

    Parameters
    ----------
    low, high : int
        Places of its first and last pair among all pairs.
    first, last : float
        Times of these [s].
    middle : float
        Where ``offset`` holds [s].
    offset : float
        The one clock minus the other at ``middle`` [s].
    drift : float
        Change of the offset [s per day]; 0 where none is told from chance.
    plus_minus : float
        Half of the 95 % interval of ``offset`` [s].
    drift_plus_minus : float
        Half of the 95 % interval of the drift [s per day]; infinite with too few pairs.
    pairs : int
        Events that both tell.
    """

    low: int
    high: int
    first: float
    last: float
    middle: float
    offset: float
    drift: float
    plus_minus: float
    drift_plus_minus: float
    pairs: int

    def at(self, moment: float) -> float:
        """Give the offset at a moment [s]."""
        return self.offset + self.drift * (moment - self.middle) / _DAY_S


def partners(
    mine: Floats, mine_key: Longs, theirs: Floats, theirs_key: Longs, reach_s: float
) -> tuple[Longs, Longs]:
    """Give all pairs of events of one key that lie within reach.

    Parameters
    ----------
    mine, theirs : float array
        Times [s], any order.
    mine_key, theirs_key : int64 array
        What makes two events alike.
    reach_s : float
        The largest difference looked at [s].

    Returns
    -------
    tuple of int64 array
        Places in ``mine`` and in ``theirs``. Events with very many partners are left out.
    """
    left, right = [], []
    for key in np.intersect1d(mine_key, theirs_key):
        here = np.flatnonzero(mine_key == key)
        there = np.flatnonzero(theirs_key == key)
        there = there[np.argsort(theirs[there], kind="stable")]
        low = np.searchsorted(theirs[there], mine[here] - reach_s, side="left")
        high = np.searchsorted(theirs[there], mine[here] + reach_s, side="right")
        many = high - low
        good = (many > 0) & (many <= _CROWDED)
        here, low, many = here[good], low[good], many[good]
        left.append(np.repeat(here, many))
        starts = np.repeat(low - np.concatenate(([0], np.cumsum(many)[:-1])), many)
        right.append(there[starts + np.arange(many.sum())])
    if not left:
        none = np.zeros(0, dtype=np.int64)
        return none, none
    return np.concatenate(left), np.concatenate(right)


def peak(differences: Floats, events: int) -> float | None:
    """Give the difference that far more pairs show than any other.

    Parameters
    ----------
    differences : float array
        Of all pairs [s]; those of pairs that belong together pile up.
    events : int
        How many events could have a partner.

    Returns
    -------
    float or None
        Median of the pile [s]; None where there is none, or a second one.
    """
    if differences.size < _PEAK_MIN:
        return None
    bins = np.floor(differences / _BIN_S).astype(np.int64)
    low = int(bins.min())
    counts = np.bincount(bins - low, minlength=1)
    padded = np.concatenate(([0], counts, [0]))
    threes = padded[:-2] + padded[1:-1] + padded[2:]
    best = int(np.argmax(threes))
    top = int(threes[best])
    if top < _PEAK_MIN or top < events / 3:
        return None
    far = threes.copy()
    far[max(best - 3, 0) : best + 4] = 0
    if far.max(initial=0) > _CLEAR * top:
        return None
    near = np.abs(bins - low - best) <= 1
    return float(np.median(differences[near]))


def matched(
    mine: Floats,
    theirs: Floats,
    pairs: tuple[Longs, Longs],
    *,
    window_s: float = 7 * _DAY_S,
    near_s: float = 120.0,
) -> tuple[Longs, Floats]:
    """Keep the pairs that belong together: those about the peak of their week, one to one.

    Parameters
    ----------
    mine, theirs : float array
        Times [s]; ``mine`` in the order in which the events happened.
    pairs : tuple of int64 array
        As ``partners`` gives them.
    window_s : float
        How long a clock is taken to differ by much the same [s].
    near_s : float
        How far from the peak a pair may lie [s].

    Returns
    -------
    tuple of array
        Places in ``mine``, ascending, and the differences ``mine - theirs`` [s].
    """
    left, right = pairs
    if not left.size:
        return np.zeros(0, dtype=np.int64), np.zeros(0)
    difference = mine[left] - theirs[right]
    week = np.floor(mine[left] / window_s).astype(np.int64)
    first_week = int(week.min())
    # A week in which the clock was set has two peaks or none: those of the weeks beside it do.
    usual = np.full(int(week.max()) - first_week + 3, np.nan)
    for one in np.unique(week):
        here = week == one
        found = peak(difference[here], np.unique(left[here]).size)
        if found is not None:
            usual[one - first_week + 1] = found
    about = week - first_week + 1
    aways = np.abs(difference - usual[np.stack([about - 1, about, about + 1])])
    away = np.where(np.isnan(aways), np.inf, aways).min(axis=0)
    kept = np.flatnonzero(away <= near_s)
    kept = kept[np.argsort(away[kept], kind="stable")]
    _, first = np.unique(left[kept], return_index=True)
    kept = kept[np.sort(first)]
    _, first = np.unique(right[kept], return_index=True)
    kept = kept[np.sort(first)]
    kept = kept[np.argsort(left[kept], kind="stable")]
    return left[kept], difference[kept]


def pieces(times: Floats, offsets: Floats, *, step_s: float = 30.0) -> list[Piece]:
    """Cut the offsets of a clock where it was set, and lay a robust line through each stretch.

    The slope that is usual between near pairs is taken out first: a crystal runs on at its own
    rate whoever sets the clock, so that what is left is level between steps.

    Parameters
    ----------
    times : float array
        When, by the clock looked at [s]; in the order in which it happened.
    offsets : float array
        The one clock minus the other [s].
    step_s : float
        The smallest step told from scatter [s].

    Returns
    -------
    list of Piece
        In order of time; none where there are too few pairs.

    Notes
    -----
    Theil-Sen line with the interval of Sen (1968), see ``slopes.theil_sen``.
    """
    if times.size < _SIDE_LEAST:
        return []
    level = offsets - _usual_slope(times, offsets) * (times - times[0])
    edges = [0, *_steps(level, step_s), times.size]
    return [
        _line(low, times[low:high], offsets[low:high])
        for low, high in itertools.pairwise(edges)
        if high - low >= _SIDE_LEAST
    ]


def _usual_slope(times: Floats, offsets: Floats) -> float:
    ahead = min(_SIDE, times.size - 1)
    span = times[ahead:] - times[:-ahead]
    rise = offsets[ahead:] - offsets[:-ahead]
    apart = span > 0
    return float(np.median(rise[apart] / span[apart])) if apart.any() else 0.0


def _steps(level: Floats, step_s: float) -> list[int]:
    """Find the places where the level changes for good: first pair after each step."""
    found: list[int] = []
    count = level.size
    rise = _rises(level)
    big = np.abs(rise) > step_s
    place = 0
    while place < count:
        if not big[place]:
            place += 1
            continue
        end = place
        while end + 1 < count and big[end + 1] and np.sign(rise[end + 1]) == np.sign(rise[place]):
            end += 1
        low = found[-1] if found else 0
        around = level[max(place - _SIDE, low) : min(end + _SIDE, count)]
        start = max(place - _SIDE, low)
        splits = range(place, end + 1)
        found.append(min(splits, key=lambda at: _unevenness(around, at - start)))
        place = end + 1
    return found


def _rises(level: Floats) -> Floats:
    """Give, at each place, the median of the pairs after it less that of those before it."""
    count = level.size
    rise = np.zeros(count)
    if count >= 2 * _SIDE:
        middle = np.median(np.lib.stride_tricks.sliding_window_view(level, _SIDE), axis=1)
        rise[_SIDE : count - _SIDE + 1] = middle[_SIDE:] - middle[:-_SIDE]
    for place in range(_SIDE_LEAST, count - _SIDE_LEAST + 1):
        if count < 2 * _SIDE or not _SIDE <= place <= count - _SIDE:
            before = level[max(place - _SIDE, 0) : place]
            rise[place] = np.median(level[place : place + _SIDE]) - np.median(before)
    return rise


def _unevenness(level: Floats, split: int) -> float:
    total = 0.0
    for part in (level[:split], level[split:]):
        if part.size:
            total += float(np.abs(part - np.median(part)).sum())
    return total


def _line(low: int, times: Floats, offsets: Floats) -> Piece:
    middle = float((times[0] + times[-1]) / 2)
    days = (times - middle) / _DAY_S
    slope, half = 0.0, float("inf")
    if times.size >= 2 * _SIDE_LEAST and days[-1] - days[0] > 1:
        thin = np.unique(np.linspace(0, times.size - 1, min(times.size, _MOST)).astype(np.int64))
        told, lower, upper = theil_sen(days[thin], offsets[thin])
        half = (upper - lower) / 2
        # A slope that chance can give is no drift.
        slope = told if lower > 0 or upper < 0 else 0.0
    rest = offsets - slope * days
    offset = float(np.median(rest))
    spread = _MAD_TO_SIGMA * float(np.median(np.abs(rest - offset)))
    error = _TWO_SIDED * _MEDIAN_ERROR * spread / np.sqrt(times.size)
    return Piece(
        low=low,
        high=low + times.size - 1,
        first=float(times[0]),
        last=float(times[-1]),
        middle=middle,
        offset=offset,
        drift=slope,
        plus_minus=float(error),
        drift_plus_minus=half,
        pairs=times.size,
    )
