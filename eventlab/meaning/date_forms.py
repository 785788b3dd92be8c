"""How dates and times of day are written: what one text can mean in each order of its fields.

Works on distinct texts; which order a whole column follows is decided elsewhere, by evidence.
Month and weekday names of all languages are known at once, and the names of shifts from UTC that
the tz database uses for one shift only and no trade uses for another.
"""

import numpy as np
import polars as pl

from eventlab.meaning.date_words import bared, names, numbered
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

_EDGE = " \t\u00a0\u202f,;@|'\""
_GAP = r"[-/.,\s\u00a0]{1,3}"
_WORD = r"[\p{L}]+"
_WEEKDAY_BEFORE = rf"(?:(?P<before>{_WORD})(?:[.,]+\s*|\s+))?"
_WEEKDAY_AFTER = rf"(?:[,\s]+\(?(?P<after>{_WORD})\.?\)?)?"
_NTH = r"(?:st|nd|rd|th|er|[oae]|:e)?"
_FILLERS = r"\b(?:of|the|de|del|den|le|el|il|on|dnia)\b\.?\s*"  # 3 de marzo de 2025, den 3. mars
_AT = r"[\s,]+(?:at|um|om|a|a las|alle|alle ore|ore|kl|o|o godz|godz)$"  # 3. Marz 2025 um

_FIGURES = (
    rf"^{_WEEKDAY_BEFORE}(?P<a>\d{{4}}|\d{{1,2}}){_GAP}(?P<b>\d{{1,2}}){_GAP}"
    rf"(?P<c>\d{{4}}|\d{{1,2}}){_WEEKDAY_AFTER}$"
)
_NAME_SECOND = (
    rf"^{_WEEKDAY_BEFORE}(?P<a>\d{{4}}|\d{{1,2}}){_NTH}(?:{_GAP})?(?P<b>{_WORD})\.?(?:{_GAP})?"
    rf"(?P<c>\d{{4}}|\d{{1,2}}){_WEEKDAY_AFTER}$"
)
_NAME_FIRST = (
    rf"^{_WEEKDAY_BEFORE}(?P<b>{_WORD})\.?(?:{_GAP})?(?P<a>\d{{1,2}}){_NTH}{_GAP}"
    rf"(?P<c>\d{{4}}|\d{{2}}){_WEEKDAY_AFTER}$"
)
_COMPACT = r"^(?P<a>(?:19|20)\d{2})(?P<b>\d{2})(?P<c>\d{2})$"
_PATTERNS = (
    (_FIGURES, "figures"),
    (_NAME_SECOND, "named"),
    (_NAME_FIRST, "named"),
    (_COMPACT, "compact"),
)
_YEARLESS = (
    (rf"^{_WEEKDAY_BEFORE}(?P<a>\d{{1,2}})[-/.](?P<b>\d{{1,2}}){_WEEKDAY_AFTER}$", "no-year"),
    (
        rf"^{_WEEKDAY_BEFORE}(?P<a>\d{{1,2}}){_NTH}(?:{_GAP})?(?P<b>{_WORD}){_WEEKDAY_AFTER}$",
        "no-year",
    ),
    (
        rf"^{_WEEKDAY_BEFORE}(?P<b>{_WORD})\.?(?:{_GAP})?(?P<a>\d{{1,2}}){_NTH}{_WEEKDAY_AFTER}$",
        "no-year",
    ),
)

# Letters behind figures at once are a shift too (22:15z); those behind the "a" of "am" are none.
_SHIFT = r"(?:\s*(?P<shift>z|utc|gmt|\b(?:ZONES)|[+\u2212-]\d{2}:?\d{2}|[+\u2212-]\d{2}))?"
_CLOCK = (
    r"^t?(?P<h>\d{1,2})[:.h](?P<m>\d{2})(?:[:.m](?P<s>\d{2})(?:[.,:](?P<f>\d{1,9}))?s?)?"
    rf"(?:\s*(?P<half>[ap])(?:\.?\s?m\.?)?)?{_SHIFT}$"
)
_CLOCK_COMPACT = (
    rf"^t?(?P<h>\d{{2}})(?P<m>\d{{2}})(?P<s>\d{{2}})?(?:[.,](?P<f>\d{{1,9}}))?{_SHIFT}$"
)
_CLOCK_WORDS = (
    r"^(?:at|um|om|a|a las|alle|alle ore|ore|kl\.?|o godz\.?|godz\.?)\s+|\s*(?:uhr|uur|h|hrs?)$"
)
_HALVES = ((r"(\d)\s*f\.?m\.?$", "$1 am"), (r"(\d)\s*e\.?m\.?$", "$1 pm"))  # Swedish
_NO_DAY = r"^\S*(?:1899|1900)\S*\s+"  # spreadsheets put day nought before a time of day

