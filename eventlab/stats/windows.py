"""Counts in windows that slide along a time axis."""

import numpy as np
import numpy.typing as npt

Ints = npt.NDArray[np.int64]


def count_within(
    times: npt.ArrayLike, window: npt.ArrayLike, group: npt.ArrayLike | None = None
) -> Ints:
    """Count, from each moment on, the moments of the same group no later than a window after it.

    Parameters
    ----------
    times : array_like of int, shape (n,)
        Moments in any whole unit, in any order.
    window : array_like of int, shape () or (n,)
        Length of the window that starts at each moment, in the same unit, its end included.
    group : array_like, shape (n,), optional
        Label of the series each moment belongs to; one series where left out.

    Returns
    -------
    numpy.ndarray of int, shape (n,)
        In the order given, the moment itself included; among equal moments the first in the
        order given counts them all. The largest is the most that any such window holds.
    """
    moments = np.asarray(times, dtype=np.int64)
    if moments.size == 0:
        return np.zeros(0, dtype=np.int64)
    length = np.broadcast_to(np.asarray(window, dtype=np.int64), moments.shape)
    label = np.zeros(moments.shape, dtype=np.int64)
    if group is not None:
        label = np.unique(np.asarray(group), return_inverse=True)[1].reshape(moments.shape)
    # One axis for all groups: each is shifted clear of the one before it.
    stride = np.int64(moments.max() - moments.min() + length.max() + 1)
    axis = label * stride + (moments - moments.min())
    order = np.argsort(axis, kind="stable")
    ranked = axis[order]
    count = np.searchsorted(ranked, ranked + length[order], side="right") - np.arange(ranked.size)
    answer = np.empty(moments.shape, dtype=np.int64)
    answer[order] = count
    return answer
