"""Tails of the binomial, for many elements at once."""

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]


def binomial_tail(hits: npt.ArrayLike, trials: npt.ArrayLike, share: npt.ArrayLike) -> Floats:
    """Give the chance of so many hits or more.

    Parameters
    ----------
    hits, trials : array_like of float
        Whole numbers, 0 or more; more hits than trials have no chance.
    share : array_like of float
        Chance of a hit in each trial, 0 to 1. Where it differs from trial to trial, its mean:
        for tails above the mean that is on the safe side (Hoeffding 1956).

    Returns
    -------
    numpy.ndarray of float
        In the shape that the arguments have together.

    Notes
    -----
    The regularised incomplete beta function (Abramowitz and Stegun 26.5.24). Hoeffding (1956),
    Annals of Mathematical Statistics 27, 713-721.
    """
    from scipy.special import betainc

    some, total, each = _alike(hits, trials, share)
    tail = np.where(some > 0, 0.0, 1.0)
    inside = (some > 0) & (some <= total)
    few = some[inside]
    tail[inside] = betainc(few, total[inside] - few + 1, each[inside])
    return tail


def gain(hits: npt.ArrayLike, trials: npt.ArrayLike, share: npt.ArrayLike) -> Floats:
    """Give by how much a share fitted to the hits tells them better than the share given.

    Parameters
    ----------
    hits, trials : array_like of float
        Whole numbers.
    share : array_like of float
        What is expected, 0 to 1.

    Returns
    -------
    numpy.ndarray of float
        Logarithm of the likelihood ratio, 0 where no more hits came than expected [nats].
    """
    from scipy.special import xlogy

    some, total, each = _alike(hits, trials, share)
    told = np.zeros(some.shape)
    more = some > total * each
    some, total, each = some[more], total[more], each[more]
    rest = total - some
    with np.errstate(divide="ignore", invalid="ignore"):
        told[more] = some * np.log(some / (total * each)) + xlogy(rest, rest / (total * (1 - each)))
    return told


def _alike(*given: npt.ArrayLike) -> tuple[Floats, ...]:
    """Give numbers the shape that they have together."""
    return np.broadcast_arrays(*(np.asarray(one, dtype=np.float64) for one in given))
