"""How dates and times of day are written: what one text can mean in each order of its fields.

Works on distinct texts; which order a whole column follows is decided elsewhere, by evidence.
Month and weekday names of all languages are known at once, and the names of shifts from UTC that
the tz database uses for one shift only and no trade uses for another.
"""

from collections.abc import Sequence
from functools import cache

import numpy as np
import polars as pl

from eventlab.meaning.date_screens import (
    ATS,
    BEFORE_CLOCK,
    BEGINS_AS_CLOCK,
    EDGE,
    FILLERS,
    SUFFIXES,
    may_be_date,
)
from eventlab.meaning.date_words import bared, names, numbered
from eventlab.meaning.remembered import Remembered
from eventlab.schema import Schema

ORDERS = ("day-first", "month-first", "year-first")
"""The orders in which the fields of a date stand; also the answers to the question."""

DATES: Schema = {
    "text": pl.String(),
    "day-first": pl.Int64(),
    "month-first": pl.Int64(),
    "year-first": pl.Int64(),
    "native": pl.String(),
    "weekdays": pl.Int64(),
}
"""What a date text means in each order [days since 1970], null where that is no day. ``native``
is the way it is written, null where it is no date at all: ``year-first`` (four-figure year in
front), ``named`` (a month name) and ``compact`` mean the same in every order, ``figures`` and
``short`` (two-figure year) do not; ``no-year`` tells day and month only, given as a day of
``NO_YEAR``. ``weekdays`` are those that the name beside it may mean, bit 0 Monday; null where
none is named."""

NO_YEAR = 4
"""The year, long before any log, in which dates stand that tell none: one with a 29 February."""

CLOCKS: Schema = {
    "text": pl.String(),
    "clock": pl.Int64(),
    "native": pl.String(),
    "seconds": pl.Boolean(),
    "offset_s": pl.Int32(),
}
"""What a time of day means [us since midnight]; ``native`` is ``24-hour`` or ``12-hour``, null
where it is no time at all; whether seconds are told, and the shift from UTC where it is told."""

_GAP = r"[-/.,\s\u00a0]{1,3}"
_WORD = r"[a-z]+"  # texts are bared, and the names of months and weekdays are ASCII then
_WEEKDAY_BEFORE = rf"(?:(?P<before>{_WORD})(?:[.,]+\s*|\s+))?"
_WEEKDAY_AFTER = rf"(?:[,\s]+\(?(?P<after>{_WORD})\.?\)?)?"
_NTH = rf"(?:{'|'.join(SUFFIXES)}|:e)?"
_AT = rf"[\s,]+(?:{ATS})$"

_FIGURES = (
    rf"(?P<a>[0-9]{{4}}|[0-9]{{1,2}}){_GAP}(?P<b>[0-9]{{1,2}}){_GAP}"
    r"(?P<c>[0-9]{4}|[0-9]{1,2})"
)
_NAME_SECOND = (
    rf"^{_WEEKDAY_BEFORE}(?P<a>[0-9]{{4}}|[0-9]{{1,2}}){_NTH}(?:{_GAP})?(?P<b>{_WORD})\.?"
    rf"(?:{_GAP})?(?P<c>[0-9]{{4}}|[0-9]{{1,2}}){_WEEKDAY_AFTER}$"
)
_NAME_FIRST = (
    rf"^{_WEEKDAY_BEFORE}(?P<b>{_WORD})\.?(?:{_GAP})?(?P<a>[0-9]{{1,2}}){_NTH}{_GAP}"
    rf"(?P<c>[0-9]{{4}}|[0-9]{{2}}){_WEEKDAY_AFTER}$"
)
_COMPACT = r"^(?P<a>(?:19|20)[0-9]{2})(?P<b>[0-9]{2})(?P<c>[0-9]{2})$"
_DAY_MONTH = r"(?P<a>[0-9]{1,2})[-/.](?P<b>[0-9]{1,2})"
_BARE = (
    (rf"^{_FIGURES}$", "figures"),
    (_COMPACT, "compact"),
    (rf"^{_DAY_MONTH}$", "no-year"),
)
"""The ways to write dates without letters, first those that tell a year."""
_WORDED = (
    (rf"^{_WEEKDAY_BEFORE}{_FIGURES}{_WEEKDAY_AFTER}$", "figures"),
    (_NAME_SECOND, "named"),
    (_NAME_FIRST, "named"),
    (_COMPACT, "compact"),
    (rf"^{_WEEKDAY_BEFORE}{_DAY_MONTH}{_WEEKDAY_AFTER}$", "no-year"),
    (
        rf"^{_WEEKDAY_BEFORE}(?P<a>[0-9]{{1,2}}){_NTH}(?:{_GAP})?(?P<b>{_WORD}){_WEEKDAY_AFTER}$",
        "no-year",
    ),
    (
        rf"^{_WEEKDAY_BEFORE}(?P<b>{_WORD})\.?(?:{_GAP})?(?P<a>[0-9]{{1,2}}){_NTH}{_WEEKDAY_AFTER}$",
        "no-year",
    ),
)
"""All ways, with letters and without."""

