"""Where each row of a log tells its date: in its cells, above it, around the table, or nowhere."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, date, datetime

import numpy as np
import polars as pl

from eventlab.meaning.date_forms import ORDERS
from eventlab.meaning.date_heads import Lifted
from eventlab.meaning.date_hints import days_of, look_around
from eventlab.meaning.date_rolls import PASSES, WAYS, Rolled, roll
from eventlab.meaning.date_texts import read_clocks
from eventlab.meaning.date_words import are_weekdays
from eventlab.meaning.dated import (
    NO_DATE,
    NO_SUCH_TIME_OF_DAY,
    NOT_A_TIME,
    SERIALS,
    Dated,
    DateForm,
)
from eventlab.meaning.dates import read_dates
from eventlab.meaning.known import Known
from eventlab.meaning.question import Question
from eventlab.meaning.roles import Part
from eventlab.schema import WALL

DATE_ANSWERS: Mapping[str, tuple[str, ...]] = {
    "dates": (*ORDERS, *SERIALS),
    "year": (),
    "first-year": (),
    "date": (),
    "row-order": WAYS,
    "midnight": PASSES,
}
"""Questions about dates with their answers; none are listed where years or dates answer."""

_TIME_ALONE = r"^\s*\d{1,2}[:.]\d{2}(?:[:.]\d{2}(?:[.,]\d+)?)?(?:\s*[AaPp]\.?[Mm]\.?)?\s*$"
"""A cell of a column of dates in which the date of a row above still holds."""

_SHORT = 18
"""Bytes of such a cell at most; stamps with a date are longer."""

_DAY_US = 86_400_000_000
_EPOCH = date(1970, 1, 1)


def find_dates(lifted: Lifted, known: Known, site: pl.Series) -> Dated:
    """Tell when each row of a log happened.

    Parameters
    ----------
    lifted : Lifted
        The table, with the dates that stand above its rows.
    known : Known
        What is known from outside: answers, rows stored already.
    site : polars.Series of String
        The site of each row.

    Returns
    -------
    Dated
        One value for each row of the table.
    """
    sheet, roles = lifted.sheet, lifted.roles
    hints = [line.text for line in (*sheet.preamble, *sheet.inside, *sheet.footer)]
    times = roles.one(Part.TIME)
    clock = sheet.cells[times] if times is not None else None
    stored = known.stored if known.stored.height else None

    def read(dates: pl.Series, cells: pl.Series | None) -> Dated:
        told = read_dates(
            dates, cells, answers=known.answers, hints=hints, site=site, stored=stored
        )
        beside = _weekdays(sheet.cells) if told.question is not None else None
        if beside is None:
            return told
        both = pl.select(pl.concat_str(beside.fill_null(""), pl.lit(" "), dates)).to_series()
        return read_dates(both, cells, answers=known.answers, hints=hints, site=site, stored=stored)

    column = roles.dated
    if column is None and clock is not None:
        if lifted.heads is not None:
            return _under_heads(lifted.heads, clock, known, read(lifted.heads["date"], clock))
        return _without_date(clock, known, hints)
    if column is None:
        return read(pl.Series("when", [None] * sheet.cells.height, dtype=pl.String), None)
    dates = sheet.cells[column]
    if clock is None:
        short = dates.str.len_bytes() <= _SHORT
        if not short.any():
            return read(dates, None)
        alone = (short & dates.str.contains(_TIME_ALONE)).fill_null(value=False)
        if not alone.any():
            return read(dates, None)
        nothing = pl.Series([None], dtype=pl.String).new_from_index(0, len(dates))
        dates, clock = dates.zip_with(~alone, nothing), dates.zip_with(alone, nothing)
    carried = _carried_down(dates, clock)
    dated = read(carried, clock)
    if carried is not dates and carried.null_count() < dates.null_count():
        told = "a date stands for the rows below it that have a time alone"
        dated = replace(dated, evidence=(*dated.evidence, told))
    return dated


def _weekdays(cells: pl.DataFrame) -> pl.Series | None:
    """Find the column that names the weekday of each row, if any: evidence for its date."""
    return next((c for c in cells.select(pl.col(pl.String)) if are_weekdays(c)), None)


def _carried_down(dates: pl.Series, clock: pl.Series) -> pl.Series:
    """Carry a date down to the rows below it that have a time alone.

    Only where the table writes each date once, on the first row of its day: elsewhere a row
    without a date is damaged.
    """
    blank = dates.is_null() & clock.is_not_null()
    again = (dates == dates.shift()).sum()
    if not blank.any() or blank.sum() <= again:
        return dates
    carried = dates.fill_null(strategy="forward")
    return carried.zip_with(blank | dates.is_not_null(), dates)


def _under_heads(heads: pl.DataFrame, clock: pl.Series, known: Known, dated: Dated) -> Dated:
    """Put the rows after midnight under the next date."""
    if dated.question is not None:
        return dated
    wall = dated.wall.to_physical()
    rows = np.flatnonzero(wall.is_not_null().to_numpy())
    if not rows.size:
        return dated
    moment = wall.gather(rows).to_numpy()
    # One date again on the next page goes on; the same one elsewhere begins anew.
    day = moment // _DAY_US
    new = np.concatenate(([False], np.diff(day) != 0))
    rolled = _roll(moment - day * _DAY_US, np.cumsum(new), day, known, clock)
    many = heads["head"].drop_nulls().n_unique()
    told = (
        "each date stands in a line of its own above its rows"
        if many > 1
        else "the date stands once, above the rows"
    )
    if rolled.question is not None:
        return _asked(len(wall), rolled.question, (*dated.evidence, told), dated.grain)
    moved = np.zeros(len(wall), dtype=np.int64)
    moved[rows] = rolled.days * _DAY_US
    return replace(
        dated,
        wall=(wall + pl.Series(moved)).cast(WALL).alias("wall"),
        evidence=(*dated.evidence, told, *rolled.evidence),
        settled={**dated.settled, **_settled(rolled, known)},
        decided=dated.decided | frozenset(rolled.answered),
        answered=dated.answered | frozenset(rolled.answered),
    )


def _without_date(clock: pl.Series, known: Known, hints: list[str]) -> Dated:
    """Read rows of which nothing tells the date: by a period of the table, else it is asked."""
    clocks = read_clocks(clock.fill_null(""))
    rows = np.flatnonzero(clocks.us >= 0)
    if not rows.size:
        problem = pl.Series("problem", [NO_DATE], dtype=pl.String).new_from_index(0, len(clock))
        return Dated(_asked(len(clock), None, (), clocks.grain).wall, problem=problem)
    none = np.zeros(rows.size, dtype=np.int64)
    rolled = _roll(clocks.us[rows], none, none, known, clock)
    if rolled.question is not None:
        return _asked(len(clock), rolled.question, (), clocks.grain)
    last, found = str(clock[int(rows[-1])]).strip(), known.answers.get("date")
    told = [f"the date of the last row is {found}, as answered"] if found else []
    nights = int(rolled.days.max())
    if found:
        begin = (date.fromisoformat(found) - _EPOCH).days - int(rolled.days[-1])
    else:
        spans = _periods(hints)
        fits = {low for low, high, _ in spans if high - low == nights}
        if len(fits) != 1 or len(spans) != 1:
            question = Question(
                "date",
                f"The rows tell a time of day and no date. On which date is the last row, {last}? "
                "Give it as 2025-03-31.",
                evidence=("no line above the table or between its rows tells the date alone",),
            )
            return _asked(len(clock), question, (), clocks.grain)
        (begin,) = fits
        told = [f"the rows are of the period in {spans[0][2]!r}"]
    us = np.zeros(len(clock), dtype=np.int64)
    us[rows] = (begin + rolled.days) * _DAY_US + clocks.us[rows]
    good = pl.Series(clocks.us >= 0)
    wall = pl.Series("wall", us).cast(WALL)
    final = date.fromordinal(_EPOCH.toordinal() + begin + int(rolled.days[-1]))
    answered = frozenset((*rolled.answered, *(["date"] if found else [])))
    reasons = pl.Series(clocks.us).replace_strict(
        {-3: NO_SUCH_TIME_OF_DAY}, default=NOT_A_TIME, return_dtype=pl.String
    )
    return Dated(
        wall if good.all() else wall.set(~good, None),
        offset_s=clocks.offset_s,
        grain=clocks.grain,
        form=DateForm("", f"times of day only, {clocks.native} clock"),
        evidence=(*told, *rolled.evidence),
        problem=None if good.all() else reasons.set(good, None).alias("problem"),
        settled={"date": final.isoformat(), **_settled(rolled, known)},
        decided=answered | {"date"},
        answered=answered,
    )


def _periods(hints: list[str]) -> list[tuple[int, int, str]]:
    """List the periods that lines around the table tell, each reading of each."""
    latest = (datetime.now(UTC).date() - _EPOCH).days + 2
    found = []
    for stamp in look_around(hints).stamps:
        for order in ("day-first", "month-first"):
            lows, highs = days_of(stamp.low, order), days_of(stamp.high, order)
            for low, high in zip(lows, highs, strict=False):
                if low <= high <= latest and (low, high, stamp.text) not in found:
                    found.append((low, high, stamp.text))
    return found


def _roll(
    us: np.ndarray, section: np.ndarray, day: np.ndarray, known: Known, clock: pl.Series
) -> Rolled:
    last = clock.drop_nulls()
    return roll(
        us,
        section,
        day,
        way=known.answers.get("row-order"),
        midnight=known.answers.get("midnight"),
        clock=str(last[-1]).strip() if len(last) else "",
    )


def _settled(rolled: Rolled, known: Known) -> dict[str, str]:
    return {key: known.answers[key] for key in rolled.answered}


def _asked(height: int, question: Question | None, evidence: tuple[str, ...], grain: int) -> Dated:
    nothing = pl.Series("wall", [None], dtype=WALL).new_from_index(0, height)
    return Dated(nothing, grain=grain, question=question, evidence=evidence)
