"""When each row says it happened: a whole column of dates and times read by evidence.

No library guesses: each order of the fields is tried on the whole column, evidence takes readings
away, and where two are left that differ, a person is asked.
"""

from collections.abc import Mapping, Sequence
from datetime import UTC, date, datetime, timedelta

import numpy as np
import polars as pl

from eventlab.errors import UsageError
from eventlab.meaning.date_asking import ask_order, ask_year
from eventlab.meaning.date_column import NO_DAY, Column, Longs, column_of
from eventlab.meaning.date_forms import ORDERS
from eventlab.meaning.date_hints import Around, look_around
from eventlab.meaning.date_numbers import read_numbers
from eventlab.meaning.date_stored import agreeing
from eventlab.meaning.date_texts import NO_CLOCK, NO_SUCH_TIME, NOT_A_CLOCK, Parts, read_parts
from eventlab.meaning.date_turns import Yearless
from eventlab.meaning.date_years import Years, weigh
from eventlab.meaning.dated import (
    NO_DATE,
    NO_ONE_ORDER,
    NO_SUCH_DATE,
    NO_SUCH_TIME_OF_DAY,
    NO_TIME_OF_DAY,
    NO_YEAR_TOLD,
    NOT_A_DATE,
    NOT_A_TIME,
    OTHER_ORDER,
    SERIALS,
    Dated,
    DateForm,
)
from eventlab.meaning.evidence import WORDS, Decision, decide, names_other
from eventlab.schema import WALL

_DAY_US = 86_400_000_000
_NEVER = datetime(1970, 1, 1)  # noqa: DTZ001 - a wall time


def read_dates(
    dates: pl.Series,
    times: pl.Series | None,
    *,
    answers: Mapping[str, str] | None = None,
    hints: Sequence[str] = (),
    today: date | None = None,
    site: pl.Series | None = None,
    stored: pl.DataFrame | None = None,
) -> Dated:
    """Read a column of dates with times of day, in one column or two.

    Parameters
    ----------
    dates : polars.Series of String
        Cells as they stand, null where empty, in file order.
    times : polars.Series of String or None
        Times of day where they stand in a column of their own.
    answers : mapping, optional
        What a person answered: ``dates`` (one of ``ORDERS`` or ``SERIALS``), ``year`` of the last
        row and ``first-year`` where dates tell none.
    hints : sequence of str
        Lines around the table; dates in them are evidence.
    today : date, optional
        When the file was taken; today where left out.
    site : polars.Series of String, optional
        The site of each row.
    stored : polars.DataFrame, optional
        ``STORED``: moments of these sites that are stored already.

    Returns
    -------
    Dated
        One value for each cell, in the same order.

    Raises
    ------
    UsageError
        If the answer to ``dates`` is none.
    """
    answers = {key: told for key, told in (answers or {}).items() if told}
    order = answers.get("dates")
    if order is not None and order not in (*ORDERS, *SERIALS, "epoch"):
        raise UsageError(
            f"{order!r} is no way to read dates",
            do=f"Answer one of: {', '.join((*ORDERS, *SERIALS))}",
        )
    today = today or datetime.now(UTC).date()
    around = look_around(hints)
    numbers = read_numbers(
        dates, times, answers=answers, around=around, today=today, site=site, stored=stored
    )
    if numbers is not None:
        return numbers
    parts = read_parts(dates, times)
    column = column_of(parts.dates, parts.date, site)
    decision = decide(column, answer=order if order in ORDERS else None, around=around, today=today)
    if column.yearless and decision.orders:
        rows = Yearless(column, decision.orders, site)
        years = weigh(
            rows,
            parts.clocks.us,
            answers=answers,
            around=around,
            today=today,
            site=site,
            stored=stored,
        )
        apart = _apart(column, years, around=around, today=today)
        return _yearless(parts, column, rows, decision, years, apart)
    if decision.open:
        _compare(column, parts.clocks.us, decision, site, stored)
    if decision.open:
        read = [column.days(one) for one in decision.orders]
        found = np.concatenate([days[days != NO_DAY] for days in read])
        return Dated(
            _nothing(len(dates)),
            grain=parts.clocks.grain,
            question=ask_order(column, decision.orders, decision.evidence),
            evidence=tuple(decision.evidence),
            reach=_reach(found),
        )
    chosen = decision.orders[0] if decision.orders else None
    of_text = column.days(chosen) if chosen else np.full(parts.dates.height, NO_DAY)
    days = of_text[parts.date]
    differ = not np.array_equal(column.days("day-first"), column.days("month-first"))
    return Dated(
        *_walls(parts, days),
        grain=parts.clocks.grain,
        form=_form(parts, column, chosen) if chosen else None,
        evidence=(*decision.evidence, *_remarks(parts, column, days)),
        problem=_problems(parts, days, one_order=chosen is not None),
        decided=frozenset({"dates"}) if chosen and differ else frozenset(),
        answered=frozenset({"dates"}) if decision.answered else frozenset(),
    )


