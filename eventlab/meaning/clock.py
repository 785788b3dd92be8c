"""Wall time to UTC and back: changes of the clock, repeated hours, clocks that lost the time."""

from datetime import UTC, datetime, timedelta
from typing import TypeVar

import numpy as np
import polars as pl

from eventlab.intake.distinct import distinct
from eventlab.meaning.clock_anew import from_new_year, started_anew
from eventlab.meaning.rows import Rows
from eventlab.meaning.transitions import (
    FOLD,
    GAP,
    SURE,
    Longs,
    keys,
    known_zone,
    transitions,
    tz_version,
    utc_steps,
    wall_steps,
    years,
    zone_names,
)
from eventlab.schema import TIMING, Timing
from eventlab.schema import UTC as UTC_TYPE
from eventlab.schema import WALL as WALL_TYPE

__all__ = ["known_zone", "to_utc", "to_wall", "transitions", "tz_version", "zone_names"]

Frame = TypeVar("Frame", pl.DataFrame, pl.LazyFrame)

_OLDEST = datetime(2005, 1, 1)  # noqa: DTZ001 - a wall time
"""Clocks that lost their power start again at 1970, 1980, 2000 ...; no log kept today is older."""

_AHEAD = timedelta(days=2)
"""A wall clock may be up to 14 h ahead of UTC; beyond this it is wrong."""

_FEW_STEPS = 12
"""Changes of the clock in a file up to which comparing beats searching: six years of them."""

_SECOND = 2
"""As ``order.passes`` tells the second pass."""

_EPOCH = datetime(1970, 1, 1)  # noqa: DTZ001 - a wall time


def to_utc(
    frame: pl.DataFrame,
    *,
    wall: str = "wall",
    zone: str = "time_zone",
    group: str = "site",
    now: datetime | None = None,
) -> pl.DataFrame:
    """Give each row its UTC time, how it was reached, and a place in time in every case.

    A repeated hour is told apart by row order inside each group (a file may run either way), and,
    where the groups are mixed in one orderly file, by the order of the file. Times that a clock
    skipped, repeated hours that order does not tell apart, clocks that had lost the time (before
    2005, in the future, or started anew at a first of January) and missing times are doubtful. A
    shift in column ``offset_s`` [s, east positive], told by the text itself, decides alone.

    Parameters
    ----------
    frame : polars.DataFrame
        In file order: wall time (Datetime), time zone name (String, may be null where the shift
        is told), group (String, may be null or missing), ``offset_s`` (Int32, optional).
    wall, zone, group : str
        Names of these columns.
    now : datetime, optional
        When the file was taken; this moment where left out.

    Returns
    -------
    polars.DataFrame
        The same rows with ``at`` (UTC, null where doubtful), ``timing`` and ``placed`` (UTC,
        never null).

    Raises
    ------
    UsageError
        If there is no time zone of a given name.
    """
    times = frame[wall].cast(WALL_TYPE).to_physical()
    zones, zone_code = _codes(frame[zone])
    latest = (now or datetime.now(UTC)).astimezone(UTC).replace(tzinfo=None) + _AHEAD
    told = frame["offset_s"] if "offset_s" in frame.columns else None
    offset = _array(told.cast(pl.Int64).fill_null(0)) * 1_000_000 if told is not None else None
    by_text = _array(told.is_not_null()) if told is not None else None
    in_zone = np.broadcast_to(zone_code >= 0, times.len())
    moment = _array(times.fill_null(0))
    usable = _between(times, _micro(_OLDEST), _micro(latest))
    usable &= in_zone if by_text is None else in_zone | by_text
    if from_new_year(moment, usable) and group in frame.columns and _of_one(frame[group]):
        usable &= ~started_anew(moment, usable)

    cells, before, after, state = wall_steps(zones, *_years(moment, usable))
    found = _steps(cells, zone_code, moment)
    found[~in_zone] = 0
    at = moment - before[found]
    state = state.astype(np.int8)[found]
    state[~usable] = SURE
    if by_text is not None and offset is not None:
        at[by_text] = moment[by_text] - offset[by_text]
        state[by_text] = SURE
    timing = np.zeros(at.size, dtype=np.uint8)
    timing[(state == GAP) | ~usable] = _DOUBTFUL

    rows = Rows(moment, usable, frame, group, one_zone=zone_code.size == 1)
    repeated = np.flatnonzero(state == FOLD)
    if repeated.size:
        rows.fold[repeated] = found[repeated]
        passed = rows.passes(np.broadcast_to(zone_code, times.len()))
        timing[repeated] = np.where(passed[repeated] == 0, _DOUBTFUL, _BY_ORDER)
        second = np.flatnonzero(passed == _SECOND)
        at[second] = moment[second] - after[found[second]]
    if not usable.all():
        at = rows.fill(at)
    placed = pl.Series("placed", at).cast(UTC_TYPE)
    doubtful = timing == _DOUBTFUL
    sure = placed.zip_with(pl.Series(~doubtful), _NEVER) if doubtful.any() else placed
    return frame.with_columns(
        at=sure,
        timing=pl.Series("timing", _TIMINGS, dtype=TIMING).gather(timing),
        placed=placed,
    )


