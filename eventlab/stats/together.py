"""Events of one stretch of time that stand closer together than chance spreads them."""

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]


def span_chance(
    span: npt.ArrayLike, count: npt.ArrayLike, length: npt.ArrayLike, cut: npt.ArrayLike = False
) -> Floats:
    """Give the chance that so many events, spread evenly over a length, lie within a span.

    Parameters
    ----------
    span, length : array_like of float
        In the same unit.
    count : array_like of int
        Two or more; fewer always lie together.
    cut : array_like of bool, default False
        Whether the events seen are only the first of as many again that were hidden; then the
        answer is an upper bound.

    Returns
    -------
    numpy.ndarray of float
        Between 0 and 1.

    Notes
    -----
    With x = span / length the range of n even draws has the distribution n x^(n-1) - (n-1) x^n
    (the range of a uniform sample is beta(n-1, 2); from memory). Of 2 n draws the first n lie
    within x with a chance of at most C(2n, n-1) x^(n-1).
    """
    from scipy.special import binom

    part = np.clip(np.asarray(span, np.float64) / np.asarray(length, np.float64), 0.0, 1.0)
    n, hidden = np.asarray(count, np.float64), np.asarray(cut, bool)
    plain = n * part ** (n - 1) - (n - 1) * part**n
    bound = binom(2 * n, n - 1) * part ** (n - 1)
    chance = np.where(hidden, bound, plain)
    return np.asarray(np.where(n < 2, 1.0, np.clip(chance, 0.0, 1.0)), dtype=np.float64)


def combined(p_values: npt.ArrayLike, group: npt.ArrayLike) -> tuple[npt.NDArray[np.int64], Floats]:
    """Combine the p-values of each group (Fisher 1932, from memory).

    Parameters
    ----------
    p_values : array_like of float
        Independent within their group.
    group : array_like of int
        Which group each belongs to.

    Returns
    -------
    tuple of numpy.ndarray
        The groups in ascending order, and the tail of chi-squared at -2 sum ln p.
    """
    from scipy.special import gammaincc

    p = np.maximum(np.asarray(p_values, np.float64), 1e-300)
    names, place = np.unique(np.asarray(group, np.int64), return_inverse=True)
    size = np.bincount(place, minlength=names.size)
    total = np.bincount(place, -np.log(p), minlength=names.size)
    return names, np.asarray(gammaincc(np.maximum(size, 1), total), dtype=np.float64)
