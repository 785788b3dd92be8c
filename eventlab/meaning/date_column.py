"""A column of dates as evidence looks at it: its distinct texts, and how they follow each other."""

from collections.abc import Hashable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TypeVar

import numpy as np
import numpy.typing as npt
import polars as pl

from eventlab.intake.distinct import distinct
from eventlab.meaning.date_forms import NO_YEAR, ORDERS
from eventlab.meaning.date_texts import Codes

Longs = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]

NO_DAY = np.iinfo(np.int64).min
"""Stands in place of a day where a reading gives none."""

_FEW = 0.02
"""Share of cells against the better reading up to which evidence is taken to be sound."""

_CLEARLY = 4
"""A reading is out when so many times more stands against it than against the best one,"""

ENOUGH = 0.001
"""and that is this share of all: one broken cell in a long file must not decide."""

HALF = 183
"""Days of half a year, of those with a 29 February."""

Key = TypeVar("Key", bound=Hashable)


def clearly(against: Mapping[Key, int], total: int, enough: float = ENOUGH) -> set[Key]:
    """Tell which readings have clearly more against them than the best one has.

    Parameters
    ----------
    against : mapping to int
        For each reading, how many cells or steps stand against it.
    total : int
        How many could.
    enough : float
        Share of them that must stand against a reading.

    Returns
    -------
    set
        Never all of them; none where much stands against the best one too.
    """
    best = min(against.values())
    if best > _FEW * total:
        return set()
    bar = max(_CLEARLY * best, enough * total - 1)
    return {key for key, count in against.items() if count > bar}


_FIRSTS = np.concatenate(([0], np.cumsum([31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30])))
"""Days before each month in a year with a 29 February."""


def column_of(dates: pl.DataFrame, code: Codes, site: pl.Series | None = None) -> "Column":
    """Make a column; single dates without a year among others are none, for nothing tells theirs.

    Parameters
    ----------
    dates : polars.DataFrame
        ``DATES`` of the distinct texts.
    code : uint32 array
        Row of ``dates`` for each cell.
    site : polars.Series, optional
        The site of each cell.

    Returns
    -------
    Column
    """
    column = Column(dates, code, site)
    without = pl.col("native").eq_missing("no-year")
    if column.yearless or not dates.select(without.any()).item():
        return column
    told = [pl.when(~without).then(pl.col(order)).alias(order) for order in ORDERS]
    return Column(dates.with_columns(told), code, site)


@dataclass(frozen=True)
class Column:
    """The distinct dates of a column and how they follow each other.

    Parameters
    ----------
    dates : polars.DataFrame
        ``DATES`` of the distinct texts.
    code : uint32 array
        Row of ``dates`` for each cell.
    site : polars.Series, or None
        The site of each cell: each one's rows have an order of their own.
    """

    dates: pl.DataFrame
    code: Codes
    site: pl.Series | None = None

    def days(self, order: str) -> Longs:
        """Return the day of each distinct text in one order, ``NO_DAY`` where it is none."""
        return self._days[order]

    @cached_property
    def _days(self) -> dict[str, Longs]:
        every = self.dates.select(pl.col(*ORDERS).fill_null(NO_DAY))
        return {order: every[order].to_numpy() for order in ORDERS}

    def in_year(self, order: str) -> tuple[Longs, Longs]:
        """Return the place of each distinct text in a year with a 29 February, and its own year.

        Parameters
        ----------
        order : str
            One of ``ORDERS``.

        Returns
        -------
        tuple of int64 arrays
            Days since 1 January, ``NO_DAY`` where it is no date; the year, 0 where none is told.
        """
        days = self.days(order)
        known = days != NO_DAY
        when = np.where(known, days, 0).astype("datetime64[D]")
        year = when.astype("datetime64[Y]").astype(np.int64) + 1970
        month = when.astype("datetime64[M]")
        first = _FIRSTS[month.astype(np.int64) % 12]
        place = first + (when - month.astype("datetime64[D]")).astype(np.int64)
        told = np.where(year == NO_YEAR, 0, year)
        return np.where(known, place, NO_DAY), np.where(known, told, 0)

    @cached_property
    def yearless(self) -> bool:
        """Return whether most dates tell no year."""
        without = self.dates["native"].eq_missing("no-year").to_numpy()
        some = self.dates["native"].is_not_null().to_numpy()
        return bool(2 * self.rows[without].sum() > self.rows[some].sum())

    @cached_property
    def rows(self) -> Longs:
        """Return how many cells hold each distinct text."""
        counted: Longs = np.bincount(self.code, minlength=self.dates.height)
        return counted

    @cached_property
    def sequence(self) -> tuple[Longs, Longs]:
        """Return the distinct texts in file order, site by site, each once for all in a row.

        The second array numbers the sites.
        """
        code = self.code.astype(np.int64)
        site = np.zeros(code.size, dtype=np.int64)
        if self.site is not None:
            _, number = distinct(self.site.fill_null(""))
            site = number.to_numpy().astype(np.int64)
            if (np.diff(site) < 0).any():
                turn = np.argsort(site, kind="stable")
                code, site = code[turn], site[turn]
        new = np.concatenate(([True], (np.diff(code) != 0) | (np.diff(site) != 0)))
        return code[new], site[new]
