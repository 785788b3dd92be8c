"""Times told as one number: days as spreadsheets count them, and seconds since 1970.

Spreadsheets count days from 1900, as if that year had a 29 February, or from 1904 (both from
memory of their manuals); POSIX counts seconds since 1 January 1970 UTC, and machines milli-,
micro- and nanoseconds of them. The size of the numbers tells which it is.
"""

import re
from collections.abc import Mapping
from datetime import date, datetime, timedelta

import numpy as np
import numpy.typing as npt
import polars as pl

from eventlab.meaning.date_asking import LOOKED, spoken
from eventlab.meaning.date_hints import Around, days_of
from eventlab.meaning.date_stored import agreeing
from eventlab.meaning.date_texts import NO_CLOCK, NO_SUCH_TIME, NOT_A_CLOCK, read_clocks, some
from eventlab.meaning.dated import (
    NO_DATE,
    NO_SUCH_TIME_OF_DAY,
    NO_TIME_OF_DAY,
    NOT_A_DATE,
    NOT_A_TIME,
    SERIALS,
    Dated,
    DateForm,
)
from eventlab.meaning.question import Choice, Question
from eventlab.schema import WALL

Longs = npt.NDArray[np.int64]

_NUMBER = r"^\s*'?(\d+)(?:[.,](\d+))?\s*$"
_SAMPLE, _SHARE = 1_000, 0.8
_OLDEST = (date(2005, 1, 1) - date(1970, 1, 1)).days
_DAY, _DAY_US = 86_400, 86_400_000_000
_BEGIN = {
    "serial-1900": (date(1899, 12, 30) - date(1970, 1, 1)).days,
    "serial-1904": (date(1904, 1, 1) - date(1970, 1, 1)).days,
}
_UNITS = {"epoch": 1_000_000, "epoch-ms": 1_000, "epoch-us": 1, "epoch-ns": 0}
"""Microseconds of one unit; 0 for its thousandth part."""

_WORDS = {
    "serial-1900": "days counted as spreadsheets do, from 1900",
    "serial-1904": "days counted as spreadsheets do, from 1904",
    "epoch": "seconds since 1970",
    "epoch-ms": "milliseconds since 1970",
    "epoch-us": "microseconds since 1970",
    "epoch-ns": "nanoseconds since 1970",
}
_MINUTE, _MINUTES_ROWS = 60, 30
_FAR = 31
"""Rows that end so many days before the day of printing are not what was printed [days]."""


def kind_of(cells: pl.Series, today: date) -> str | None:
    """Tell what numbers a column holds, by their size.

    Parameters
    ----------
    cells : polars.Series of String
        As they stand; of long columns some are looked at.
    today : date
        No log is later than two days after it.

    Returns
    -------
    str or None
        ``serial``, ``epoch``, ``epoch-ms``, ``epoch-us`` or ``epoch-ns``; None for another column.
    """
    if len(cells) <= _SAMPLE and not _some_numbers(cells.to_list()):
        return None
    held = some(cells.drop_nulls(), _SAMPLE)
    held = held.filter(held.str.strip_chars() != "")
    if not len(held):
        return None
    whole = held.str.extract(_NUMBER, 1).cast(pl.Int64, strict=False)
    enough = _SHARE * len(held)
    if whole.is_not_null().sum() < enough:
        return None
    latest = (today - date(1970, 1, 1)).days + 2
    lows = {"serial": _OLDEST - _BEGIN["serial-1904"]}
    highs = {"serial": latest - _BEGIN["serial-1900"]}
    for scale, name in enumerate(_UNITS):
        lows[name] = _OLDEST * _DAY * 1000**scale
        highs[name] = latest * _DAY * 1000**scale
    for name, low in lows.items():
        if whole.is_between(low, highs[name]).sum() >= enough:
            return name
    return None


def _some_numbers(cells: list[str | None]) -> bool:
    """Tell whether enough cells are numbers, cheaply: never wrongly no."""
    held = [cell for cell in cells if cell is not None and cell.strip()]
    return sum(_AS_NUMBER.fullmatch(cell) is not None for cell in held) >= _SHARE * len(held)


_AS_NUMBER = re.compile(r"\s*'?\d+(?:[.,]\d+)?\s*")


def whole_days(cells: pl.Series) -> bool:
    """Tell whether numbers have no part of a day."""
    return not cells.drop_nulls().str.contains(r"[.,]\d*[1-9]").any()