# Letters behind figures at once are a shift too (22:15z); those behind the "a" of "am" are none.
_SHIFT = r"(?:\s*(?P<shift>z|utc|gmt|\b(?:ZONES)|[+\u2212-][0-9]{2}:?[0-9]{2}|[+\u2212-][0-9]{2}))?"
_CLOCK = (
    r"^t?(?P<h>[0-9]{1,2})[:.h](?P<m>[0-9]{2})"
    r"(?:[:.m](?P<s>[0-9]{2})(?:[.,:](?P<f>[0-9]{1,9}))?s?)?"
    rf"(?:\s*(?P<half>[ap])(?:\.?\s?m\.?)?)?{_SHIFT}$"
)
_CLOCK_COMPACT = (
    r"^t?(?P<h>[0-9]{2})(?P<m>[0-9]{2})(?P<s>[0-9]{2})?(?:[.,](?P<f>[0-9]{1,9}))?" + _SHIFT + "$"
)
_CLOCK_WORDS = rf"^(?:{BEFORE_CLOCK})\s+|\s*(?:uhr|uur|h|hrs?)$"
_HALVES = ((r"([0-9])\s*f\.?m\.?$", "$1 am"), (r"([0-9])\s*e\.?m\.?$", "$1 pm"))  # Swedish
_NO_DAY = r"^\S*(?:1899|1900)\S*\s+"  # spreadsheets put day nought before a time of day

_MIDNIGHT = 24
_NOON = 12
_FULL = 4
"""Figures of a full year."""

_SCREENED = 400
"""Texts whose words are looked at before they are tried in all ways."""


@cache
def _fields(pattern: str) -> pl.Expr:
    return pl.first().str.extract_groups(pattern)  # its pattern is compiled to be built


def _groups(texts: pl.Series, pattern: str) -> pl.DataFrame:
    return texts.to_frame().select(_fields(pattern)).to_series().struct.unnest()


def _number(cells: pl.Series) -> pl.Series:
    return cells.cast(pl.Int64, strict=False)


