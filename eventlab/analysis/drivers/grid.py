"""Time at risk laid on days of ten-minute steps, from noon to noon of the site's own clock."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import polars as pl

from eventlab.meaning.clock import to_wall

Floats = npt.NDArray[np.float64]
Numbers = npt.NDArray[np.int64]

STEP_MIN = 10
FORTNIGHT = 14
"""Days whose sun is taken to be that of their middle, where the whole log is looked at."""
STEPS = 144
"""Steps of a day."""

HOURS = 24
_STEP_US = STEP_MIN * 60_000_000
_DAY_US = STEPS * _STEP_US
_NOON_US = _DAY_US // 2
_YEAR = 365
_THURSDAY = 3
"""The weekday of 1 January 1970."""
WEEKDAYS, TURNS = 7, 12
"""Seven weekdays and five weeks of a month."""
_CELLS = 6_000_000
"""Steps held in memory at once."""


@dataclass(frozen=True)
class Grid:
    """Days of ten-minute steps for some rows of time at risk.

    Parameters
    ----------
    first : int
        The local day at whose noon the first day begins, days since 1970.
    days : int
        How many days.
    row, start, stop : numpy.ndarray
        Intervals at risk by row: steps from the first noon, in wall time.
    site : numpy.ndarray of int, shape (rows,)
        Which site each row belongs to, by place in ``sites``.
    sites : list of str
        Their names.
    offset : numpy.ndarray of int, shape (sites, days)
        How far the wall clock is ahead of UTC in the middle of each day [us].
    """

    first: int
    days: int
    row: Numbers
    start: Floats
    stop: Floats
    site: Numbers
    sites: list[str]
    offset: Numbers

    @property
    def rows(self) -> int:
        """How many rows there are."""
        return len(self.site)

    def laid(self, rows: Numbers, *, steps: int = STEPS, within: float | None = None) -> Floats:
        """Give the share of each step that some rows were at risk.

        Parameters
        ----------
        rows : numpy.ndarray of int
            Which, rising.
        steps : int
            Steps of a day.
        within : float, optional
            Only so long after each interval began [min].

        Returns
        -------
        numpy.ndarray of float, shape (rows, days, steps)
            Between 0 and 1, but for rounding.
        """
        place, start, stop = self._some(rows, within)
        width = self.days * steps
        start, stop = (np.clip(one * (steps / STEPS), 0, width) for one in (start, stop))
        laid = _filled(place * (width + 2), start, stop, len(rows), width)
        return laid.reshape(len(rows), self.days, steps)

    def by_fortnight(self, rows: Numbers) -> Floats:
        """Add what ``laid`` gives up over the days of each fortnight, without laying the days.

        Returns
        -------
        numpy.ndarray of float, shape (rows, fortnights, 144)
            Days at risk in each step.
        """
        place, day, start, stop = self._by_day(rows)
        spells = -(-self.days // FORTNIGHT)
        line = place * spells + np.clip(day // FORTNIGHT, 0, spells - 1)
        laid = _filled(line * (STEPS + 2), start, stop, len(rows) * spells, STEPS)
        return laid.reshape(len(rows), spells, STEPS)

    def of_days(self, row: Numbers, day: Numbers, *, within: float | None = None) -> Floats:
        """Give what ``laid`` gives of some days of some rows, without laying the other days.

        Returns
        -------
        numpy.ndarray of float, shape (n, 144)
            Between 0 and 1, but for rounding.
        """
        rows = np.unique(row)
        wanted, which = np.unique(row * self.days + day, return_inverse=True)
        place, on, start, stop = self._by_day(rows, within)
        key = rows[place] * self.days + on
        line = np.minimum(np.searchsorted(wanted, key), len(wanted) - 1)
        here = wanted[line] == key
        laid = _filled(line[here] * (STEPS + 2), start[here], stop[here], len(wanted), STEPS)
        return laid[which]

    def _some(self, rows: Numbers, within: float | None) -> tuple[Numbers, Floats, Floats]:
        """Give the intervals of some rows: of which of these rows, and from where to where."""
        low = np.searchsorted(self.row, rows)
        many = np.searchsorted(self.row, rows, side="right") - low
        at = _counted_from(low, many)
        start, stop = self.start[at], self.stop[at]
        if within is not None:
            stop = np.minimum(stop, start + within / STEP_MIN)
        return np.repeat(np.arange(len(rows)), many), start, stop

    def _by_day(
        self, rows: Numbers, within: float | None = None
    ) -> tuple[Numbers, Numbers, Floats, Floats]:
        """Give the intervals of some rows cut at each noon: row, day, and where in its day."""
        place, start, stop = self._some(rows, within)
        first = np.floor(start / STEPS).astype(np.int64)
        many = np.maximum(np.ceil(stop / STEPS).astype(np.int64) - first, 1)
        day = _counted_from(first, many)
        start = np.maximum(np.repeat(start, many) - day * STEPS, 0.0)
        stop = np.minimum(np.repeat(stop, many) - day * STEPS, STEPS)
        return np.repeat(place, many), day, start, stop

    def chunks(self, rows: Numbers, steps: int = STEPS) -> Iterator[Numbers]:
        """Divide rows so that what is laid of them fits into memory."""
        many = max(1, _CELLS // (self.days * steps))
        for low in range(0, len(rows), many):
            yield rows[low : low + many]

    def day(self, night: pl.Series) -> Numbers:
        """Give the day of each night."""
        return np.asarray(night.dt.epoch("d").to_numpy(), dtype=np.int64) - self.first

    def step(self, local: pl.Series) -> Numbers:
        """Give the step of its day that each wall time lies in."""
        micros = local.dt.epoch("us").to_numpy()
        return np.asarray((micros - _NOON_US) % _DAY_US // _STEP_US, dtype=np.int64)

    def turns(self, day: Numbers, step: Numbers) -> Numbers:
        """Say which turn of the calendar the wall clock shows: weekday, and week of the month.

        Returns
        -------
        numpy.ndarray of int, shape (n, 2)
            0 to 6 from Monday; 7 to 11 for days 1 to 7, 8 to 14, ... of the month.
        """
        date = self.first + day + (step >= STEPS // 2)
        moment = date.astype("datetime64[D]")
        weekday = (date + _THURSDAY) % WEEKDAYS
        week = (moment - moment.astype("datetime64[M]")).astype(np.int64) // 7
        return np.stack([weekday, WEEKDAYS + week], axis=-1)

    def utc(self, site: Numbers, day: Numbers, step: Numbers) -> Numbers:
        """Give the moment in the middle of a step [us since 1970, UTC]; shapes may broadcast."""
        # The clock of a day to come is that of the same day a year before.
        beyond = np.maximum(day - self.days + 1, 0)
        seen = np.where(beyond > 0, (day - _YEAR * -(-beyond // _YEAR)) % self.days, day)
        noon = (day + self.first) * _DAY_US + _NOON_US - self.offset[site, seen]
        return np.asarray(noon + (step * _STEP_US + _STEP_US // 2))


def _counted_from(first: Numbers, many: Numbers) -> Numbers:
    """Count on from each of some numbers, so many each."""
    return np.asarray(np.repeat(first - np.cumsum(many) + many, many) + np.arange(many.sum()))


def _filled(at: Numbers, start: Floats, stop: Floats, lines: int, width: int) -> Floats:
    """Give the share of each of ``width`` steps of some lines that intervals fill.

    ``at`` is where the line of each interval begins, of lines that are two steps longer.
    """
    cells, weights = [], []
    for moments, sign in ((start, 1.0), (stop, -1.0)):
        step = np.floor(moments).astype(np.int64)
        part = moments - step
        cells += [at + step, at + step + 1]
        weights += [sign * (1 - part), sign * part]
    told = np.bincount(np.concatenate(cells), np.concatenate(weights), lines * (width + 2))
    edge = np.asarray(told, dtype=np.float64).reshape(lines, width + 2)
    np.cumsum(edge, axis=1, out=edge)
    return edge[:, :width]


def grid(spans: pl.DataFrame, zones: pl.DataFrame) -> Grid:
    """Lay a grid under time at risk.

    Parameters
    ----------
    spans : polars.DataFrame
        ``row`` (0 ... without gaps), ``site``, ``since``, ``until``; sorted, not empty.
    zones : polars.DataFrame
        ``site``, ``time_zone``; UTC where null.

    Returns
    -------
    Grid
        From a noon before all spans to one after them, in whole fortnights.
    """
    wall = _walls(spans, zones)
    start = wall["start"].dt.epoch("us").to_numpy()
    stop = wall["stop"].dt.epoch("us").to_numpy()
    # Whole fortnights of the calendar: what stands of a site does not depend on the others.
    first = int((start.min() - _NOON_US) // _DAY_US) // FORTNIGHT * FORTNIGHT
    last = int((stop.max() - _NOON_US) // _DAY_US)
    days = (last - first) // FORTNIGHT * FORTNIGHT + FORTNIGHT
    origin = first * _DAY_US + _NOON_US
    sites = wall["site"].unique(maintain_order=True)
    numbered = {name: number for number, name in enumerate(sites)}
    heads = wall.unique("row", keep="first", maintain_order=True)
    return Grid(
        first,
        days,
        wall["row"].to_numpy(),
        (start - origin) / _STEP_US,
        (stop - origin) / _STEP_US,
        heads["site"].replace_strict(numbered, return_dtype=pl.Int64).to_numpy(),
        sites.to_list(),
        _offsets(wall.unique("site", keep="first", maintain_order=True), first, days),
    )


def steps_of(spans: pl.DataFrame, zones: pl.DataFrame, first: int) -> tuple[Floats, Floats]:
    """Give from which step to which some spans last, from the noon of a grid's first day."""
    wall = _walls(spans, zones)
    start, stop = (wall[name].dt.epoch("us").to_numpy() for name in ("start", "stop"))
    origin = first * _DAY_US + _NOON_US
    return (start - origin) / _STEP_US, (stop - origin) / _STEP_US


