"""Days with an alarm and hours at risk of one point, counted by each driver."""

import numpy as np
import numpy.typing as npt
import polars as pl

from eventlab.analysis.drivers.air import Air
from eventlab.analysis.drivers.areas import OTHER_MIN
from eventlab.analysis.drivers.bounds import Hits
from eventlab.analysis.drivers.grid import HOURS, STEP_MIN, STEPS, Grid
from eventlab.analysis.drivers.shares import ARMING_MIN
from eventlab.analysis.drivers.sky import AZIMUTHS, Sky, by_fortnight, fortnightly
from eventlab.schema import Schema, conform
from eventlab.stats import rate_interval

Floats = npt.NDArray[np.float64]
Numbers = npt.NDArray[np.int64]

PER_H = 100
"""Rates are told for so many hours at risk."""
LEAST_H = 1.0
"""Less time at risk than this bears no rate [h]."""

AZIMUTH_DEG, HEIGHT_DEG = 15, 10
"""A cell of the sky."""

_CUTS = {
    "temperature": (0.05, 0.15, 0.3, 0.5, 0.7, 0.85, 0.95),
    "wind": (0.25, 0.5, 0.75, 0.9, 0.95, 0.98, 0.995),
}
"""The place's own quantiles at which bins part: finer at the ends, where an effect would be."""
_RAIN_MM = (0.5, 1.0, 2.0, 4.0)
_SINCE_MIN = (*ARMING_MIN, 240, 480)

_RATES: Schema = {
    "alarms": pl.Int64(),
    "hours": pl.Float64(),
    "rate": pl.Float64(),
    "rate_low": pl.Float64(),
    "rate_high": pl.Float64(),
}
BINS: Schema = {
    "driver": pl.String(),
    "low": pl.Float64(),
    "high": pl.Float64(),
    "told": pl.Boolean(),
    **_RATES,
}
CELLS: Schema = {"azimuth": pl.Float64(), "height": pl.Float64(), **_RATES}


def rates(
    columns: dict[str, npt.ArrayLike], alarms: npt.ArrayLike, spent: npt.ArrayLike
) -> pl.DataFrame:
    """Give counts and hours their rates with exact intervals, per ``PER_H`` hours."""
    hours = np.asarray(spent, dtype=np.float64)
    enough = np.where(hours >= LEAST_H, hours / PER_H, 0.0)
    rate = rate_interval(alarms, enough)
    return pl.DataFrame(
        {
            **columns,
            "alarms": np.asarray(alarms, dtype=np.int64),
            "hours": hours,
            "rate": rate.estimate,
            "rate_low": rate.low,
            "rate_high": rate.high,
        }
    ).with_columns(pl.col(pl.Float64).fill_nan(None))


def _bins(
    driver: str, low: Floats, high: Floats, which: Numbers, spent: npt.ArrayLike
) -> pl.DataFrame:
    """Count hits by their bin; one bin more than edges holds what is not told."""
    hours = np.asarray(spent, dtype=np.float64)
    many = len(low)
    told = np.arange(len(hours)) < many
    pad = np.full(len(hours) - many, np.nan)
    return conform(
        rates(
            {
                "driver": np.full(len(hours), driver),
                "low": np.concatenate([low, pad]),
                "high": np.concatenate([high, pad]),
                "told": told,
            },
            np.bincount(which, minlength=len(hours)),
            hours,
        ),
        BINS,
    )


