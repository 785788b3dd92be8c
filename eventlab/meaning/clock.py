"""Wall time to UTC and back: changes of the clock, repeated hours, clocks that lost the time."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TypeVar

import numpy as np
import polars as pl

from eventlab.meaning import order
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

_ORDERLY_FILE = 0.99
"""Share of steps that must go one way before the rows of all sites together give the order."""

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
    2005, or in the future) and missing times are doubtful. A shift in column ``offset_s`` [s, east
    positive], told by the text itself, decides alone.

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
    usable = _array(times.is_between(_micro(_OLDEST), _micro(latest)).fill_null(False))
    told = frame["offset_s"] if "offset_s" in frame.columns else None
    offset = _array(told.cast(pl.Int64).fill_null(0)) * 1_000_000 if told is not None else None
    by_text = _array(told.is_not_null()) if told is not None else None
    in_zone = zone_code >= 0
    usable &= in_zone if by_text is None else in_zone | by_text
    moment = _array(times.fill_null(0))

    cells, before, after, state = wall_steps(zones, *_years(moment, usable))
    found = np.searchsorted(cells, keys(zone_code, moment), side="right") - 1
    found[~in_zone] = 0
    state = state[found].astype(np.int8)
    state[~usable] = SURE
    at = moment - before[found]
    if by_text is not None and offset is not None:
        at[by_text] = moment[by_text] - offset[by_text]
        state[by_text] = SURE
    timing = np.zeros(at.size, dtype=np.uint8)
    timing[(state == GAP) | ~usable] = _DOUBTFUL

    repeated = state == FOLD
    if repeated.any():
        read = _Read(moment, np.where(repeated, found, -1), usable)
        passed = read.passes(frame, group, zone_code)
        timing[repeated] = np.where(passed[repeated] == 0, _DOUBTFUL, _BY_ORDER)
        second = passed == _SECOND
        at[second] = moment[second] - after[found[second]]
    if not usable.all():
        at = _Read(moment, np.where(repeated, found, -1), usable).fill(frame, group, at)
    placed = pl.Series("placed", at).cast(WALL_TYPE).dt.replace_time_zone("UTC")
    sure = pl.Series(timing != _DOUBTFUL)
    return frame.with_columns(
        at=pl.select(pl.when(sure).then(placed)).to_series(),
        timing=pl.Series("timing", _TIMINGS, dtype=TIMING).gather(timing),
        placed=placed,
    )


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
_TIMINGS = [str(Timing.SURE), str(Timing.BY_ORDER), str(Timing.DOUBTFUL)]


def _wall(both: pl.Series) -> pl.Series:
    at, zone = both.struct.field("at"), both.struct.field("zone")
    times = at.cast(UTC_TYPE).to_physical()
    known = times.is_not_null() & zone.is_not_null()
    zones, code = _codes(zone)
    moment = _array(times.fill_null(0))
    cells, offset = utc_steps(zones, *_years(moment, _array(known)))
    found = np.searchsorted(cells, keys(code, moment), side="right") - 1
    wall = pl.Series("wall", moment + offset[found]).cast(WALL_TYPE)
    return wall if known.all() else wall.set(~known, None)


def _array(series: pl.Series) -> np.ndarray:
    return series.to_numpy(writable=True)


def _micro(moment: datetime) -> int:
    return (moment - _EPOCH) // timedelta(microseconds=1)


def _codes(names: pl.Series) -> tuple[tuple[str, ...], Longs]:
    """Give the zone names numbers; -1 where there is none."""
    text = names.cast(pl.String)
    zones = tuple(text.drop_nulls().unique().sort().to_list()) or ("UTC",)
    if len(zones) == 1 and not text.null_count():
        return zones, np.zeros(len(text), dtype=np.int64)
    index = pl.Series(range(len(zones)), dtype=pl.Int64)
    code = text.replace_strict(
        pl.Series(zones, dtype=pl.String), index, default=-1, return_dtype=pl.Int64
    )
    return zones, _array(code.fill_null(-1))


def _years(moment: Longs, use: np.ndarray) -> tuple[int, int]:
    inside = moment if use.all() else moment[use]
    return years(int(inside.min()), int(inside.max())) if inside.size else years(0, 0)


def _label(frame: pl.DataFrame, group: str) -> pl.Series:
    if group not in frame.columns:
        return pl.Series("group", [""]).new_from_index(0, frame.height)
    return frame[group].cast(pl.String).fill_null("")


def _members(label: pl.Series, odd: Longs) -> tuple[Longs, Longs, int]:
    """Return all rows of the groups that have odd rows: group by group, in file order."""
    names = label.gather(odd).unique(maintain_order=True)
    index = pl.Series(range(len(names)), dtype=pl.Int32)
    numbers = _array(label.replace_strict(names, index, default=-1, return_dtype=pl.Int32))
    rows = np.flatnonzero(numbers >= 0)
    code = numbers[rows]
    if (np.diff(code) < 0).any():
        turn = np.argsort(code.astype(np.min_scalar_type(len(names))), kind="stable")
        rows, code = rows[turn], code[turn]
    return rows, code.astype(np.int64), len(names)


@dataclass(frozen=True, slots=True)
class _Read:
    """What order is judged on: wall times [us], the repeated hour or -1, which can be used."""

    moment: Longs
    fold: Longs
    usable: order.Flags

    def run(self, rows: Longs, code: Longs, groups: int) -> order.Run:
        return order.Run(code, self.moment[rows], self.fold[rows], groups)

    def whole_way(self, label: pl.Series) -> int:
        same = (label == label.shift()).fill_null(False).to_numpy()[1:]
        alike = same & self.usable[1:] & self.usable[:-1]
        return order.whole_way(self.moment, self.fold, alike)

    def passes(self, frame: pl.DataFrame, group: str, zone_code: Longs) -> np.ndarray:
        """Tell passes apart inside each group, then by the rows of all groups of a zone."""
        told = np.zeros(frame.height, dtype=np.int8)
        label = _label(frame, group)
        rows, code, count = _members(label, np.flatnonzero(self.fold >= 0))
        good = self.usable[rows]
        rows, code = rows[good], code[good]
        run = self.run(rows, code, count)
        way = order.direction(run)
        if way.silent.any():
            way = way.following(self.whole_way(label))
        told[rows] = order.passes(run, way)
        open_rows = (told == 0) & (self.fold >= 0)
        mixed = (label != label.shift()).sum() + 1 > label.n_unique()
        if not (mixed and open_rows.any()):
            return told
        rows = np.flatnonzero(self.usable & (zone_code >= 0))
        rows = rows[np.argsort(zone_code[rows].astype(np.int16), kind="stable")]
        run = self.run(rows, zone_code[rows], int(zone_code.max()) + 1)
        by_file = np.zeros_like(told)
        by_file[rows] = order.passes(run, order.direction(run, _ORDERLY_FILE))
        return np.where(open_rows, by_file, told)

    def fill(self, frame: pl.DataFrame, group: str, at: Longs) -> Longs:
        """Place rows without a usable time by their neighbours in the group, else in the file."""
        label = _label(frame, group)
        rows, code, count = _members(label, np.flatnonzero(~self.usable))
        at, known = at.copy(), self.usable.copy()
        good = known[rows]
        way = order.direction(self.run(rows[good], code[good], count))
        if way.silent.any():
            way = way.following(self.whole_way(label))
        at[rows], known[rows] = order.place(code, at[rows], good, way.forward)
        if not known.all():
            rows = np.arange(at.size)
            way = order.direction(self.run(rows[known], np.zeros(known.sum(), np.int64), 1))
            at, known = order.place(np.zeros(at.size, np.int64), at, known, way.forward)
            at[~known] = 0
        return at
