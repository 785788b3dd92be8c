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
_SECOND_US = 1_000_000


@dataclass(frozen=True)
class Exact:
    """Chance of each of some series under each driver; and within the season, of the air.

    Parameters
    ----------
    series : numpy.ndarray of int, shape (n,)
        Which.
    p : dict of str to numpy.ndarray of float, shape (n,)
        By driver; not a number where it is not told.
    season_p : dict of str to numpy.ndarray of float
        Of the measures of the air, held to days near by.
    """

    series: Numbers
    p: dict[str, Floats]
    season_p: dict[str, Floats]


def exact(
    hits: Hits, kept: Numbers, grid: Grid, sky: Sky, air: Air | None, beside: list[Grid]
) -> Exact:
    """Work out exact chances of some series.

    Parameters
    ----------
    hits : Hits
        All alarms that are screened.
    kept : numpy.ndarray of int
        Series that are looked at, rising.
    grid : Grid
        Time at risk.
    sky : Sky
        Places.
    air : Air or None
        Weather.
    beside : list of Grid
        Time at risk soon after another area was opened or closed.

    Returns
    -------
    Exact
        Of the series kept.

    Notes
    -----
    Sun, clock, arming and other areas are held to each alarm's own day, the air to the same ten
    minutes of other days (time-stratified case-crossover; see `stats.anchored_scan`,
    `stats.level_scan`).
    """
    many = len(kept)
    names = (
        "clock",
        "weekday",
        "sun",
        "dark",
        "arming",
        "area",
        *(MEASURES if air is not None else ()),
    )
    p = {name: np.full(many, np.nan) for name in names}
    season = {name: np.full(many, np.nan) for name in names if name in MEASURES}
    row_of = hits.heads()[kept]
    order = np.unique(row_of)
    for chunk in grid.chunks(order):
        laid = np.clip(np.round(grid.laid(chunk), 9), 0.0, 1.0)
        here = np.flatnonzero(np.isin(row_of, chunk))
        mine = _only(hits, kept[here])
        place = np.searchsorted(chunk, hits.row[mine.hit])
        armed = laid[place, :, hits.step[mine.hit]] >= _HALF
        p["weekday"][here] = _turned(hits, mine, armed, grid)
        if air is not None:
            for measure in MEASURES:
                whole, near = _ranked(hits, mine, measure, armed, grid, air)
                p[measure][here], season[measure][here] = whole, near
        for trips in range(1, _UNTOLD + 1):
            # Of a point of which only the first trip is told, the least telling reading counts.
            some = here if trips == 1 else here[hits.first[kept[here]]]
            if len(some):
                own = _only(hits, kept[some])
                got = _within_days(hits, own, chunk, laid, trips, (grid, sky, air, beside))
                for name, chance in got.items():
                    p[name][some] = chance if trips == 1 else np.maximum(p[name][some], chance)
    return Exact(kept, p, season)


@dataclass(frozen=True)
class Mine:
    """The alarms of some series: which hits, and their series counted anew from 0."""

    hit: Numbers
    group: Numbers
    count: int


def _only(hits: Hits, series: Numbers) -> Mine:
    wanted = np.isin(hits.number, series)
    hit = np.flatnonzero(wanted)
    return Mine(hit, np.searchsorted(series, hits.number[hit]), len(series))


def _within_days(
    hits: Hits,
    mine: Mine,
    chunk: Numbers,
    laid: Floats,
    trips: int,
    around: tuple[Grid, Sky, Air | None, list[Grid]],
) -> dict[str, Floats]:
    """Give the chances of what is held to each alarm's own day.

    Where several trips of a day are spread evenly but only the first can be told, that one comes
    early: of k trips with a density of k (1 - u)^(k - 1), u the share of the day's time at risk
    that has passed.
    """
    place, day = np.searchsorted(chunk, hits.row[mine.hit]), hits.day[mine.hit]
    own = laid[place, day]
    total = np.maximum(own.sum(axis=1, keepdims=True), 1e-9)
    edge = np.clip(1 - np.cumsum(own, axis=1) / total, 0.0, 1.0) ** trips
    weights = np.concatenate([np.ones((len(own), 1)), edge], axis=1)
    weights = own / total if trips == 1 else weights[:, :-1] - weights[:, 1:]
    grid, sky, air, beside = around
    sun, dark = _sunny(hits, mine, weights, grid, sky, air)
    per = np.divide(weights, own, out=np.zeros_like(own), where=own > 0)
    return {
        "clock": _clock(hits, mine, weights),
        "sun": sun,
        "dark": dark,
        "arming": _soon(hits, mine, chunk, place, per, grid, even=trips == 1),
        "area": _beside(hits, mine, chunk, place, per, beside),
    }


