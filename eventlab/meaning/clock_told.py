"""How far a clock was set, where the wording of the row says so."""

import re
from datetime import datetime, timedelta
from itertools import product

import polars as pl

from eventlab.meaning.wording import understand_words
from eventlab.schema import Kind

_STAMP = re.compile(
    r"(?:(?P<date>\d{1,4}[./-]\d{1,2}[./-]\d{1,4})[\sT,]*)?"
    r"(?P<clock>\d{1,2}:\d{2}(?::\d{2})?)"
    r"(?:[\s,]*(?P<after>\d{1,4}[./-]\d{1,2}[./-]\d{1,4}))?"
)
_BY = re.compile(
    r"(?:\b(?:by|um|de|di|med|o|met)\s+)?(?P<sign>[+\u2212-])\s*(?P<many>\d{1,6})\s*"
    r"(?P<unit>s|sec|secs|seconds?|sek\w*|min|mins|minutes?|minut\w*|h|hours?)\b",
    re.IGNORECASE,
)
_OLD = re.compile(
    r"\b(?:from|was|old|previous|before|von|vorher|alt|ancien|avant|viejo|antes|vecchio|prima|oud|"
    r"vorige|stary|stara|przed|gammal|innan)\W*$",
    re.IGNORECASE,
)
_NEW = re.compile(
    r"(?:\b(?:to|new|now|is|auf|neu|nouveau|nuevo|nuovo|nieuw|nowy|nowa|ny)|->|=>|→)\W*$",
    re.IGNORECASE,
)
_STAMPED = r"\d{1,4}[./-]\d{1,2}[./-]\d{1,4}|\d{1,2}:\d{2}"
_LED_STAMP = (
    r"(?i)(?:\b(?:from|was|old|previous|before|to|new|now|is|von|vorher|alt|auf|neu|ancien|avant|"
    r"nouveau|de|antes|nuevo|vecchio|prima|nuovo|oud|vorige|van|naar|nieuw|stary|stara|przed|z|na|"
    r"nowy|nowa|gammal|innan|från|till|ny)\b|->|=>|→)?[\s:=]*"
    r"(?:\d{1,4}[./-]\d{1,2}[./-]\d{1,4}[\sT,]*)?\d{1,2}:\d{2}(?::\d{2})?"
    r"(?:[\s,]*\d{1,4}[./-]\d{1,2}[./-]\d{1,4})?"
)
_UNITS = {"s": 1, "m": 60, "h": 3600}
_ORDERS = ("ymd", "dmy", "mdy")
_NEAR = timedelta(days=1)
_HALF_DAY_S = 43_200
_DAY_S = 86_400
_CENTURY = 100


def set_by(texts: pl.Series, walls: pl.Series) -> pl.Series:
    """Say by how much each row tells that a clock was set.

    Parameters
    ----------
    texts : polars.Series of String
        Wordings of rows that tell that a clock was set; few of them.
    walls : polars.Series of Datetime
        The wall time that each row bears: the old one or the new one, as the panel has it.

    Returns
    -------
    polars.Series of List(Float64)
        New time minus old time [s]: one, or several where day and month can be read both ways;
        empty where the row does not tell both, or tells none that agrees with the time it bears.
    """
    pairs = zip(texts.to_list(), walls.to_list(), strict=True)
    return pl.Series(
        "set_by_s",
        [
            [] if text is None or wall is None else sorted(_set_by(text, wall))
            for text, wall in pairs
        ],
        dtype=pl.List(pl.Float64),
    )


def plain_setting(texts: pl.Series) -> pl.Series:
    """Leave the old time and the new one out of wordings that tell that a clock was set.

    Parameters
    ----------
    texts : polars.Series of String
        Wordings as logged.

    Returns
    -------
    polars.Series of String
        The same; ``Clock set`` for ``Clock set from 01/01/2000 00:20 to 02/03/2024 09:31``. What
        says anything else without its times stays as it is.
    """
    stamped = texts.filter(texts.str.contains(_STAMPED).fill_null(value=False)).unique()
    if stamped.is_empty():
        return texts
    bare = stamped.str.replace_all(_LED_STAMP, " ").str.replace_all(r"[\s:,;()]+", " ")
    bare = bare.str.strip_chars(" -=>")
    read = understand_words(bare.unique()).filter(pl.col("kind") == Kind.CLOCK_SET)["text"]
    sets = bare.is_in(read.implode())
    return texts.replace(stamped.filter(sets), bare.filter(sets))


def _set_by(text: str, wall: datetime) -> set[float]:
    stamps = list(_STAMP.finditer(text))
    if not stamps:
        found = _BY.search(text)
        if found is None:
            return set()
        size = int(found["many"]) * _UNITS[found["unit"][0].lower()]
        return {float(size if found["sign"] == "+" else -size)}
    if len(stamps) == 1:
        return _with_row(text[: stamps[0].start()], stamps[0], wall)
    if len(stamps) > 2:
        return set()
    old, new = stamps
    if _NEW.search(text[: old.start()]) and _OLD.search(text[old.end() : new.start()]):
        old, new = new, old
    if not (old["date"] or old["after"]) and not (new["date"] or new["after"]):
        return {_wrapped((_clock(new["clock"]) - _clock(old["clock"])).total_seconds())}
    # Both dates are written in one order; it must agree with the row's own time.
    return {
        (after - before).total_seconds()
        for order in _ORDERS
        for before, after in product(_readings(old, wall, order), _readings(new, wall, order))
        if min(abs(before - wall), abs(after - wall)) <= _NEAR
    }


def _with_row(lead: str, stamp: re.Match[str], wall: datetime) -> set[float]:
    """Take the row's own time for the one that the text does not tell."""
    told = [moment for order in _ORDERS for moment in _readings(stamp, wall, order)]
    if not told:
        return set()
    nearest = min(told, key=lambda at: abs(at - wall))
    if _OLD.search(lead):
        return {(wall - nearest).total_seconds()}
    if _NEW.search(lead):
        return {(nearest - wall).total_seconds()}
    return set()


def _wrapped(step: float) -> float:
    """Take a step of a clock that tells no date for the shorter way round."""
    return (step + _HALF_DAY_S) % _DAY_S - _HALF_DAY_S


def _clock(text: str) -> timedelta:
    hours, minutes, *rest = (int(part) for part in text.split(":"))
    return timedelta(hours=hours, minutes=minutes, seconds=rest[0] if rest else 0)


def _readings(stamp: re.Match[str], wall: datetime, order: str) -> list[datetime]:
    """Give the moments that a stamp may mean; without a date it is one near the row's own."""
    clock = _clock(stamp["clock"])
    date = stamp["date"] or stamp["after"]
    if date is None:
        midnight = wall.replace(hour=0, minute=0, second=0, microsecond=0)
        return [midnight + timedelta(days=day) + clock for day in (-1, 0, 1)]
    figures = [int(part) for part in re.split(r"[./-]", date)]
    if (figures[0] > _CENTURY) is not (order == _ORDERS[0]):
        return []
    year, month, day = (figures[order.index(part)] for part in "ymd")
    try:
        return [datetime(year + 2000 if year < _CENTURY else year, month, day) + clock]  # noqa: DTZ001 - a wall time
    except (ValueError, OverflowError):
        return []