_MIDNIGHT = 24
_NOON = 12
_FULL = 4
"""Figures of a full year."""


def _groups(texts: pl.Series, pattern: str) -> pl.DataFrame:
    return texts.str.extract_groups(pattern).struct.unnest()


def _number(cells: pl.Series) -> pl.Series:
    return cells.cast(pl.Int64, strict=False)


def _days(year: pl.Series, month: pl.Series, day: pl.Series) -> pl.Series:
    """Return days since 1970; null where there is no such day."""
    lengths = np.array([31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
    years, months, days = (part.fill_null(0).to_numpy() for part in (year, month, day))
    good = (months >= 1) & (months <= len(lengths)) & (days >= 1) & (years >= 1)
    safe = np.where(good, months, 1)
    leap = (years % 4 == 0) & ((years % 100 != 0) | (years % 400 == 0))
    good &= days <= np.where((safe == 2) & ~leap, 28, lengths[safe - 1])
    start = ((years - 1970) * 12 + safe - 1).astype("datetime64[M]").astype("datetime64[D]")
    since = start.astype(np.int64) + days - 1
    known = year.is_not_null() & month.is_not_null() & day.is_not_null() & pl.Series(good)
    return pl.select(pl.when(known).then(pl.Series(since))).to_series()


def _full_year(year: pl.Series, figures: pl.Series) -> pl.Series:
    """Complete two figures as POSIX does: 69 to 99 are 19xx, 00 to 68 are 20xx."""
    full = year + pl.select(pl.when(year >= 69).then(1900).otherwise(2000)).to_series()
    return pl.select(pl.when(figures == _FULL).then(year).when(figures == 2).then(full)).to_series()


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
    plain = (
        bared(texts)
        .str.strip_chars(_EDGE)
        .str.strip_chars_end(_EDGE + "-/.")
        .str.replace(r"(\d)t$", "$1")
    )
    if plain.str.contains(r"[a-z]").any():
        plain = plain.str.replace_all(_FILLERS, " ").str.replace(r"(\d{4})\s*r(?:oku)?$", "$1")
        plain = plain.str.replace(_AT, "").str.strip_chars(_EDGE + ".")
    none = [pl.Series(name, [None], dtype=kind) for name, kind in DATES.items() if name != "text"]
    merged = pl.DataFrame([cells.new_from_index(0, len(texts)) for cells in none])
    for pattern, kind in (*_PATTERNS, *_YEARLESS):
        if not merged["native"].null_count():
            break
        parts = _groups(plain, pattern)
        if parts["a"].null_count() < len(plain):
            read = _read_yearless(parts) if kind == "no-year" else _read_dates(parts, kind)
            merged = merged.select(
                pl.when(pl.col("native").is_null()).then(read[name]).otherwise(name).alias(name)
                for name in merged.columns
            )
    return merged.insert_column(0, texts.alias("text"))


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
    a, c = _number(parts["a"]), _number(parts["c"])
    a_figures, c_figures = parts["a"].str.len_bytes(), parts["c"].str.len_bytes()
    a_year, c_year = _full_year(a, a_figures), _full_year(c, c_figures)
    b = numbered(parts["b"], "month") if kind == "named" else _number(parts["b"])
    front, end = a_figures == _FULL, c_figures == _FULL
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
    plain = bared(texts).str.strip_chars(_EDGE).str.replace(_NO_DAY, "")
    if plain.str.contains(r"[a-z]").any():
        plain = plain.str.replace_all(_CLOCK_WORDS, "")
        for pattern, told in _HALVES:
            plain = plain.str.replace(pattern, told)
    first, second = (
        _groups(plain, pattern.replace("ZONES", "|".join(names("shift")))).with_columns(
            pl.lit(None, dtype=pl.String).alias(name) for name in missing
        )
        for pattern, missing in ((_CLOCK, ()), (_CLOCK_COMPACT, ("half",)))
    )
    fields = ["h", "m", "s", "f", "half", "shift"]
    parts = first.select(
        pl.when(first["h"].is_not_null()).then(first[name]).otherwise(second[name]).alias(name)
        for name in fields
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