def by_clock(hits: Hits, time: Floats) -> pl.DataFrame:
    """Count by the hour of the day, from noon to noon."""
    per = STEPS // HOURS
    hour = (np.arange(HOURS) + HOURS // 2) % HOURS
    hours = time.sum(axis=0).reshape(HOURS, per).sum(axis=1)
    return _bins("clock", hour.astype(np.float64), hour + np.float64(1), hits.step // per, hours)


def by_date(hits: Hits, time: Floats, laid: Grid) -> list[pl.DataFrame]:
    """Count by the weekday and by the month of the night."""
    days = pl.Series(np.arange(laid.first, laid.first + laid.days)).cast(pl.Int32).cast(pl.Date)
    by_day = time.sum(axis=1)
    told = []
    for driver, many, number in (
        ("weekday", 7, days.dt.weekday()),
        ("month", 12, days.dt.month()),
    ):
        place = number.to_numpy().astype(np.int64) - 1
        hours = np.bincount(place, by_day, many)
        low = np.arange(1, many + 1, dtype=np.float64)
        told.append(_bins(driver, low, low, place[hits.day], hours))
    return told


def by_air(
    hits: Hits, laid: Grid, weather: Air | None, missing: dict[str, str]
) -> list[pl.DataFrame]:
    """Count by temperature, wind and rain; what is not told of an hour is a bin of its own."""
    measures = {"temperature": "hot", "wind": "wind", "rain": "rain"}
    if weather is None or weather.of_site[0] < 0:
        missing |= dict.fromkeys(measures, "weather")
        return []
    hours = np.clip(laid.laid(np.zeros(1, dtype=np.int64), steps=HOURS)[0].ravel(), 0.0, 1.0)
    told = []
    here = weather.hours_of_days(0, laid)
    for driver, measure in measures.items():
        every = weather.values[measure][weather.of_site[0]]
        every = every[np.isfinite(every)]
        if not len(every):
            missing[driver] = "measure"
            continue
        value = weather.of_hours(measure, here)
        if not hours[np.isfinite(value)].sum() > 0:
            missing[driver] = "uncovered"
            continue
        edges = _edges(driver, every)
        spent = np.bincount(_within(value, edges, driver), hours, len(edges) + 2)
        low = np.concatenate([[np.nan], edges])
        high = np.concatenate([edges, [np.nan]])
        if driver == "rain":
            low[0] = 0.0
        which = _within(hits.air[measure], edges, driver)
        told.append(_bins(driver, low, high, which, spent))
    return told


def _edges(driver: str, every: Floats) -> Floats:
    if driver == "rain":
        return np.array([0.0, *_RAIN_MM])
    return np.unique(np.round(np.quantile(every, _CUTS[driver])) + 0.0)


def _within(value: Floats, edges: Floats, driver: str) -> Numbers:
    """Say in which bin each value lies; the last is for what is not told."""
    # Of rain the first bin is none at all, so that the next begins above nothing.
    side = np.searchsorted(edges, value, side="right")
    if driver == "rain":
        side = np.where(value > 0, side, 0)
    return np.asarray(np.where(np.isfinite(value), side, len(edges) + 1), dtype=np.int64)


def by_arming(hits: Hits, laid: Grid) -> pl.DataFrame:
    """Count by the minutes since the point came to be at risk."""
    low = np.array([0, *_SINCE_MIN], dtype=np.float64)
    high = np.array([*_SINCE_MIN, np.inf])
    length = (laid.stop - laid.start) * STEP_MIN
    spent = [np.clip(length - a, 0, b - a).sum() / 60 for a, b in zip(low, high, strict=True)]
    begun = hits.begun_s
    which = np.searchsorted(low[1:] * 60, begun, side="right")
    which = np.where(begun >= 0, which, len(low))
    unknown = [0.0] if (begun < 0).any() else []
    return _bins("arming", low, np.where(np.isinf(high), np.nan, high), which,
                 np.array([*spent, *unknown]))  # fmt: skip


def by_area(hits: Hits, after: Floats, hours: float) -> pl.DataFrame:
    """Count by the minutes since another area was last opened or closed, of so many hours."""
    low = np.array([0, *OTHER_MIN], dtype=np.float64)
    high = np.array([*OTHER_MIN, np.nan])
    spent = np.diff([0.0, *after, max(hours, after[-1])])
    since = np.where(hits.other_s < 0, np.inf, hits.other_s).min(axis=1)
    which = np.searchsorted(low[1:] * 60, since, side="right")
    return _bins("area", low, high, which, spent)


def by_sun(hits: Hits, time: Floats, laid: Grid, place: Sky) -> pl.DataFrame:
    """Count by where the sun stood, as the shares of the screening have it: by fortnights."""
    azimuth, height = fortnightly(place, laid, np.zeros(1, dtype=np.int64))
    hours = by_fortnight(time[None])[0].ravel()
    columns, rows = 360 // AZIMUTH_DEG, 90 // HEIGHT_DEG
    down = columns * rows

    def cell(step: Numbers, tall: Floats) -> Numbers:
        column = step * columns // AZIMUTHS
        row = np.clip(tall // HEIGHT_DEG, 0, rows - 1).astype(np.int64)
        return np.where(tall > 0, row * columns + column, down)

    spent = np.bincount(cell(azimuth.ravel(), height.ravel()), hours, down + 1)
    alarms = np.bincount(cell(hits.azimuth, hits.height), minlength=down + 1)
    number = np.arange(down + 1)
    up = number < down
    table = rates(
        {
            "azimuth": np.where(up, number % columns * float(AZIMUTH_DEG), np.nan),
            "height": np.where(up, number // columns * float(HEIGHT_DEG), np.nan),
        },
        alarms,
        spent,
    )
    seen = (pl.col("hours") > 0) | (pl.col("alarms") > 0) | pl.col("azimuth").is_null()
    return conform(table.filter(seen), CELLS)
