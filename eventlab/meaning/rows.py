"""What the rows of a file tell about their times: which pass of a repeated hour, which place."""

from functools import cached_property

import numpy as np
import polars as pl

from eventlab.intake.distinct import distinct
from eventlab.meaning import order
from eventlab.meaning.order import Flags, Longs

_ORDERLY_FILE = 0.99
"""Share of steps that must go one way before the rows of all sites together give the order."""


class Rows:
    """The rows of a file, as far as order is judged on them.

    Parameters
    ----------
    moment : int64 array
        Wall times [us]; of no meaning where not usable.
    usable : bool array
        Which wall times can be used.
    frame : polars.DataFrame
        The rows, in file order.
    group : str
        Column that tells whose row it is; may be missing.
    one_zone : bool
        Whether all of them have the same time zone.

    Attributes
    ----------
    fold : int32 array
        Which repeated hour each row lies in; -1 where in none.
    """

    def __init__(
        self, moment: Longs, usable: Flags, frame: pl.DataFrame, group: str, *, one_zone: bool
    ) -> None:
        self._one_zone = one_zone
        self.moment = moment
        self.usable = usable
        self.fold = np.full(moment.size, -1, dtype=np.int32)
        self._label = frame[group] if group in frame.columns else None

    @cached_property
    def group(self) -> np.ndarray:
        """The number of each row's group."""
        if self._label is None:
            return np.zeros(self.moment.size, dtype=np.uint32)
        _, code = distinct(self._label.cast(pl.String).fill_null(""))
        return code.to_numpy()

    def passes(self, zone: Longs) -> np.ndarray:
        """Tell passes apart inside each group, then by the rows of all groups of a zone.

        Parameters
        ----------
        zone : int64 array
            The number of each row's zone, -1 where it has none.

        Returns
        -------
        int8 array
            As ``order.passes``.
        """
        told = self._in_line(self.group) if self._way else self._by_group()
        open_rows = (told == 0) & (self.fold >= 0)
        if not open_rows.any():
            return told
        turns = int((self.group[1:] != self.group[:-1]).sum()) + 1
        if turns <= np.count_nonzero(np.bincount(self.group)):
            return told  # group stands below group
        by_file = self._in_line(np.zeros_like(self.group)) if self._way else self._by_zone(zone)
        return np.where(open_rows, by_file, told)

    def fill(self, at: Longs) -> Longs:
        """Place rows without a usable time by their neighbours in the group, else in the file.

        Parameters
        ----------
        at : int64 array
            Times [us UTC]; of no meaning where not usable.

        Returns
        -------
        int64 array
            Times of all rows.
        """
        rows, code, count = self._members(np.flatnonzero(~self.usable))
        at, known = at.copy(), self.usable.copy()
        good = known[rows]
        way = order.direction(self._run(rows[good], code[good], count))
        if way.silent.any():
            way = way.following(self._whole_way())
        at[rows], known[rows] = order.place(code, at[rows], good, way.forward)
        if not known.all():
            rows = np.arange(at.size)
            way = order.direction(self._run(rows[known], np.zeros(known.sum(), np.int64), 1))
            at, known = order.place(np.zeros(at.size, np.int64), at, known, way.forward)
            at[~known] = 0
        return at

    def _run(self, rows: Longs, code: Longs, groups: int) -> order.Run:
        return order.Run(code, self.moment[rows], self.fold[rows].astype(np.int64), groups)

    def _members(self, odd: Longs) -> tuple[Longs, Longs, int]:
        """Return all rows of the groups that have odd rows: group by group, in file order."""
        groups = np.unique(self.group[odd])
        number = np.full(int(self.group.max(initial=0)) + 1, -1, dtype=np.int64)
        number[groups] = np.arange(groups.size)
        code = number[self.group]
        rows = np.flatnonzero(code >= 0)
        code = code[rows]
        if (np.diff(code) < 0).any():
            turn = np.argsort(code.astype(np.min_scalar_type(groups.size)), kind="stable")
            rows, code = rows[turn], code[turn]
        return rows, code, groups.size

    def _whole_way(self) -> int:
        same = self.group[1:] == self.group[:-1]
        alike = same & self.usable[1:] & self.usable[:-1]
        return order.whole_way(self.moment, self.fold.astype(np.int64), alike)

    def _by_group(self) -> np.ndarray:
        told = np.zeros(self.moment.size, dtype=np.int8)
        rows, code, count = self._members(np.flatnonzero(self.fold >= 0))
        good = self.usable[rows]
        rows, code = rows[good], code[good]
        run = self._run(rows, code, count)
        way = order.direction(run)
        if way.silent.any():
            way = way.following(self._whole_way())
        told[rows] = order.passes(run, way)
        return told

    def _by_zone(self, zone: Longs) -> np.ndarray:
        told = np.zeros(self.moment.size, dtype=np.int8)
        rows = np.flatnonzero(self.usable & (zone >= 0))
        rows = rows[np.argsort(zone[rows].astype(np.int16), kind="stable")]
        run = self._run(rows, zone[rows], int(zone.max()) + 1)
        told[rows] = order.passes(run, order.direction(run, _ORDERLY_FILE))
        return told

    # -- files in order throughout --------------------------------------------------------------

    @cached_property
    def _level(self) -> Longs:
        """Wall times of the usable rows, one time for all in a repeated hour [us]."""
        level = self.moment.copy()
        rows = np.flatnonzero(self.fold >= 0)
        first = np.full(int(self.fold.max()) + 1, np.iinfo(np.int64).max)
        np.minimum.at(first, self.fold[rows], self.moment[rows])
        level[rows] = first[self.fold[rows]]
        return level if self.usable.all() else level[self.usable]

    @cached_property
    def _way(self) -> int:
        """+1 where no time of the file falls, -1 where none rises, 0 elsewhere."""
        if not self._one_zone:
            return 0
        if (self._level[1:] >= self._level[:-1]).all():
            return 1
        return -1 if (self._level[1:] <= self._level[:-1]).all() else 0

    def _in_line(self, group: np.ndarray) -> np.ndarray:
        """Tell passes apart in a file of one direction: only repeated hours are looked at.

        In every group, then, time has the file's direction, nothing is cut, and the rows of a
        repeated hour stand together.
        """
        told = np.zeros(self.moment.size, dtype=np.int8)
        rows = np.flatnonzero(self.fold >= 0)
        groups, code = np.unique(group[rows], return_inverse=True)
        turn = np.argsort(code, kind="stable")
        rows, code = rows[turn], code[turn]
        run = self._run(rows, code, groups.size)
        # A group that lies in one repeated hour has no direction of its own.
        usable = group if self.usable.all() else group[self.usable]
        whole = np.bincount(usable)[groups]
        silent = np.bincount(code, minlength=groups.size) == whole
        silent[code[1:][run.joined & ~run.inside]] = False
        strict = self._strict(usable, groups, run)
        way = order.Way(np.where(silent, 0, self._way), strict, silent)
        if group is self.group and silent.any():
            way = way.following(self._whole_way())
        told[rows] = order.passes(run, way)
        return told

    def _strict(self, group: np.ndarray, groups: np.ndarray, run: order.Run) -> Flags:
        """Tell which groups are long and strictly in order, where anything hangs on it."""
        small = run.inside & (np.abs(run.step) <= order.MINUTE) & (run.step * self._way < 0)
        strict = np.zeros(groups.size, dtype=np.bool_)
        if not small.any():
            return strict
        asked = np.zeros(int(group.max()) + 1, dtype=np.bool_)
        asked[groups[run.code[1:][small]]] = True
        rows = np.flatnonzero(asked[group])
        rows = rows[np.argsort(group[rows], kind="stable")]
        steps = (np.diff(group[rows]) == 0) & (np.diff(self._level[rows]) != 0)
        count = np.bincount(group[rows][1:][steps], minlength=asked.size)
        strict[count[groups] >= order.ORDERLY] = True
        return strict
