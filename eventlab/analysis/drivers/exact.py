"""The chance of what is seen, held to each alarm's own day or to the same hour of other days."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from eventlab.analysis.drivers import sky as skies
from eventlab.analysis.drivers.air import MEASURES, NEAR_DAYS, Air
from eventlab.analysis.drivers.areas import within
from eventlab.analysis.drivers.bounds import Hits
from eventlab.analysis.drivers.grid import STEPS, TURNS, WEEKDAYS, Grid
from eventlab.analysis.drivers.shares import (
    ARMING_MIN,
    CLOCK_STEPS,
    SUN_LOW_STEPS,
    SUN_UP_STEPS,
    turning,
)
from eventlab.analysis.drivers.sky import AZIMUTHS, Sky
from eventlab.stats import LEAST_DRAWN, View, anchored_scan, binomial_tail, level_scan, redrawn

Floats = npt.NDArray[np.float64]
Numbers = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]

_REFERENTS = 12
"""Fewer other days at the same hour tell nothing of how high a value is."""
_FACING_STEPS = (10, 16)
"""Half widths of the windows of a point that faces a known way: 25 and 40 degrees."""
_HALF = 0.5
"""At risk for this much of a step is at risk in it."""


_UNTOLD = 3
"""Trips of a day of which one may be all that a panel tells: bad days bring two or three."""
_OPEN = 2e-3
"""Above this tail redrawing brings no chance that counts in a family."""
_DRAWN = 40
"""Of more days the bound is sharp enough."""
_SEASON_DAYS = 45
"""Within so many days before and after, the season is the same [days]."""
_SECOND_US = 1_000_000


@dataclass(frozen=True)
class Around:
    """The alarms that are screened, and what stands around them.

    Parameters
    ----------
    hits : Hits
        All alarms that are screened.
    grid : Grid
        Time at risk.
    sky : Sky
        Places.
    air : Air or None
        Weather.
    beside : list of Grid
        Time at risk soon after another area was opened or closed.
    """

    hits: Hits
    grid: Grid
    sky: Sky
    air: Air | None
    beside: list[Grid]


def exact(around: Around, left: dict[str, Flags]) -> dict[str, Floats]:
    """Work out the exact chances of what the bounds leave open.

    Parameters
    ----------
    around : Around
        The alarms, and what stands around them.
    left : dict of str to numpy.ndarray of bool, shape (series,)
        By driver, which series are looked at.

    Returns
    -------
    dict of str to numpy.ndarray of float, shape (series,)
        By driver; not a number where it is not told or was not asked.

    Notes
    -----
    Sun, clock, arming and other areas are held to each alarm's own day, the air to the same ten
    minutes of other days (time-stratified case-crossover; see `stats.anchored_scan`,
    `stats.level_scan`).
    """
    p = {driver: np.full(len(some), np.nan) for driver, some in left.items()}
    for driver, some in left.items():
        series = np.flatnonzero(some)
        if not len(series):
            continue
        if driver == "weekday":
            p[driver][series] = _turned(around, _only(around.hits, series))
        elif driver in MEASURES:
            p[driver][series] = _ranked(around, _only(around.hits, series), driver)
        else:
            p[driver][series] = _on_own_days(around, series, driver)
    return p


def within_season(around: Around, measure: str, series: int) -> float:
    """Give the chance of one series' values of the air among those of days near by."""
    mine = _only(around.hits, np.array([series]))
    return float(_ranked(around, mine, measure, _SEASON_DAYS)[0])


@dataclass(frozen=True)
class Mine:
    """The alarms of some series: which series, which hits, and each one's series from 0."""

    series: Numbers
    hit: Numbers
    group: Numbers

    @property
    def count(self) -> int:
        """How many series."""
        return len(self.series)


def _only(hits: Hits, series: Numbers) -> Mine:
    hit = np.flatnonzero(np.isin(hits.number, series))
    return Mine(series, hit, np.searchsorted(series, hits.number[hit]))


@dataclass(frozen=True)
class Days:
    """The own day of each alarm: share of each step at risk, and of the day's chance in it."""

    own: Floats
    weights: Floats

    @property
    def per(self) -> Floats:
        """The chance by time at risk."""
        return np.divide(self.weights, self.own, out=np.zeros_like(self.own), where=self.own > 0)


def _on_own_days(around: Around, series: Numbers, driver: str) -> Floats:
    """Give the chances under a driver that is held to each alarm's own day.

    Where several trips of a day are spread evenly but only the first can be told, that one comes
    early: of k trips with a density of k (1 - u)^(k - 1), u the share of the day's time at risk
    that has passed. Of a point of which only the first trip is told, the least telling reading
    counts.
    """
    p = np.zeros(len(series))
    first = around.hits.first[series]
    for trips in range(1, _UNTOLD + 1):
        some = np.flatnonzero(first | (trips == 1))
        if len(some):
            mine = _only(around.hits, series[some])
            told = _HELD[driver](around, mine, _days(around, mine, trips))
            p[some] = np.maximum(p[some], told)
    return p


