"""Rates that are drawn towards what is usual: what a bad month makes one expect."""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

STEPS = 40
_GOLDEN = (np.sqrt(5) - 1) / 2
_WIDEST, _EVEN = np.log(1e-3), np.log(1e6)
"""Between rates that differ without bound, and rates that do not differ at all."""


class Shrunk(NamedTuple):
    """What is to be expected of each count's own rate, and the family it is drawn towards.

    ``shape`` is large where the rates of the family do not differ; ``mean`` is its mean rate.
    """

    rate: Floats
    shape: Floats
    mean: Floats


def shrunk_rates(
    count: npt.ArrayLike, exposure: npt.ArrayLike, group: npt.ArrayLike | None = None
) -> Shrunk:
    """Estimate rates that differ by a gamma distribution inside each family.

    Parameters
    ----------
    count : array_like of float, shape (n,)
        Events of each window.
    exposure : array_like of float, shape (n,)
        Time behind each count, above 0.
    group : array_like, shape (n,), optional
        Label of the family of each; one family where left out.

    Returns
    -------
    Shrunk
        One of each per window; a rate lies between the window's own and that of its family.

    Notes
    -----
    Counts are then negative binomial; shape and mean by maximum likelihood (Efron and Hastie
    2016, Computer Age Statistical Inference, ch. 6; the model of Gaver and O'Muircheartaigh
    1987, Technometrics 29, 1-15), the shape between 0.001 and a million.
    """
    y, t = (np.asarray(x, dtype=np.float64) for x in (count, exposure))
    label = np.zeros(y.shape, np.int64)
    if group is not None:
        label = np.unique(np.asarray(group), return_inverse=True)[1].reshape(y.shape)
    many = int(label.max(initial=-1)) + 1
    if many == 0:
        return Shrunk(y, y, y)
    family = _Family(y, t, label, many)
    low, high = np.full(many, _WIDEST), np.full(many, _EVEN)
    for _ in range(STEPS):
        left, right = high - _GOLDEN * (high - low), low + _GOLDEN * (high - low)
        rises = family.likelihood(left) < family.likelihood(right)
        low, high = np.where(rises, left, low), np.where(rises, high, right)
    shape = np.exp((low + high) / 2)[label]
    mean = family.mean((low + high) / 2)[label]
    rate = np.where(mean > 0, (shape + y) / (shape / np.where(mean > 0, mean, 1) + t), 0.0)
    return Shrunk(rate, shape, mean)


class _Family:
    """The likelihood of all families at once, each at its own shape."""

    def __init__(self, y: Floats, t: Floats, label: npt.NDArray[np.int64], many: int) -> None:
        self.y, self.t, self.label, self.many = y, t, label, many
        self.own = y / t
        self.most = np.zeros(many)
        np.maximum.at(self.most, label, self.own)

    def _sum(self, values: Floats) -> Floats:
        total = np.bincount(self.label, values, minlength=self.many)
        return np.asarray(total, dtype=np.float64)

    def mean(self, log_shape: Floats) -> Floats:
        """Give the likeliest mean of each family at its shape, by halving."""
        shape = np.exp(log_shape)[self.label]
        low, high = np.zeros(self.many), self.most.copy()
        for _ in range(STEPS):
            middle = (low + high) / 2
            here = middle[self.label]
            up = self._sum((self.y - here * self.t) / (shape + here * self.t)) > 0
            low, high = np.where(up, middle, low), np.where(up, high, middle)
        return (low + high) / 2

    def likelihood(self, log_shape: Floats) -> Floats:
        """Give the largest likelihood of each family at its shape."""
        from scipy.special import gammaln, xlogy

        shape = np.exp(log_shape)[self.label]
        there = self.mean(log_shape)[self.label] * self.t
        return self._sum(
            gammaln(shape + self.y)
            - gammaln(shape)
            - shape * np.log1p(there / shape)
            + xlogy(self.y, there / (shape + there))
        )


def gamma_interval(
    count: npt.ArrayLike, exposure: npt.ArrayLike, shrunk: Shrunk, level: float = 0.95
) -> tuple[Floats, Floats]:
    """Say where the rates that were drawn towards their family may lie.

    Parameters
    ----------
    count, exposure : array_like of float, shape (n,)
        As for `shrunk_rates`.
    shrunk : Shrunk
        What came of it.
    level : float
        How surely a rate lies between the two.

    Returns
    -------
    tuple of ndarray
        Lower and upper limits; 0 where the family had no event.

    Notes
    -----
    Quantiles of the gamma distribution that is left when shape and mean of the family are taken
    as known, so a little too narrow for small families (Efron and Hastie 2016, ch. 6).
    """
    from scipy.special import gammaincinv

    y, t = (np.asarray(x, dtype=np.float64) for x in (count, exposure))
    known = shrunk.mean > 0
    scale = shrunk.shape / np.where(known, shrunk.mean, 1) + t
    low, high = (
        np.where(known, gammaincinv(shrunk.shape + y, share) / scale, 0.0)
        for share in ((1 - level) / 2, (1 + level) / 2)
    )
    return low, high
