"""Dates that tell no year: where the year turns from row to row, and what fits each year.

From row to row the shortest way round the year is taken. Where that would be a step of months
against the direction of the file, the rows may as well be silent for the rest of that year: then
both are looked at. A silence of ten months and more is not looked for.
"""

from dataclasses import dataclass
from datetime import date

import numpy as np
import polars as pl

from eventlab.intake.distinct import distinct
from eventlab.meaning.date_column import HALF, NO_DAY, Column, Flags, Longs
from eventlab.meaning.date_hints import Stamp, days_of
from eventlab.meaning.evidence import names_other

_LONG = 60
"""Steps of so many days against the direction of the file may be a silence over the year's end."""

_CLEAR = 0.75
"""Share of steps that must go one way before a file has a direction."""

_BACK = 2
"""Steps back of more days than this turn the file over: it is in parts."""

_YEAR = 366
_LEAP_DAY = 59
"""29 February, counted from 1 January as 0."""

FIRST_YEAR = 2005
"""No log kept today is older."""

_DAY_US = 86_400_000_000


@dataclass(frozen=True, slots=True)
class Reading:
    """One way to read a column without years.

    Parameters
    ----------
    order : str
        One of ``ORDERS``.
    silent : int
        Which of the ways to turn the years is meant; 0 takes no long silence.
    year : int
        Year of the last row.
    first : int
        Year of the first row.
    """

    order: str
    silent: int
    year: int
    first: int


@dataclass(frozen=True, slots=True)
class Turn:
    """The years of all rows against that of the last one, in one order and way of turning.

    Parameters
    ----------
    rows : int64 array
        Rows that have a date.
    last : int
        The row whose year is asked for: the last one.
    back : int64 array
        Their years less that of the last row.
    text : int64 array
        Distinct texts of dates, for each year in which one occurs.
    of_text : int64 array
        ``back`` of these.
    count : int64 array
        How many rows have each.
    pair : int64 array
        Which of these each row has.
    """

    rows: Longs
    last: int
    back: Longs
    text: Longs
    of_text: Longs
    count: Longs
    pair: Longs


