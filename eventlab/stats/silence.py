"""How often chance alone keeps something silent for so long."""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]


class Silent(NamedTuple):
    """The chance of each series to be silent on all of its last days."""

    group: Ints
    chance: Floats


def silent_chance(
    days: npt.ArrayLike, seen: npt.ArrayLike, last: npt.ArrayLike, group: npt.ArrayLike
) -> Silent:
    """Give the chance that none of the days on which a thing was seen is one of the last.

    Parameters
    ----------
    days : array_like of int, shape (n,)
        Days of one stratum (a weekday) of a series, the last silent ones included.
    seen : array_like of int, shape (n,)
        On how many of them it was seen.
    last : array_like of int, shape (n,)
        How many of them are the last ones, since it was seen for the last time.
    group : array_like of int, shape (n,)
        Number of the series of each stratum.

    Returns
    -------
    Silent
        By series in ascending order; 1 where nothing was to be expected.

    Notes
    -----
    Exact, given on how many days of each weekday it was seen: every choice of those days among all
    of that weekday is as likely as any other where nothing changed, so none falls on the last ``n``
    of ``N`` days in ``C(N - n, s) / C(N, s)`` of the cases (hypergeometric; Fisher 1935, The Design
    of Experiments). That is also the tail of the length of the last silence, since a longer one has
    the shorter in it.
    """
    from scipy.special import gammaln

    total, some, end = (np.asarray(x, dtype=np.float64) for x in (days, seen, last))
    names, place = np.unique(np.asarray(group, dtype=np.int64), return_inverse=True)

    def ways(of: Floats) -> Floats:
        return np.asarray(gammaln(of + 1) - gammaln(of - some + 1), dtype=np.float64)

    fits = total - end >= some
    kept = np.where(fits, total - end, some)
    log = np.where(fits, ways(kept) - ways(total), -np.inf)
    summed = np.bincount(place.reshape(log.shape), log, minlength=names.size)
    return Silent(names, np.exp(np.minimum(summed, 0.0)))


def spell_chance(runs: npt.ArrayLike, length: npt.ArrayLike, last: npt.ArrayLike) -> Floats:
    """Give the chance that a silence lasts so long, where things are silent in spells.

    Parameters
    ----------
    runs : array_like of float
        Silences before the last one; what is usual elsewhere may be added as so many more.
    length : array_like of float
        Days in all of them, at least as many as ``runs``.
    last : array_like of float
        Days of the last silence, 1 or more.

    Returns
    -------
    numpy.ndarray of float
        1 where there was none before.

    Notes
    -----
    Lengths of spells are taken to be geometric. Given their number and sum, each way to cut the sum
    into parts of a day or more is as likely, so the last of ``K + 1`` parts of ``S + n`` days is no
    shorter than ``n`` in ``C(S, K) / C(S + n - 1, K)`` of them (stars and bars; Feller 1968, An
    Introduction to Probability Theory I, II.5).
    """
    from scipy.special import gammaln

    many, days, end = (np.asarray(x, dtype=np.float64) for x in (runs, length, last))

    def ways(of: Floats) -> Floats:
        return np.asarray(gammaln(of + 1) - gammaln(of - many + 1), dtype=np.float64)

    return np.asarray(np.exp(ways(days) - ways(days + end - 1)), dtype=np.float64)
