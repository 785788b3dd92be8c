"""Hourly weather of the valley: seasons, days, spells, storms."""

import math
from dataclasses import dataclass
from datetime import timedelta

import polars as pl

from eventlab.schema import UTC, WEATHER, conform
from eventlab.simulate.clock import END, at, utc
from eventlab.simulate.draw import Draw

STATION = "Tarn Head"
HOUR_S = 3600

_STORMS = (
    # local start, hours, extra mean wind at the peak [m/s]
    ("2025-12-09 12:00:00", 26, 9.5),
    ("2026-01-24 00:00:00", 18, 10.5),
    ("2026-02-20 14:00:00", 16, 9.0),
    ("2026-10-16 20:00:00", 12, 11.5),
)
_SILENT = ("2026-05-12 03:00:00", 9)
"""When the station told nothing, and for how many hours."""


@dataclass(frozen=True)
class Weather:
    """Hourly values at one station.

    Parameters
    ----------
    start : int
        First hour, seconds since 1970 UTC.
    temperature, wind, gust, rain, cloud : tuple of float
        [deg C], [m/s], [m/s], [mm], share of sky; one per hour.
    told : tuple of bool
        Whether the station wrote the hour down.
    """

    start: int
    temperature: tuple[float, ...]
    wind: tuple[float, ...]
    gust: tuple[float, ...]
    rain: tuple[float, ...]
    cloud: tuple[float, ...]
    told: tuple[bool, ...]

    def hour(self, moment: int) -> int:
        """Return which hour a moment is in."""
        return min(max((moment - self.start) // HOUR_S, 0), len(self.gust) - 1)


def measured(weather: Weather, since: int, *, sky: bool = False) -> pl.DataFrame:
    """Return what the station wrote down from a moment on [s since 1970], WEATHER columns.

    Parameters
    ----------
    weather : Weather
        Complete hours.
    since : int
        From when on.
    sky : bool
        Whether somebody there looks at the clouds.
    """
    hours = pl.int_range(0, len(weather.gust), eager=True) * HOUR_S + weather.start
    told = pl.DataFrame(
        {
            "s": hours,
            "temperature_c": weather.temperature,
            "wind_m_s": weather.wind,
            "gust_m_s": weather.gust,
            "rain_mm": weather.rain,
            "cloud_oktas": [round(8 * share) if sky else None for share in weather.cloud],
        },
        schema_overrides={"cloud_oktas": pl.Float64},
    ).filter(pl.Series(weather.told) & (pl.col("s") >= since))
    at = pl.from_epoch("s", time_unit="s").cast(pl.Datetime("us")).dt.replace_time_zone("UTC")
    return conform(told.with_columns(at=at.cast(UTC), station=pl.lit(STATION)), WEATHER)


def _season(day_of_year: float, peak: float) -> float:
    """Return a yearly wave from -1 to 1, rounded so that every machine has the same."""
    return round(math.cos(2 * math.pi * (day_of_year - peak) / 365.25), 6)


def _rises(hour: float, peak: float) -> float:
    return round(math.cos(2 * math.pi * (hour - peak) / 24), 6)


def make_weather(seed: int, days: int) -> Weather:
    """Make the weather up to the day on which the logs are taken.

    Parameters
    ----------
    seed : int
        Of the simulation.
    days : int
        How far back it is needed; a year is always made, so that a shorter run has the
        weather of the same days.

    Returns
    -------
    Weather
        Complete hours.
    """
    span = max(days, 366) + 2
    first = END - timedelta(days=span)
    start = utc(first, 0) // HOUR_S * HOUR_S
    hours = (span + 1) * 24
    daily = _daily(Draw(seed, "weather", "days"), span + 2, first.timetuple().tm_yday)
    extra = _storms(Draw(seed, "weather", "storms"), hours, start, first.timetuple().tm_yday)
    draw = Draw(seed, "weather", "hours")
    temperature, wind, gust, rain, cloud = [], [], [], [], []
    breeze = flutter = 0.0
    for hour in range(hours):
        day, part = divmod(hour, 24)
        grey, warmth, level = (
            before + (after - before) * part / 24
            for before, after in zip(daily[day], daily[day + 1], strict=True)
        )
        doy = first.timetuple().tm_yday + hour / 24
        breeze = 0.7 * breeze + draw.bell(0, 0.7, -3, 3)
        flutter = 0.6 * flutter + draw.bell(0, 0.3, -1.5, 1.5)
        summer = _season(doy, 203)
        swing = (1.0 + 4.2 * (1 - grey)) * (0.8 + 0.25 * summer)
        warm = 8.8 + 6.3 * summer + warmth + swing * _rises(part, 15) + flutter
        blow = 4.2 - 0.9 * summer + level + breeze + 0.8 * _rises(part, 14) + extra[hour]
        blow = max(0.2, blow)
        peak = blow * 1.45 + abs(draw.bell(0, 0.8, -3, 3))
        wet = draw.chance((grey - 0.5) * 0.75 + 0.05 * extra[hour] if grey > 0.58 else 0.004)
        amount = draw.wait(0.7 + 0.12 * extra[hour])
        temperature.append(round(warm, 1))
        wind.append(round(blow, 1))
        gust.append(round(peak, 1))
        rain.append(round(amount, 1) if wet else 0.0)
        cloud.append(round(grey, 2))
    silent = (at(_SILENT[0]) - start) // HOUR_S
    told = tuple(not silent <= hour < silent + _SILENT[1] for hour in range(hours))
    return Weather(
        start, tuple(temperature), tuple(wind), tuple(gust), tuple(rain), tuple(cloud), told
    )


def _daily(draw: Draw, days: int, first_doy: int) -> list[tuple[float, float, float]]:
    """Return cloud, warmth and wind level of each day; spells last several days."""
    grey, warmth, level = 0.5, 0.0, 0.0
    made = []
    for day in range(days):
        summer = _season(first_doy + day, 203)
        middle = 0.56 - 0.08 * summer
        grey = min(max(middle + 0.55 * (grey - middle) + draw.bell(0, 0.24, -0.6, 0.6), 0.0), 1.0)
        warmth = 0.75 * warmth + draw.bell(0, 1.8, -5, 5)
        level = 0.55 * level + draw.bell(0, 1.2, -3, 3)
        made.append((grey, warmth, level))
    return made


def _storms(draw: Draw, hours: int, start: int, first_doy: int) -> list[float]:
    """Return how much every hour is windier by storms: rising, then falling."""
    spells = [((at(when) - start) // HOUR_S, length, peak) for when, length, peak in _STORMS]
    for day in range(hours // 24):
        often = 0.05 - 0.03 * _season(first_doy + day, 203)
        comes, when = draw.chance(often), draw.whole(0, 23)
        length, peak = draw.whole(8, 26), draw.between(4.5, 9.0)
        if comes:
            spells.append((day * 24 + when, length, peak))
    extra = [0.0] * hours
    for begin, length, peak in spells:
        for step in range(length):
            if 0 <= begin + step < hours:
                share = 1 - abs(2 * (step + 0.5) / length - 1)
                extra[begin + step] = max(extra[begin + step], peak * min(1.0, 1.6 * share))
    return extra
