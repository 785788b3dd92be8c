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
    count = len(site)
    by_site = _stable(site)
    number, time = site[by_site], placed[by_site]
    same = number[1:] == number[:-1]
    step = np.where(same, time[1:] - time[:-1], 0)
    newest_first = int((step < 0).sum()) > int((step > 0).sum())
    back = step if newest_first else -step
    segment = _cut(by_site, back, same, number, clock_set)
    if not (back > 0).any():
        positions = count - 1 - _stable(site[::-1]) if newest_first else by_site
        return Order(positions.astype(np.uint32), segment, _tied(by_site, same & (step == 0)))
    start = np.arange(count, dtype=np.int64)
    if newest_first:
        start = start[::-1]
    by_time = start[np.argsort(placed[start], kind="stable")]
    positions = by_time[_stable(site[by_time])]
    number, time = site[positions], placed[positions]
    level = (number[1:] == number[:-1]) & (time[1:] == time[:-1])
    return Order(positions.astype(np.uint32), segment, _tied(positions, level))


def _tied(positions: Ints, level: npt.NDArray[np.bool_]) -> Positions:
    """Return the positions that are level with the one before or after them."""
    tied = np.zeros(len(positions), dtype=np.bool_)
    tied[1:] |= level
    tied[:-1] |= level
    return positions[tied].astype(np.uint32)


def _cut(
    by_site: Ints,
    back: Ints,
    same: npt.NDArray[np.bool_],
    number: npt.NDArray[np.uint32],
    clock_set: npt.NDArray[np.bool_],
) -> Ints | None:
    turn = back > TURN_US
    if not turn.any():
        return None
    marked = clock_set[by_site]
    turn &= ~((marked[1:] | marked[:-1]) & (back <= SET_US))
    turns = np.bincount(number[1:][turn], minlength=int(number.max()) + 1)
    steps = np.bincount(number[1:][same], minlength=int(number.max()) + 1)
    unordered = (turns >= _UNORDERED_TURNS) & (turns > _UNORDERED_SHARE * steps)
    turn &= ~unordered[number[1:]]
    if not turn.any():
        return None
    segment = np.zeros(len(by_site), dtype=np.int64)
    segment[by_site[1:]] = np.cumsum(turn)
    return segment


def _stable(number: npt.NDArray[np.uint32]) -> Ints:
    """Sort small numbers stably; numpy does it by digits for sixteen bits."""
    low = np.argsort(number.astype(np.uint16), kind="stable")
    if not len(number) or int(number.max()) < 1 << 16:
        return low
    return low[np.argsort((number[low] >> 16).astype(np.uint16), kind="stable")]
