"""Cells of a schedule: weekdays and times of day; and which opening hours hold on a date."""

import re

import polars as pl

from eventlab.context.headings import fold, words

WEEK = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
HOLIDAY = "holiday"

_CLOCK = re.compile(r"^(\d{1,2})(?:[:.h]?(\d{2}))?(?:[:.](\d{2}))?\s*(am|pm|a\.m\.|p\.m\.|h|uhr)?$")
_RANGE = re.compile(r"\s*(?:-|\u2013|\u2014|\bto\b|\bbis\b|\.\.)\s*")
_APART = re.compile(r"\s*[,;/+&]\s*|\s+(?:and|und|et)\s+")
_DAY_H = 24
_NOON_H = 12
_HOUR = 60


def weekdays(cell: pl.Expr) -> pl.Expr:
    """Read weekdays as a list of ``mon`` to ``sun`` and ``holiday``.

    Understood are names, numbers from 1 for Monday (ISO 8601), ranges (``Mon-Fri``, also over the
    weekend), lists, ``daily``, ``weekdays``, ``weekend`` and ``holidays``.

    Parameters
    ----------
    cell : polars.Expr
        Text.

    Returns
    -------
    polars.Expr
        List of text; null where any part is not understood.
    """
    return _each(cell, _days, pl.List(pl.String()))


def time_of_day(cell: pl.Expr) -> pl.Expr:
    """Read a time of day (``8:30``, ``8.30 am``, ``0830``, ``24:00``) as hours after midnight."""
    return _each(cell, _hours, pl.Float64())


def _each(cell: pl.Expr, read: object, into: pl.DataType) -> pl.Expr:
    """Read every distinct text once."""

    def mapped(texts: pl.Series) -> pl.Series:
        known = texts.unique().drop_nulls()
        values = [read(text) for text in known]  # type: ignore[operator]  # a function of a text
        table = pl.DataFrame(
            [known.alias("text"), pl.Series("value", values, dtype=into)],
        )
        asked = pl.DataFrame([texts.alias("text")])
        return asked.join(table, on="text", how="left", maintain_order="left")["value"]

    return cell.map_batches(mapped, return_dtype=into)


def _days(text: str) -> list[str] | None:
    named: list[str] = []
    for piece in _APART.split(text.strip()):
        days = _one(piece)
        if days is None:
            return None
        named += [day for day in days if day not in named]
    return named or None


def _one(piece: str) -> list[str] | None:
    known = words("weekday")
    whole = known.get(fold(piece))
    ends = _RANGE.split(whole if whole is not None else piece.strip().lower())
    meant = [known.get(fold(end)) for end in ends]
    if len(ends) == 1:
        return None if meant[0] is None else [meant[0]]
    if len(ends) != 2 or meant[0] not in WEEK or meant[1] not in WEEK:
        return None
    first, last = WEEK.index(meant[0]), WEEK.index(meant[1])
    return [WEEK[(first + step) % 7] for step in range((last - first) % 7 + 1)]


def _hours(text: str) -> float | None:
    told = _CLOCK.match(text.strip().lower())
    if told is None:
        return None
    hour, minute, second = (int(part or 0) for part in told.groups()[:3])
    half = (told.group(4) or "").replace(".", "")
    if half in {"am", "pm"}:
        if not 1 <= hour <= _NOON_H:
            return None
        hour = hour % _NOON_H + (_NOON_H if half == "pm" else 0)
    value = hour + minute / _HOUR + second / _HOUR**2
    return value if minute < _HOUR and second < _HOUR and value <= _DAY_H else None


def settled(frame: pl.DataFrame) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Let a closing before its opening lie on the next day; drop rows that tell one of the two.

    Parameters
    ----------
    frame : polars.DataFrame
        ``row`` and what of ``opens`` and ``closes`` the file has.

    Returns
    -------
    tuple of polars.DataFrame
        The rows that can be used, and ``row``, ``problem`` of the others.
    """
    lacking = [name for name in ("opens", "closes") if name not in frame.columns]
    full = frame.with_columns(pl.lit(None, pl.Float64).alias(name) for name in lacking)
    half = pl.col("opens").is_null() != pl.col("closes").is_null()
    told = full.filter(half).select(
        "row", problem=pl.lit("tells only one of opens and closes; row not used")
    )
    over = pl.col("closes") <= pl.col("opens")
    return full.filter(~half).with_columns(
        closes=pl.when(over).then(pl.col("closes") + _DAY_H).otherwise("closes")
    ), told


def open_hours(
    schedule: pl.DataFrame, places: pl.DataFrame, dates: pl.DataFrame
) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Say when places are meant to be open on each date.

    Rows of an area stand before those of its whole site. On a public holiday rows for holidays
    hold, else rows that say that they hold on holidays; a place of which neither is told is taken
    to be closed where its rows say so, and is not judged by the schedule where they are silent.

    Parameters
    ----------
    schedule : polars.DataFrame
        SCHEDULE columns.
    places : polars.DataFrame
        ``k`` (number of the place), ``site``, ``area``.
    dates : polars.DataFrame
        ``k``, ``date``, ``holiday`` (Boolean).

    Returns
    -------
    hours : polars.DataFrame
        ``k``, ``date``, ``opens``, ``closes`` [h after midnight of the date].
    told : polars.DataFrame
        ``k``, ``date``: of which dates the schedule tells, closed days among them.
    """
    rows = schedule.select("site", pl.exclude("site").name.prefix("said_")).with_row_index("line")
    own = places.join(rows, on="site").filter(
        pl.col("said_area").is_null() | (pl.col("said_area") == pl.col("area")).fill_null(False)
    )
    exact = pl.col("said_area").is_not_null()
    own = own.filter(exact == exact.any().over("k"))
    held = dates.join(own, on="k").filter(
        (pl.col("said_from").is_null() | (pl.col("said_from") <= pl.col("date")))
        & (pl.col("said_until").is_null() | (pl.col("said_until") >= pl.col("date")))
    )
    day = (pl.col("date").dt.weekday() - 1).replace_strict(list(range(7)), list(WEEK))
    on_day = pl.col("said_weekday").list.contains(day)
    of_holiday = pl.col("said_weekday").list.contains(pl.lit(HOLIDAY))
    special = of_holiday.any().over("k", "date")
    applies = (
        pl.when(~pl.col("holiday"))
        .then(on_day)
        .when(special)
        .then(of_holiday)
        .otherwise(on_day & pl.col("said_holidays").fill_null(value=False))
    )
    silent = (
        pl.col("holiday") & ~special & pl.col("said_holidays").is_null().all().over("k", "date")
    )
    held = held.with_columns(applies=applies, silent=silent)
    hours = held.filter(pl.col("applies") & pl.col("said_opens").is_not_null()).select(
        "k", "date", opens="said_opens", closes="said_closes"
    )
    told = held.filter(~pl.col("silent")).select("k", "date").unique()
    return hours.unique().sort("k", "date", "opens"), told.sort("k", "date")
