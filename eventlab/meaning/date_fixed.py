"""Stamps of one machine: every cell as long as the others, ending in ``22:15:00``.

Most big exports are written so. The time of day is then eight bytes that are read as one number,
and the date in front of it is the same for long runs of rows. What does not fit to the last cell
is read in the usual way; both ways give the same.
"""

import numpy as np
import numpy.typing as npt
import polars as pl

from eventlab.intake.distinct import distinct

Codes = npt.NDArray[np.uint32]
Longs = npt.NDArray[np.int64]
Words = npt.NDArray[np.uint64]

CLOCK = 8
"""Bytes of ``22:15:00``."""

_SHORTEST = CLOCK + 6
_BLOCK = 1 << 16  # numbers worked on at a time, so that they stay near the processor
_RUNS = 8
"""Rows that a date must stand for on average, else runs are not worth looking at."""

_ZEROS = np.uint64(0x3030_3A30_303A_3030)  # 00:00:00
_HIGH = np.uint64(0xF0F0_FFF0_F0FF_F0F0)
_SIX = np.uint64(0x0606_0006_0600_0606)
_ONES = np.uint64(0x000F_0000_0F00_000F)
_HOUR, _MINUTE, _TEN, _TENS = (np.uint64(n) for n in (48, 24, 10, 8))
_LOW = np.uint64(0xFF)
_SECOND_US = 1_000_000


def cut_fixed(cells: pl.Series) -> tuple[pl.Series, Codes, Longs] | None:
    """Cut and read stamps that are all alike.

    Parameters
    ----------
    cells : polars.Series of String
        Dates with times of day, as they stand.

    Returns
    -------
    tuple or None
        The distinct texts in front of the times of day; which of them each cell has; the times
        of day since midnight [us]. None where any cell is empty, of another length, does not
        end in a 24-hour time of day, or has a ``:`` in front of it.
    """
    lengths = cells.str.len_bytes()
    length = lengths.min()
    if cells.null_count() or not isinstance(length, int) or length < _SHORTEST:
        return None
    if lengths.max() != length:
        return None
    stamps = cells.cast(pl.Binary).bin
    end = stamps.slice(length - CLOCK, CLOCK).bin.reinterpret(dtype=pl.UInt64, endianness="big")
    clock = _clock(end.to_numpy())
    if clock is None:
        return None
    dates, code = _numbers(stamps.slice(0, length - CLOCK))
    return None if dates.str.contains(":", literal=True).any() else (dates, code, clock)


def _clock(words: Words) -> Longs | None:
    """Read ``22:15:00`` from eight bytes; None where one of them is no time of day."""
    clock = np.empty(len(words), dtype=np.int64)
    for at in range(0, len(words), _BLOCK):
        figures = words[at : at + _BLOCK] ^ _ZEROS
        if ((figures | (figures + _SIX)) & _HIGH).any():
            return None
        pairs = (figures >> _TENS & _ONES) * _TEN + (figures & _ONES)
        hour, minute, second = pairs >> _HOUR, pairs >> _MINUTE & _LOW, pairs & _LOW
        if hour.max() > 23 or minute.max() > 59 or second.max() > 59:
            return None
        clock[at : at + _BLOCK] = ((hour * 60 + minute) * 60 + second) * _SECOND_US
    return clock


def _numbers(dates: pl.Series) -> tuple[pl.Series, Codes]:
    """Return the distinct texts, and which of them each cell has."""
    starts = np.flatnonzero((dates != dates.shift()).fill_null(value=True).to_numpy())
    if len(starts) * _RUNS > len(dates):
        return _distinct(dates)
    texts, code = _distinct(dates.gather(starts))
    return texts, np.repeat(code, np.diff(starts, append=len(dates)))


def _distinct(dates: pl.Series) -> tuple[pl.Series, Codes]:
    texts, code = distinct(dates.cast(pl.String))
    return texts, code.to_numpy()