def read_numbers(
    dates: pl.Series,
    times: pl.Series | None,
    *,
    answers: Mapping[str, str],
    around: Around,
    today: date,
    site: pl.Series | None = None,
    stored: pl.DataFrame | None = None,
) -> Dated | None:
    """Read a column of numbers as times.

    Parameters
    ----------
    dates, times : polars.Series
        As ``read_dates`` has them.
    answers : mapping
        ``dates`` may answer for one of ``SERIALS``.
    around : Around
        What the lines around the table say.
    today : date
        When the file was taken.
    site, stored : optional
        The site of each row, and moments stored already.

    Returns
    -------
    Dated or None
        None where the column holds no such numbers.
    """
    kind = kind_of(dates, today)
    if kind is None:
        return None
    parts = dates.fill_null("").str.extract_groups(_NUMBER).struct.unnest()
    whole = parts["1"].cast(pl.Int64, strict=False)
    part = parts["2"].fill_null("")
    known = whole.is_not_null().to_numpy()
    number = whole.fill_null(0).to_numpy()
    if kind != "serial":
        return _since_1970(kind, number, part, known, dates)
    us, bad, grain = _times_of_day(part, times)
    good = known & (bad == 0)
    left, evidence, answered = _system(number, good, answers, around, today)
    walls = {
        one: (lambda rows, one=one: (number[rows] + _BEGIN[one]) * _DAY_US + us[rows])
        for one in left
    }
    if len(left) > 1:
        met = agreeing(walls, np.flatnonzero(good), site, stored)
        if met is not None:
            left = (met,)
            evidence.append("so read they are the same as rows that are stored already")
    every = np.arange(number.size)
    if len(left) > 1:
        return _asked(number, good, left, dates, evidence, grain)
    (one,) = left
    wall = _wall(walls[one](every), good)
    problem = None
    if not good.all():
        reasons = {
            NO_CLOCK: NO_TIME_OF_DAY,
            NOT_A_CLOCK: NOT_A_TIME,
            NO_SUCH_TIME: NO_SUCH_TIME_OF_DAY,
        }
        of_time = pl.Series(bad).replace_strict(reasons, default=None, return_dtype=pl.String)
        problem = _no_number(dates, known).fill_null(of_time).alias("problem")
    return Dated(
        wall,
        grain=grain,
        form=DateForm(one, _WORDS[one]),
        evidence=(*evidence, f"dates are {_WORDS[one]}"),
        problem=problem,
        decided=frozenset({"dates"}) if evidence else frozenset(),
        answered=frozenset({"dates"}) if answered else frozenset(),
    )


def _since_1970(
    kind: str, number: Longs, part: pl.Series, known: np.ndarray, dates: pl.Series
) -> Dated:
    if unit := _UNITS[kind]:
        figures = len(str(unit)) - 1
        fraction = part.str.slice(0, figures).str.pad_end(figures, "0").cast(pl.Int64, strict=False)
        us = number * unit + fraction.fill_null(0).to_numpy()
    else:
        us = number // 1000
    offset = pl.Series("offset_s", [0], dtype=pl.Int32).new_from_index(0, number.size)
    even = known.sum() >= _MINUTES_ROWS and not (us[known] % (_MINUTE * 1_000_000)).any()
    return Dated(
        _wall(us, known),
        offset_s=offset,
        grain=_MINUTE if even else 1,
        form=DateForm("epoch", _WORDS[kind]),
        evidence=(f"times are {_WORDS[kind]}, in UTC",),
        problem=None if known.all() else _no_number(dates, known),
    )


