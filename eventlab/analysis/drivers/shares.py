"""Which share of its time at risk each point spent in each condition, over the whole log."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from eventlab.analysis.drivers import sky as skies
from eventlab.analysis.drivers.air import MEASURES, SUNLESS, Air
from eventlab.analysis.drivers.areas import spent
from eventlab.analysis.drivers.grid import FORTNIGHT, HOURS, STEPS, TURNS, Grid
from eventlab.analysis.drivers.sky import AZIMUTHS, Sky

Floats = npt.NDArray[np.float64]
Numbers = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]

CLOCK_STEPS = (2, 3, 6, 12, 24)
"""Widths of windows of the clock: 20 min to 4 h."""
SUN_LOW_STEPS, SUN_UP_STEPS = (6, 12, 20), (12, 20)
"""Widths of windows of the horizon, 15 to 50 degrees: of the low sun, and of any height."""
ARMING_MIN = (15, 30, 60, 120)
"""Minutes since the point came to be at risk."""
QUANTILES = (0.5, 0.4, 0.3, 0.25, 0.2, 0.15, 0.1, 0.075, 0.05, 0.035, 0.02, 0.01, 0.005)
"""Upper shares of all hours of a place at which a measure of the air counts as high."""


def grid_windows(circle: int, widths: tuple[int, ...]) -> tuple[Numbers, Numbers]:
    """List windows of a circle that overlap by half: where each begins and how wide it is."""
    begin, width = [], []
    for wide in widths:
        step = max(1, wide // 2)
        starts = np.arange(0, circle, step)
        begin.append(starts)
        width.append(np.full(len(starts), wide))
    return np.concatenate(begin), np.concatenate(width)


CLOCK = grid_windows(STEPS, CLOCK_STEPS)
SUN_LOW = grid_windows(AZIMUTHS, SUN_LOW_STEPS)
SUN_UP = grid_windows(AZIMUTHS, SUN_UP_STEPS)


def sums(weights: Floats, windows: tuple[Numbers, Numbers]) -> Floats:
    """Add weights up over windows of a circle: shape (n, cells) to (n, windows)."""
    begin, width = windows
    laid = np.concatenate([weights, weights[:, : width.max()]], axis=1)
    reach = np.concatenate([np.zeros((len(laid), 1)), np.cumsum(laid, axis=1)], axis=1)
    return np.asarray(reach[:, begin + width] - reach[:, begin])


@dataclass(frozen=True)
class Shares:
    """Shares of the time at risk by driver.

    Parameters
    ----------
    of : dict of str to numpy.ndarray of float, shape (rows, windows)
        Share of a row's time in each window; not a number where nothing is known.
    levels : dict of str to numpy.ndarray of float, shape (sources, windows)
        The value at each quantile of each measure of the air.
    """

    of: dict[str, Floats]
    levels: dict[str, Floats]


def shares(grid: Grid, sky: Sky, air: Air | None, beside: list[Grid]) -> Shares:
    """Work out the shares of all rows.

    Parameters
    ----------
    grid : Grid
        Time at risk.
    sky : Sky
        Places.
    air : Air or None
        Weather.
    beside : list of Grid
        As ``areas.soon_after`` gives it.

    Returns
    -------
    Shares
        Drivers ``clock, weekday, sun, dark, arming, area`` and the measures of the air.
    """
    rows = grid.rows
    levels = {} if air is None else {m: _levels(air.values[m]) for m in MEASURES}
    windows = {
        "clock": len(CLOCK[0]),
        "weekday": TURNS,
        "sun": len(SUN_LOW[0]) + len(SUN_UP[0]),
        "dark": 1,
    }
    windows |= {measure: len(QUANTILES) for measure in levels}
    of = {name: np.full((rows, many), np.nan) for name, many in windows.items()}
    kept: dict[bytes, Told] = {}
    for chunk in grid.chunks(np.arange(rows), HOURS):
        spell, hourly = grid.by_fortnight(chunk), grid.laid(chunk, steps=HOURS)
        clock = spell.sum(axis=1)
        total = clock.sum(axis=1)
        with np.errstate(divide="ignore", invalid="ignore"):
            of["clock"][chunk] = sums(clock, CLOCK) / total[:, None]
        of["weekday"][chunk] = _turning(hourly, grid)
        bright = np.ones((len(chunk), spell.shape[1], HOURS))
        if air is not None:
            for here, told in _together(air, chunk, grid, levels, kept):
                _airy(of, chunk[here], hourly[here], told)
                bright[here] = _bright(hourly[here], told)
        shining = spell * np.repeat(bright, STEPS // HOURS, axis=2)
        _sunny(of, chunk, (spell, shining), total, sky, grid)
    of["arming"], of["area"] = _begun(grid), spent(grid, beside)
    return Shares({name: np.round(table, 9) for name, table in of.items()}, levels)


def _turning(hourly: Floats, grid: Grid) -> Floats:
    """Give the share of the time in each turn of the calendar: shape (rows, turns)."""
    half = HOURS // 2
    spent = np.zeros((len(hourly), TURNS))
    for part, step in ((hourly[:, :, :half], 0), (hourly[:, :, half:], STEPS // 2)):
        turns = grid.turns(np.arange(grid.days), np.full(grid.days, step))
        spent += part.sum(axis=2) @ turning(turns).astype(float)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(2 * spent / spent.sum(axis=1, keepdims=True))


def turning(turns: Numbers) -> Flags:
    """Say which turns of the calendar each row of two lies in: shape (n, turns)."""
    return np.asarray((turns[..., :, None] == np.arange(TURNS)).any(axis=-2))


def _sunny(
    of: dict[str, Floats],
    chunk: Numbers,
    spells: tuple[Floats, Floats],
    total: Floats,
    sky: Sky,
    grid: Grid,
) -> None:
    """Fill in the shares of darkness and of the sun, the latter of the time that may be sunny."""
    placed = sky.known[grid.site[chunk]]
    if not placed.any():
        return
    rows, some, may = chunk[placed], spells[0][placed], spells[1][placed]
    sites, which = sky.together(grid.site[rows], grid)
    azimuth, height = skies.fortnightly(sky, grid, sites)
    per = total[placed]
    counts = []
    for flags in (skies.low(height), skies.up(height)):
        shone = np.where(flags[which], may, 0.0)
        cell = np.arange(len(rows))[:, None, None] * AZIMUTHS + azimuth[which]
        sun = np.bincount(cell.ravel(), weights=shone.ravel(), minlength=len(rows) * AZIMUTHS)
        counts.append(sun.astype(np.float64).reshape(len(rows), AZIMUTHS))
    both = np.concatenate([sums(counts[0], SUN_LOW), sums(counts[1], SUN_UP)], axis=1)
    night = np.where(skies.dark(height)[which], some, 0.0).sum(axis=(1, 2))
    with np.errstate(divide="ignore", invalid="ignore"):
        of["sun"][rows] = both / per[:, None]
        of["dark"][rows, 0] = night / per


def _levels(table: Floats) -> Floats:
    """Find the value at each quantile of each source."""
    with np.errstate(invalid="ignore"):
        return np.asarray(
            [
                np.quantile(told, [1 - q for q in QUANTILES], method="higher")
                if len(told := row[~np.isnan(row)])
                else np.full(len(QUANTILES), np.nan)
                for row in table
            ]
        )


def some(measure: str, value: Floats) -> Flags:
    """Say which values are any of it: no rain is never high, however dry the place."""
    return value > 0 if measure in {"rain", "wet"} else np.isfinite(value)


@dataclass(frozen=True)
class Told:
    """What the weather says of the hours of a site's days.

    Parameters
    ----------
    known : numpy.ndarray of float, shape (hours, measures)
        1 where it was told.
    tall : numpy.ndarray of float, shape (hours, measures x quantiles)
        1 where it was so high.
    bright : numpy.ndarray of bool, shape (days, 24)
        Where it does not contradict the sun.
    """

    known: Floats
    tall: Floats
    bright: Flags


def _together(
    air: Air, chunk: Numbers, grid: Grid, levels: dict[str, Floats], kept: dict[bytes, Told]
) -> Iterator[tuple[Numbers, Told]]:
    """Give the places of rows under one source of weather and one clock, and what it says."""
    site = grid.site[chunk]
    told = np.flatnonzero(air.of_site[site] >= 0)
    if not len(told):
        return
    key = np.concatenate([air.of_site[site[told], None], grid.offset[site[told]]], axis=1)
    keys, first, which = np.unique(key, axis=0, return_index=True, return_inverse=True)
    for number in range(len(keys)):
        name = keys[number].tobytes()
        if name not in kept:
            kept[name] = _told(air, levels, int(site[told[first[number]]]), grid)
        yield told[which.ravel() == number], kept[name]


def _told(air: Air, levels: dict[str, Floats], site: int, grid: Grid) -> Told:
    """Say which hours of a site's days were told, and in which each measure was how high."""
    known, tall = [], []
    for measure in MEASURES:
        value = air.of_days(measure, site, grid)
        level = levels[measure][air.of_site[site]]
        known.append(~np.isnan(value))
        with np.errstate(invalid="ignore"):
            tall.append((value[:, None] >= level[None, :]) & some(measure, value)[:, None])
    with np.errstate(invalid="ignore"):
        grey = air.of_days(SUNLESS, site, grid) > 0
    return Told(
        np.stack(known, axis=1).astype(float),
        np.concatenate(tall, axis=1).astype(float),
        ~grey.reshape(grid.days, HOURS),
    )


