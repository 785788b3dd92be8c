"""When did a rate change? Exact change points of a Poisson process, and its busiest stretch.

Events are given by the share of the time at risk that had passed at each; with a steady rate
these shares are even draws between 0 and 1, whatever the exposure looked like.
"""

from functools import cache
from typing import Literal, NamedTuple

import numpy as np
import numpy.typing as npt

from eventlab.stats.tails import gain

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Change = Literal["rise", "fall"]

SEED = 20_263
ENOUGH = 50
"""Draws as large as what was seen, after which a p-value is known well enough."""
BATCHES = (200, 1800, 18_000)


class Point(NamedTuple):
    """The likeliest cut of each series: ``first`` is the event with which the new rate begins.

    ``gain`` is the logarithm of the likelihood ratio.
    """

    gain: Floats
    first: Ints


class Stretch(NamedTuple):
    """The busiest stretch of each series: its first and last event, and the gain."""

    gain: Floats
    first: Ints
    last: Ints


def change_point(shares: npt.ArrayLike, *, change: Change = "rise", least: int = 3) -> Point:
    """Find the cut after which (or up to which) the rate was likeliest higher.

    Parameters
    ----------
    shares : array_like of float, shape (..., n)
        Share of the time at risk passed at each event, ascending.
    change : {'rise', 'fall'}
        Whether the later or the earlier part has the higher rate.
    least : int, default 3
        Fewest events of the busier part.

    Returns
    -------
    Point
        For each series; gain 0 where no cut makes the rate higher there. The new rate begins
        with event ``first``, or after the one before it where it falls.
    """
    at = np.asarray(shares, dtype=np.float64)
    if change == "fall":
        mirrored = change_point(1 - at[..., ::-1], least=least)
        return Point(mirrored.gain, at.shape[-1] - mirrored.first)
    n = at.shape[-1]
    before = np.arange(n)
    gains = np.where(n - before >= least, gain(n - before, n, 1 - at), 0.0)
    best = gains.argmax(axis=-1)
    return Point(np.take_along_axis(gains, best[..., None], -1)[..., 0], best)


def change_p(gains: npt.ArrayLike, events: int, *, least: int = 3) -> Floats:
    """Chance that a steady rate shows a cut at least so telling, all cuts looked at.

    Parameters
    ----------
    gains : array_like of float, shape (m,)
        As `change_point` gives them, of series with the same number of events.
    events : int
        How many events each has.
    least : int, default 3
        As in `change_point`.

    Returns
    -------
    numpy.ndarray of float, shape (m,)
        Exact for even draws. A rise is as likely as a fall.

    Notes
    -----
    The gain of a cut before event i stays below a bar as long as the event comes before a bound
    b_i, so the question is whether the number of events is i or more at every b_i. That is
    followed from bound to bound by binomial steps, and what is lost is added up (after Noé 1972,
    Ann. Math. Statist. 43, 58-64); the likelihood ratio is that of Worsley (1986), Biometrika 73,
    91-104.
    """
    bars = np.atleast_1d(np.asarray(gains, dtype=np.float64))
    answer = np.ones(bars.shape)
    if events < least:
        return answer
    for i in np.flatnonzero(bars > 0):
        answer[i] = _lost(_bounds(bars[i], events, least), events)
    return answer


def _bounds(bar: float, n: int, least: int) -> Floats:
    """Latest share at which each event may come while its cut stays below the bar."""
    from scipy.special import xlogy

    many = np.arange(n, least - 1, -1, dtype=np.float64)
    rest = n - many
    # The gain falls with the share left, ever more slowly: from below Newton's steps cannot pass.
    left = many / n * np.exp((xlogy(rest, rest / n) - bar) / many)
    for _ in range(_STEPS):
        over = many * np.log(many / (n * left)) + xlogy(rest, rest / (n * (1 - left))) - bar
        step = over / (many / left - rest / (1 - left))
        left = left + step
        if (step <= left * _CLOSE).all():
            break
    # A later event cannot come before an earlier one: the tightest bound holds.
    return np.minimum.accumulate((1 - left)[::-1])[::-1]


_STEPS, _CLOSE = 60, 1e-15


