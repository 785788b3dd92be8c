"""Do moments crowd into one window? A scan whose windows begin at the moments themselves.

Each moment is compared with the time of its own day alone, so that season, weekday, weather and
days on which more happens drop out: the time-stratified case-crossover design (Maclure 1991,
American Journal of Epidemiology 133, 144-153; Janes, Sheppard and Lumley 2005, Statistics in
Medicine 24, 285-300; from memory).
"""

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from eventlab.stats.tails import binomial_tail

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

_MOST_DRAWS = 4000
LEAST_DRAWN = 1 / (1 + _MOST_DRAWS)
"""No chance that is drawn is smaller; where a bound is, nothing is gained by drawing."""
_PAIRS = 4_000_000
"""Pairs of moments held in memory at once."""


class Anchored(NamedTuple):
    """The most telling window of each group.

    ``tail`` is the smallest chance over all windows (1 where there is none), not yet paid for
    having looked at many; ``anchor`` the row that it begins at (-1 where there is none);
    ``width`` which of the widths; ``inside`` the moments in it, its own included; ``expected``
    how many of the others would be.
    """

    tail: Floats
    anchor: Ints
    width: Ints
    inside: Ints
    expected: Floats


def anchored_scan(
    cells: npt.ArrayLike, weights: Floats, groups: npt.ArrayLike, widths: Sequence[int]
) -> Anchored:
    """Find the window, beginning at one of the moments, that most moments crowd into.

    Parameters
    ----------
    cells : array_like of int, shape (n,)
        The cell of a circle each moment lies in; -1 where it lies in none.
    weights : numpy.ndarray of float, shape (n, c)
        Share of the time of each moment's own day that lies in each cell; a row may sum to less
        than 1 where some of the day lies in no cell.
    groups : array_like of int, shape (n,)
        Which series each moment belongs to, 0, 1, ... in order.
    widths : sequence of int
        Widths of the windows [cells].

    Returns
    -------
    Anchored
        One element per group. For moments spread over their own days by ``weights`` the chance
        of a tail of ``t`` or less is at most ``t`` times the moments of the group times the
        widths.

    Notes
    -----
    Given the moment it begins at, a window holds each other moment with the share of that
    moment's own day; the binomial with their mean bounds the tail (Hoeffding 1956).
    """
    cell = np.asarray(cells, dtype=np.int64)
    label = np.asarray(groups, dtype=np.int64)
    count = int(label[-1]) + 1 if label.size else 0
    best = Anchored(
        np.ones(count),
        np.full(count, -1, dtype=np.int64),
        np.zeros(count, dtype=np.int64),
        np.zeros(count, dtype=np.int64),
        np.zeros(count),
    )
    if not count:
        return best
    circle = weights.shape[1]
    reach = cumulated(weights, max(widths))
    sizes = np.bincount(label, minlength=count)
    starts = np.concatenate([[0], np.cumsum(sizes)[:-1]])
    for low, high in _chunks(sizes):
        rows = np.arange(starts[low], starts[high - 1] + sizes[high - 1])
        own = label[rows]
        first, other = _pairs(rows, starts[own], sizes[own])
        heads = np.concatenate([[0], np.cumsum(sizes[own])[:-1]])
        begin = cell[first]
        held = begin >= 0
        apart = np.where((cell[other] >= 0) & held, (cell[other] - begin) % circle, circle)
        base = other * reach.shape[1] + np.maximum(begin, 0)
        flat = reach.ravel()
        for number, width in enumerate(widths):
            share = np.add.reduceat(flat[base + width] - flat[base], heads)
            share -= _own(reach, rows, cell[rows], width)
            hits = np.add.reduceat((apart < width).astype(np.int64), heads) - 1
            others = sizes[own] - 1
            mean = np.clip(share / np.maximum(others, 1), 0.0, 1.0)
            usable = (cell[rows] >= 0) & (others > 0)
            tail = np.where(usable, binomial_tail(hits, others, mean), 1.0)
            _keep(best, tail, rows, own, low, high, number, hits + 1, share)
    return best


def cumulated(weights: Floats, width: int) -> Floats:
    """Add weights up along the circle and on over its seam, for windows up to a width."""
    laid = np.concatenate([weights, weights[:, :width]], axis=1)
    return np.concatenate([np.zeros((len(laid), 1)), np.cumsum(laid, axis=1)], axis=1)


