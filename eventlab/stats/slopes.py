"""Robust lines through points."""

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]


def theil_sen(x: Floats, y: Floats, level: float = 0.95) -> tuple[float, float, float]:
    """Give the median of the slopes between all pairs of points, with its interval.

    Parameters
    ----------
    x, y : float array
        At least two points of different ``x``.
    level : float
        Of the interval.

    Returns
    -------
    tuple of float
        Slope, its lower and its upper limit.

    Notes
    -----
    Sen, Estimates of the regression coefficient based on Kendall's tau, JASA 63 (1968). The same
    figures as ``scipy.stats.theilslopes``, without loading all of scipy.stats.
    """
    from scipy.special import ndtri

    low, high = np.triu_indices(x.size, 1)
    span = x[high] - x[low]
    apart = span != 0
    slopes = np.sort((y[high] - y[low])[apart] / span[apart])
    count = x.size
    spread = count * (count - 1) * (2 * count + 5) - _ties(x) - _ties(y)
    half = ndtri((1 + level) / 2) * np.sqrt(max(spread, 0) / 18)
    first = max(int(np.round((slopes.size - half) / 2)) - 1, 0)
    last = min(int(np.round((slopes.size + half) / 2)), slopes.size - 1)
    return float(np.median(slopes)), float(slopes[first]), float(slopes[last])


def _ties(values: Floats) -> int:
    """Give what equal values take from the variance."""
    same = np.unique(values, return_counts=True)[1]
    return int((same * (same - 1) * (2 * same + 5)).sum())