class Yearless:
    """A column of dates without years.

    Parameters
    ----------
    column : Column
        The dates.
    orders : tuple of str
        Readings of day and month that are left.
    site : polars.Series or None
        The site of each row.
    """

    def __init__(self, column: Column, orders: tuple[str, ...], site: pl.Series | None) -> None:
        self.column = column
        self._site = site
        self.alone: Flags = np.zeros(column.code.size, dtype=np.bool_)
        self.turns: dict[tuple[str, int], Turn] = {}
        for order in orders:
            for number, turn in enumerate(self._turn(order)):
                self.turns[order, number] = turn

    # -- where years turn -----------------------------------------------------------------------

    def _turn(self, order: str) -> list[Turn]:
        place, _ = self.column.in_year(order)
        row_place = place[self.column.code]
        rows = np.flatnonzero(row_place != NO_DAY)
        if not rows.size:
            return []
        found = row_place[rows]
        group = np.zeros(rows.size, dtype=np.int64)
        if self._site is not None and not _orderly(found):
            names, code = distinct(self._site.fill_null("").gather(rows))
            if len(names) > 1:
                group = code.to_numpy().astype(np.int64)
                turned = np.argsort(group, kind="stable")
                rows, found, group = rows[turned], found[turned], group[turned]
        return [self._pairs(rows, *back) for back in self._back(rows, found, group)]

    def _back(self, rows: Longs, place: Longs, group: Longs) -> list[tuple[Longs, int]]:
        """Return the years of rows against that of the last row, and that row, each way."""
        step = _short(np.diff(place))
        starts = np.flatnonzero(np.concatenate(([True], np.diff(group) != 0)))
        step[starts[1:] - 1] = 0
        up, down = int((step > 0).sum()), int((step < 0).sum())
        forward, backward = (n >= _CLEAR * max(up + down, 1) for n in (up, down))
        ways = [step]
        for taken, against in ((not backward, step <= -_LONG), (not forward, step >= _LONG)):
            if taken and against.any():
                ways.append(np.where(against, step - _YEAR * np.sign(step), step))
        return [self._years(rows, place, group, starts, way) for way in ways]

    def _years(
        self, rows: Longs, place: Longs, group: Longs, starts: Longs, step: Longs
    ) -> tuple[Longs, int]:
        gone = np.concatenate(([0], np.cumsum(step)))
        number = np.cumsum(np.isin(np.arange(rows.size), starts)) - 1
        gone = gone - gone[starts][number] + place[starts][number]
        year = (gone - place) // _YEAR
        ends = np.concatenate((starts[1:], [rows.size])) - 1
        # All sites end at about one time, or nothing tells the year of those that do not; where
        # the last row of the file is of such a one, that of the largest site stands for it.
        last = int(np.argmax(rows))
        of_last = np.abs(_short(place[ends] - place[last])) <= _LONG
        if 2 * np.diff(np.append(starts, rows.size))[of_last].sum() < rows.size:
            last = int(ends[np.argmax(np.diff(np.append(starts, rows.size)))])
        beside = _short(place[ends] - place[last])
        for odd in np.flatnonzero(np.abs(beside) > _LONG):
            self.alone[rows[group == group[ends[odd]]]] = True
        wanted = (place[last] + beside - place[ends]) // _YEAR
        back: Longs = year - year[ends][number] + wanted[number]
        return back, int(rows[last])

    def _pairs(self, rows: Longs, back: Longs, last: int) -> Turn:
        told = ~self.alone[rows]
        rows, back = rows[told], back[told]
        low, wide = int(back.min()), int(np.ptp(back)) + 1
        key = self.column.code[rows].astype(np.int64) * wide + (back - low)
        pairs, pair, count = np.unique(key, return_inverse=True, return_counts=True)
        return Turn(rows, last, back, pairs // wide, pairs % wide + low, count, pair)

    # -- readings -------------------------------------------------------------------------------

    def readings(self, today: date) -> list[Reading]:
        """Return all readings in which no row is before any log kept today, or in the future."""
        found: list[Reading] = []
        for (order, silent), turn in self.turns.items():
            first = int(turn.back[np.argmin(turn.rows)])
            years = range(today.year + 2, FIRST_YEAR - 1, -1)
            found.extend(Reading(order, silent, year, year + first) for year in years)
        return found

    def days(self, reading: Reading) -> Longs:
        """Return the day of each pair of text and year; ``NO_DAY`` where there is none."""
        turn = self.turns[reading.order, reading.silent]
        place = self.column.in_year(reading.order)[0][turn.text]
        year = reading.year + turn.of_text
        leap = (year % 4 == 0) & ((year % 100 != 0) | (year % 400 == 0))
        begin = (year - 1970).astype("datetime64[Y]").astype("datetime64[D]").astype(np.int64)
        day = begin + place - (~leap & (place > _LEAP_DAY))
        return np.where(~leap & (place == _LEAP_DAY), NO_DAY, day)

    def of_rows(self, reading: Reading) -> Longs:
        """Return the day of each row of the table."""
        turn = self.turns[reading.order, reading.silent]
        found: Longs = np.full(self.column.code.size, NO_DAY, dtype=np.int64)
        found[turn.rows] = self.days(reading)[turn.pair]
        found[self.alone] = NO_DAY
        return found

    def walls(self, reading: Reading, us: Longs, rows: Longs) -> Longs:
        """Return the wall times of some rows [us]; 0 where there is none."""
        day = self.of_rows(reading)[rows]
        found: Longs = np.where(day == NO_DAY, 0, day * _DAY_US + us[rows])
        return found

    # -- evidence -------------------------------------------------------------------------------

    def impossible(self, reading: Reading) -> int:
        """Count rows on a 29 February that is none."""
        return int(self._count(reading)[self.days(reading) == NO_DAY].sum())

    def outside(self, reading: Reading, low: int | None, high: int | None) -> int:
        """Count rows before or after some days."""
        days = self.days(reading)
        bad = np.zeros(days.size, dtype=np.bool_)
        if low is not None:
            bad |= days < low
        if high is not None:
            bad |= days > high
        return int(self._count(reading)[bad & (days != NO_DAY)].sum())

    def other_weekday(self, reading: Reading) -> int:
        """Count rows on another weekday than is named beside them."""
        named = self.column.dates["weekdays"].fill_null(0).to_numpy()
        turn = self.turns[reading.order, reading.silent]
        bad = names_other(named[turn.text], self.days(reading))
        return int(turn.count[bad].sum())

    def other_year(self, reading: Reading) -> int:
        """Count rows that tell another year themselves."""
        turn = self.turns[reading.order, reading.silent]
        told = self.column.in_year(reading.order)[1][turn.text]
        return int(turn.count[(told > 0) & (told != reading.year + turn.of_text)].sum())

    def against(self, reading: Reading, stamp: Stamp) -> int:
        """Count rows that do not fit a day of printing, or a period."""
        order = reading.order if self._ordered else None
        lows: list[int | None] = [*days_of(stamp.low, order)] or [None]
        highs: list[int | None] = [*days_of(stamp.high, order)] or [None]
        days = self.days(reading)
        known = days[days != NO_DAY]
        every = int(self._count(reading).sum())
        least = every
        for low in lows:
            for high in highs:
                bad = self.outside(reading, low, None if high is None else high + 1)
                # What is printed was kept for less than a year; a period of years says both ends.
                if low is None and high is not None and known.size and known.max() <= high - 365:
                    bad = every
                if high is None and low is not None and known.size and known.min() >= low + 365:
                    bad = every
                least = min(least, bad)
        return least

    @property
    def _ordered(self) -> bool:
        """Whether the table itself writes figures in an order."""
        return len({order for order, _ in self.turns}) > 1 or not np.array_equal(
            self.column.days("day-first"), self.column.days("month-first")
        )

    def _count(self, reading: Reading) -> Longs:
        return self.turns[reading.order, reading.silent].count


def _short(step: Longs) -> Longs:
    """Return steps in days the shortest way round the year."""
    found: Longs = (step + HALF) % _YEAR - HALF
    return found


def _orderly(place: Longs) -> bool:
    step = _short(np.diff(place))
    up, down = (step > _BACK).sum(), (step < -_BACK).sum()
    return bool(min(up, down) == 0)