def _chunks(sizes: Ints) -> Iterator[tuple[int, int]]:
    pairs = np.cumsum(sizes**2)
    low = 0
    while low < len(sizes):
        before = pairs[low - 1] if low else 0
        high = max(low + 1, int(np.searchsorted(pairs, before + _PAIRS, side="right")))
        yield low, high
        low = high


def _pairs(rows: Ints, starts: Ints, sizes: Ints) -> tuple[Ints, Ints]:
    """Pair each row with every row of its group."""
    first = np.repeat(rows, sizes)
    heads = np.cumsum(sizes) - sizes
    step = np.arange(len(first)) - np.repeat(heads, sizes)
    return first, np.repeat(starts, sizes) + step


def _own(reach: Floats, rows: Ints, cell: Ints, width: int) -> Floats:
    at = np.maximum(cell, 0)
    return np.asarray(reach[rows, at + width] - reach[rows, at])


def _keep(
    best: Anchored,
    tail: Floats,
    rows: Ints,
    own: Ints,
    low: int,
    high: int,
    number: int,
    inside: Ints,
    expected: Floats,
) -> None:
    """Put the smallest tail of each group in, where it beats what stands."""
    order = np.lexsort((tail, own))
    heads = order[np.searchsorted(own[order], np.arange(low, high))]
    better = tail[heads] < best.tail[low:high]
    here = np.arange(low, high)[better]
    pick = heads[better]
    best.tail[here] = tail[pick]
    best.anchor[here] = rows[pick]
    best.width[here] = number
    best.inside[here] = inside[pick]
    best.expected[here] = expected[pick]


class View(NamedTuple):
    """One way to lay moments on a circle.

    ``cells`` gives the cell of each step of each moment's day (-1 where it lies in none), shape
    (n, steps); ``shares`` the share of that day in each cell, shape (n, c); ``widths`` the widths
    of the windows [cells].
    """

    cells: Ints
    shares: Floats
    widths: Sequence[int]


def redrawn(
    views: Sequence[View],
    weights: Floats,
    groups: npt.ArrayLike,
    tails: Floats,
    wanted: npt.NDArray[np.bool_],
    seeds: Ints,
    *,
    enough: int = 5,
    most: int = _MOST_DRAWS,
) -> Floats:
    """Give the chance of a smallest tail so small by drawing the moments anew over their days.

    Parameters
    ----------
    views : sequence of View
        Ways to lay the moments; the smallest tail is taken over all.
    weights : numpy.ndarray of float, shape (n, steps)
        Share of the time of each moment's day in each step.
    groups : array_like of int, shape (n,)
        Which series each belongs to, 0, 1, ... in order.
    tails : numpy.ndarray of float, shape (groups,)
        The smallest tail seen.
    wanted : numpy.ndarray of bool, shape (groups,)
        Which groups are drawn anew; the others get 1.
    seeds : numpy.ndarray of int, shape (groups,)
        Where the draws of each begin, so that none depends on which others are looked at.
    enough, most : int
        A group is done once so many draws were as telling, or after so many draws.

    Returns
    -------
    numpy.ndarray of float, shape (groups,)
        Chances.

    Notes
    -----
    Besag and Clifford (1991), Biometrika 78, 301-304: sequential Monte Carlo p-values.
    """
    label = np.asarray(groups, dtype=np.int64)
    answer = np.ones(len(tails))
    reach = [cumulated(view.shares, max(view.widths)) for view in views]
    sizes = np.bincount(label, minlength=len(tails))
    starts = np.concatenate([[0], np.cumsum(sizes)[:-1]])
    for group in np.flatnonzero(wanted & (sizes > 1)):
        rows = np.arange(starts[group], starts[group] + sizes[group])
        draw = np.random.Generator(np.random.PCG64(abs(int(seeds[group]))))
        edge = np.cumsum(weights[rows], axis=1)
        far = [
            _Far(view, table[rows], rows, tails[group] * (1 + 1e-9))
            for view, table in zip(views, reach, strict=True)
        ]
        hits = done = 0
        while hits < enough and done < most:
            size = min(most - done, _AT_ONCE)
            step = _steps(draw.random((size, sizes[group])), edge)
            as_far: Ints = np.cumsum(np.logical_or.reduce([one.as_far(step) for one in far]))
            stop = int(np.searchsorted(as_far, enough - hits))
            hits += int(as_far[min(stop, size - 1)])
            done += int(min(stop + 1, size))
        answer[group] = hits / done if hits >= enough else (1 + hits) / (1 + done)
    return answer