def _compare(
    column: Column,
    us: Longs,
    decision: Decision,
    site: pl.Series | None,
    stored: pl.DataFrame | None,
) -> None:
    """Let rows decide that are stored already."""
    read = {order: column.days(order)[column.code] for order in decision.orders}
    rows = np.flatnonzero(np.logical_and.reduce([d != NO_DAY for d in read.values()]) & (us >= 0))
    walls = {
        order: (lambda some, days=days: days[some] * _DAY_US + us[some])
        for order, days in read.items()
    }
    met = agreeing(walls, rows, site, stored)
    if met is not None and not decision.torn:
        decision.orders = (met,)
        decision.say(("",), "so read they are the same as rows of the site that are stored already")


def _yearless(
    parts: Parts,
    column: Column,
    rows: Yearless,
    decision: Decision,
    years: Years,
    apart: Longs | None,
) -> Dated:
    evidence = (*decision.evidence, *years.evidence)
    nothing = _nothing(parts.date.size)
    if not years.readings:
        days = np.full(parts.date.size, NO_DAY)
        return Dated(nothing, evidence=evidence, problem=_problems(parts, days, one_order=False))
    if len(years.readings) > 1:
        orders = tuple(dict.fromkeys(reading.order for reading in years.readings))
        found = [rows.days(reading) for reading in years.readings]
        if len(orders) > 1:
            question = ask_order(column, orders, evidence)
        else:
            last = len({reading.year for reading in years.readings}) > 1
            turn = rows.turns[years.readings[0].order, years.readings[0].silent]
            row = turn.last if last else int(turn.rows.min())
            text = column.dates["text"][int(column.code[row])].strip()
            spans = {r.year if last else r.first: rows.days(r) for r in years.readings[::-1]}
            question = ask_year("year" if last else "first-year", text, spans, evidence)
        every = np.concatenate(found)
        return Dated(
            nothing,
            grain=parts.clocks.grain,
            question=question,
            evidence=evidence,
            reach=_reach(every[every != NO_DAY]),
        )
    (reading,) = years.readings
    days = rows.of_rows(reading)
    if apart is not None:
        days = np.where(years.alone, apart, days)
    problem = _problems(parts, days, one_order=True)
    if problem is not None and years.alone.any():
        problem = problem.set(pl.Series(years.alone & (days == NO_DAY)), NO_YEAR_TOLD)
    settled = {"year": str(reading.year)}
    if len(rows.turns) > len(decision.orders):
        settled["first-year"] = str(reading.first)
    differ = not np.array_equal(column.days("day-first"), column.days("month-first"))
    return Dated(
        *_walls(parts, days),
        grain=parts.clocks.grain,
        form=_form(parts, column, reading.order),
        evidence=(*evidence, *_remarks(parts, column, days)),
        problem=problem,
        settled=settled,
        decided=years.decided | ({"dates"} if differ else set()),
        answered=years.answered | ({"dates"} if decision.answered else set()),
    )


