"""How long a place is usually armed over a window of time: the same window on comparable days."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt
import polars as pl

from eventlab.analysis.found import hours
from eventlab.settings import Settings

WEEK_DAYS = 7
NEAR_DAYS = 6
_DAY_US = 86_400_000_000

Whole = npt.NDArray[np.int64]
Hours = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]
_UNSURE_H = 0.1
"""A comparable window of which more is not known tells nothing [h]."""
_NEAREST = 2
"""So many weeks to either side are looked at first."""


def armed_over(
    windows: pl.DataFrame,
    state: pl.DataFrame,
    holidays: pl.DataFrame,
    settings: Settings,
    *,
    days: bool = False,
    open_first: bool = False,
) -> pl.DataFrame:
    """Say over how much of each window the place was armed on comparable days.

    Comparable are the same wall times of the same weekday in the weeks before and after, nearest
    first, and of a public holiday the other public holidays; with ``days``, the six days before
    and after. Holidays are not compared with other days. A window that meets the stretch it is
    about compares it with itself and is left out.

    Parameters
    ----------
    windows : polars.DataFrame
        ``window`` (number), ``k``, ``start``, ``stop`` (wall), ``own_since``, ``own_until``
        (wall: the stretch that it is about), ``least_h`` (on at least one of the nearest days it
        must be armed so long to be of interest).
    state : polars.DataFrame
        As ``Spans`` has it, with the sums of ``summed``.
    holidays : polars.DataFrame
        ``k``, ``date``.
    settings : Settings
        ``habit_weeks``, ``habit_days_min``.
    days : bool
        Compare with the days around instead, whatever weekday or holiday the window lies on.
    open_first : bool
        Only days count on which the place is unarmed where the window starts.

    Returns
    -------
    polars.DataFrame
        ``window``, ``n`` (comparable days), ``low``, ``middle``, ``high`` (quartiles of the armed
        hours [h]), ``alike`` (days on which it was armed for less than ``least_h``).
        Windows with fewer than ``habit_days_min`` comparable days, or of no interest, are left out.
    """
    if windows.is_empty() or state.is_empty():
        return _quartiles([], settings)
    asked = _Asked(windows, _Line(state), _Calendar(holidays), open_first=open_first)
    every = np.arange(windows.height)
    if days:
        steps = [step for n in range(1, NEAR_DAYS + 1) for step in (-n, n)]
        return _quartiles([asked.moved(every, steps)], settings)
    special = asked.calendar.holds(asked.k, asked.date)
    weeks = range(1, round(settings.habit_weeks) + 1)
    near = [step * WEEK_DAYS for n in weeks[:_NEAREST] for step in (-n, n)]
    far = [step * WEEK_DAYS for n in weeks[_NEAREST:] for step in (-n, n)]
    first = asked.moved(every[~special], near)
    rest = first.rows(~first.dull())
    kept = [rest.beside(asked.moved(rest.windows, far))]
    if special.any():
        other = asked.to_holidays(every[special])
        enough = np.asarray(other.days() >= settings.habit_days_min)
        kept += [other.rows(enough), asked.moved(other.windows[~enough], [*near, *far])]
    return _quartiles(kept, settings)


def summed(state: pl.DataFrame) -> pl.DataFrame:
    """Add up armed and known time along each place.

    Parameters
    ----------
    state : polars.DataFrame
        ``k``, ``since_w``, ``until_w``, ``armed``.

    Returns
    -------
    polars.DataFrame
        Sorted by place and time, with ``length``, ``known_before``, ``armed_before`` [h].
    """
    length = hours(pl.col("until_w") - pl.col("since_w")).clip(0)
    armed = pl.when("armed").then("length").otherwise(0.0)
    return (
        state.sort("k", "since_w")
        .with_columns(length=length)
        .with_columns(armed_length=armed)
        .with_columns(
            known_before=pl.col("length").cum_sum().over("k") - pl.col("length"),
            armed_before=pl.col("armed_length").cum_sum().over("k") - pl.col("armed_length"),
        )
        .drop("armed_length")
    )


def _micro(frame: pl.DataFrame, column: str) -> Whole:
    return np.asarray(frame[column].to_physical().to_numpy(), dtype=np.int64)


def _hours(micro: Whole) -> Hours:
    return np.round(micro / 3.6e9, 6)


class _Line:
    """Armed and known time along all places, laid out one behind the other."""

    def __init__(self, state: pl.DataFrame) -> None:
        self.k, self.since = state["k"].to_numpy(), _micro(state, "since_w")
        self.armed, self.length = state["armed"].to_numpy(), state["length"].to_numpy()
        self.known_before = state["known_before"].to_numpy()
        self.armed_before = state["armed_before"].to_numpy()
        self.origin = self.since.min() - 1
        self.stride = self.since.max() - self.origin + 1
        self.edges = self._along(self.k, self.since)

    def _along(self, k: Whole, at: Whole) -> Whole:
        return np.asarray(k * self.stride + np.clip(at - self.origin, 0, self.stride - 1))

    def up_to(self, k: Whole, at: Whole) -> tuple[Hours, Hours, Flags]:
        """Say how long each place was known and armed up to a moment [h], and if it was then."""
        row = np.searchsorted(self.edges, self._along(k, at), side="right") - 1
        told = (row >= 0) & (self.k[row] == k)
        into = np.minimum(_hours(at - self.since[row]), self.length[row])
        armed = self.armed[row]
        return (
            np.where(told, self.known_before[row] + into, 0.0),
            np.where(told, self.armed_before[row] + np.where(armed, into, 0.0), 0.0),
            told & armed & (into < self.length[row]),
        )


class _Calendar:
    """The public holidays of each place, by number of day."""

    def __init__(self, holidays: pl.DataFrame) -> None:
        told = holidays.select("k", pl.col("date").to_physical()).sort("k", "date")
        self.k, self.date = told["k"].to_numpy(), told["date"].to_numpy().astype(np.int64)
        self._every = self._code(self.k, self.date)

    def _code(self, k: Whole, date: Whole) -> Whole:
        return np.asarray((k << 32) + date)

    def holds(self, k: Whole, date: Whole) -> Flags:
        """Tell which dates are a holiday of their place."""
        if not self._every.size:
            return np.zeros(np.broadcast_shapes(k.shape, date.shape), dtype=bool)
        wanted = self._code(k, date)
        row = np.searchsorted(self._every, wanted).clip(max=self._every.size - 1)
        return np.asarray(self._every[row] == wanted)

    def others(self, k: Whole, date: Whole) -> Whole:
        """Give the days from each holiday to all of its place, 0 where there are no more."""
        first, stop = (np.searchsorted(self.k, k, side=side) for side in ("left", "right"))
        row = first[:, None] + np.arange((stop - first).max())
        step = self.date[row.clip(max=self.date.size - 1)] - date[:, None]
        return np.where(row < stop[:, None], step, 0)


@dataclass(frozen=True)
class _Measured:
    """Armed hours of windows (rows) on other days (columns); NaN where not comparable."""

    windows: Whole
    number: Whole
    least: Hours
    armed: Hours

    def days(self) -> Whole:
        """Count the days that each window can be compared with."""
        return np.asarray((~np.isnan(self.armed)).sum(axis=1))

    def dull(self) -> Flags:
        """Tell which windows were armed for less on every such day."""
        less = ~(self.armed >= self.least[:, None])
        return np.asarray(less.all(axis=1) & (self.days() > 0))

    def rows(self, keep: Flags) -> "_Measured":
        return _Measured(*(part[keep] for part in vars(self).values()))

    def beside(self, other: "_Measured") -> "_Measured":
        both = np.hstack([self.armed, other.armed])
        return _Measured(self.windows, self.number, self.least, both)


class _Asked:
    """The windows that are asked for, to be moved to other days."""

    def __init__(
        self, windows: pl.DataFrame, line: _Line, calendar: _Calendar, *, open_first: bool
    ) -> None:
        self.line, self.calendar, self.open_first = line, calendar, open_first
        self.number, self.k = windows["window"].to_numpy(), windows["k"].to_numpy()
        self.least = windows["least_h"].to_numpy()
        self.start, self.stop = _micro(windows, "start"), _micro(windows, "stop")
        self.own = _micro(windows, "own_since"), _micro(windows, "own_until")

    @cached_property
    def date(self) -> Whole:
        return self.start // _DAY_US

    def moved(self, rows: Whole, steps: list[int]) -> _Measured:
        """Measure windows on the days so many days away, but for public holidays."""
        away = np.array(steps, dtype=np.int64)[None, :]
        free = ~self.calendar.holds(self.k[rows, None], self.date[rows, None] + away)
        return self._measured(rows, away, free)

    def to_holidays(self, rows: Whole) -> _Measured:
        """Measure windows of public holidays on all others of the place."""
        away = self.calendar.others(self.k[rows], self.date[rows])
        return self._measured(rows, away, away != 0)

    def _measured(self, rows: Whole, away: Whole, asked: Flags) -> _Measured:
        start = self.start[rows, None] + away * _DAY_US
        stop = self.stop[rows, None] + away * _DAY_US
        since, until = (own[rows, None] for own in self.own)
        k = np.broadcast_to(self.k[rows, None], start.shape)
        known_start, armed_start, on = self.line.up_to(k, start)
        known_stop, armed_stop, _ = self.line.up_to(k, stop)
        length = _hours(self.stop[rows] - self.start[rows])[:, None]
        armed = np.minimum(np.round(armed_stop - armed_start, 4), length)
        good = asked & ((stop <= since) | (start >= until))
        good &= known_stop - known_start >= length - _UNSURE_H
        if self.open_first:
            good &= ~on
        armed[~good] = np.nan
        return _Measured(rows, self.number[rows], self.least[rows], armed)


def _quartiles(parts: list[_Measured], settings: Settings) -> pl.DataFrame:
    found = [_quartile(part, settings) for part in parts]
    return pl.concat([pl.DataFrame(schema=_FOUND), *found]).sort("window")


_FOUND = {
    "window": pl.UInt32(),
    "n": pl.Int64(),
    "low": pl.Float64(),
    "middle": pl.Float64(),
    "high": pl.Float64(),
    "alike": pl.Int64(),
}


def _quartile(part: _Measured, settings: Settings) -> pl.DataFrame:
    part = part.rows(np.asarray(part.days() >= settings.habit_days_min))
    n = part.days()
    ordered = np.sort(part.armed, axis=1)

    def at(place: Hours) -> Hours:
        return np.take_along_axis(ordered, place.astype(np.int64)[:, None], axis=1)[:, 0]

    last = n - 1
    below, above = at(np.floor(last / 2)), at(np.ceil(last / 2))
    return pl.DataFrame(
        {
            "window": part.number,
            "n": n,
            "low": at(np.floor(last / 4)),
            "middle": below + (above - below) / 2,
            "high": at(np.ceil(last * 0.75)),
            "alike": (ordered < part.least[:, None]).sum(axis=1),
        },
        schema=_FOUND,
    )
