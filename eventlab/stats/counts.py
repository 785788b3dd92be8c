"""Exact intervals for counts, rates and shares."""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]


class Interval(NamedTuple):
    """An estimate with the interval around it, one of each per element."""

    estimate: Floats
    low: Floats
    high: Floats


def count_interval(count: npt.ArrayLike, *, level: float = 0.95) -> Interval:
    """Exact interval for the mean of a Poisson count.

    Parameters
    ----------
    count : array_like of float
        Events seen, 0 or more.
    level : float, default 0.95
        Share of cases in which the interval holds the truth, at least.

    Returns
    -------
    Interval
        The count itself with its limits, in events.

    Notes
    -----
    Garwood (1936), Biometrika 28, 437-442: equal tails of the gamma distribution.
    """
    from scipy.special import gammaincinv

    seen = np.asarray(count, dtype=np.float64)
    tail = (1 - level) / 2
    low = np.where(seen > 0, gammaincinv(np.maximum(seen, 1), tail), 0.0)
    return Interval(seen, low, np.asarray(gammaincinv(seen + 1, 1 - tail), dtype=np.float64))


def rate_interval(
    count: npt.ArrayLike, exposure: npt.ArrayLike, *, level: float = 0.95
) -> Interval:
    """Exact interval for a rate: events per unit of exposure.

    Parameters
    ----------
    count : array_like of float
        Events seen.
    exposure : array_like of float
        Time (or chances) in which they could happen; where 0, the answer is not a number.
    level : float, default 0.95
        As in `count_interval`.

    Returns
    -------
    Interval
        Rate and limits, in events per unit of exposure.

    Notes
    -----
    Garwood (1936), divided by the exposure.
    """
    time = np.asarray(exposure, dtype=np.float64)
    per = np.where(time > 0, time, np.nan)
    whole = count_interval(count, level=level)
    return Interval(whole.estimate / per, whole.low / per, whole.high / per)


def share_interval(hits: npt.ArrayLike, trials: npt.ArrayLike, *, level: float = 0.95) -> Interval:
    """Exact interval for a share: hits out of trials.

    Parameters
    ----------
    hits : array_like of float
        Times it happened.
    trials : array_like of float
        Times it could have happened; where 0, the answer is not a number.
    level : float, default 0.95
        As in `count_interval`.

    Returns
    -------
    Interval
        Share and limits, between 0 and 1.

    Notes
    -----
    Clopper and Pearson (1934), Biometrika 26, 404-413.
    """
    from scipy.special import betaincinv

    happened, chances = np.broadcast_arrays(
        np.asarray(hits, dtype=np.float64), np.asarray(trials, dtype=np.float64)
    )
    tail = (1 - level) / 2
    missed = chances - happened
    per = np.where(chances > 0, chances, np.nan)
    low = np.where(happened > 0, betaincinv(np.maximum(happened, 1), missed + 1, tail), 0.0)
    high = np.where(missed > 0, betaincinv(happened + 1, np.maximum(missed, 1), 1 - tail), 1.0)
    known = np.where(chances > 0, 1.0, np.nan)
    return Interval(happened / per, low * known, high * known)