def _days(year: pl.Series, month: pl.Series, day: pl.Series) -> pl.Series:
    """Return days since 1970; null where there is no such day."""
    lengths = np.array([31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
    given = pl.DataFrame({"year": year, "month": month, "day": day})
    filled = given.select(pl.all().fill_null(0), known=pl.all_horizontal(pl.all().is_not_null()))
    years, months, days = (filled[name].to_numpy() for name in given.columns)
    good = (months >= 1) & (months <= len(lengths)) & (days >= 1) & (years >= 1)
    safe = np.where(good, months, 1)
    leap = (years % 4 == 0) & ((years % 100 != 0) | (years % 400 == 0))
    good &= days <= np.where((safe == 2) & ~leap, 28, lengths[safe - 1])
    start = ((years - 1970) * 12 + safe - 1).astype("datetime64[M]").astype("datetime64[D]")
    since = start.astype(np.int64) + days - 1
    return pl.select(pl.when(filled["known"] & pl.Series(good)).then(pl.Series(since))).to_series()


def _full_year(name: str) -> pl.Expr:
    """Complete two figures as POSIX does: 69 to 99 are 19xx, 00 to 68 are 20xx."""
    figures, year = pl.col(name).str.len_bytes(), pl.col(name).cast(pl.Int64, strict=False)
    full = year + pl.when(year >= 69).then(1900).otherwise(2000)
    return pl.when(figures == _FULL).then(year).when(figures == 2).then(full)


def read_date_texts(texts: pl.Series) -> pl.DataFrame:
    """Read distinct date texts in every order of fields.

    Parameters
    ----------
    texts : polars.Series of String
        Distinct texts, no nulls, without a time of day.

    Returns
    -------
    polars.DataFrame
        ``DATES``, one row for each text, in the same order.
    """
    plain = _PLAIN(texts)
    if plain["lettered"].any():
        read = _AMONG_WORDS(plain["plain"])
    else:
        read = _AMONG_FIGURES(plain["plain"])
    return pl.DataFrame([texts.alias("text"), *read.get_columns()[1:]])


def _plain(texts: pl.Series) -> pl.DataFrame:
    """Take off what says nothing of the date; ``lettered`` where letters are left."""
    plain = (
        bared(texts)
        .str.strip_chars(EDGE)
        .str.strip_chars_end(EDGE + "-/.")
        .str.replace(r"([0-9])t$", "$1")
    )
    lettered = plain.str.contains(r"[a-z]")
    return pl.DataFrame({"text": texts, "plain": plain, "lettered": lettered})


def _among_words(texts: pl.Series) -> pl.DataFrame:
    if len(texts) <= _SCREENED and not any(map(may_be_date, texts.to_list())):
        return _nothing(texts)
    plain = texts.str.replace_all(FILLERS, " ").str.replace(r"([0-9]{4})\s*r(?:oku)?$", "$1")
    plain = plain.str.replace(_AT, "").str.strip_chars(EDGE + ".")
    return _read_in(_WORDED, plain).with_columns(texts.alias("text"))


def _among_figures(texts: pl.Series) -> pl.DataFrame:
    return _read_in(_BARE, texts) if texts.str.contains("[0-9]").any() else _nothing(texts)


def _nothing(texts: pl.Series) -> pl.DataFrame:
    none = [pl.lit(None, kind).alias(name) for name, kind in DATES.items() if name != "text"]
    return pl.DataFrame({"text": texts}).with_columns(none)


def _read_in(ways: Sequence[tuple[str, str]], plain: pl.Series) -> pl.DataFrame:
    """Read texts in the first of the ways in which each can be read."""
    merged = _nothing(plain)
    for pattern, kind in ways:
        if not merged["native"].null_count():
            break
        parts = _groups(plain, pattern)
        if parts["a"].null_count() < len(plain):
            read = _read_yearless(parts) if kind == "no-year" else _read_dates(parts, kind)
            if merged["native"].null_count() == len(plain):
                merged = read.insert_column(0, plain.alias("text"))
                continue
            merged = merged.with_columns(
                pl.when(pl.col("native").is_null()).then(read[name]).otherwise(name).alias(name)
                for name in read.columns
            )
    return merged


_PLAIN, _AMONG_WORDS = Remembered(_plain), Remembered(_among_words)
_AMONG_FIGURES = Remembered(_among_figures)


def _weekdays(parts: pl.DataFrame, good: pl.Series) -> tuple[pl.Series, pl.Series]:
    """Return the weekdays named beside dates, and what of ``good`` stays: no other word may be."""
    weekdays = pl.Series([None], dtype=pl.Int64).new_from_index(0, parts.height)
    for place in [name for name in ("before", "after") if name in parts.columns]:
        named = numbered(parts[place], "weekday")
        good = good & (parts[place].is_null() | named.is_not_null())
        weekdays = weekdays.fill_null(named)
    return weekdays, good.fill_null(value=False)


def _read_yearless(parts: pl.DataFrame) -> pl.DataFrame:
    """Read dates of day and month only; rows written otherwise are null throughout."""
    a, plain = _number(parts["a"]), _number(parts["b"])
    named = numbered(parts["b"], "month") if plain.null_count() == len(plain) else plain
    weekdays, good = _weekdays(parts, a.is_not_null() & named.is_not_null())
    year = pl.Series([NO_YEAR], dtype=pl.Int64).new_from_index(0, parts.height)
    days = _days(year, named, a)
    swapped = _days(year, a, named) if plain.null_count() < len(plain) else days
    return pl.DataFrame({"day-first": days, "month-first": swapped, "weekdays": weekdays}).select(
        pl.when(good).then(expr).alias(name)
        for name, expr in {
            "day-first": pl.col("day-first"),
            "month-first": pl.col("month-first"),
            "year-first": pl.lit(None, pl.Int64),
            "native": pl.lit("no-year"),
            "weekdays": pl.col("weekdays"),
        }.items()
    )


def _read_dates(parts: pl.DataFrame, kind: str) -> pl.DataFrame:
    """Read the parts of one way of writing; rows written otherwise are null throughout."""
    b = numbered(parts["b"], "month") if kind == "named" else _number(parts["b"])
    figures = [pl.col(name).cast(pl.Int64, strict=False) for name in ("a", "c")]
    full = [pl.col(name).str.len_bytes() == _FULL for name in ("a", "c")]
    a, c, a_year, c_year, front, end = parts.select(
        a=figures[0], c=figures[1], a_year=_full_year("a"), c_year=_full_year("c"),
        front=full[0], end=full[1],
    )  # fmt: skip
    good = b.is_not_null() & (c_year.is_not_null() | front | (kind == "figures")) & ~(front & end)
    good &= a_year.is_not_null() | c_year.is_not_null()
    weekdays, good = _weekdays(parts, good)
    dmy, ymd = _days(c_year, b, a), _days(a_year, b, c)
    mdy = _days(c_year, a, b) if kind == "figures" else dmy
    table = pl.DataFrame(
        {"front": front, "end": end, "dmy": dmy, "mdy": mdy, "ymd": ymd, "weekdays": weekdays}
    )
    if kind == "figures":
        orders = {
            "day-first": pl.when("front").then("ymd").otherwise("dmy"),
            "month-first": pl.when("front").then("ymd").otherwise("mdy"),
            "year-first": pl.when("end").then(None).otherwise("ymd"),
        }
        short = pl.when("end").then(pl.lit("figures")).otherwise(pl.lit("short"))
        native = pl.when("front").then(pl.lit("year-first")).otherwise(short)
    else:
        orders = dict.fromkeys(ORDERS, pl.when("front").then("ymd").otherwise("dmy"))
        native = pl.lit(kind)
    kept = {**orders, "native": native, "weekdays": pl.col("weekdays")}
    return table.select(pl.when(good).then(expr).alias(name) for name, expr in kept.items())


def read_clock_texts(texts: pl.Series) -> pl.DataFrame:
    """Read distinct texts of a time of day: 12- and 24-hour clocks, fractions, shifts from UTC.

    Parameters
    ----------
    texts : polars.Series of String
        Distinct texts, no nulls.

    Returns
    -------
    polars.DataFrame
        ``CLOCKS``, one row for each text, in the same order. 24:00:00 is the end of the day and
        a leap second (:60) the start of the next one.
    """
    return _CLOCKS(texts)


def _read_clock_texts(texts: pl.Series) -> pl.DataFrame:
    plain = bared(texts).str.strip_chars(EDGE)
    if not plain.str.contains(BEGINS_AS_CLOCK).any():
        none = [pl.lit(None, kind).alias(name) for name, kind in CLOCKS.items() if name != "text"]
        return pl.DataFrame({"text": texts}).with_columns(none)
    plain = plain.str.replace(_NO_DAY, "")
    if plain.str.contains(r"[a-z]").any():
        plain = plain.str.replace_all(_CLOCK_WORDS, "")
        for pattern, told in _HALVES:
            plain = plain.str.replace(pattern, told)
    parts = _groups(plain, _with_shifts(_CLOCK))
    if parts["h"].null_count():
        compact = _groups(plain, _with_shifts(_CLOCK_COMPACT))
        compact = compact.with_columns(half=pl.lit(None, dtype=pl.String))
        parts = parts.with_columns(
            pl.when(pl.col("h").is_not_null()).then(name).otherwise(compact[name]).alias(name)
            for name in parts.columns
        )
    h, m, s = (pl.col(name).cast(pl.Int64) for name in ("h", "m", "s"))
    fraction = pl.col("f").str.pad_end(9, "0").str.slice(0, 6).cast(pl.Int64)
    afternoon, morning = pl.col("half").eq_missing("p"), pl.col("half").eq_missing("a")
    hour = (
        pl.when(afternoon & (h < _NOON)).then(h + _NOON).when(morning & (h == _NOON)).then(0)
    ).otherwise(h)
    good = (m <= 59) & (s.fill_null(0) <= 60)
    end_of_day = (h == _MIDNIGHT) & (m == 0) & (s.fill_null(0) == 0) & pl.col("half").is_null()
    good &= (h < _MIDNIGHT) | end_of_day
    good &= ~(morning & (h > _NOON))
    seconds = (hour * 60 + m) * 60 + s.fill_null(0)
    clock = seconds * 1_000_000 + fraction.fill_null(0)
    shift = pl.col("shift").str.replace("\u2212", "-").str.replace(":", "")
    sign = pl.when(shift.str.starts_with("-")).then(-1).otherwise(1)
    away = shift.str.slice(1, 2).cast(pl.Int32, strict=False) * 60
    away += shift.str.slice(3, 2).cast(pl.Int32, strict=False).fill_null(0)
    words, shifts = zip(*names("shift").items(), strict=True)
    named = pl.col("shift").replace_strict(words, shifts, default=None, return_dtype=pl.Int32)
    half = pl.when(pl.col("half").is_null()).then(pl.lit("24-hour")).otherwise(pl.lit("12-hour"))
    return parts.select(
        texts.alias("text"),
        pl.when(good).then(clock).alias("clock"),
        pl.when(pl.col("h").is_not_null()).then(half).alias("native"),
        pl.when(pl.col("h").is_not_null()).then(pl.col("s").is_not_null()).alias("seconds"),
        pl.coalesce(named, (sign * away * 60).cast(pl.Int32)).alias("offset_s"),
    )


@cache
def _with_shifts(pattern: str) -> str:
    return pattern.replace("ZONES", "|".join(names("shift")))


_CLOCKS = Remembered(_read_clock_texts)
