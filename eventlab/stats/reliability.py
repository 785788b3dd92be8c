"""How far told probabilities are from what came true."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Numbers = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]

BINS = 10
_REDRAWN = 400


@dataclass(frozen=True)
class Bins:
    """Probabilities in bins of equal number, from low to high.

    Parameters
    ----------
    told, true : numpy.ndarray of float
        Mean probability told, and share that came true, of each bin.
    count : numpy.ndarray of int
        How many.
    """

    told: Floats
    true: Floats
    count: Numbers


def bins(told: Floats, true: Flags, many: int = BINS) -> Bins:
    """Put probabilities and what came true into bins of equal number.

    Parameters
    ----------
    told : numpy.ndarray of float, shape (n,)
        Probabilities.
    true : numpy.ndarray of bool, shape (n,)
        What came true.
    many : int
        Number of bins; fewer where there are fewer values.

    Returns
    -------
    Bins
        Empty where there is nothing.
    """
    order = np.argsort(told, kind="stable")
    parts = [part for part in np.array_split(order, many) if len(part)]
    return Bins(
        np.array([told[part].mean() for part in parts]),
        np.array([true[part].mean() for part in parts]),
        np.array([len(part) for part in parts], dtype=np.int64),
    )


def calibration_error(told: Floats, true: Flags, many: int = BINS) -> float:
    """Return the mean distance of told probabilities from shares over bins of equal number.

    Parameters
    ----------
    told, true, many
        As for ``bins``.

    Returns
    -------
    float
        0 to 1; not a number where there is nothing.

    Notes
    -----
    Expected calibration error (Naeini, Cooper, Hauskrecht 2015, AAAI 29; from memory), with bins
    of equal number.
    """
    if not len(told):
        return float("nan")
    part = bins(told, true, many)
    return float(np.average(np.abs(part.told - part.true), weights=part.count))


def calibration_interval(
    told: Floats, true: Flags, group: Numbers, *, seed: int = 0, redrawn: int = _REDRAWN
) -> tuple[float, float]:
    """Return the middle 95 % of the calibration error when whole groups are drawn again.

    Parameters
    ----------
    told, true
        As for ``bins``.
    group : numpy.ndarray of int, shape (n,)
        What belongs together (a site): such groups are drawn, never single values.
    seed, redrawn : int
        Of the draws.

    Returns
    -------
    tuple of float
        Low and high. The error of few values is itself biased upwards, and so is this.
    """
    random = np.random.default_rng(seed)
    _, which = np.unique(group, return_inverse=True)
    members = np.split(np.argsort(which, kind="stable"), np.cumsum(np.bincount(which))[:-1])
    got = []
    for _ in range(redrawn):
        chosen = random.integers(0, len(members), len(members))
        rows = np.concatenate([members[one] for one in chosen])
        got.append(calibration_error(told[rows], true[rows]))
    low, high = np.quantile(got, [0.025, 0.975])
    return float(low), float(high)


def brier(told: Floats, true: Numbers) -> float:
    """Return the mean squared distance of told probabilities from what came true.

    Parameters
    ----------
    told : numpy.ndarray of float, shape (n, classes)
        Probabilities, each row adding up to one.
    true : numpy.ndarray of int, shape (n,)
        The class that came true.

    Returns
    -------
    float
        0 (always sure and right) to 2; not a number where there is nothing.

    Notes
    -----
    Brier 1950, Monthly Weather Review 78: the sum over all classes.
    """
    if not len(told):
        return float("nan")
    hit = np.zeros_like(told)
    hit[np.arange(len(true)), true] = 1.0
    return float(((told - hit) ** 2).sum(axis=1).mean())
