"""Alarms simulated on top of a real year of weather; half of what is looked at follows nothing.

Hourly weather of an airport in 2013, tidyverse/nycflights13 ``data-raw/weather.csv`` (CC0), read
where it lies, outside the project.
"""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import polars as pl
import pytest
from scipy.stats import binom

from eventlab.simulate.clock import END, utc
from eventlab.simulate.weather import Weather
from tests.proving.driving import FLOORS, Run, gathered, healthy, power

FILE = Path(__file__).parents[3] / "shared/data/weather_2013/weather.csv"
NEVER = 1e-3
"""What a true share would show less often than this is taken to contradict it."""
MPH = 0.44704
"""Metres per second."""
SITES = 12


@pytest.fixture(scope="module")
def recorded():
    """The year at JFK, laid under the year that the logs are of: same month, day and hour (UTC)."""
    if not FILE.exists():
        pytest.skip("open data not present")
    rows = (
        pl.read_csv(FILE, null_values="NA", infer_schema_length=None)
        .filter(pl.col("origin") == "JFK")
        .select(
            at=pl.col("time_hour").str.to_datetime("%Y-%m-%dT%H:%M:%SZ"),
            temperature=(pl.col("temp") - 32) / 1.8,
            wind=pl.col("wind_speed") * MPH,
            rain=pl.col("precip") * 25.4,
        )
        .unique("at")
    )
    told = {row[0]: row[1:] for row in rows.iter_rows()}
    last = datetime.fromtimestamp(utc(END, 0), UTC).replace(tzinfo=None, minute=0, second=0)
    start = last - timedelta(days=372)
    hours = [start + timedelta(hours=n) for n in range(373 * 24)]
    values = [told.get(hour.replace(year=2013)) for hour in hours]
    known = [value is not None and None not in value for value in values]
    filled = np.array([v if ok else (0.0, 0.0, 0.0) for v, ok in zip(values, known, strict=True)])
    temperature, wind, rain = (tuple(filled[:, n]) for n in range(3))
    first = int(start.replace(tzinfo=UTC).timestamp())
    return Weather(first, temperature, wind, wind, rain, (0.5,) * len(hours), tuple(known))


@pytest.mark.parametrize("driver", ["temperature", "wind", "rain"])
def test_what_follows_real_weather_is_named(recorded, driver):
    run = Run(3, SITES, driver=driver, alarms=12, weather=recorded)
    told = power(gathered([run])[0], run)
    right = round(told["named right"] * SITES)
    assert binom.cdf(right, SITES, FLOORS[driver][2]) > NEVER, told
    assert round((told["detected"] - told["open"] - told["named right"]) * SITES) <= 1, told


@pytest.mark.parametrize("background", ["poisson", "bad-spells"])
def test_what_follows_nothing_does_not_follow_real_weather(recorded, background):
    run = Run(4, 2 * SITES, background=background, weather=recorded)
    told = healthy(gathered([run])[0], run)
    assert binom.sf(told["with a finding"] - 1, told["sites"], 0.03) > NEVER, told
