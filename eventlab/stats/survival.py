"""How long things last, where many still do and few were watched from their beginning."""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

_SHAPES = (1e-2, 1e2)
"""Between these the shape is looked for."""


class Survival(NamedTuple):
    """The share that lasts beyond each time at which something failed, with limits."""

    time: Floats
    at_risk: Ints
    failed: Ints
    share: Floats
    error: Floats
    low: Floats
    high: Floats


class Weibull(NamedTuple):
    """A Weibull law: the share ``exp(-(t / scale) ** shape)`` lasts longer than ``t``.

    ``covariance`` is that of the logarithms of shape and scale; ``failed`` how many it is from.
    """

    shape: float
    scale: float
    covariance: Floats
    failed: int


class Remaining(NamedTuple):
    """Time left until a share of things of so much age has failed, with limits."""

    time: Floats
    low: Floats
    high: Floats


def survival(
    entry: npt.ArrayLike, leaving: npt.ArrayLike, failed: npt.ArrayLike, *, level: float = 0.95
) -> Survival:
    """Estimate the share that lasts, without a law.

    Parameters
    ----------
    entry : array_like of float, shape (n,)
        Age from which on each was watched; 0 where from its beginning.
    leaving : array_like of float, shape (n,)
        Age at which it failed or was last seen well.
    failed : array_like of bool, shape (n,)
        Whether it failed then.
    level : float, default 0.95
        Of the limits.

    Returns
    -------
    Survival
        A row for each age at which anything failed.

    Notes
    -----
    Kaplan and Meier 1958, JASA 53, 457-481, with late entry (those that were not watched yet are
    not at risk); Greenwood's error; limits on the scale ln(-ln) (Kalbfleisch and Prentice 1980;
    from memory), not a number where nothing or all is left.
    """
    from scipy.special import ndtri

    begun, ended = (np.asarray(x, dtype=np.float64) for x in (entry, leaving))
    dead = np.asarray(failed, dtype=bool)
    time, many = np.unique(ended[dead], return_counts=True)
    # At risk: entered before this age, and not left before it.
    risk = np.searchsorted(np.sort(begun), time, "left") - np.searchsorted(
        np.sort(ended), time, "left"
    )
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.cumprod(1 - many / risk)
        total = np.cumsum(many / (risk * (risk - many)))
        error = np.where(share > 0, share * np.sqrt(total), 0.0)
        wide = -ndtri((1 - level) / 2) * np.sqrt(total) / np.abs(np.log(share))
        open_ = (share > 0) & (share < 1)
        low = np.where(open_, share ** np.exp(wide), np.nan)
        high = np.where(open_, share ** np.exp(-wide), np.nan)
    return Survival(time, risk.astype(np.int64), many.astype(np.int64), share, error, low, high)


def weibull(entry: npt.ArrayLike, leaving: npt.ArrayLike, failed: npt.ArrayLike) -> Weibull | None:
    """Fit a Weibull law by maximum likelihood.

    Parameters
    ----------
    entry, leaving, failed : array_like
        As for `survival`.

    Returns
    -------
    Weibull or None
        None where fewer than two failed, or all at one age, so that nothing can be fitted.

    Notes
    -----
    Likelihood with late entry and with things that still last (Klein and Moeschberger 2003,
    Survival Analysis, 3.5; from memory); the scale is eliminated, the shape found by bisection.
    """
    from scipy.optimize import brentq

    begun, ended = (np.asarray(x, dtype=np.float64) for x in (entry, leaving))
    dead = np.asarray(failed, dtype=bool) & (ended > 0)
    lived = ended > begun
    begun, ended, dead = begun[lived], ended[lived], dead[lived]
    many = int(dead.sum())
    if many < 2 or np.ptp(ended[dead]) == 0:
        return None
    unit = float(ended.max())
    end, start = np.log(ended / unit), np.log(np.maximum(begun, 1e-300) / unit)

    def score(shape: float) -> float:
        high, low = np.exp(shape * end), np.exp(shape * start)
        total = float((high - low).sum())
        weighed = float((high * end - low * np.where(begun > 0, start, 0.0)).sum())
        return many / shape + float(end[dead].sum()) - many * weighed / total

    if score(_SHAPES[0]) <= 0 or score(_SHAPES[1]) >= 0:
        return None
    shape = float(brentq(score, *_SHAPES, xtol=1e-10))
    total = float((np.exp(shape * end) - np.exp(shape * start)).sum())
    scale = unit * (total / many) ** (1 / shape)
    inverse = np.linalg.inv(-_curvature(begun, ended, dead, shape, scale))
    covariance = np.asarray(inverse, dtype=np.float64)
    return Weibull(shape, scale, covariance, many)


def _curvature(
    begun: Floats, ended: Floats, dead: npt.NDArray[np.bool_], shape: float, scale: float
) -> Floats:
    """Give the second derivatives of the log likelihood by ln shape and ln scale."""
    high = shape * np.log(ended / scale)
    low = shape * np.log(np.maximum(begun, 1e-300) / scale)
    top, floor = np.exp(high), np.where(begun > 0, np.exp(low), 0.0)
    low = np.where(begun > 0, low, 0.0)
    many = dead.sum()
    first = high[dead].sum() - (top * high * (high + 1) - floor * low * (low + 1)).sum()
    mixed = -shape * many + shape * (top * (high + 1) - floor * (low + 1)).sum()
    second = -(shape**2) * (top - floor).sum()
    return np.array([[first, mixed], [mixed, second]])


def remaining_time(
    law: Weibull, age: npt.ArrayLike, share: float = 0.5, *, level: float = 0.95
) -> Remaining:
    """Give the time after which a share of things of some age has failed.

    Parameters
    ----------
    law : Weibull
        How long such things last.
    age : array_like of float
        How old each is, 0 or more.
    share : float, default 0.5
        Above 0, below 1.
    level : float, default 0.95
        Of the limits, which tell how well the law is known, not how much single ones differ.

    Returns
    -------
    Remaining
        In the unit of the law; limits by the delta method on the logarithm.
    """
    from scipy.special import ndtri

    old = np.asarray(age, dtype=np.float64)
    place = np.log([law.shape, law.scale])

    def left(at: Floats) -> Floats:
        shape, scale = np.exp(at)
        return np.asarray(
            scale * ((old / scale) ** shape - np.log1p(-share)) ** (1 / shape) - old,
            dtype=np.float64,
        )

    best = left(place)
    step = 1e-5
    slopes = [
        (np.log(left(place + step * unit)) - np.log(left(place - step * unit))) / (2 * step)
        for unit in np.eye(2)
    ]
    slope = np.stack(slopes, axis=-1)
    error = np.sqrt(np.maximum(np.einsum("...i,ij,...j", slope, law.covariance, slope), 0.0))
    wide = np.exp(-ndtri((1 - level) / 2) * error)
    return Remaining(best, best / wide, best * wide)


def failing(law: Weibull, age: npt.ArrayLike, span: float) -> Floats:
    """Give the chance that things of some age fail within a span.

    Parameters
    ----------
    law : Weibull
        How long such things last.
    age : array_like of float
        How old each is, 0 or more.
    span : float
        How far ahead, in the unit of the law.

    Returns
    -------
    numpy.ndarray of float
        0 to 1.
    """
    old = np.asarray(age, dtype=np.float64)
    risk = ((old + span) / law.scale) ** law.shape - (old / law.scale) ** law.shape
    return np.asarray(-np.expm1(-risk), dtype=np.float64)
