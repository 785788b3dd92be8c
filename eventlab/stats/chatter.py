"""How much a series chatters, from the time between its repeats."""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt


class Chatter(NamedTuple):
    """The index of each series and the number of gaps behind it."""

    group: npt.NDArray[np.int64]
    psi: npt.NDArray[np.float64]
    runs: npt.NDArray[np.int64]


def chatter_index(
    times: npt.ArrayLike, group: npt.ArrayLike | None = None, *, step: npt.ArrayLike = 1.0
) -> Chatter:
    """Index of chatter: the sum of P_r / r over the gaps r, which is the mean of 1/r.

    Parameters
    ----------
    times : array_like of float, shape (n,), s
        Moments of activation, in any order.
    group : array_like of int, shape (n,), optional
        Number of the series of each moment; one series where left out.
    step : array_like of float, s, default 1.0
        What one step of the clock stands for; repeats inside one step (r = 0) count as one step
        apart, since the index has no value for 0.

    Returns
    -------
    Chatter
        Per series in ascending order, in 1/s; not a number where there is no gap. A few quick
        repeats score as high as many, so it is to be read beside a least number of gaps.

    Notes
    -----
    Kondaveeti, Izadi, Shah, Shook, Kadali and Chen (2013), Chem. Eng. Res. Des. 91, 2550-2558:
    0.05 per second (three a minute) and above is chatter.
    """
    moments = np.asarray(times, dtype=np.float64)
    label = np.zeros(moments.shape, np.int64) if group is None else np.asarray(group, np.int64)
    names, place = np.unique(label, return_inverse=True)
    order = np.lexsort((moments, place))
    gaps = np.diff(moments[order])
    floor = np.broadcast_to(np.asarray(step, dtype=np.float64), moments.shape)[order][1:]
    same = np.diff(place[order]) == 0
    at = place[order][1:][same]
    runs = np.bincount(at, minlength=names.size)
    total = np.bincount(at, 1.0 / np.maximum(gaps[same], floor[same]), minlength=names.size)
    index = np.full(names.size, np.nan)
    np.divide(total, runs, out=index, where=runs > 0)
    return Chatter(names, index, runs)
