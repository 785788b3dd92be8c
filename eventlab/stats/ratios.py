"""Two rates compared exactly."""

from typing import Literal, NamedTuple

import numpy as np
import numpy.typing as npt

from eventlab.stats.counts import share_interval
from eventlab.stats.tails import binomial_tail

Floats = npt.NDArray[np.float64]
Alternative = Literal["two-sided", "greater", "less"]


class RateRatio(NamedTuple):
    """First rate over second with exact limits, and both p-values, one of each per element."""

    ratio: Floats
    low: Floats
    high: Floats
    p_exact: Floats
    p_mid: Floats


def rate_ratio(
    count: npt.ArrayLike,
    exposure: npt.ArrayLike,
    other_count: npt.ArrayLike,
    other_exposure: npt.ArrayLike,
    *,
    null: float = 1.0,
    alternative: Alternative = "two-sided",
    level: float = 0.95,
) -> RateRatio:
    """Compare two Poisson rates, given the sum of their counts.

    Parameters
    ----------
    count, other_count : array_like of float
        Events seen on each side.
    exposure, other_exposure : array_like of float
        Time or chances behind each count, in the same unit.
    null : float, default 1.0
        The ratio that the p-values test.
    alternative : {'two-sided', 'greater', 'less'}
        Side of the p-values; two-sided adds all outcomes that are no likelier than the one seen.
    level : float, default 0.95
        Of the limits.

    Returns
    -------
    RateRatio
        Without any event the ratio is not a number, the limits are 0 and infinity and p is 1;
        without exposure on either side everything is not a number.

    Notes
    -----
    Given the sum, the first count is binomial: Przyborowski and Wilenski (1940), Biometrika 31,
    313-323; the p-values as compared in Gu, Ng, Tang and Schucany (2008), Biometrical Journal 50,
    283-298. Limits are those of Clopper and Pearson (1934), turned into ratios.
    """
    hits, time, rest, other = np.broadcast_arrays(
        *(np.asarray(x, dtype=np.float64) for x in (count, exposure, other_count, other_exposure))
    )
    known = (time > 0) & (other > 0)
    time = np.where(known, time, np.nan)
    other = np.where(known, other, np.nan)
    total = hits + rest
    share = np.where(known, null * time / (null * time + other), 0.5)

    at_least = binomial_tail(hits, total, share)
    at_most = binomial_tail(total - hits, total, 1 - share)
    here = _chance(hits, total, share)
    if alternative == "greater":
        exact = at_least
    elif alternative == "less":
        exact = at_most
    else:
        exact = _two_sided(hits, total, share, at_least, at_most)
    blank = np.where(known, 1.0, np.nan)
    none = total == 0
    exact = np.where(none, 1.0, np.minimum(exact, 1.0))
    mid = np.where(none, 1.0, exact - here / 2)

    within = share_interval(hits, np.where(none, 1.0, total), level=level)
    with np.errstate(divide="ignore", invalid="ignore"):
        scale = other / time
        low = np.where(none, 0.0, within.low / (1 - within.low) * scale)
        high = np.where(none, np.inf, within.high / (1 - within.high) * scale)
        ratio = np.where(none, np.nan, hits / rest * scale)
    return RateRatio(ratio, low * blank, high * blank, exact * blank, mid * blank)


def _chance(hits: Floats, total: Floats, share: Floats) -> Floats:
    from scipy.special import gammaln, xlog1py, xlogy

    ways = gammaln(total + 1) - gammaln(hits + 1) - gammaln(total - hits + 1)
    return np.asarray(
        np.exp(ways + xlogy(hits, share) + xlog1py(total - hits, -share)), dtype=np.float64
    )


def _two_sided(
    hits: Floats, total: Floats, share: Floats, at_least: Floats, at_most: Floats
) -> Floats:
    """Add the far tail: outcomes on the other side of the mode that are no likelier.

    The chances fall away from the mode on either side, so the cut is found by halving.
    """
    bar = _chance(hits, total, share) * (1 + 1e-7)
    mode = np.floor((total + 1) * share)
    upper = hits >= total * share
    near = np.where(upper, at_least, at_most)
    # On the far side: below, the largest j <= mode with chance <= bar; above, the smallest.
    low = np.where(upper, -1.0, np.minimum(mode, total) - 1)
    high = np.where(upper, np.minimum(mode, total) + 1, total + 1)
    for _ in range(int(np.ceil(np.log2(np.max(total, initial=0) + 2))) + 1):
        middle = np.floor((low + high) / 2)
        small = _chance(np.clip(middle, 0, total), total, share) <= bar
        inside = (middle > low) & (middle < high)
        low = np.where(inside & (small == upper), middle, low)
        high = np.where(inside & (small != upper), middle, high)
    below = binomial_tail(total - low, total, 1 - share)  # low or fewer, seen from the other side
    far = np.where(upper, np.where(low >= 0, below, 0.0), binomial_tail(high, total, share))
    alone = np.where(upper, hits <= mode, hits >= mode)  # the likeliest outcome: p is 1
    return np.asarray(np.where(alone, 1.0, np.minimum(near + far, 1.0)), dtype=np.float64)
