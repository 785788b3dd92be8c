"""Clocks that started again at the first of January of some year, as panels do without power."""

from datetime import datetime, timedelta
from itertools import pairwise

import numpy as np
import polars as pl

from eventlab.meaning.order import Flags, Longs
from eventlab.schema import Timing

LEFT_OUT = "kept, and left out of every rate"
"""How a remark on doubtful times ends."""

_HOUR_US = 3_600_000_000
_DAY_US = 24 * _HOUR_US
_FAR_US = 30 * _DAY_US
"""A stretch stands this far before all else in its log, and is no longer than this."""

_YEAR_US = 366 * _DAY_US
"""At an end of the log nothing shows that time went back: it must stand further away."""

_OLDEST = datetime(2005, 1, 1)  # noqa: DTZ001 - a wall time
_CHANGE = timedelta(days=2)


def from_new_year(moment: Longs, usable: Flags) -> bool:
    """Tell whether the oldest time is on a first of January: else no clock started anew.

    Parameters
    ----------
    moment : int64 array
        Wall times [us].
    usable : bool array
        Which of them can be used.

    Returns
    -------
    bool
    """
    none = np.iinfo(np.int64).max
    oldest = int(np.min(moment, where=usable, initial=none)) if moment.size else none
    return oldest != none and _new_year(oldest)


def started_anew(moment: Longs, usable: Flags) -> Flags:
    """Find the rows of a log told by a clock that had started again at a first of January.

    Such a stretch begins on that day, stands long before everything else in the log, and is
    short; either the times before and after it go on as if it were not there, or it stands at an
    end of the log and begins within the first hour of its year. A log glued of two years keeps
    both.

    Parameters
    ----------
    moment : int64 array
        Wall times of one site in file order [us].
    usable : bool array
        Which of them can be used.

    Returns
    -------
    bool array
        The rows whose clock had lost the time.
    """
    lost = np.zeros(moment.size, dtype=np.bool_)
    rows = np.flatnonzero(usable)
    if rows.size < 2:
        return lost
    times = moment[rows]
    cut = np.flatnonzero(np.abs(np.diff(times)) > _FAR_US) + 1
    edges = [0, *cut.tolist(), times.size]
    parts = [(low, high) for low, high in pairwise(edges) if high > low]
    anew = {part for part in parts if _short_new_year(times[slice(*part)])}
    others = [part for part in parts if part not in anew]
    if not others:
        return lost
    rest = min(int(times[slice(*part)].min()) for part in others)
    for low, high in anew:
        stretch = times[low:high]
        first, last = int(stretch.min()), int(stretch.max())
        before = max((part[1] - 1 for part in others if part[1] <= low), default=None)
        after = min((part[0] for part in others if part[0] >= high), default=None)
        if before is not None and after is not None:
            away = abs(int(times[after] - times[before])) <= _FAR_US and rest - last > _FAR_US
        else:
            away = rest - last > _YEAR_US and first % _DAY_US < _HOUR_US
        lost[rows[low:high]] = away
    return lost


def _short_new_year(times: Longs) -> bool:
    first, last = int(times.min()), int(times.max())
    return last - first <= _FAR_US and _new_year(first)


def _new_year(micros: int) -> bool:
    moment = datetime(1970, 1, 1) + timedelta(microseconds=micros)  # noqa: DTZ001 - a wall time
    return moment.month == 1 and moment.day == 1


def remarks(timed: pl.DataFrame) -> tuple[str, ...]:
    """Say of how many rows the time cannot be trusted, and why.

    Parameters
    ----------
    timed : polars.DataFrame
        ``wall``, ``placed``, ``timing`` as ``to_utc`` gives them.

    Returns
    -------
    tuple of str
        A sentence for each reason; none where every time is sure.
    """
    odd = timed.filter((pl.col("timing") == Timing.DOUBTFUL) & pl.col("wall").is_not_null())
    if odd.is_empty():
        return ()
    ahead = pl.col("wall").dt.replace_time_zone("UTC") - pl.col("placed")
    early = (pl.col("wall") < _OLDEST) | (ahead < -_CHANGE)
    late = ~early & (ahead > _CHANGE)
    counts = odd.select(early=early.sum(), late=late.sum(), turn=(~early & ~late).sum()).row(0)
    reasons = (
        "from a clock that had started anew: placed by the order of rows",
        "from a clock that was ahead of the day of this export: placed by the order of rows",
        "inside an hour that the clock skips or shows twice, which row order does not tell apart",
    )
    return tuple(
        f"{count} {'row' if count == 1 else 'rows'} {reason}; {LEFT_OUT}"
        for count, reason in zip(counts, reasons, strict=True)
        if count
    )
