"""Every line of a text at once: how many cells it has and how its quotes stand."""

import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from eventlab.intake.lines import Ints, Lines

# How a line stands.
BLANK = 0  # nothing but spaces and delimiters
PLAIN = 1  # no quote in it
QUOTED = 2  # every quote opens, closes or doubles as RFC 4180 wants it, within the line
LITERAL = 3  # quotes, but none at the start of a cell: they are text
ODD = 4  # a quote opens a cell and is not closed properly within the line
CONTINUED = 5  # a further line of a record that began above

_BLOCK = 1 << 22
_LF, _CR, _QUOTE, _SPACE = 10, 13, 34, 32

Bytes = npt.NDArray[np.uint8]
Flags = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Scan:
    """What stands in each line.

    Parameters
    ----------
    width : ndarray of int32, one per line
        Cells of the line; delimiters within its proper quotes are not counted.
    kind : ndarray of int8, one per line
        ``BLANK``, ``PLAIN``, ``QUOTED``, ``LITERAL``, ``ODD`` (or later ``CONTINUED``).
    """

    width: npt.NDArray[np.int32]
    kind: npt.NDArray[np.int8]


def scan(lines: Lines, delimiter: str) -> Scan:
    """Look at every line of a text.

    Parameters
    ----------
    lines : Lines
        The text.
    delimiter : str
        One ASCII character.

    Returns
    -------
    Scan
        One entry per physical line.
    """
    starts = lines.starts
    view = np.frombuffer(lines.flat, np.uint8)
    cuts = np.searchsorted(starts, np.arange(_BLOCK, len(view), _BLOCK))
    edges = np.unique(np.concatenate(([0], cuts, [lines.count]))).tolist()
    pairs = list(pairwise(edges))

    def one(pair: tuple[int, int]) -> Scan:
        begin, end = int(starts[pair[0]]), int(starts[pair[1]])
        return _block(view[begin:end], starts[pair[0] : pair[1]] - begin, ord(delimiter))

    if not pairs:
        return Scan(np.zeros(0, np.int32), np.zeros(0, np.int8))
    if len(pairs) == 1:
        return one(pairs[0])
    with ThreadPoolExecutor(min(len(pairs), os.cpu_count() or 1, 4)) as pool:
        parts = list(pool.map(one, pairs))
    return Scan(np.concatenate([p.width for p in parts]), np.concatenate([p.kind for p in parts]))


def _block(view: Bytes, starts: Ints, delimiter: int) -> Scan:
    """Scan whole lines; ``starts`` are their offsets in ``view``."""
    cut = view == delimiter
    at = np.flatnonzero(cut)
    width = np.diff(np.searchsorted(at, np.append(starts, len(view)))).astype(np.int32) + 1
    kind = np.full(len(starts), PLAIN, np.int8)
    kind[~np.logical_or.reduceat((view > _SPACE) & ~cut, starts)] = BLANK
    marks = view == _QUOTE
    quotes = np.flatnonzero(marks)
    if len(quotes) and not _all_proper(view, starts, delimiter, marks, at, width, kind):
        _look_at_quotes(view, starts, delimiter, quotes, at, width, kind)
    return Scan(width, kind)


def _around(view: Bytes, quotes: Ints, delimiter: int) -> tuple[Flags, Flags, Flags]:
    """Tell of each quote whether a cell begins at it, doubles it from before, or may end at it."""
    before = view[quotes - 1]
    after = view[np.minimum(quotes + 1, len(view) - 1)]
    if quotes[0] == 0:
        before[0] = _LF
    if quotes[-1] == len(view) - 1:
        after[-1] = _LF
    opens = (before == delimiter) | (before == _LF)
    ends = (after == delimiter) | (after == _LF) | (after == _CR) | (after == _QUOTE)
    return opens, before == _QUOTE, ends


def _all_proper(
    view: Bytes,
    starts: Ints,
    delimiter: int,
    marks: Flags,
    cuts: Ints,
    width: npt.NDArray[np.int32],
    kind: npt.NDArray[np.int8],
) -> bool:
    """Set kind and width where all quotes of all these lines are proper, by parity alone."""
    sums = np.cumsum(marks, dtype=np.uint8)  # wraps; only its parity is used
    if (sums[starts[1:] - 1] & 1).any() or sums[-1] & 1:
        return False
    quotes = np.flatnonzero(marks)
    opens, doubled, ends = _around(view, quotes, delimiter)
    if not np.where(sums[quotes] & 1, opens | doubled, ends).all():
        return False
    kind[np.logical_or.reduceat(marks, starts)] = QUOTED
    inside = cuts[(sums[cuts] & 1).astype(np.bool_)]
    if len(inside):
        row = np.searchsorted(starts, inside, side="right") - 1
        width -= np.bincount(row, minlength=len(starts)).astype(np.int32)
    return True


def _look_at_quotes(
    view: Bytes,
    starts: Ints,
    delimiter: int,
    quotes: Ints,
    cuts: Ints,
    width: npt.NDArray[np.int32],
    kind: npt.NDArray[np.int8],
) -> None:
    """Set the kind of the lines with quotes, and take the delimiters inside quotes off."""
    size = len(starts)
    line = np.searchsorted(starts, quotes, side="right") - 1
    number = np.bincount(line, minlength=size)
    first = np.cumsum(number) - number
    order = np.arange(len(quotes)) - first[line]
    opens, doubled, ends = _around(view, quotes, delimiter)
    proper = np.where(order & 1, ends, opens | doubled)
    wrong = (np.bincount(line[~proper], minlength=size) > 0) | (number & 1).astype(np.bool_)
    opened = np.bincount(line[opens], minlength=size) > 0
    has = number > 0
    kind[has & ~wrong] = QUOTED
    kind[has & wrong] = LITERAL
    kind[has & wrong & opened] = ODD
    row = np.searchsorted(starts, cuts, side="right") - 1
    inside = ((np.searchsorted(quotes, cuts) - first[row]) & 1).astype(np.bool_)
    inside &= kind[row] == QUOTED
    width -= np.bincount(row[inside], minlength=size).astype(np.int32)
