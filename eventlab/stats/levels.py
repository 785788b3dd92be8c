"""Are values uncommonly high where something happened? Ranks among their own kind, exactly."""

from functools import lru_cache
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from eventlab.stats.tails import binomial_tail

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

LEVELS = (0.01, 0.02, 0.035, 0.05, 0.075, 0.1, 0.15, 0.2, 0.25, 0.3, 0.4, 0.5)
"""Upper shares at which ranks are counted."""


class Level(NamedTuple):
    """The most telling level of each group: its tail, which level, hits, ranks; and exact p."""

    tail: Floats
    level: Ints
    hits: Ints
    ranks: Ints
    p: Floats


def level_scan(ranks: npt.ArrayLike, groups: npt.ArrayLike, count: int) -> Level:
    """Find the level below which more ranks of a group lie than chance brings.

    Parameters
    ----------
    ranks : array_like of float, shape (n,)
        Rank of each value among those it is compared with, as a share: (1 + how many are as high)
        / (1 + how many there are). Not a number where there is nothing to compare with.
    groups : array_like of int, shape (n,)
        Which series each belongs to, 0 ... ``count`` - 1.
    count : int
        How many groups there are.

    Returns
    -------
    Level
        One element per group; p is 1 for a group without ranks. Paid for all levels: the exact
        chance that the smallest of the tails over ``LEVELS`` is as small, for ranks spread evenly.

    Notes
    -----
    The number of ranks below rising levels is a Markov chain; the chance that it stays below a
    boundary at every level is a product of binomial steps (as for the statistics of Berk and
    Jones 1979, Z. Wahrscheinlichkeitstheorie 47, 47-59; Noe 1972; from memory).
    """
    value = np.asarray(ranks, dtype=np.float64)
    label = np.asarray(groups, dtype=np.int64)
    told = ~np.isnan(value)
    total = np.bincount(label[told], minlength=count)
    below = np.stack(
        [np.bincount(label[told & (value <= v)], minlength=count) for v in LEVELS], axis=1
    )
    tails = binomial_tail(below, total[:, None], np.array(LEVELS)[None, :])
    level = tails.argmin(axis=1)
    tail = np.where(total > 0, tails.min(axis=1), 1.0)
    here = np.arange(count)
    return Level(tail, level, below[here, level], total, level_p(tail, total))


def level_p(tail: npt.ArrayLike, ranks: npt.ArrayLike) -> Floats:
    """Give the exact chance of a smallest tail so small or smaller.

    Parameters
    ----------
    tail : array_like of float, shape (n,)
        Smallest tail over ``LEVELS``.
    ranks : array_like of int, shape (n,)
        How many ranks it was taken over.

    Returns
    -------
    numpy.ndarray of float, shape (n,)
        Between the tail itself and ``len(LEVELS)`` times it.
    """
    least = np.asarray(tail, dtype=np.float64)
    size = np.asarray(ranks, dtype=np.int64)
    p = np.ones(least.shape)
    for n in np.unique(size[size > 0]):
        here = np.flatnonzero(size == n)
        steps, chances = _chain(int(n))
        stays, lost = np.zeros((len(here), int(n) + 1)), np.zeros(len(here))
        stays[:, 0] = 1.0
        for step, chance in zip(steps, chances, strict=True):
            stays = stays @ step
            beyond = chance[None, :] <= least[here, None] * (1 + 1e-9)
            # What is lost is added up: the little that is missing of 1 would be rounded away.
            lost += np.where(beyond, stays, 0.0).sum(axis=1)
            stays[beyond] = 0.0
        p[here] = lost
    return np.clip(p, least, np.minimum(len(LEVELS) * least, 1.0))


@lru_cache(maxsize=512)
def _chain(n: int) -> tuple[tuple[Floats, ...], tuple[Floats, ...]]:
    """Give, for each level, the step of the chain and the tail of each number of ranks below."""
    before = 0.0
    steps: list[Floats] = []
    chances: list[Floats] = []
    numbers = np.arange(n + 1)
    for level in LEVELS:
        share = (level - before) / (1 - before)
        more = numbers[None, :] - numbers[:, None]
        steps.append(_chances(more, (n - numbers)[:, None], share))
        chances.append(binomial_tail(numbers, n, level))
        before = level
    return tuple(steps), tuple(chances)


def _chances(hits: Ints, trials: Ints, share: float) -> Floats:
    """Give the binomial chance of so many hits; none where there cannot be so many."""
    from scipy.special import gammaln, xlog1py, xlogy

    able = (hits >= 0) & (hits <= trials)
    some = np.where(able, hits, 0)
    ways = gammaln(trials + 1) - gammaln(some + 1) - gammaln(trials - some + 1)
    told = np.exp(ways + xlogy(some, share) + xlog1py(trials - some, -share))
    return np.where(able, told, 0.0)
