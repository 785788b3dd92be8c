"""What the order of rows in a file tells about their times.

All arrays are given group by group (site by site), in file order inside each group. A file may
run forwards or backwards in time; ``forward`` is +1, -1, or 0 where the rows do not tell.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Longs = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]

MINUTE = 60_000_000
"""Rows out of order by no more than this are jitter, beyond it the file was cut [us]."""

_CLEAR = 0.75
"""Share of steps that must go one way before a group has a direction; glued files have some
against it."""

ORDERLY = 100
"""A group of so many steps without one against its direction is strictly in order."""


@dataclass(frozen=True, slots=True)
class Run:
    """Rows of several groups, group by group.

    Parameters
    ----------
    code : int64 array
        The group of each row, 0 to ``groups`` - 1, never falling.
    wall : int64 array
        Wall time [us].
    fold : int64 array
        Which repeated hour the wall time lies in; -1 where in none.
    groups : int
        Number of groups.
    """

    code: Longs
    wall: Longs
    fold: Longs
    groups: int

    @property
    def step(self) -> Longs:
        """Wall time from each row to the next [us]."""
        return np.diff(self.wall)

    @property
    def joined(self) -> Flags:
        """Whether each row and the next are of one group."""
        same: Flags = self.code[1:] == self.code[:-1]
        return same

    @property
    def inside(self) -> Flags:
        """Whether each row and the next lie in the same repeated hour of one group."""
        same: Flags = self.joined & (self.fold[1:] >= 0) & (self.fold[1:] == self.fold[:-1])
        return same


@dataclass(frozen=True, slots=True)
class Way:
    """Which way each group's rows run.

    Parameters
    ----------
    forward : int64 array
        +1 oldest first, -1 newest first, 0 not told; one for each group.
    strict : bool array
        Whether many rows are there and none stands against the direction.
    silent : bool array
        Whether no two rows of the group tell anything.
    """

    forward: Longs
    strict: Flags
    silent: Flags

    def following(self, whole: int) -> "Way":
        """Let silent groups run as the file runs."""
        forward = np.where(self.silent, whole, self.forward)
        return Way(forward, self.strict, self.silent)


def direction(run: Run, clear: float = _CLEAR) -> Way:
    """Measure which way the rows of each group run.

    Steps inside a repeated hour are left out, for there the clock goes back by itself.

    Parameters
    ----------
    run : Run
        The rows.
    clear : float
        Share of steps that must go one way.

    Returns
    -------
    Way
    """
    free = run.joined & ~run.inside
    step, of = run.step, run.code[1:]
    up = np.bincount(of[free & (step > 0)], minlength=run.groups)
    down = np.bincount(of[free & (step < 0)], minlength=run.groups)
    strict = (up + down >= ORDERLY) & (np.minimum(up, down) == 0)
    return Way(_settle(up, down, clear), strict, up + down == 0)


def whole_way(moment: Longs, fold: Longs, alike: Flags) -> int:
    """Measure which way a file runs as a whole.

    Parameters
    ----------
    moment : int64 array
        Wall times of all rows in file order [us].
    fold : int64 array
        Which repeated hour each lies in; -1 where in none.
    alike : bool array
        Whether each row and the next can be compared: one group, both times usable.

    Returns
    -------
    int
        +1 oldest first, -1 newest first, 0 not told.
    """
    free = alike & ~((fold[1:] >= 0) & (fold[1:] == fold[:-1]))
    step = np.diff(moment)[free]
    return int(_settle(np.sum(step > 0), np.sum(step < 0), _CLEAR))


def _settle(up: Longs, down: Longs, clear: float) -> Longs:
    enough = clear * np.maximum(up + down, 1)
    way: Longs = (up >= enough).astype(np.int64) - (down >= enough).astype(np.int64)
    return way


def passes(run: Run, way: Way) -> npt.NDArray[np.int8]:
    """Tell the first from the second pass of repeated hours by the order of rows.

    Where the clock is put back, wall time in row order steps back once inside the repeated hour:
    rows before that are the first pass, rows after it the second. Without such a step, or with
    several, order does not tell. Where time turns back elsewhere the file was glued together, and
    each part is judged alone.

    Parameters
    ----------
    run : Run
        The rows.
    way : Way
        Their direction.

    Returns
    -------
    int8 array
        1 first pass, 2 second pass, 0 not told or in no repeated hour; one for each row.
    """
    told = np.zeros(run.code.size, dtype=np.int8)
    rows = np.flatnonzero(run.fold >= 0)
    if rows.size == 0:
        return told
    step, joined, inside = run.step, run.joined, run.inside
    cut = joined & ~inside & (way.forward[run.code[1:]] * step < -MINUTE)
    part = np.concatenate(([0], np.cumsum(cut | ~joined)))
    # One stretch: the rows of one repeated hour in one uncut part of one group.
    _, stretch = np.unique(part[rows] * (run.fold.max() + 1) + run.fold[rows], return_inverse=True)
    count = int(stretch.max()) + 1
    group = np.zeros(count, dtype=np.int64)
    group[stretch] = run.code[rows]
    # Step from the row above, where that lies in the same repeated hour.
    here = np.where(np.concatenate(([False], inside))[rows], np.concatenate(([0], step))[rows], 0)
    forward = _unsettled(way.forward[group], stretch, here)
    back = -forward[stretch] * here
    large, small = back > MINUTE, (back > 0) & (back <= MINUTE)
    large_count = np.bincount(stretch[large], minlength=count)
    small_count = np.bincount(stretch[small], minlength=count)
    turn = np.full(count, -1, dtype=np.int64)
    # A small step back is jitter, unless nothing else in a long log is out of order.
    lone = (large_count == 0) & (small_count == 1) & way.strict[group]
    turn[stretch[small]] = np.where(lone[stretch[small]], rows[small], -1)
    one = large_count == 1
    turn[stretch[large]] = np.where(one[stretch[large]], rows[large], -1)
    known = turn[stretch] >= 0
    below = rows >= turn[stretch]
    second = below == (forward[stretch] > 0)
    told[rows[known]] = np.where(second[known], 2, 1)
    return told


def _unsettled(forward: Longs, stretch: Longs, here: Longs) -> Longs:
    """Give stretches without a direction the only one that leaves a single step back."""
    falls = np.bincount(stretch[here < -MINUTE], minlength=forward.size)
    rises = np.bincount(stretch[here > MINUTE], minlength=forward.size)
    upward = (falls == 1) & (rises > 1)
    downward = (rises == 1) & (falls > 1)
    return np.where(forward == 0, upward.astype(np.int64) - downward, forward)


def place(code: Longs, placed: Longs, known: Flags, forward: Longs) -> tuple[Longs, Flags]:
    """Place rows without a time just after the row that comes before them in time.

    Parameters
    ----------
    code : int64 array
        Group of each row, never falling.
    placed : int64 array
        Time [us]; of no meaning where not ``known``.
    known : bool array
        Which rows have a time.
    forward : int64 array
        Direction of each group; 0 counts as oldest first.

    Returns
    -------
    tuple
        Times [us], one microsecond apart so that they keep their order, and which rows have one:
        not those of a group where no row has.
    """
    count = code.size
    row = np.arange(count)
    starts = np.concatenate(([True], code[1:] != code[:-1]))
    start = np.maximum.accumulate(np.where(starts, row, 0))
    ends = np.concatenate((starts[1:], [True]))
    end = np.minimum.accumulate(np.where(ends, row, count)[::-1])[::-1]
    turn = np.where(forward[code] < 0, start + end - row, row)  # each group oldest first
    times, has = placed[turn], known[turn]
    last = np.maximum.accumulate(np.where(has, row, -1))
    follows = last >= start
    coming = np.minimum.accumulate(np.where(has, row, count)[::-1])[::-1]
    precedes = ~follows & (coming <= end)
    filled = times.copy()
    filled[follows] = times[last[follows]] + (row - last)[follows]
    filled[precedes] = times[coming[precedes]] - (coming - row)[precedes]
    result, placed_now = np.empty_like(filled), np.empty_like(has)
    result[turn] = filled
    placed_now[turn] = has | follows | precedes
    return result, placed_now