_AT_ONCE = 256
"""Drawn at once: they stay near the processor, and what comes out does not depend on it."""
_CLOSE = 1e-7
"""A share this near to the one that decides is decided by the tail itself, as it was seen."""
_LOST = 1e-12
"""What adding up may lose of a share."""


def _steps(chance: Floats, edge: Floats) -> Ints:
    """Turn chances, shape (draws, n), to steps by the cumulated weights of each moment's day."""
    last = edge.shape[1] - 1
    return np.stack(
        [
            np.minimum(np.searchsorted(edge[n], chance[:, n] * edge[n, -1], side="right"), last)
            for n in range(len(edge))
        ],
        axis=1,
    )


class _Far:
    """Tells of drawn moments whether any window under one view is as telling as what was seen.

    A tail is as small as the bar where the mean share of the others is no larger than one that
    belongs to the number of moments inside, so that no tail has to be worked out. Where even the
    smallest mean share of a window needs more moments inside, no share has to be either.
    """

    def __init__(self, view: View, reach: Floats, rows: Ints, bar: float) -> None:
        from scipy.special import betaincinv

        self._cells, self._reach, self._rows, self._bar = view.cells, reach, rows, bar
        self._all, self._circle = reach.sum(axis=0), view.shares.shape[1]
        others = len(rows) - 1
        inside = np.arange(others + 1, dtype=np.float64)
        most = betaincinv(np.maximum(inside, 1.0), others - inside + 1, min(bar, 1.0))
        most[0] = -1.0 if bar < 1 else 1.0
        self._most, self._slack = most, _CLOSE * most + _LOST
        self._needs = {}
        for width in view.widths:
            held = reach[:, width : width + self._circle] - reach[:, : self._circle]
            least = np.clip((held.sum(axis=0) - held.max(axis=0)) / others, 0.0, 1.0)
            self._needs[width] = np.searchsorted(most + self._slack, least)

    def as_far(self, step: Ints) -> npt.NDArray[np.bool_]:
        """Say it of each draw; steps of shape (draws, moments)."""
        draws = len(step)
        cell = self._cells[self._rows[None, :], step]
        line, own = np.nonzero(cell >= 0)
        begin, circle, wide = cell[line, own], self._circle, max(self._needs)
        # Every draw's circle, and on over its seam, one behind the other: only differences count.
        base = line * (circle + wide) + begin
        counts = np.bincount(base, minlength=draws * (circle + wide)).reshape(draws, -1)
        counts[:, circle:] = counts[:, :wide]
        passed = np.concatenate([[0], np.cumsum(counts)])
        before = passed[base]
        found = np.zeros(draws, dtype=bool)
        for width, needs in self._needs.items():
            inside = passed[base + width] - before - 1
            may = np.flatnonzero(inside >= needs[begin])
            telling = self._tells(begin[may], own[may], width, inside[may])
            found[line[may[telling]]] = True
        return found

    def _tells(self, begin: Ints, own: Ints, width: int, inside: Ints) -> npt.NDArray[np.bool_]:
        """Say which windows of a width, with so many others inside, are as telling."""
        share = self._all[begin + width] - self._all[begin]
        share -= self._reach[own, begin + width] - self._reach[own, begin]
        mean = np.clip(share / (len(self._rows) - 1), 0.0, 1.0)
        most = self._most[inside]
        telling = mean <= most
        near = np.abs(mean - most) <= self._slack[inside]
        if near.any():
            telling[near] = self._closely(begin[near], own[near], width, inside[near])
        return np.asarray(telling)

    def _closely(self, begin: Ints, own: Ints, width: int, inside: Ints) -> npt.NDArray[np.bool_]:
        share = self._reach[:, begin + width].T - self._reach[:, begin].T
        share = np.ascontiguousarray(share)
        mean = share.sum(axis=1) - share[np.arange(len(own)), own]
        others = len(self._rows) - 1
        tail = binomial_tail(inside, others, np.clip(mean / others, 0.0, 1.0))
        return np.asarray(tail <= self._bar)