def _clock(hits: Hits, mine: Mine, weights: Floats) -> Floats:
    steps = np.broadcast_to(np.arange(STEPS), weights.shape)
    views = [View(steps, weights, CLOCK_STEPS)]
    return _sharp(hits, mine, weights, views)[0]


def _sharp(hits: Hits, mine: Mine, weights: Floats, views: list[View]) -> tuple[Floats, Floats]:
    """Give the chance that alarms crowd into one window of any view; and the bare tail."""
    step = hits.step[mine.hit]
    at = np.arange(len(step))
    got = [
        anchored_scan(view.cells[at, step], view.shares, mine.group, view.widths) for view in views
    ]
    tail = np.min([one.tail for one in got], axis=0)
    days = np.bincount(mine.group, minlength=mine.count)
    looked = days * sum(len(view.widths) for view in views)
    p = np.minimum(tail * looked, 1.0)
    open_ = (tail <= _OPEN) & (p > LEAST_DRAWN) & (days <= _DRAWN)
    seeds = np.bitwise_xor.reduceat(
        hits.utc[mine.hit] // _SECOND_US, np.searchsorted(mine.group, np.arange(mine.count))
    )
    drawn = redrawn(views, weights, mine.group, tail, open_, seeds)
    return np.minimum(p, drawn), tail


def _sunny(
    hits: Hits, mine: Mine, weights: Floats, grid: Grid, sky: Sky, air: Air | None
) -> tuple[Floats, Floats]:
    """Give the chances of the sun, and of darkness."""
    site = np.repeat(hits.site[mine.hit], STEPS)
    day = np.repeat(hits.day[mine.hit], STEPS)
    steps = np.tile(np.arange(STEPS), len(mine.hit))
    utc = grid.utc(site, day, steps)
    where, tall = sky.stands(site, utc)
    azimuth, height = where.reshape(-1, STEPS), tall.reshape(-1, STEPS)
    shone = height
    if air is not None:
        shone = np.where(air.sunless(site, utc).reshape(-1, STEPS), skies.DOWN, height)
    known = ~np.isnan(hits.height[mine.hit])
    placed = np.bincount(mine.group, known, mine.count) > 0
    looks = hits.facing[np.unique(hits.number[mine.hit])]
    views, before = [], []
    for flag, widths in ((skies.low, SUN_LOW_STEPS), (skies.up, SUN_UP_STEPS)):
        spent = np.where(flag(shone), weights, 0.0)
        cell = np.arange(len(spent))[:, None] * AZIMUTHS + azimuth
        spread = np.bincount(cell.ravel(), spent.ravel(), len(spent) * AZIMUTHS)
        ways = spread.astype(np.float64).reshape(len(spent), AZIMUTHS)
        views.append(View(np.where(flag(shone), azimuth, -1), ways, widths))
        at = np.where(flag(hits.shone[mine.hit]), hits.azimuth[mine.hit], -1)
        before.append(_before(at, ways, mine, looks))
    known_way = np.minimum(np.minimum(*before) * 2 * len(_FACING_STEPS), 1.0)
    sun = np.where(np.isnan(looks), _sharp(hits, mine, weights, views)[0], known_way)
    night = np.where(skies.dark(height), weights, 0.0).sum(axis=1)
    dark = _plain(skies.dark(hits.height[mine.hit])[:, None], night[:, None], mine)
    return np.where(placed, sun, np.nan), np.where(placed, dark, np.nan)


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


