"""The shortest time between two events of a series that sleeps after each."""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]


class Floor(NamedTuple):
    """The shortest spacing of each series; not a number where none shows."""

    group: Ints
    floor: Floats
    highest: Floats
    piled: Ints
    p_value: Floats


def spacing_floor(
    gaps: npt.ArrayLike,
    group: npt.ArrayLike | None = None,
    *,
    step: npt.ArrayLike = 1.0,
    width: float = 0.2,
    least: int = 6,
    bar: float = 0.001,
) -> Floor:
    """Find where the gaps of a series pile up just above a stretch that is all but empty.

    Parameters
    ----------
    gaps : array_like of float, shape (n,)
        Times from one event to the next, in any order.
    group : array_like of int, shape (n,), optional
        Number of the series of each gap; one series where left out.
    step : array_like of float, default 1
        What one step of the clock stands for, in the unit of the gaps; a gap told as g is between
        g - step and g + step.
    width : float, default 0.2
        How wide the pile may be, as a share of its low end.
    least : int, default 6
        Fewer gaps in the pile show nothing.
    bar : float, default 0.001
        The p-value from which on a pile shows a floor.

    Returns
    -------
    Floor
        Per series in ascending order: the low end of its pile, its high end, how many gaps are in
        it, and the p-value (1 where there are too few).

    Notes
    -----
    Repeats that nothing holds apart come soonest after an event: the density of their gaps does
    not rise. Of n gaps up to the high end h of a pile that begins at one of them, f, each other
    one then lies in the pile with a chance of at most (h - f) / h, so that the tail of that
    binomial is an upper bound; times the number of gaps that could have begun the pile. A stray
    gap below costs evidence and does not hide the pile.
    """
    from scipy.special import betainc

    told = np.asarray(gaps, dtype=np.float64)
    label = np.zeros(told.shape, np.int64) if group is None else np.asarray(group, np.int64)
    grain = np.broadcast_to(np.asarray(step, dtype=np.float64), told.shape)
    names, place = np.unique(label, return_inverse=True)
    size = names.size
    best = Floor(
        names, np.full(size, np.nan), np.full(size, np.nan), np.zeros(size, np.int64), np.ones(size)
    )
    if told.size == 0:
        return best
    order = np.lexsort((told, place))
    gap, series, fine = told[order], place[order], grain[order]
    high = np.maximum(gap * (1 + width), gap + fine)
    # One axis for all series: each is shifted clear of the one before it.
    stride = float(high.max() - min(gap.min(), 0.0)) + 1.0
    axis = series * stride + gap
    above = np.searchsorted(axis, series * stride + high, side="right")
    below = np.searchsorted(axis, axis, side="left")
    start = np.searchsorted(series, np.arange(size), side="left")[series]
    piled, total = above - below, above - start
    share = np.clip(1 - (gap - fine) / (high + fine), 0.0, 1.0)
    tail = betainc(np.maximum(piled - 1, 1), np.maximum(total - piled + 1, 1), share)
    chances = np.bincount(series, minlength=size)[series]
    p = np.where((piled >= least) & (gap > fine), np.minimum(tail * chances, 1.0), 1.0)
    first = np.lexsort((gap, p, series))
    pick = first[np.searchsorted(series[first], np.arange(size), side="left")]
    seen = p[pick] <= bar
    return Floor(
        names,
        np.where(seen, gap[pick], np.nan),
        np.where(seen, high[pick], np.nan),
        np.where(seen, piled[pick], 0),
        p[pick],
    )