def _walls(spans: pl.DataFrame, zones: pl.DataFrame) -> pl.DataFrame:
    named = spans.join(zones, on="site", how="left", maintain_order="left").with_columns(
        pl.col("time_zone").fill_null("UTC")
    )
    return to_wall(to_wall(named, "since", "time_zone", "start"), "until", "time_zone", "stop")


def _offsets(sites: pl.DataFrame, first: int, days: int) -> Numbers:
    """Work out the shift of each site's clock in the middle of each day."""
    zones = sites["time_zone"].unique(maintain_order=True)
    middle = pl.DataFrame({"day": np.arange(first, first + days, dtype=np.int64)}).with_columns(
        at=pl.from_epoch((pl.col("day") + 1) * _DAY_US, time_unit="us").dt.replace_time_zone("UTC")
    )
    every = pl.DataFrame({"zone": zones}).join(middle, how="cross")
    wall = to_wall(every, "at", "zone", "wall")
    shift = wall.select(
        (pl.col("wall") - pl.col("at").dt.replace_time_zone(None)).dt.total_microseconds()
    )
    table = shift.to_series().to_numpy().reshape(len(zones), days)
    place = {name: number for number, name in enumerate(zones)}
    return np.asarray(table[[place[name] for name in sites["time_zone"]]])