def _days(around: Around, mine: Mine, trips: int) -> Days:
    laid = around.grid.of_days(around.hits.row[mine.hit], around.hits.day[mine.hit])
    own = np.clip(np.round(laid, 9), 0.0, 1.0)
    total = np.maximum(own.sum(axis=1, keepdims=True), 1e-9)
    if trips == 1:
        return Days(own, own / total)
    edge = np.clip(1 - np.cumsum(own, axis=1) / total, 0.0, 1.0) ** trips
    before = np.concatenate([np.ones((len(own), 1)), edge[:, :-1]], axis=1)
    return Days(own, before - edge)


def _clock(around: Around, mine: Mine, days: Days) -> Floats:
    steps = np.broadcast_to(np.arange(STEPS), days.weights.shape)
    views = [View(steps, days.weights, CLOCK_STEPS)]
    return _sharp(around.hits, mine, days.weights, views, np.ones(mine.count, dtype=bool))


def _sharp(hits: Hits, mine: Mine, weights: Floats, views: list[View], wanted: Flags) -> Floats:
    """Give the chance that alarms crowd into one window of any view; sharper where wanted."""
    step = hits.step[mine.hit]
    at = np.arange(len(step))
    got = [
        anchored_scan(view.cells[at, step], view.shares, mine.group, view.widths) for view in views
    ]
    tail = np.min([one.tail for one in got], axis=0)
    days = np.bincount(mine.group, minlength=mine.count)
    looked = days * sum(len(view.widths) for view in views)
    p = np.minimum(tail * looked, 1.0)
    open_ = wanted & (tail <= _OPEN) & (p > LEAST_DRAWN) & (days <= _DRAWN)
    seeds = np.bitwise_xor.reduceat(
        hits.utc[mine.hit] // _SECOND_US, np.searchsorted(mine.group, np.arange(mine.count))
    )
    return np.asarray(np.minimum(p, redrawn(views, weights, mine.group, tail, open_, seeds)))


def _stood(around: Around, mine: Mine, days: Days) -> tuple[Numbers, Floats, Flags]:
    """Say where the sun stood at each step of each alarm's day, and where it cannot have shone.

    Of the steps that tell nothing, in which there was no time at risk, it is left open: down.
    """
    hits = around.hits
    asked = days.weights > 0
    asked[np.arange(len(asked)), hits.step[mine.hit]] = True
    which, step = np.nonzero(asked)
    site = hits.site[mine.hit][which]
    utc = around.grid.utc(site, hits.day[mine.hit][which], step)
    azimuth, height = np.zeros(asked.shape, dtype=np.int64), np.full(asked.shape, skies.DOWN)
    azimuth[asked], height[asked] = around.sky.stands(site, utc)
    grey = np.zeros(asked.shape, dtype=bool)
    if around.air is not None:
        grey[asked] = around.air.sunless(site, utc)
    return azimuth, height, grey


def _sun(around: Around, mine: Mine, days: Days) -> Floats:
    hits = around.hits
    azimuth, height, grey = _stood(around, mine, days)
    shone = np.where(grey, skies.DOWN, height)
    looks = hits.facing[mine.series]
    views, before = [], []
    for flag, widths in ((skies.low, SUN_LOW_STEPS), (skies.up, SUN_UP_STEPS)):
        shines = flag(shone)
        spent = np.where(shines, days.weights, 0.0)
        cell = np.arange(len(spent))[:, None] * AZIMUTHS + azimuth
        spread = np.bincount(cell.ravel(), spent.ravel(), len(spent) * AZIMUTHS)
        ways = spread.astype(np.float64).reshape(len(spent), AZIMUTHS)
        views.append(View(np.where(shines, azimuth, -1), ways, widths))
        at = np.where(flag(hits.shone[mine.hit]), hits.azimuth[mine.hit], -1)
        before.append(_before(at, ways, mine, looks))
    known_way = np.minimum(np.minimum(*before) * 2 * len(_FACING_STEPS), 1.0)
    blind = np.isnan(looks)
    return np.where(blind, _sharp(hits, mine, days.weights, views, blind), known_way)


def _dark(around: Around, mine: Mine, days: Days) -> Floats:
    _, height, _ = _stood(around, mine, days)
    night = np.where(skies.dark(height), days.weights, 0.0).sum(axis=1)
    return _plain(skies.dark(around.hits.height[mine.hit])[:, None], night[:, None], mine)


def _before(at: Numbers, ways: Floats, mine: Mine, looks: Floats) -> Floats:
    """Give the smallest tail over windows around the known way each point looks."""
    look = np.nan_to_num(looks)[mine.group] / (360 / AZIMUTHS)
    best = np.ones(mine.count)
    for half in _FACING_STEPS:
        cells = np.arange(AZIMUTHS)[None, :]
        off = np.abs((cells + 0.5 - look[:, None] + AZIMUTHS / 2) % AZIMUTHS - AZIMUTHS / 2)
        near = off <= half
        share = np.where(near, ways, 0.0).sum(axis=1)
        hit = (at >= 0) & near[np.arange(len(at)), np.maximum(at, 0)]
        best = np.minimum(best, _plain(hit[:, None], share[:, None], mine))
    return best


