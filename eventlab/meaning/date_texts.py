"""Cells cut into the text of the date and the text of the time of day, each read once.

A column of five million cells has some four million distinct moments, but only hundreds of
distinct dates and at most 86,400 distinct times of day. So the cells are cut first, cheaply, and
only what the cheap cut does not read is cut again with patterns.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import polars as pl

from eventlab.intake.distinct import distinct
from eventlab.meaning.date_cuts import cut, cut_alike, cut_with_care
from eventlab.meaning.date_fixed import cut_fixed
from eventlab.meaning.date_forms import read_clock_texts, read_date_texts

Codes = npt.NDArray[np.uint32]
Longs = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]

NO_CLOCK, NOT_A_CLOCK, NO_SUCH_TIME = -1, -2, -3
"""Stand in place of a time of day: nothing is written, no time is written, 25:61 is written."""

_HEAD = 8
"""Characters of ``22:15:00``; fractions and shifts behind it are read apart."""

_LONGEST = 11
"""Characters of ``10:15:00 PM``; what is longer has a fraction or a shift."""

_SAMPLE = 1_000
"""Cells on which the cheap cut is tried first."""

_CHEAP_SHARE = 0.5
"""The cheap cut is taken where it reads this share of them."""

_MINUTE_US = 60_000_000

_MINUTES_ROWS = 30
"""So many times of day that all end in :00 come from a clock that only counts minutes."""

_MINUTES_SHARE = 0.05
"""A larger share of times of day without seconds means that the clock only counts minutes."""


@dataclass(frozen=True, slots=True)
class Clocks:
    """The times of day of a column.

    Parameters
    ----------
    us : int64 array
        Since midnight [us]; ``NO_CLOCK``, ``NOT_A_CLOCK`` or ``NO_SUCH_TIME`` where there is none.
    offset_s : polars.Series of Int32, or None
        Shift from UTC where the text tells it [s]; None where no cell does.
    grain : int
        One step of the clock [s]: 1 or 60.
    native : str
        ``24-hour`` or ``12-hour``: how most are written; empty where there are none.
    """

    us: Longs
    offset_s: pl.Series | None
    grain: int
    native: str


@dataclass(frozen=True, slots=True)
class Parts:
    """The dates and times of day of a column, each distinct date once.

    Parameters
    ----------
    dates : polars.DataFrame
        ``DATES`` of the distinct date texts.
    date : uint32 array
        Row of ``dates`` for each cell.
    clocks : Clocks
        Times of day of each cell.
    """

    dates: pl.DataFrame
    date: Codes
    clocks: Clocks


def _number(texts: pl.Series) -> tuple[pl.Series, Codes]:
    """Return the distinct texts and for each text the number of its distinct one."""
    found, code = distinct(texts)
    return found, code.to_numpy()


def read_parts(cells: pl.Series, times: pl.Series | None) -> Parts:
    """Cut and read a column of dates, with its column of times where that is another one.

    Parameters
    ----------
    cells : polars.Series of String
        Dates, or dates with times of day; as they stand.
    times : polars.Series of String or None
        Times of day; where one is blank, that beside the date counts.

    Returns
    -------
    Parts
    """
    if times is None and (alike := _read_alike(cells)) is not None:
        return alike
    filled = cells.fill_null("")
    sample = some(filled.filter(filled != ""), _SAMPLE)
    cheap = _share(cut(sample)) >= _CHEAP_SHARE
    texts = cut(filled) if cheap else cut_alike(filled)
    dates, code, clocks = _read(texts)
    where = _failed(dates, code, clocks)
    if where.size:
        mended = _mend(texts, filled.gather(where), where)
        if mended is not None:
            texts = mended
            dates, code, clocks = _read(texts)
    if cheap:
        clocks.us[_glued(filled, texts, dates, code, clocks)] = NOT_A_CLOCK
    if times is not None:
        blank = times.is_null() | (times.str.strip_chars() == "")
        own = pl.Series(clocks.us >= 0) & blank
        clocks = read_clocks(times.zip_with(~own, texts["clock"]).fill_null(""))
    return Parts(dates, code, clocks)


def _read_alike(cells: pl.Series) -> Parts | None:
    """Read stamps that are all alike; None where one cell needs a closer look."""
    found = cut_fixed(cells)
    if found is None:
        return None
    texts, code, us = found
    dates = read_date_texts(texts)
    if dates["native"].null_count() or _open_end(dates).any():
        return None
    even = len(us) >= _MINUTES_ROWS and not (us % _MINUTE_US).any()
    return Parts(dates, code, Clocks(us, None, 60 if even else 1, "24-hour"))


def _read(texts: pl.DataFrame) -> tuple[pl.DataFrame, Codes, Clocks]:
    distinct, code = _number(texts["date"])
    return read_date_texts(distinct), code, read_clocks(texts["clock"])


def _failed(dates: pl.DataFrame, code: Codes, clocks: Clocks) -> Longs:
    """Return the cells that hold something and were not read."""
    unread = dates["native"].is_null().to_numpy()
    if not unread.any():
        return np.flatnonzero(clocks.us == NOT_A_CLOCK)
    nothing = unread & (dates["text"].str.strip_chars() == "").to_numpy()
    bad = unread[code] & ~(nothing[code] & (clocks.us == NO_CLOCK))
    return np.flatnonzero(bad | (clocks.us == NOT_A_CLOCK))


def _glued(
    cells: pl.Series, texts: pl.DataFrame, dates: pl.DataFrame, code: Codes, clocks: Clocks
) -> Longs:
    """Return the cells in which nothing stands between date and time of day."""
    rows: Longs = np.flatnonzero(_open_end(dates).to_numpy()[code] & (clocks.us >= 0))
    if not rows.size:
        return rows
    day, clock = texts["date"].gather(rows), texts["clock"].gather(rows)
    close = clock.str.slice(0, 1).is_in(list("0123456789"))
    close &= cells.gather(rows).str.len_bytes() == day.str.len_bytes() + clock.str.len_bytes()
    glued: Longs = rows[close.to_numpy()]
    return glued


def _open_end(dates: pl.DataFrame) -> pl.Series:
    """Tell which dates end in a figure that the next one could belong to."""
    return dates["text"].str.contains(r"\d$") & dates["native"].ne_missing("compact")


def _mend(texts: pl.DataFrame, cells: pl.Series, rows: Longs) -> pl.DataFrame | None:
    """Cut rows again with care; None where that gives no date either."""
    distinct, code = _number(cells)
    better = cut_with_care(distinct)
    good = read_date_texts(better["date"])["native"].is_not_null().to_numpy()
    if not good.any():
        return None
    chosen = better[code[good[code]]]
    return texts.select(
        texts[name].scatter(rows[good[code]], chosen[name]).alias(name) for name in texts.columns
    )


def some(cells: pl.Series, count: int) -> pl.Series:
    """Return some cells from all over the column, the same ones each time.

    Not every n-th: cells may repeat with a period of their own.
    """
    return cells.sample(min(count, len(cells)), seed=1)


def _share(texts: pl.DataFrame) -> float:
    """Return the share of cut cells that are read."""
    if not texts.height:
        return 1.0
    return 1 - _failed(*_read(texts)).size / texts.height


def read_clocks(texts: pl.Series) -> Clocks:
    """Read a column of times of day.

    Parameters
    ----------
    texts : polars.Series of String
        As they stand, no nulls.

    Returns
    -------
    Clocks
    """
    longest = texts.str.len_bytes().max()
    if isinstance(longest, int) and longest > _LONGEST:
        found = _read_in_two(texts)
        if found is not None:
            return found
    distinct, code = _number(texts)
    table = read_clock_texts(distinct)
    return Clocks(_values(table)[code], _offsets(table, code), *_habits(table, np.bincount(code)))


def _read_in_two(texts: pl.Series) -> Clocks | None:
    """Read ``22:15:00`` and what stands behind it apart; None where that seldom works."""
    head, head_code = _number(texts.str.slice(0, _HEAD))
    heads = read_clock_texts(head)
    tail, tail_code = _number(texts.str.slice(_HEAD))
    tails = read_clock_texts("00:00:00" + tail)
    plain = (heads["seconds"] & heads["native"].eq("24-hour")).fill_null(False).to_numpy()
    plain_tail = (tails["clock"].is_not_null() & tails["native"].eq("24-hour")).to_numpy()
    other = np.flatnonzero(~(plain[head_code] & plain_tail[tail_code]))
    if other.size > len(texts) // 2:
        return None
    us = _values(heads)[head_code]
    us = np.where(us >= 0, us + _values(tails)[tail_code], us)
    offset = _offsets(tails, tail_code)
    if other.size:
        rest = read_clocks(texts.gather(other).str.strip_chars())
        us[other] = rest.us
        if offset is not None or rest.offset_s is not None:
            none = pl.Series([None], dtype=pl.Int32)
            whole = none.new_from_index(0, len(texts)) if offset is None else offset
            part = none.new_from_index(0, other.size) if rest.offset_s is None else rest.offset_s
            offset = whole.scatter(other, part)
    return Clocks(us, offset, *_habits(heads, np.bincount(head_code)))


def _values(table: pl.DataFrame) -> Longs:
    values = table.select(
        pl.when(pl.col("clock").is_not_null())
        .then("clock")
        .when(pl.col("native").is_not_null())
        .then(NO_SUCH_TIME)
        .when(pl.col("text").str.strip_chars() == "")
        .then(NO_CLOCK)
        .otherwise(NOT_A_CLOCK)
    )
    return values.to_series().to_numpy()


def _offsets(table: pl.DataFrame, code: Codes) -> pl.Series | None:
    if table["offset_s"].null_count() == table.height:
        return None
    return table["offset_s"].gather(code)


def _habits(table: pl.DataFrame, rows: Longs) -> tuple[int, str]:
    """Measure the grain and the kind of clock over all cells."""
    timed = pl.col("clock").is_not_null()
    count = pl.lit(pl.Series("rows", rows))
    total, halves, without, even = table.select(
        count.filter(timed).sum().alias("total"),
        count.filter(timed & (pl.col("native") == "12-hour")).sum().alias("halves"),
        count.filter(timed & ~pl.col("seconds")).sum().alias("without"),
        (pl.col("clock") % _MINUTE_US == 0).all().alias("even"),
    ).row(0)
    if not total:
        return 1, ""
    half = halves > total / 2
    minutes = without > _MINUTES_SHARE * total or (even and total >= _MINUTES_ROWS)
    return 60 if minutes else 1, "12-hour" if half else "24-hour"
