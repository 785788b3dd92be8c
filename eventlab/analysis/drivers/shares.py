"""Which share of its time at risk each point spent in each condition, over the whole log."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from eventlab.analysis.drivers import sky as skies
from eventlab.analysis.drivers.air import MEASURES, SUNLESS, Air
from eventlab.analysis.drivers.areas import spent
from eventlab.analysis.drivers.grid import FORTNIGHT, HOURS, STEPS, TURNS, Grid
from eventlab.analysis.drivers.sky import AZIMUTHS, Sky, by_fortnight

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
    rows = np.arange(grid.rows)
    levels = {} if air is None else {m: _levels(air.values[m]) for m in MEASURES}
    of = {measure: np.full((grid.rows, len(QUANTILES)), np.nan) for measure in levels}
    bright = np.ones((grid.rows, grid.days // FORTNIGHT, HOURS))
    if air is not None:
        _airy(of, bright, air, levels, grid)
    of["weekday"] = np.concatenate([_turning(chunk, grid) for chunk in grid.chunks(rows, HOURS)])
    clock = np.empty((grid.rows, STEPS))
    sunny = np.full((grid.rows, _DARK + 1), np.nan)
    views = _views(sky, grid)
    for chunk in grid.chunks(rows, STEPS):
        spell = grid.by_fortnight(chunk)
        clock[chunk] = spell.sum(axis=1)
        if views is not None:
            sunny[chunk] = _sunny(spell, bright[chunk], views[0][views[1][grid.site[chunk]]])
    with np.errstate(divide="ignore", invalid="ignore"):
        total = clock.sum(axis=1, keepdims=True)
        of["clock"] = sums(clock, CLOCK) / total
        sunny /= total
    sunny[~sky.known[grid.site]] = np.nan
    low, high = sunny[:, :AZIMUTHS], sunny[:, AZIMUTHS : 2 * AZIMUTHS]
    of["sun"] = np.concatenate([sums(low, SUN_LOW), sums(low + high, SUN_UP)], axis=1)
    of["dark"] = sunny[:, _DARK:]
    of["arming"], of["area"] = _begun(grid), spent(grid, beside)
    return Shares({name: np.round(table, 9) for name, table in of.items()}, levels)


def _turning(rows: Numbers, grid: Grid) -> Floats:
    """Give the share of the time in each turn of the calendar: shape (rows, turns)."""
    halves = grid.laid(rows, steps=2)
    spent = np.zeros((len(rows), TURNS))
    for half, step in enumerate((0, STEPS // 2)):
        turns = grid.turns(np.arange(grid.days), np.full(grid.days, step))
        spent += halves[:, :, half] @ turning(turns).astype(float)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(2 * spent / spent.sum(axis=1, keepdims=True))


def turning(turns: Numbers) -> Flags:
    """Say which turns of the calendar each row of two lies in: shape (n, turns)."""
    return np.asarray((turns[..., :, None] == np.arange(TURNS)).any(axis=-2))


_DUSK, _DARK = 2 * AZIMUTHS, 2 * AZIMUTHS + 1
"""Where the sun stands: a step of the horizon, low; one, higher; neither up nor dark; dark."""


def _views(sky: Sky, grid: Grid) -> tuple[npt.NDArray[np.int16], Numbers] | None:
    """Say where the sun stands at each step of each fortnight, and at which sites alike."""
    placed = np.flatnonzero(sky.known)
    if not len(placed):
        return None
    sites, which = sky.together(placed, grid)
    parts = []
    for some in grid.chunks(sites, STEPS // FORTNIGHT):
        azimuth, height = skies.fortnightly(sky, grid, some)
        view = np.where(skies.low(height), azimuth, AZIMUTHS + azimuth).astype(np.int16)
        view[~skies.up(height)] = _DUSK
        view[skies.dark(height)] = _DARK
        parts.append(view)
    of_site = np.zeros(len(sky.known), dtype=np.int64)
    of_site[placed] = which
    return np.concatenate(parts), of_site


def _sunny(spell: Floats, bright: Floats, view: npt.NDArray[np.int16]) -> Floats:
    """Add up the time under each place of the sun, where it is up what the weather leaves."""
    may = np.where(view < _DUSK, np.repeat(bright, STEPS // HOURS, axis=2), 1.0)
    many = _DARK + 1
    cell = view + np.arange(len(view))[:, None, None] * many
    told = np.bincount(cell.ravel(), (spell * may).ravel(), len(view) * many)
    return told.astype(np.float64).reshape(len(view), many)


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


def _airy(
    of: dict[str, Floats], bright: Floats, air: Air, levels: dict[str, Floats], grid: Grid
) -> None:
    """Fill in the shares of the air, and how much of each hour of a fortnight was left to the sun.

    Hour by hour of the log; sites under one source of weather and one clock have the same hours.
    """
    alike: dict[tuple[int, bytes], list[int]] = {}
    for site in np.flatnonzero(air.of_site >= 0):
        name = (int(air.of_site[site]), grid.offset[site].tobytes())
        alike.setdefault(name, []).append(int(site))
    for (source, _), sites in alike.items():
        hours = air.hours_of_days(sites[0], grid)
        above = [
            _above(measure, air.of_hours(measure, hours), levels[measure][source])
            for measure in MEASURES
        ]
        lit = ~(air.of_hours(SUNLESS, hours) > 0).reshape(grid.days, HOURS)
        for rows in grid.chunks(np.flatnonzero(np.isin(grid.site, sites)), HOURS):
            hourly = grid.laid(rows, steps=HOURS)
            for measure, passed in zip(MEASURES, above, strict=True):
                of[measure][rows] = _over(hourly, passed)
            bright[rows] = _bright(hourly, lit)


_UNTOLD = len(QUANTILES) + 1


def _above(measure: str, value: Floats, levels: Floats) -> Numbers:
    """Say over how many of the levels, which rise, each value is."""
    above = np.searchsorted(levels, value, side="right")
    above[~some(measure, value)] = 0
    above[np.isnan(value)] = _UNTOLD
    return above


def _over(hourly: Floats, above: Numbers) -> Floats:
    """Give the share of the time that was told over each level: shape (rows, levels)."""
    many = _UNTOLD + 1
    cell = np.arange(len(hourly))[:, None] * many + above
    spent = np.bincount(cell.ravel(), hourly.ravel(), len(hourly) * many).reshape(-1, many)
    over = spent[:, _UNTOLD - 1 :: -1].cumsum(axis=1)[:, ::-1]
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(over[:, 1:] / over[:, :1])


def _bright(hourly: Floats, lit: Flags) -> Floats:
    """Give the share of the time, by fortnight and hour, that the weather left to the sun."""
    whole, bright = by_fortnight(hourly), by_fortnight(hourly * lit)
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