def _lost(bounds: Floats, n: int) -> float:
    from scipy.special import xlog1py, xlogy

    more, left, ways = _chain(n)
    here = np.zeros(n + 1)
    here[0] = 1.0
    lost, passed = 0.0, 0.0
    for need, bound in enumerate(bounds, start=1):
        step = (bound - passed) / (1 - passed) if passed < 1 else 0.0
        here = here @ np.exp(ways + xlogy(more, step) + xlog1py(left, -step))
        lost += here[:need].sum()
        here[:need] = 0.0
        passed = max(passed, float(bound))
    return float(min(1.0, lost))


@cache
def _chain(n: int) -> tuple[Floats, Floats, Floats]:
    """Give, of each count and each later one, how many came, how many are left, in how many ways.

    The logarithm of the ways; minus infinity where the count would fall.
    """
    from scipy.special import gammaln

    counts = np.arange(n + 1, dtype=np.float64)
    more = counts[None, :] - counts[:, None]
    left = n - counts[None, :]
    fits = more >= 0
    more, left = np.where(fits, more, 0.0), np.where(fits, left, 0.0)
    ways = gammaln(more + left + 1) - gammaln(more + 1) - gammaln(left + 1)
    return more, left, np.where(fits, ways, -np.inf)


def busiest(shares: npt.ArrayLike, *, least: int = 3) -> Stretch:
    """Find the stretch, from one event to another, in which the rate was likeliest higher.

    Parameters
    ----------
    shares : array_like of float, shape (..., n)
        As in `change_point`.
    least : int, default 3
        Fewest events of the stretch.

    Returns
    -------
    Stretch
        For each series; gain 0 where there is none.
    """
    at = np.moveaxis(np.asarray(shares, dtype=np.float64), -1, 0)
    n = len(at)
    gains, inside = _busy(at, least)
    if not n:
        return Stretch(gains, inside - 1, inside - 1)
    last = np.arange(n).reshape(-1, *(1,) * inside.ndim) + inside - 1
    there = np.take_along_axis(at, np.minimum(last, n - 1), 0)
    first = np.where(last < n, there - at, np.inf).argmin(axis=0)
    told = gains > 0
    return Stretch(gains, np.where(told, first, 0), np.where(told, first + inside - 1, 0))


def _busy(at: Floats, least: int) -> tuple[Floats, Ints]:
    """Give the gain of the busiest stretch, and how many events are in it; events first.

    Of stretches with as many events the narrowest has the largest gain.
    """
    n = len(at)
    best, inside = np.zeros(at.shape[1:]), np.ones(at.shape[1:], dtype=np.int64)
    for many in range(max(least, 2), n + 1):
        width = (at[many - 1 :] - at[: n - many + 1]).min(axis=0)
        gains = gain(many, n, np.clip(width, 1e-12, 1.0))
        inside[gains > best] = many
        np.maximum(best, gains, out=best)
    return best, inside


def busiest_p(gains: npt.ArrayLike, events: int, *, least: int = 3) -> Floats:
    """Chance that a steady rate shows a stretch at least so busy, all stretches looked at.

    Parameters
    ----------
    gains : array_like of float, shape (m,)
        As `busiest` gives them, of series with the same number of events.
    events : int
        How many events each has.
    least : int, default 3
        As in `busiest`.

    Returns
    -------
    numpy.ndarray of float, shape (m,)
        From draws with a fixed seed, the same for all series; it stops early where a value is
        seen to be ordinary. At least 1 in 20,001.

    Notes
    -----
    Besag and Clifford (1991), Biometrika 78, 301-304: sequential Monte Carlo p-values are exact.
    """
    seen = np.atleast_1d(np.asarray(gains, dtype=np.float64))
    answer = np.ones(seen.shape)
    over, drawn = np.zeros(seen.shape, dtype=np.int64), 0
    going = (seen > 0) & (events >= least)
    for number, size in enumerate(BATCHES):
        if not going.any():
            break
        null = _drawn(events, least, number)
        over[going] += size - np.searchsorted(null, seen[going] * (1 - 1e-9))
        drawn += size
        answer[going] = (1 + over[going]) / (1 + drawn)
        going &= over < ENOUGH
    return np.minimum(answer, 1.0)


@cache
def _drawn(events: int, least: int, number: int) -> Floats:
    """Give the gains of one batch of drawn series, ascending."""
    draw = np.random.Generator(np.random.PCG64([SEED, events, number]))
    at = np.sort(draw.random((BATCHES[number], events)), axis=-1)
    return np.sort(_busy(np.ascontiguousarray(at.T), least)[0])
