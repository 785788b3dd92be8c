"""Words of dates in eight languages: months, weekdays, and what lines around a table say of dates.

Names of months and weekdays are those of CLDR (wide and abbreviated), with further short forms
from common practice; ``data/calendar.csv`` has them, ``data/printing.csv`` the other words. Texts
are compared without accents and capitals, for panels often print neither.
"""

import csv
import unicodedata
from functools import cache
from importlib import resources

import polars as pl

from eventlab.intake.distinct import distinct

_LOOKED_AT, _WEEKDAYS = 500, 14


@cache
def names(what: str) -> dict[str, int]:
    """Return words and their numbers.

    Parameters
    ----------
    what : str
        ``month`` (1 to 12), ``shift`` (seconds east of UTC) or ``weekday``: the days a word may
        stand for as a bit mask, 1 Monday, 64 Sunday. ``do`` is Donnerstag and domingo.

    Returns
    -------
    dict of str to int
        By word, without accents.
    """
    found: dict[str, int] = {}
    for row in _rows("calendar.csv"):
        if row["what"] == what:
            number, word = int(row["number"]), bare(row["word"])
            if what == "weekday":
                number = found.get(word, 0) | 1 << (number - 1)
            found[word] = number
    return found


@cache
def saying(what: str) -> tuple[str, ...]:
    """Return the words of lines around a table: ``printed``, ``period``, ``date``, ``again``."""
    return tuple(bare(row["word"]) for row in _rows("printing.csv") if row["what"] == what)


def _rows(name: str) -> list[dict[str, str]]:
    with (resources.files("eventlab.meaning") / "data" / name).open(encoding="utf-8") as lines:
        return list(csv.DictReader(lines))


def bare(text: str) -> str:
    """Return a text in small letters without accents."""
    if text.isascii():
        return text.lower()
    plain = unicodedata.normalize("NFKD", text.lower()).replace("ł", "l")
    return "".join(c for c in plain if not unicodedata.combining(c))


def bared(texts: pl.Series) -> pl.Series:
    """Return texts in small letters without accents, as ``bare`` does for one."""
    small = texts.str.to_lowercase()
    if small.str.contains(r"[^\x00-\x7f]").any():
        small = small.str.normalize("NFKD").str.replace_all(r"\p{M}+", "").str.replace_all("ł", "l")
    return small


def numbered(cells: pl.Series, what: str) -> pl.Series:
    """Return the number of each word; null where it is none of them."""
    words, numbers = zip(*names(what).items(), strict=True)
    return cells.replace_strict(words, numbers, default=None, return_dtype=pl.Int64)


def are_weekdays(cells: pl.Series) -> bool:
    """Tell whether some cells of a column all name weekdays, without dates.

    Parameters
    ----------
    cells : polars.Series of String
        Some hundred are looked at.

    Returns
    -------
    bool
    """
    some = cells if len(cells) <= _LOOKED_AT else cells.drop_nulls().head(_LOOKED_AT)
    held, _ = distinct(some)
    words = names("weekday")
    return 0 < len(held) <= _WEEKDAYS and all(bare(cell).strip(" .,") in words for cell in held)