def _times_of_day(part: pl.Series, times: pl.Series | None) -> tuple[Longs, Longs, int]:
    """Return times of day [us], what is wrong with each, and one step of the clock [s]."""
    if times is not None:
        fractions = times.fill_null("").str.extract(r"^\s*0?[.,](\d+)\s*$", 1)
        if fractions.is_not_null().sum() * 2 < len(times):
            clocks = read_clocks(times.fill_null(""))
            bad = np.minimum(clocks.us, 0)
            return np.maximum(clocks.us, 0), bad, clocks.grain
        part = fractions.fill_null("")
    figures = part.str.strip_chars_end("0").str.len_bytes()
    most = int(figures.max() or 0)  # type: ignore[arg-type]  # numbers
    share = ("0." + part + "0").cast(pl.Float64).fill_null(0).to_numpy()
    seconds = share * _DAY
    step = _DAY * 10.0**-most if most else 0.0
    # Few figures are rounded; with many a spreadsheet keeps milliseconds.
    exact = np.rint(seconds * 1000) / 1000
    near = np.rint(seconds)
    loose = max(0.002, step)
    if (np.abs(exact - near) <= loose).all() or step > 0.01:
        exact = near
    minutes = np.rint(exact / _MINUTE) * _MINUTE
    grain = max(1, int(np.ceil(step))) if most else 1
    if len(part) >= _MINUTES_ROWS and (np.abs(exact - minutes) <= max(loose, 0.6)).all():
        exact, grain = minutes, _MINUTE
    bad = np.where((part == "").to_numpy(), NO_CLOCK, 0)
    if most:
        bad = np.zeros(len(part), dtype=np.int64)  # 45719 among them is midnight
    return np.rint(exact * 1_000_000).astype(np.int64), bad.astype(np.int64), grain


def _system(
    number: Longs, good: np.ndarray, answers: Mapping[str, str], around: Around, today: date
) -> tuple[tuple[str, ...], list[str], bool]:
    """Tell from which year days are counted.

    From 1904 they are four years later: of a log of the last four years that cannot be.
    """
    answer = answers.get("dates")
    held = number[good]
    if answer in SERIALS or not held.size:
        told = [f"dates are {_WORDS[answer]}, as answered"] if answer in SERIALS else []
        return (answer or SERIALS[0],) if answer in SERIALS else (SERIALS[0],), told, bool(told)
    latest = (today - date(1970, 1, 1)).days + 2
    newest = {one: int(np.quantile(held, 0.99)) + _BEGIN[one] for one in SERIALS}
    oldest = {one: int(np.quantile(held, 0.01)) + _BEGIN[one] for one in SERIALS}
    fits = [one for one in SERIALS if newest[one] <= latest and oldest[one] >= _OLDEST]
    if len(fits) == 1:
        why = ["otherwise some would lie in the future, or before any log kept today"]
        return tuple(fits), why if fits[0] == SERIALS[1] else [], False
    against = {}
    for one in SERIALS:
        bad = 0
        for stamp in around.stamps:
            highs, lows = days_of(stamp.high, None), days_of(stamp.low, None)
            if highs and not any(high - _FAR <= newest[one] <= high + 1 for high in highs):
                bad += 1
            if lows and not any(low <= oldest[one] for low in lows):
                bad += 1
        against[one] = bad
    kept = [one for one in SERIALS if not against[one]]
    if len(kept) == 1:
        text = around.stamps[0].text
        return tuple(kept), [f"only so do they fit {text!r} beside the table"], False
    return SERIALS, [], False


def _asked(
    number: Longs,
    good: np.ndarray,
    left: tuple[str, ...],
    dates: pl.Series,
    evidence: list[str],
    grain: int,
) -> Dated:
    first = int(np.argmax(good))
    text = dates[first].strip()
    days = {one: int(number[first]) + _BEGIN[one] for one in left}
    choices = tuple(Choice(one, f"{text} is {spoken(day)}") for one, day in days.items())
    either = " or ".join(spoken(day) for day in days.values())
    question = Question("dates", f"Is {text} {either}?", choices, (*evidence, LOOKED))
    held = number[good]
    begin = datetime(1970, 1, 1)  # noqa: DTZ001 - a wall time
    reach = (
        begin + timedelta(days=int(held.min()) + min(_BEGIN.values())),
        begin + timedelta(days=int(held.max()) + max(_BEGIN.values()) + 1),
    )
    nothing = _wall(np.zeros(number.size, np.int64), np.zeros(number.size, np.bool_))
    return Dated(nothing, grain=grain, question=question, evidence=tuple(evidence), reach=reach)


def _no_number(dates: pl.Series, known: np.ndarray) -> pl.Series:
    blank = dates.is_null() | (dates.str.strip_chars() == "")
    return pl.select(
        problem=pl.when(pl.Series(known))
        .then(None)
        .when(blank)
        .then(pl.lit(NO_DATE))
        .otherwise(pl.lit(NOT_A_DATE))
    ).to_series()


def _wall(us: Longs, good: np.ndarray) -> pl.Series:
    wall = pl.Series("wall", us).cast(WALL)
    return wall if good.all() else wall.set(pl.Series(~good), None)