def _soon(
    hits: Hits, mine: Mine, chunk: Numbers, place: Numbers, per: Floats, grid: Grid, *, even: bool
) -> Floats:
    """Give the chance of so many alarms soon after the point came to be at risk.

    Where all time of a day counts the same (``even``) whole days need to be laid only.
    """
    day = hits.day[mine.hit]

    def spent(minutes: float) -> Floats:
        if even:
            laid = grid.laid(chunk, steps=1, within=minutes)[place, day, 0]
            return np.asarray(STEPS * laid * per.max(axis=1))
        return np.asarray((grid.laid(chunk, within=minutes)[place, day] * per).sum(axis=1))

    share = np.stack([spent(minutes) for minutes in ARMING_MIN], axis=1)
    begun = hits.begun_s[mine.hit][:, None]
    soon = (begun >= 0) & (begun < 60 * np.array(ARMING_MIN)[None, :])
    return _plain(soon, share, mine)


def _beside(
    hits: Hits, mine: Mine, chunk: Numbers, place: Numbers, per: Floats, beside: list[Grid]
) -> Floats:
    """Give the chance of so many alarms soon after another area was opened, or closed."""
    if not any(np.isin(one.row, chunk).any() for one in beside):
        return np.full(mine.count, np.nan)
    day = hits.day[mine.hit]
    share = np.stack([(one.laid(chunk)[place, day] * per).sum(axis=1) for one in beside], axis=1)
    told = np.isin(hits.row[mine.hit], np.concatenate([one.row for one in beside]))
    placed = np.bincount(mine.group, told, mine.count) > 0
    return np.where(placed, _plain(within(hits.other_s[mine.hit]), share, mine), np.nan)


def _turned(hits: Hits, mine: Mine, armed: Flags, grid: Grid) -> Floats:
    """Give the chance of so many alarms on one weekday, or in one week of the month.

    Each alarm is held to the days on which the point was at risk in the same ten minutes, so that
    closed weekends are no weekday of their own.
    """
    share = np.zeros((len(mine.hit), TURNS))
    for after_midnight in (False, True):
        step = np.full(grid.days, STEPS // 2 if after_midnight else 0)
        on = turning(grid.turns(np.arange(grid.days), step)).astype(float)
        here = (hits.step[mine.hit] >= STEPS // 2) == after_midnight
        share[here] = armed[here].astype(float) @ on
    share /= np.maximum(armed.sum(axis=1, keepdims=True), 1)
    share[hits.turns[mine.hit][:, 1] < 0, WEEKDAYS:] = 0.0
    return _plain(turning(hits.turns[mine.hit]), np.clip(share, 0.0, 1.0), mine)


def _ranked(
    hits: Hits, mine: Mine, measure: str, armed: Flags, grid: Grid, air: Air
) -> tuple[Floats, Floats]:
    """Give the chances of values so high, over the whole log and over days near by.

    Each alarm's value takes its rank among the values of the same ten minutes on all other days
    on which the point was at risk then; ties count against it.
    """
    whole_days = NEAR_DAYS.get(measure, grid.days)
    days = np.arange(grid.days)
    site, step = hits.site[mine.hit], hits.step[mine.hit]
    shape = (len(mine.hit), grid.days)
    every = [np.broadcast_to(a, shape) for a in (site[:, None], days[None, :], step[:, None])]
    others = air.at(measure, every[0], grid.utc(*every))
    value = hits.air[measure][mine.hit]
    away = np.abs(days[None, :] - hits.day[mine.hit][:, None])
    counted = armed & (away > 0) & ~np.isnan(others)
    with np.errstate(invalid="ignore"):
        as_high = counted & (others >= value[:, None])
    answer = []
    for reach in (whole_days, _SEASON_DAYS):
        near = away <= reach
        among = (counted & near).sum(axis=1)
        rank = (1 + (as_high & near).sum(axis=1)) / (1 + among)
        usable = (among >= _REFERENTS) & ~np.isnan(value) & hits.asked[measure][mine.hit]
        got = level_scan(np.where(usable, rank, np.nan), mine.group, mine.count)
        answer.append(np.where(got.ranks > 0, got.p, np.nan))
    return answer[0], answer[1]


_SEASON_DAYS = 45
"""Within so many days before and after, the season is the same [days]."""
