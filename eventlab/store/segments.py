"""The order of the rows of one export: by site and time, and cut where a file was glued."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Ints = npt.NDArray[np.int64]
Positions = npt.NDArray[np.uint32]

TURN_US = 60_000_000
"""A step back in time by more than this is a turn, not jitter (one minute)."""

SET_US = 86_400_000_000
"""A marked clock change explains a step back by up to this (one day)."""

# A glued file turns back now and then; one in no order at all turns at every second step.
_UNORDERED_TURNS = 8
_UNORDERED_SHARE = 1 / 3

_LONGEST = 1 << 62
"""Site and time are sorted as one number where it stays below this."""


@dataclass(frozen=True, slots=True)
class Order:
    """How the rows of an export stand.

    Parameters
    ----------
    positions : array of uint32
        Positions in the file by site, then time; among equal times as they happened.
    segment : array of int64, optional
        By position in the file: the part it belongs to, different in every site; None where
        nothing was cut.
    tied : array of uint32
        Positions of rows with the same site and time as another row.
    """

    positions: Positions
    segment: Ints | None
    tied: Positions


def in_order(site: npt.NDArray[np.uint32], placed: Ints, clock_set: npt.NDArray[np.bool_]) -> Order:
    """Order the rows of an export and cut it where its time turns back.

    A file joined from overlapping exports turns back, in some site, by more than a minute where
    the next export begins; the parts unite like exports. Nothing is cut at a row that tells of a
    clock being set, nor in a site whose rows stand in no order at all.

    Parameters
    ----------
    site : array of uint32
        Number of the row's site, in the order wanted.
    placed : array of int64
        Time of the row, microseconds.
    clock_set : array of bool
        True where the row tells that the clock was set.

    Returns
    -------
    Order
        Ordered rows and parts.
    """
    by_site = _stable(site)
    rows = np.bincount(site) if len(site) else np.zeros(0, dtype=np.int64)
    number = np.repeat(np.arange(len(rows), dtype=np.uint32), rows)
    time = placed[by_site]
    step = np.diff(time)
    same = number[1:] == number[:-1]
    up, down = same & (step > 0), same & (step < 0)
    newest_first = int(down.sum()) > int(up.sum())
    back = up if newest_first else down
    segment = None
    if back.any():
        turn = np.flatnonzero(back & (np.abs(step) > TURN_US))
        segment = _cut(turn, np.abs(step[turn]), by_site, number, rows, clock_set)
    if newest_first:
        by_site = len(site) - 1 - _stable(site[::-1])
        time = placed[by_site]
    if back.any():
        by_time = _by_time(number, time)
        by_site, time = by_site[by_time], time[by_time]
    level = same & (time[1:] == time[:-1])
    positions = by_site.astype(np.uint32)
    return Order(positions, segment, _tied(positions, level))


def _by_time(number: npt.NDArray[np.uint32], time: Ints) -> Ints:
    """Sort rows that stand by site, and nearly by time, by both; equals stay as they are."""
    first = int(time.min())
    span = int(time.max()) - first + 1
    if span * (int(number[-1]) + 1) >= _LONGEST:
        return np.lexsort((time, number))
    key = number.astype(np.int64)
    key *= span
    key += time
    return np.argsort(key, kind="stable")


def _tied(positions: Positions, level: npt.NDArray[np.bool_]) -> Positions:
    """Return the positions that are level with the one before or after them."""
    at = np.flatnonzero(level)
    return positions[np.union1d(at, at + 1)]


def _cut(
    turn: Ints,
    back: Ints,
    by_site: Ints,
    number: npt.NDArray[np.uint32],
    rows: Ints,
    clock_set: npt.NDArray[np.bool_],
) -> Ints | None:
    """Tell the parts of the file by the rows behind which time turns back, and how far."""
    marked = clock_set[by_site[turn]] | clock_set[by_site[turn + 1]]
    turn = turn[~(marked & (back <= SET_US))]
    turns = np.bincount(number[turn], minlength=len(rows))
    unordered = (turns >= _UNORDERED_TURNS) & (turns > _UNORDERED_SHARE * (rows - 1))
    turn = turn[~unordered[number[turn]]]
    if not len(turn):
        return None
    begins = np.zeros(len(by_site), dtype=np.int64)
    begins[turn + 1] = 1
    segment = np.empty_like(begins)
    segment[by_site] = np.cumsum(begins)
    return segment


def _stable(number: npt.NDArray[np.uint32]) -> Ints:
    """Sort small numbers stably; numpy does it by digits for sixteen bits."""
    low = np.argsort(number.astype(np.uint16), kind="stable")
    if not len(number) or int(number.max()) < 1 << 16:
        return low
    return low[np.argsort((number[low] >> 16).astype(np.uint16), kind="stable")]