def _of_one(labels: pl.Series) -> bool:
    """Tell whether all rows are of one site: only a panel's own log shows that it started anew."""
    return labels.n_unique() == 1


def _between(times: pl.Series, low: int, high: int) -> np.ndarray:
    """Tell which times lie in a stretch, both ends included."""
    least, most = times.min(), times.max()
    told = isinstance(least, int) and isinstance(most, int) and low <= least and most <= high
    if told and not times.null_count():
        return np.ones(times.len(), dtype=np.bool_)
    return _array(times.is_between(low, high).fill_null(value=False))


def _steps(cells: Longs, zone_code: Longs, moment: Longs) -> np.ndarray:
    """Find the stretch of its zone that each wall time lies in."""
    if zone_code.size > 1 or not moment.size:
        return np.searchsorted(cells, keys(zone_code, moment), side="right") - 1
    # In one zone a file lies in few stretches: they are told by comparing.
    first, last = np.searchsorted(
        cells, keys(zone_code, np.array([moment.min(), moment.max()])), side="right"
    )
    if last - first > _FEW_STEPS:
        return np.searchsorted(cells, keys(zone_code, moment), side="right") - 1
    found = np.full(moment.size, first - 1, dtype=np.int16)
    for begin in cells[first:last] - keys(zone_code, np.zeros(1, dtype=np.int64)):
        found += moment >= begin
    return found


def to_wall(frame: Frame, column: str, zone: str, into: str) -> Frame:
    """Give each row the wall time of its own time zone.

    Parameters
    ----------
    frame : polars.DataFrame or LazyFrame
        Has the UTC times and the name of each row's time zone.
    column : str
        UTC times (Datetime with zone UTC).
    zone : str
        Time zone names (String); wall time is null where it is null.
    into : str
        Name of the new column (Datetime without zone).

    Returns
    -------
    polars.DataFrame or LazyFrame
        As given, with the new column.

    Raises
    ------
    UsageError
        If there is no time zone of a given name.
    """
    both = pl.struct(pl.col(column).alias("at"), pl.col(zone).alias("zone"))
    return frame.with_columns(
        both.map_batches(_wall, return_dtype=WALL_TYPE, is_elementwise=True).alias(into)
    )


_BY_ORDER, _DOUBTFUL = 1, 2
_NEVER = pl.Series([None], dtype=UTC_TYPE)
_TIMINGS = [str(Timing.SURE), str(Timing.BY_ORDER), str(Timing.DOUBTFUL)]


def _wall(both: pl.Series) -> pl.Series:
    at, zone = both.struct.field("at"), both.struct.field("zone")
    times = at.cast(UTC_TYPE).to_physical()
    known = times.is_not_null() & zone.is_not_null()
    zones, code = _codes(zone)
    moment = _array(times.fill_null(0))
    cells, offset = utc_steps(zones, *_years(moment, _array(known)))
    found = _steps(cells, code, moment)
    wall = pl.Series("wall", moment + offset[found]).cast(WALL_TYPE)
    return wall if known.all() else wall.set(~known, None)


def _array(series: pl.Series) -> np.ndarray:
    return series.to_numpy(writable=True)


def _micro(moment: datetime) -> int:
    return (moment - _EPOCH) // timedelta(microseconds=1)


def _codes(names: pl.Series) -> tuple[tuple[str, ...], Longs]:
    """Give the zone names numbers, one for all rows where they have one; -1 for no name."""
    text = names.cast(pl.String)
    if not text.null_count() and (not len(text) or (text == text[0]).all()):
        return (str(text[0]) if len(text) else "UTC",), np.zeros(1, dtype=np.int64)
    zones, code = distinct(text)
    rank = zones.rank("ordinal").cast(pl.Int64) - 1
    return tuple(zones.sort()) or ("UTC",), _array(rank.gather(code).fill_null(-1))


def _years(moment: Longs, use: np.ndarray) -> tuple[int, int]:
    inside = moment if use.all() else moment[use]
    return years(int(inside.min()), int(inside.max())) if inside.size else years(0, 0)