def _airy(of: dict[str, Floats], rows: Numbers, hourly: Floats, told: Told) -> None:
    """Fill in the shares of the air."""
    flat = hourly.reshape(len(rows), -1)
    per = flat @ told.known
    spent = (flat @ told.tall).reshape(len(rows), len(MEASURES), len(QUANTILES))
    with np.errstate(divide="ignore", invalid="ignore"):
        part = spent / per[:, :, None]
    for place, measure in enumerate(MEASURES):
        of[measure][rows] = part[:, place]


def _bright(hourly: Floats, told: Told) -> Floats:
    """Give the share of the time, by fortnight and hour, that the weather left to the sun."""
    heads = np.arange(0, hourly.shape[1], FORTNIGHT)
    whole = np.add.reduceat(hourly, heads, axis=1)
    bright = np.add.reduceat(hourly * told.bright[None], heads, axis=1)
    return np.divide(bright, whole, out=np.ones_like(whole), where=whole > 0)


def _begun(grid: Grid) -> Floats:
    """Work out the share of each row's time soon after it came to be at risk."""
    length = grid.stop - grid.start
    total = np.bincount(grid.row, weights=length, minlength=grid.rows)
    parts = [
        np.bincount(grid.row, np.minimum(length, minutes * STEPS / (24 * 60)), grid.rows)
        for minutes in ARMING_MIN
    ]
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(np.stack(parts, axis=1) / total[:, None])
