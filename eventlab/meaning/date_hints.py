"""Dates told by the lines around a table: when it was printed, which period it holds."""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import islice

import polars as pl

from eventlab.meaning.date_forms import DATES, ORDERS, read_date_texts
from eventlab.meaning.date_words import bare, names, saying

_DATE = re.compile(
    r"(?<![\d:.])(?:"
    r"(?:\d{4}|\d{1,2})[-/.]\d{1,2}[-/.](?:\d{4}|\d{1,2})"
    r"|\d{1,2}(?:st|nd|rd|th|er|o|\.)?[-. ]{1,2}(?:de |of )?[^\W\d_]+[-., ]{1,2}(?:de[l]? )?\d{2,4}"
    r"|[^\W\d_]+\.? \d{1,2}(?:st|nd|rd|th)?,? \d{4}"
    # A time of day behind it is none of its figures: "13 Mar 14:22" tells no year.
    r")(?![\d:])"
)
_CLOCK = re.compile(r"\d{1,2}[:.h]\d{2}(?:[:.]\d{2})?(?:\s*[ap]\.?\s?m\.?)?")
_LONGEST, _MOST = 300, 500
"""Characters of a line, and lines, that are looked at."""

_ALONE = 80
"""Characters of a line that may tell a date alone."""


_NONE = pl.DataFrame(schema=DATES)


@dataclass(frozen=True, slots=True)
class Stamp:
    """A line that says how far the rows reach.

    Parameters
    ----------
    text : str
        The line.
    low, high : polars.DataFrame
        ``DATES`` of the first and the last day; without rows where it is not told.
    """

    text: str
    low: pl.DataFrame
    high: pl.DataFrame


@dataclass(frozen=True, slots=True)
class Around:
    """What the lines around a table say of dates.

    Parameters
    ----------
    stamps : tuple of Stamp
        Dates of which the words beside them say what they are. Of others, such as the day of
        installing, nothing is known, not even whether a program wrote them.
    """

    stamps: tuple[Stamp, ...]

    @property
    def told(self) -> pl.DataFrame:
        """Return ``DATES`` of all of them, each once."""
        dates = [day for stamp in self.stamps for day in (stamp.low, stamp.high)]
        return pl.concat(dates or [_NONE]).unique("text", maintain_order=True)


def days_of(dates: pl.DataFrame, order: str | None) -> list[int]:
    """Return the days that a date may mean: in one order of fields, else in every order.

    Parameters
    ----------
    dates : polars.DataFrame
        ``DATES`` with one row or none.
    order : str or None
        None where the rows of the table do not tell.

    Returns
    -------
    list of int
        Days since 1970.
    """
    if not dates.height:
        return []
    if order is not None and dates[order][0] is not None:
        return [int(dates[order][0])]
    return sorted({int(dates[o][0]) for o in ORDERS if dates[o][0] is not None})


def look_around(lines: Iterable[str]) -> Around:
    """Find the dates in lines around a table.

    Parameters
    ----------
    lines : iterable of str
        As they stand.

    Returns
    -------
    Around
    """
    seen = [(line.strip(), bare(line[:_LONGEST])) for line in islice(lines, _MOST)]
    found = [list(_DATE.finditer(plain)) for _, plain in seen]
    told = _read(list(dict.fromkeys(one.group() for some in found for one in some)))
    rows = {text: told[number] for number, text in enumerate(told["text"])}
    stamps: list[Stamp] = []
    for (line, plain), some in zip(seen, found, strict=True):
        stamps.extend(_stamps(line, plain, [one for one in some if one.group() in rows], rows))
    return Around(tuple(stamps))


def _read(texts: Sequence[str]) -> pl.DataFrame:
    told = read_date_texts(pl.Series("text", texts, dtype=pl.String))
    real = pl.any_horizontal(pl.col(order).is_not_null() for order in ORDERS)
    return told.filter(real & pl.col("native").ne_missing("no-year"))


def _stamps(
    line: str, plain: str, found: list[re.Match[str]], rows: Mapping[str, pl.DataFrame]
) -> list[Stamp]:
    stamps, number = [], 0
    while number < len(found):
        one = found[number]
        after = found[number + 1] if number + 1 < len(found) else None
        if after is not None and _joins(plain[one.end() : after.start()]):
            stamps.append(Stamp(line, rows[one.group()], rows[after.group()]))
            number += 2
            continue
        rest = _CLOCK.sub(" ", plain[: one.start()] + " " + plain[one.end() :])
        if _says(rest, "from", alone=True):
            stamps.append(Stamp(line, rows[one.group()], _NONE))
        elif _says(rest, "printed") or _says(rest, "to", alone=True) or not _letters(rest):
            stamps.append(Stamp(line, _NONE, rows[one.group()]))
        number += 1
    return stamps


def _joins(between: str) -> bool:
    """Tell whether what stands between two dates makes them a period."""
    bare_of_clocks = _CLOCK.sub(" ", between).strip(" \t,;()")
    return bare_of_clocks in {"-", "\u2013", "\u2014", "..", "a", *saying("to")}


@cache
def _word(what: str) -> re.Pattern[str]:
    words = sorted(saying(what), key=len, reverse=True)
    return re.compile(rf"(?<!\w)(?:{'|'.join(re.escape(word) for word in words)})(?!\w)")


def _says(rest: str, what: str, *, alone: bool = False) -> bool:
    if not _word(what).search(rest):
        return False
    return not alone or not _letters(_word("period").sub(" ", _word(what).sub(" ", rest)))


def _letters(rest: str) -> bool:
    """Tell whether a line says more than a date."""
    left = _word("date").sub(" ", rest)
    weekdays = names("weekday")
    return any(word not in weekdays for word in re.findall(r"[^\W\d_]+", left))


def days_alone(lines: pl.Series) -> pl.Series:
    """Return the dates of lines that say nothing else, such as ``--- Monday 3 March 2025 ---``.

    Parameters
    ----------
    lines : polars.Series of String
        As they stand, delimiters of empty cells included; no nulls.

    Returns
    -------
    polars.Series of String
        The texts of the dates, with a year or without; null where a line is another one.
    """
    texts = [_undecorated(line) for line in lines]
    plain = pl.Series("date", texts, dtype=pl.String)
    held = plain.drop_nulls().unique()
    told = read_date_texts(held).filter(pl.col("native").is_not_null())["text"]
    return pl.select(pl.when(plain.is_in(told.implode())).then(plain).alias("date")).to_series()


def _undecorated(line: str) -> str | None:
    if len(line) > _ALONE or not any(map(str.isdigit, line)):
        return None
    plain = bare(line).strip(_MARKS)
    plain = _AGAIN.sub("", plain)
    return _BEFORE.sub("", plain).strip(_MARKS + "()") or None


_MARKS = " \t,;|\"'-=*#_:\u2013\u2014<>[]\ufeff"
_AGAIN = re.compile(rf"[\s(,]*{_word('again').pattern}\.?\)?$")
_BEFORE = re.compile(rf"^{_word('date').pattern}\s*[:=,;\t]?\s*")
