"""What a column could hold: dates, moments, times of day."""

from datetime import UTC, datetime
from functools import lru_cache

import numpy as np
import polars as pl

from eventlab.meaning.date_forms import ORDERS
from eventlab.meaning.date_numbers import kind_of, whole_days
from eventlab.meaning.date_screens import may_be_clock, may_hold_date
from eventlab.meaning.date_texts import NO_CLOCK, Parts, read_clocks, read_parts, some

_FEW = 200
"""Cells up to which all are looked at in the order in which they stand."""

_LOOKED_AT = 5_000
"""Cells looked at to tell whether a column holds dates or times at all."""


def _cells(cells: pl.Series) -> pl.Series:
    if len(cells) <= _FEW and cells.dtype == pl.String:
        some_text = [text for text in cells.to_list() if text is not None and not _blank(text)]
        return pl.Series(cells.name, some_text, dtype=pl.String)
    held = cells.cast(pl.String).drop_nulls()
    return some(held.filter(held.str.strip_chars() != ""), _LOOKED_AT)


def _blank(text: str) -> bool:
    # What separates records is no white space to polars, and a cell of it no blank.
    return not text.strip() and not _SEPARATES & set(text)


_SEPARATES = frozenset("\x1c\x1d\x1e\x1f")


def _dated(parts: Parts, *, bare: bool = True) -> np.ndarray:
    """Tell which cells are dates; those of two figures without a year only where ``bare``."""
    some_order = pl.any_horizontal(pl.col(order).is_not_null() for order in ORDERS)
    if not bare:
        figures = pl.col("native").eq_missing("no-year") & ~pl.col("text").str.contains(r"\p{L}")
        some_order &= ~figures
    found: np.ndarray = parts.dates.select(some_order).to_series().to_numpy()[parts.date]
    return found


def could_be_dates(cells: pl.Series, *, bare: bool = False) -> float:
    """Return the share of cells that some form reads as a date, with a time of day or without.

    Parameters
    ----------
    cells : polars.Series of String
        Nulls and blanks do not count; of long columns some thousand cells are looked at.
    bare : bool
        Whether ``13/03`` counts too: only where a heading says that it is a date, for numbers of
        points look the same.

    Returns
    -------
    float
        0 to 1; 0 where there are no cells.
    """
    return _shares(tuple(_cells(cells).to_list()))[1 if bare else 2]


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
    return _shares(tuple(_cells(cells).to_list()))[0]


@lru_cache(maxsize=64)
def _shares(held: tuple[str, ...]) -> tuple[float, float, float]:
    """Return the shares that are moments, dates, and dates that no bare figures are.

    Remembered, for a file's columns are looked at again when more is known of it.
    """
    if not any(map(may_hold_date, held)):
        return 0.0, 0.0, 0.0
    parts = read_parts(pl.Series(held, dtype=pl.String), None)
    us = parts.clocks.us
    good = _dated(parts)
    timed = (us >= 0) | (us == NO_CLOCK)
    told = (good & (us >= 0), good & timed, _dated(parts, bare=False) & timed)
    moments, bare, dates = (float(one.mean()) for one in told)
    return moments, bare, dates


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
    return _clock_share(tuple(_cells(cells).to_list()), compact=compact)


@lru_cache(maxsize=64)
def _clock_share(told: tuple[str, ...], *, compact: bool) -> float:
    if not any(map(may_be_clock, told)):
        return 0.0
    held = pl.Series(told, dtype=pl.String)
    good = read_clocks(held).us >= 0
    if not compact:
        good &= ~held.str.strip_chars().str.contains(r"^\d+$").to_numpy()
    return float(good.mean())


def tell_date_once(cells: pl.Series) -> bool:
    """Tell whether the first cell is a date with a time, and later ones are times alone.

    Parameters
    ----------
    cells : polars.Series of String
        In file order.

    Returns
    -------
    bool
    """
    held = _cells(cells.head(_LOOKED_AT))
    first = cells.drop_nulls().head(1)
    times, moments = could_be_times(held), could_be_moments(held)
    return 0 < times < 1 and times + moments >= 0.9 and could_be_moments(first) == 1


def could_be_numbers(cells: pl.Series) -> str | None:
    """Tell whether numbers may be times: only where a heading says that they are.

    Parameters
    ----------
    cells : polars.Series of String
        As for ``could_be_dates``.

    Returns
    -------
    str or None
        ``moments``, ``dates`` or ``times`` (parts of a day); None for other numbers.
    """
    held = _cells(cells)
    # A mean of flags is a number here; its type also allows others.
    if len(held) and held.str.contains(r"^\s*0?[.,]\d+\s*$").mean() >= 0.8:  # type: ignore[operator]  # a share
        return "times"
    kind = kind_of(held, datetime.now(UTC).date())
    if kind is None:
        return None
    return "dates" if kind == "serial" and whole_days(held) else "moments"