def _plain(hit: Flags, share: Floats, mine: Mine) -> Floats:
    """Give the smallest tail over fixed windows, all of them paid for: shape (n, windows)."""
    heads = np.searchsorted(mine.group, np.arange(mine.count))
    days = np.bincount(mine.group, minlength=mine.count)[:, None]
    inside = np.add.reduceat(hit.astype(np.int64), heads, axis=0)
    mean = np.clip(np.add.reduceat(share, heads, axis=0) / days, 0.0, 1.0)
    tail = binomial_tail(inside, days, mean).min(axis=1)
    return np.asarray(np.minimum(tail * hit.shape[1], 1.0))


def _soon(around: Around, mine: Mine, days: Days) -> Floats:
    """Give the chance of so many alarms soon after the point came to be at risk."""
    row, day = around.hits.row[mine.hit], around.hits.day[mine.hit]
    spent = [around.grid.of_days(row, day, within=minutes) for minutes in ARMING_MIN]
    share = np.stack([(laid * days.per).sum(axis=1) for laid in spent], axis=1)
    begun = around.hits.begun_s[mine.hit][:, None]
    soon = (begun >= 0) & (begun < 60 * np.array(ARMING_MIN)[None, :])
    return _plain(soon, share, mine)


def _beside(around: Around, mine: Mine, days: Days) -> Floats:
    """Give the chance of so many alarms soon after another area was opened, or closed."""
    row, day = around.hits.row[mine.hit], around.hits.day[mine.hit]
    spent = [one.of_days(row, day) for one in around.beside]
    share = np.stack([(laid * days.per).sum(axis=1) for laid in spent], axis=1)
    return _plain(within(around.hits.other_s[mine.hit]), share, mine)


_HELD = {"clock": _clock, "sun": _sun, "dark": _dark, "arming": _soon, "area": _beside}
"""What is held to each alarm's own day."""


def _armed(around: Around, mine: Mine) -> Flags:
    """Say on which days the point was at risk in the ten minutes of each alarm: (n, days)."""
    row, step = around.hits.row[mine.hit], around.hits.step[mine.hit]
    armed = np.empty((len(row), around.grid.days), dtype=bool)
    for chunk in around.grid.chunks(np.unique(row)):
        here = np.flatnonzero(np.isin(row, chunk))
        laid = around.grid.laid(chunk)
        share = laid[np.searchsorted(chunk, row[here]), :, step[here]]
        armed[here] = np.round(share, 9) >= _HALF
    return armed


def _turned(around: Around, mine: Mine) -> Floats:
    """Give the chance of so many alarms on one weekday, or in one week of the month.

    Each alarm is held to the days on which the point was at risk in the same ten minutes, so that
    closed weekends are no weekday of their own.
    """
    hits, grid = around.hits, around.grid
    armed = _armed(around, mine)
    share = np.zeros((len(mine.hit), TURNS))
    for after_midnight in (False, True):
        step = np.full(grid.days, STEPS // 2 if after_midnight else 0)
        on = turning(grid.turns(np.arange(grid.days), step)).astype(float)
        here = (hits.step[mine.hit] >= STEPS // 2) == after_midnight
        share[here] = armed[here].astype(float) @ on
    share /= np.maximum(armed.sum(axis=1, keepdims=True), 1)
    share[hits.turns[mine.hit][:, 1] < 0, WEEKDAYS:] = 0.0
    return _plain(turning(hits.turns[mine.hit]), np.clip(share, 0.0, 1.0), mine)


def _ranked(around: Around, mine: Mine, measure: str, reach: int | None = None) -> Floats:
    """Give the chances of values so high, over days within reach, or as far as is set.

    Each alarm's value takes its rank among the values of the same ten minutes on all other days
    on which the point was at risk then; ties count against it.
    """
    hits, grid, air = around.hits, around.grid, around.air
    if air is None:
        return np.full(mine.count, np.nan)
    days = np.arange(grid.days)
    site, step = hits.site[mine.hit], hits.step[mine.hit]
    others = air.at(measure, site[:, None], grid.utc(site[:, None], days, step[:, None]))
    value = hits.air[measure][mine.hit]
    away = np.abs(days[None, :] - hits.day[mine.hit][:, None])
    near = (away > 0) & (away <= (reach or NEAR_DAYS.get(measure, grid.days)))
    counted = _armed(around, mine) & near & ~np.isnan(others)
    with np.errstate(invalid="ignore"):
        as_high = counted & (others >= value[:, None])
    among = counted.sum(axis=1)
    rank = (1 + as_high.sum(axis=1)) / (1 + among)
    usable = (among >= _REFERENTS) & ~np.isnan(value) & hits.asked[measure][mine.hit]
    got = level_scan(np.where(usable, rank, np.nan), mine.group, mine.count)
    return np.where(got.ranks > 0, got.p, np.nan)
