"""When each row says it happened: a whole column of dates and times read by evidence.

No library guesses: each order of the fields is tried on the whole column, evidence takes readings
away, and where two are left that differ, a person is asked.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

import numpy as np
import polars as pl

from eventlab.errors import UsageError
from eventlab.meaning.date_forms import ORDERS
from eventlab.meaning.date_texts import (
    NO_CLOCK,
    NO_SUCH_TIME,
    NOT_A_CLOCK,
    Parts,
    read_clocks,
    read_parts,
    some,
)
from eventlab.meaning.evidence import NO_DAY, WORDS, Column, Decision, decide
from eventlab.meaning.question import Choice, Question
from eventlab.schema import WALL

NO_DATE = "there is no date"
NOT_A_DATE = "the date cannot be read"
NO_SUCH_DATE = "there is no such date"
NO_TIME_OF_DAY = "there is a date without a time of day"
NOT_A_TIME = "the time of day cannot be read"
NO_SUCH_TIME_OF_DAY = "there is no such time of day"
OTHER_ORDER = "the date is written otherwise than the rest of the column"
NO_ONE_ORDER = "the dates of the column follow no one order of day, month and year"

_DAY_US = 86_400_000_000

_LOOKED_AT = 5_000
"""Cells looked at to tell whether a column holds dates or times at all."""

_MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)


@dataclass(frozen=True, slots=True)
class DateForm:
    """How a column writes its dates.

    Parameters
    ----------
    key : str
        ``day-first``, ``month-first`` or ``year-first``; also what answers the question.
    text : str
        In plain words, such as ``day first, 24-hour clock``.
    """

    key: str
    text: str


@dataclass(frozen=True, slots=True)
class Dated:
    """When the rows of a table say they happened.

    Parameters
    ----------
    wall : polars.Series of Datetime
        The time as the text tells it, without zone [us]; null where it cannot be read, and
        throughout where a question waits.
    offset_s : polars.Series of Int32, or None
        Shift from UTC where the text itself tells it [s]; None where no cell does.
    grain : int
        Seconds that one step of the clock stands for: 1 or 60.
    form : DateForm or None
        How the dates are written; None where a question waits or no order reads them.
    question : Question or None
        Key ``dates``, where two readings are left.
    evidence : tuple of str
        How the reading was reached, in plain sentences.
    problem : polars.Series of String, or None
        Why a row has no time; null where it has one; None where all have.
    answered : bool
        Whether the answer decided, and not the column itself.
    """

    wall: pl.Series
    offset_s: pl.Series | None = None
    grain: int = 1
    form: DateForm | None = None
    question: Question | None = None
    evidence: tuple[str, ...] = ()
    problem: pl.Series | None = None
    answered: bool = False


def read_dates(
    dates: pl.Series,
    times: pl.Series | None,
    *,
    answer: str | None = None,
    hints: Sequence[str] = (),
    today: date | None = None,
) -> Dated:
    """Read a column of dates with times of day, in one column or two.

    Parameters
    ----------
    dates : polars.Series of String
        Cells as they stand, null where empty, in file order.
    times : polars.Series of String or None
        Times of day where they stand in a column of their own.
    answer : str, optional
        What a person answered: ``day-first``, ``month-first`` or ``year-first``.
    hints : sequence of str
        Lines around the table; dates in them are evidence.
    today : date, optional
        When the file was taken; today where left out.

    Returns
    -------
    Dated
        One value for each cell, in the same order.

    Raises
    ------
    UsageError
        If the answer is none of the three.
    """
    if answer is not None and answer not in ORDERS:
        raise UsageError(
            f"{answer!r} is no way to read dates", do=f"Answer one of: {', '.join(ORDERS)}"
        )
    parts = read_parts(dates, times)
    column = Column(parts.dates, parts.date)
    decision = decide(column, answer=answer, hints=hints, today=today or datetime.now(UTC).date())
    nothing = pl.Series("wall", [None], dtype=WALL).new_from_index(0, len(dates))
    if decision.open:
        return Dated(
            nothing,
            grain=parts.clocks.grain,
            question=_ask(column, decision),
            evidence=tuple(decision.evidence),
        )
    order = decision.orders[0] if decision.orders else None
    days = column.days(order) if order else np.full(parts.dates.height, NO_DAY)
    known = days != NO_DAY
    good = known[parts.date] & (parts.clocks.us >= 0)
    us = (np.where(known, days, 0) * _DAY_US)[parts.date] + parts.clocks.us
    wall = pl.Series("wall", us).cast(WALL)
    if not good.all():
        wall = wall.zip_with(pl.Series(good), nothing)
    return Dated(
        wall,
        offset_s=parts.clocks.offset_s,
        grain=parts.clocks.grain,
        form=_form(parts, column, order) if order else None,
        evidence=(*decision.evidence, *_remarks(parts, column, days)),
        problem=None if good.all() else _problems(parts, days, one_order=order is not None),
        answered=decision.answered,
    )


def _problems(parts: Parts, days: np.ndarray, *, one_order: bool) -> pl.Series:
    """Say for each row why it has no time."""
    table = parts.dates
    blank = table["text"].str.strip_chars() == ""
    other = table.select(pl.any_horizontal(pl.col(o).is_not_null() for o in ORDERS)).to_series()
    dates = table.select(
        pl.when(pl.Series(days != NO_DAY))
        .then(None)
        .when(blank)
        .then(pl.lit(NO_DATE))
        .when(pl.col("native").is_null())
        .then(pl.lit(NOT_A_DATE))
        .when(~other)
        .then(pl.lit(NO_SUCH_DATE))
        .otherwise(pl.lit(OTHER_ORDER if one_order else NO_ONE_ORDER))
    ).to_series()
    clocks = {
        NO_CLOCK: NO_TIME_OF_DAY,
        NOT_A_CLOCK: NOT_A_TIME,
        NO_SUCH_TIME: NO_SUCH_TIME_OF_DAY,
    }
    us = pl.Series("us", parts.clocks.us)
    of_clock = us.replace_strict(clocks, default=None, return_dtype=pl.String)
    return dates.gather(parts.date).fill_null(of_clock).alias("problem")


def _form(parts: Parts, column: Column, order: str) -> DateForm:
    rows = pl.Series("rows", column.rows)
    ways = parts.dates.select("native", rows).drop_nulls()
    way = ways.group_by("native").agg(pl.col("rows").sum()).sort("rows", "native")["native"][-1]
    text = {"named": "month names", "compact": "year first, without signs"}.get(way, WORDS[order])
    clock = f", {parts.clocks.native} clock" if parts.clocks.native else ""
    return DateForm(order, text + clock)


def _remarks(parts: Parts, column: Column, days: np.ndarray) -> list[str]:
    remarks = []
    named = parts.dates["weekday"].fill_null(0).to_numpy()
    known = (named > 0) & (days != NO_DAY)
    # 1 January 1970 was a Thursday.
    other = known & ((np.where(known, days, 0) + 3) % 7 + 1 != named)
    count = int(column.rows[other].sum())
    if count:
        remarks.append(f"rows that name another weekday than their date has: {count}")
    if parts.clocks.grain > 1:
        remarks.append("the clock counts whole minutes only")
    if parts.clocks.offset_s is not None:
        remarks.append("the times themselves tell their shift from UTC")
    return remarks


def _ask(column: Column, decision: Decision) -> Question:
    """Put the readings that are left as a question, with a date of the file read each way."""
    days = [column.days(order) for order in decision.orders]
    differ = np.logical_or.reduce([found != days[0] for found in days[1:]])
    whole = differ & np.logical_and.reduce([found != NO_DAY for found in days])
    shown = whole if whole.any() else differ
    first = column.code[int(np.argmax(shown[column.code]))]
    text = column.dates["text"][int(first)].strip()
    choices = []
    for order, found in zip(decision.orders, days, strict=True):
        read = "no date" if found[first] == NO_DAY else _spoken(int(found[first]))
        choices.append(Choice(order, f"{WORDS[order]}: {text} is {read}"))
    either = " or ".join(choice.text.split(" is ", 1)[1] for choice in choices)
    looked = "row order, the lines around the table and the span of time do not decide"
    return Question("dates", f"Is {text} {either}?", tuple(choices), (*decision.evidence, looked))


def _spoken(day: int) -> str:
    when = date(1970, 1, 1) + timedelta(days=day)
    return f"{when.day} {_MONTHS[when.month - 1]} {when.year}"


def _cells(cells: pl.Series) -> pl.Series:
    held = cells.cast(pl.String).drop_nulls()
    return some(held.filter(held.str.strip_chars() != ""), _LOOKED_AT)


def could_be_dates(cells: pl.Series) -> float:
    """Return the share of cells that some form reads as a date, with a time of day or without.

    Parameters
    ----------
    cells : polars.Series of String
        Nulls and blanks do not count; of long columns some thousand cells are looked at.

    Returns
    -------
    float
        0 to 1; 0 where there are no cells.
    """
    held = _cells(cells)
    if not len(held):
        return 0.0
    parts = read_parts(held, None)
    dated = parts.dates.select(pl.any_horizontal(pl.col(o).is_not_null() for o in ORDERS))
    good = dated.to_series().to_numpy()[parts.date]
    us = parts.clocks.us
    return float((good & ((us >= 0) | (us == NO_CLOCK))).mean())


def could_be_moments(cells: pl.Series) -> float:
    """Return the share of cells that some form reads as a date with a time of day.

    Parameters
    ----------
    cells : polars.Series of String
        As for ``could_be_dates``.

    Returns
    -------
    float
        0 to 1; 0 where there are no cells.
    """
    held = _cells(cells)
    if not len(held):
        return 0.0
    parts = read_parts(held, None)
    dated = parts.dates.select(pl.any_horizontal(pl.col(o).is_not_null() for o in ORDERS))
    return float((dated.to_series().to_numpy()[parts.date] & (parts.clocks.us >= 0)).mean())


def could_be_times(cells: pl.Series, *, compact: bool = False) -> float:
    """Return the share of cells that are times of day without a date.

    Parameters
    ----------
    cells : polars.Series of String
        As for ``could_be_dates``.
    compact : bool
        Whether ``2215`` and ``221500`` count too: only where a heading says that it is a time,
        for account and user numbers look the same.

    Returns
    -------
    float
        0 to 1; 0 where there are no cells.
    """
    held = _cells(cells)
    if not len(held):
        return 0.0
    good = read_clocks(held).us >= 0
    if not compact:
        good &= ~held.str.strip_chars().str.contains(r"^\d+$").to_numpy()
    return float(good.mean())
