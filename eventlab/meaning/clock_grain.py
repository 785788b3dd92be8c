"""How fine a clock is: the step in which it counts, measured on all its times."""

import numpy as np
import polars as pl

STEPS_S = (2, 5, 10, 15, 30, 60, 300, 600, 900, 1800, 3600)
"""Steps in which clocks of logs count (common practice) [s]."""

_LEAST = 12
"""Fewer different times of day show no step."""

_SURE_BITS = 40.0
"""A finer clock would show so coarse times less often than one in 2 ** 40."""

_FIRST = 1000
_MICRO = 1_000_000
_DAY_S = 86_400


def measured_grain(wall: pl.Series, written: int) -> int:
    """Measure the step of a clock.

    A clock that counts minutes is seen where no seconds are written; one that counts two seconds,
    or quarters of an hour, only in that all its times are multiples.

    Parameters
    ----------
    wall : polars.Series of Datetime
        Wall times; nulls do not count.
    written : int
        What the last figure written stands for [s].

    Returns
    -------
    int
        The step [s]: of ``STEPS_S``, or ``written``.
    """
    known = wall.drop_nulls().to_physical()
    whole = known.head(_FIRST).to_numpy() // _MICRO
    if not whole.size or _common(whole) <= written:
        return written
    seconds = np.unique(known.to_numpy() // _MICRO % _DAY_S)
    common = _common(seconds)
    fitting = [step for step in STEPS_S if step > written and common % step == 0]
    if seconds.size < _LEAST or not fitting:
        return written
    sure = [step for step in fitting if seconds.size * np.log2(step / written) >= _SURE_BITS]
    return max(sure, default=written)


def _common(seconds: np.ndarray) -> int:
    return int(np.gcd.reduce(np.append(seconds % _DAY_S, _DAY_S)))
