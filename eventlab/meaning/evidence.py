"""Which order of fields a whole column of dates follows, by evidence; asked where none decides.

Kinds of evidence in the order of their strength: dates that do not exist, weekdays named beside
dates, the order of rows, dates told elsewhere in the file, dates that no log kept today can have,
steps from day to day. Each one only takes readings away; what it leaves goes to the next. The
order of rows and the dates around them are looked at apart: where they disagree, a person is asked.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, timedelta

import numpy as np
import polars as pl

from eventlab.meaning.date_column import ENOUGH, HALF, NO_DAY, Column, Flags, Longs, clearly
from eventlab.meaning.date_forms import ORDERS
from eventlab.meaning.date_hints import Around, days_of

_SURVIVES = 0.05
"""Share of dates that a reading may leave unread: broken cells must not decide."""

_ONE_MEANING = 0.95
"""Where this share of cells means the same in every order, the others are left unread."""

_OLDEST = (date(2005, 1, 1) - date(1970, 1, 1)).days
"""No log kept today is older; clocks that lost their power are."""

_DAYS_MIN, _ROWS_MIN, _NEAR, _FAR = 5, 4, 4, 20
"""Steps decide from so many dates on, with so many rows each, where most steps are within a few
days in one reading and some weeks in the other."""

_YEARS_MIN = 3
"""Dates of so many years on one day of the month are no log."""

WORDS = {
    "day-first": "day first",
    "month-first": "month first",
    "year-first": "year first",
}


@dataclass(slots=True)
class Decision:
    """What is left after the evidence.

    Parameters
    ----------
    orders : tuple of str
        Readings that survive; of those that agree on every cell one stands for all.
    evidence : list of str
        What was looked at, in plain words.
    answered : bool
        Whether a person's answer took readings away.
    torn : bool
        Whether evidence stands against evidence.
    """

    orders: tuple[str, ...]
    evidence: list[str] = field(default_factory=list)
    answered: bool = False
    torn: bool = False

    def keep(self, against: dict[str, int], total: int, enough: float = ENOUGH) -> tuple[str, ...]:
        """Take away readings with clearly more against them than the best one has.

        Parameters
        ----------
        against : dict of str to int
            For each reading, how many cells or steps stand against it.
        total : int
            How many could.
        enough : float
            Share of them that must stand against a reading.

        Returns
        -------
        tuple of str
            The readings that were taken away.
        """
        lost = clearly({order: against[order] for order in self.orders}, total, enough)
        out = tuple(order for order in self.orders if order in lost)
        self.orders = tuple(order for order in self.orders if order not in out)
        return out

    @property
    def open(self) -> bool:
        """Whether more than one reading is left."""
        return len(self.orders) > 1

    def say(self, out: tuple[str, ...], why: str) -> None:
        """Note what took readings away."""
        if out:
            left = " or ".join(WORDS[order] for order in self.orders)
            self.evidence.append(f"dates are read {left}: {why}")


def decide(column: Column, *, answer: str | None, around: Around, today: date) -> Decision:
    """Weigh all evidence for the order of the fields of a column of dates.

    Parameters
    ----------
    column : Column
        Its distinct dates.
    answer : str or None
        What a person answered: one of ``ORDERS``.
    around : Around
        What the lines around the table say, such as ``Printed 13/03/2025``.
    today : date
        No event is later than two days after it.

    Returns
    -------
    Decision
        No reading where none reads the column; several where a person must be asked.
    """
    decision = Decision(ORDERS)
    _readable(column, decision)
    if not decision.orders:
        return decision
    _merge(column, decision)
    if answer is not None:
        _answered(column, answer, decision)
    if decision.open and not column.yearless:
        _weekdays(column, decision)
    if decision.open:
        _apart(column, decision, around)
    steps: list[Callable[[], None]] = [
        lambda: _span(column, decision, today),
        lambda: _one_day_a_year(column, decision),
        lambda: _days_follow(column, decision),
        lambda: _single_cells(column, decision),
    ]
    for step in steps[2:] if column.yearless else steps:
        if decision.open and not decision.torn:
            step()
    return decision


def _apart(column: Column, decision: Decision, around: Around) -> None:
    """Let the order of rows and the dates around them decide, where they do not disagree."""
    by_rows, by_hints = Decision(decision.orders), Decision(decision.orders)
    _row_order(column, by_rows)
    _hints(column, by_hints, around)
    both = tuple(order for order in by_rows.orders if order in by_hints.orders)
    decision.evidence += by_rows.evidence + by_hints.evidence
    if both:
        decision.orders = both
        return
    decision.torn = True
    decision.orders = tuple(o for o in decision.orders if o in by_rows.orders + by_hints.orders)
    decision.evidence.append("the one stands against the other")


def _unread(column: Column) -> tuple[dict[str, int], int]:
    """Count the cells that each reading leaves unread though another one reads them."""
    days = {order: column.days(order) for order in ORDERS}
    rows = column.rows
    read = np.logical_or.reduce([found != NO_DAY for found in days.values()])
    unread = {order: int(rows[read & (days[order] == NO_DAY)].sum()) for order in ORDERS}
    return unread, int(rows[read].sum())


def _readable(column: Column, decision: Decision) -> None:
    """Take away readings under which dates do not exist."""
    unread, total = _unread(column)
    lost = tuple(o for o in ORDERS if not total or unread[o] > _SURVIVES * total)
    decision.orders = tuple(order for order in ORDERS if order not in lost)
    if not decision.orders:
        return
    out = (*lost, *decision.keep({order: unread[order] for order in decision.orders}, total))
    best, rows = column.days(min(decision.orders, key=lambda o: unread[o])), column.rows
    # Nobody expects the year first where it is written last: not worth a word.
    for order in [order for order in out if order != "year-first"]:
        only = np.flatnonzero((column.days(order) == NO_DAY) & (best != NO_DAY))
        if only.size:
            shown = column.dates["text"][int(only[np.argmax(rows[only])])].strip()
            decision.say(out, f"{shown!r} is no date when read {WORDS[order]}")
            return


def _single_cells(column: Column, decision: Decision) -> None:
    """Let the few cells decide that only one reading reads, or leave them unread."""
    unread, total = _unread(column)
    out = decision.keep({order: unread[order] for order in decision.orders}, total, 0)
    decision.say(out, "a few dates have no other reading")
    one = column.dates["native"].is_in(["year-first", "compact", "named"]).fill_null(False)
    if decision.open and column.rows[one.to_numpy()].sum() >= _ONE_MEANING * total:
        decision.orders = ("year-first",)
        decision.evidence.append("a few dates are written otherwise than the rest, and left unread")


def _merge(column: Column, decision: Decision) -> None:
    """Let one reading stand for all that agree on every cell."""
    native = column.dates.select("native", rows=pl.Series(column.rows)).drop_nulls()
    most = native.group_by("native").agg(pl.col("rows").sum()).sort("rows", "native")["native"]
    first = "year-first" if most[-1] in {"year-first", "compact"} else ""
    kept: list[str] = []
    for order in sorted(decision.orders, key=lambda order: order != first):
        days = column.days(order)
        if not any(np.array_equal(days, column.days(other)) for other in kept):
            kept.append(order)
    decision.orders = tuple(order for order in ORDERS if order in kept)


def _answered(column: Column, answer: str, decision: Decision) -> None:
    days = column.days(answer)
    alike = any(np.array_equal(days, column.days(order)) for order in decision.orders)
    if alike and decision.open:
        decision.orders = (answer,)
        decision.answered = True
        decision.evidence.append(f"dates are read {WORDS[answer]}, as answered")
    elif not alike:
        left = " or ".join(WORDS[order] for order in decision.orders)
        decision.evidence.append(
            f"the answer {WORDS[answer]} cannot be: these dates can only be read {left}"
        )


def names_other(masks: Longs, days: Longs) -> Flags:
    """Tell which days are none of the weekdays named beside them; none is named where 0."""
    # 1 January 1970 was a Thursday.
    weekday = (np.where(days == NO_DAY, 0, days) + 3) % 7
    other: Flags = (masks > 0) & (masks >> weekday & 1 == 0)
    return other


def _weekdays(column: Column, decision: Decision) -> None:
    named = column.dates["weekdays"].fill_null(0).to_numpy()
    if not named.any():
        return
    rows = np.where(named > 0, column.rows, 0)
    against = {}
    for order in decision.orders:
        days = column.days(order)
        against[order] = int(rows[(days == NO_DAY) | names_other(named, days)].sum())
    out = decision.keep(against, int(rows.sum()))
    decision.say(out, "the weekdays beside them say so")


def _steps(column: Column, order: str) -> Longs:
    """Return the days from each date of a site to its next other one, in file order."""
    texts, site = column.sequence
    days = (column.in_year(order)[0] if column.yearless else column.days(order))[texts]
    known = days != NO_DAY
    days, site = days[known], site[known]
    step: Longs = np.diff(days)[site[1:] == site[:-1]]
    if column.yearless:
        step = (step + HALF) % (2 * HALF) - HALF  # from December to January it goes on
    return step


def _row_order(column: Column, decision: Decision) -> None:
    against, most = {}, 0
    for order in decision.orders:
        step = _steps(column, order)
        up, down = int((step > 0).sum()), int((step < 0).sum())
        against[order] = min(up, down)
        most = max(most, up + down)
    out = decision.keep(against, most)
    decision.say(out, "only so are the rows in order of time")


def _hints(column: Column, decision: Decision, around: Around) -> None:
    told = around.told
    if not told.height:
        return
    total = int(column.rows.sum())
    # A date around the table that exists in one reading only: the same program wrote both.
    against = {
        order: int(told[order].is_null().sum()) if order != "year-first" else 0
        for order in decision.orders
    }
    if {"day-first", "month-first"} <= set(decision.orders):
        before = decision.orders
        out = decision.keep(against, told.height)
        kept = _outside(column, decision.orders[0], around)
        if out and 2 * kept > total and min(_outside(column, o, around) for o in out) == 0:
            decision.orders = before
            decision.evidence.append(
                f"{_example(told, out)!r} beside the table is written in one order, but so read "
                "rows would be later than it, or before the period asked for"
            )
            return
        decision.say(out, f"{_example(told, out)!r} stands beside the table")
    if decision.open and around.stamps:
        outside = {order: _outside(column, order, around) for order in decision.orders}
        out = decision.keep(outside, total)
        decision.say(out, f"they fit {around.stamps[0].text!r} beside the table")


def _outside(column: Column, order: str, around: Around) -> int:
    """Count rows after the date of printing, or outside the period that was asked for."""
    if column.yearless:
        return 0
    days = column.days(order)
    bad = days == NO_DAY
    for stamp in around.stamps:
        lows, highs = days_of(stamp.low, order), days_of(stamp.high, order)
        if highs:
            bad |= days > max(highs) + 1
        if lows:
            bad |= days < min(lows)
    return int(column.rows[bad].sum())


def _example(told: pl.DataFrame, out: tuple[str, ...]) -> str:
    for order in out:
        only = told.filter(pl.col(order).is_null())
        if only.height:
            return str(only["text"][0])
    return str(told["text"][0])


def _span(column: Column, decision: Decision, today: date) -> None:
    latest = (today + timedelta(days=2) - date(1970, 1, 1)).days
    days = {order: column.days(order) for order in decision.orders}
    odd = {o: (found > latest) | (found < _OLDEST) for o, found in days.items()}
    rows = np.where(np.logical_and.reduce(list(odd.values())), 0, column.rows)  # reset clocks
    against = {order: int(rows[bad].sum()) for order, bad in odd.items()}
    out = decision.keep(against, int(rows.sum()))
    decision.say(out, "otherwise some would lie in the future, or before any log kept today")


def _one_day_a_year(column: Column, decision: Decision) -> None:
    """Take away readings in which all dates are one day of the month in different years.

    ``11.03.25``, ``12.03.25``, ``13.03.25`` share their year, not the 25th of March of three years.
    """
    spread: dict[str, int] = {}
    one_day: dict[str, bool] = {}
    for order in decision.orders:
        days = np.unique(column.days(order))
        when = days[days != NO_DAY].astype("datetime64[D]")
        years = when.astype("datetime64[Y]")
        spread[order] = np.unique(years).size
        day = when - when.astype("datetime64[M]")
        one_day[order] = np.unique(day).size == 1 and spread[order] >= _YEARS_MIN
    if min(spread.values()) == 1:
        out = tuple(order for order in decision.orders if one_day[order])
        decision.orders = tuple(order for order in decision.orders if order not in out)
        decision.say(out, "otherwise all would lie on one day of the month in different years")


def _days_follow(column: Column, decision: Decision) -> None:
    """Prefer days that follow each other to days that are months apart."""
    middle = {}
    for order in decision.orders:
        step = np.abs(_steps(column, order))
        step = step[step > 0]
        if step.size < _DAYS_MIN - 1 or column.code.size < _ROWS_MIN * (step.size + 1):
            return
        middle[order] = float(np.median(step))
    best = min(middle.values())
    if best <= _NEAR:
        out = tuple(order for order in decision.orders if middle[order] >= _FAR)
        decision.orders = tuple(order for order in decision.orders if order not in out)
        decision.say(out, "only so do days follow each other, without jumps of weeks or months")