def _apart(column: Column, years: Years, *, around: Around, today: date) -> Longs | None:
    """Read sites that end at another time than the rest, each by the lines around the table."""
    if len(years.readings) != 1 or not years.alone.any() or column.site is None:
        return None
    days: Longs = np.full(column.code.size, NO_DAY, dtype=np.int64)
    order = years.readings[0].order
    for site in column.site.filter(pl.Series(years.alone)).unique():
        own = np.flatnonzero((column.site == site).fill_null(value=False).to_numpy() & years.alone)
        one = Yearless(Column(column.dates, column.code[own]), (order,), None)
        left = weigh(one, np.full(own.size, -1), around=around, today=today).readings
        if len(left) == 1:
            days[own] = one.of_rows(left[0])
    return days


def _nothing(height: int) -> pl.Series:
    return pl.Series("wall", [None], dtype=WALL).new_from_index(0, height)


def _reach(days: Longs) -> tuple[datetime, datetime] | None:
    if not days.size:
        return None
    return (
        _NEVER + timedelta(days=int(days.min())),
        _NEVER + timedelta(days=int(days.max()) + 1),
    )


def _walls(parts: Parts, days: Longs) -> tuple[pl.Series, pl.Series | None]:
    """Join the day of each row and its time of day; and the shift that the text tells."""
    known = days != NO_DAY
    us = np.where(known, days, 0) * _DAY_US + parts.clocks.us
    wall = pl.Series("wall", us).cast(WALL)
    good = known & (parts.clocks.us >= 0)
    if not good.all():
        wall = wall.zip_with(pl.Series(good), _nothing(len(wall)))
    return wall, parts.clocks.offset_s


def _problems(parts: Parts, days: Longs, *, one_order: bool) -> pl.Series | None:
    """Say for each row why it has no time; None where all have one."""
    known = days != NO_DAY
    if known.all() and (parts.clocks.us >= 0).all():
        return None
    table = parts.dates
    other = pl.any_horizontal(pl.col(order).is_not_null() for order in ORDERS)
    without = pl.col("native").eq_missing("no-year")
    reasons = table.select(
        pl.when(pl.col("text").str.strip_chars() == "")
        .then(pl.lit(NO_DATE))
        .when(pl.col("native").is_null())
        .then(pl.lit(NOT_A_DATE))
        .when(~other)
        .then(pl.lit(NO_SUCH_DATE))
        .when(without & pl.lit(not column_of(table, parts.date).yearless))
        .then(pl.lit(NO_YEAR_TOLD))
        .when(without)
        .then(pl.lit(NO_SUCH_DATE))
        .otherwise(pl.lit(OTHER_ORDER if one_order else NO_ONE_ORDER))
    ).to_series()
    of_date = reasons.gather(parts.date).set(pl.Series(known), None)
    clocks = {
        NO_CLOCK: NO_TIME_OF_DAY,
        NOT_A_CLOCK: NOT_A_TIME,
        NO_SUCH_TIME: NO_SUCH_TIME_OF_DAY,
    }
    us = pl.Series("us", parts.clocks.us)
    of_clock = us.replace_strict(clocks, default=None, return_dtype=pl.String)
    return of_date.fill_null(of_clock).alias("problem")


def _form(parts: Parts, column: Column, order: str) -> DateForm:
    rows = pl.Series("rows", column.rows)
    ways = parts.dates.select("native", rows).drop_nulls()
    way = ways.group_by("native").agg(pl.col("rows").sum()).sort("rows", "native")["native"][-1]
    text = {"named": "month names", "compact": "year first, without signs"}.get(way, WORDS[order])
    if way == "no-year":
        one = np.array_equal(column.days("day-first"), column.days("month-first"))
        text = f"{'month names' if one else text}, no year"
    clock = f", {parts.clocks.native} clock" if parts.clocks.native else ""
    return DateForm(order, text + clock)


def _remarks(parts: Parts, column: Column, days: Longs) -> list[str]:
    remarks = []
    named = parts.dates["weekdays"].fill_null(0).to_numpy()
    if named.any():
        count = int((names_other(named[column.code], days) & (days != NO_DAY)).sum())
        if count:
            remarks.append(f"rows that name another weekday than their date has: {count}")
    if parts.clocks.grain > 1:
        remarks.append("the clock counts whole minutes only")
    if parts.clocks.offset_s is not None:
        remarks.append("the times themselves tell their shift from UTC")
    return remarks
