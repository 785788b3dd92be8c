"""The sun against the worked example of its algorithm, pvlib, and published rise and set times."""

import csv
from datetime import UTC, date, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import polars as pl
import pytest
from pvlib import solarposition

from eventlab.context.sun import position, rise_set, with_position

# Rise and set, sun's upper limb at sea level: root search with pvlib's algorithm, which a
# second independent library (ephem) confirms within 8 s.
TIMES = list(
    csv.DictReader((Path(__file__).parent / "sun_times.csv").read_text("utf-8").splitlines())
)


def test_the_worked_example():
    """Reda and Andreas, NREL/TP-560-34302 (2008), table A5.1: true zenith, azimuth."""
    when = np.array(["2003-10-17T19:30:30"], dtype="datetime64[us]")
    azimuth, elevation = position(when, 39.742476, -105.1786)
    assert azimuth[0] == pytest.approx(194.34024, abs=0.01)
    assert 90 - elevation[0] == pytest.approx(50.127954, abs=0.01)


def test_rise_and_set_of_the_worked_example():
    """The same report: sunrise 06:12:43, transit 11:46:05, sunset 17:20:19 at UTC-7."""
    site = pl.DataFrame({"site": ["x"], "latitude": [39.742476], "longitude": [-105.1786]})
    before, day = rise_set(site, pl.Series([date(2003, 10, 16), date(2003, 10, 17)])).rows(
        named=True
    )
    # The report gives the sunset within the UTC day, which is the evening before at UTC-7.
    found = (day["sunrise"], day["noon"], before["sunset"])
    for got, clock in zip(found, ("13:12:43", "18:46:05", "00:20:19"), strict=True):
        expected = datetime.fromisoformat(f"2003-10-17T{clock}+00:00")
        assert abs((got - expected).total_seconds()) < 5


@pytest.mark.parametrize("latitude", [-80.0, -45.0, -12.5, 0.0, 23.0, 54.5, 69.6])
def test_anywhere_from_2000_to_2030_as_the_full_algorithm(latitude):
    draw = np.random.default_rng(3)
    seconds = draw.integers(0, 31 * 365 * 86400, 200)
    when = np.datetime64("2000-01-01T00:00:00", "us") + seconds * np.timedelta64(1_000_000, "us")
    for longitude in (-179.9, -78.5, -3.1, 0.0, 151.2, 179.9):
        azimuth, elevation = position(when, latitude, longitude)
        full = solarposition.get_solarposition(
            pd.DatetimeIndex(when, tz="UTC"), latitude, longitude
        )
        assert np.abs(elevation - full["elevation"].to_numpy()).max() < 0.05
        turn = (azimuth - full["azimuth"].to_numpy() + 180) % 360 - 180
        # Near the zenith a degree of azimuth is no distance: compare along the sky.
        assert np.abs(turn * np.cos(np.radians(elevation))).max() < 0.05


@pytest.mark.parametrize("row", TIMES, ids=lambda r: f"{r['place']} {r['date']}")
def test_published_rise_and_set(row):
    day = date.fromisoformat(row["date"])
    site = pl.DataFrame(
        {"site": ["x"], "latitude": [float(row["lat"])], "longitude": [float(row["lon"])]}
    )
    got = rise_set(site, pl.Series([day])).row(0, named=True)
    zone = ZoneInfo(row["tz"])
    for name in ("sunrise", "sunset"):
        text = row[f"{name}_local_rootfind"]
        if not text:
            assert got[name] is None
            continue
        local = got[name].astimezone(zone)
        expected = datetime.fromisoformat(f"{row['date']}T{text}").replace(tzinfo=zone)
        apart = abs((local - expected).total_seconds())
        # Reykjavik in June sets after midnight: the table tells the clock, not the day.
        assert min(apart, abs(apart - 86400)) <= 120


def test_never_sets_and_never_rises_are_told_apart_by_noon():
    site = pl.DataFrame({"site": ["t"], "latitude": [69.6492], "longitude": [18.9553]})
    got = rise_set(site, pl.Series([date(2025, 6, 21), date(2025, 12, 21)]))
    assert got["sunrise"].to_list() == [None, None]
    assert got["noon_elevation"][0] > 0 > -0.8333 > got["noon_elevation"][1]


def test_a_place_whose_clock_counts_another_day_than_its_longitude():
    """Kiritimati keeps UTC+14 at 157 degrees west (IANA tz database)."""
    site = pl.DataFrame(
        {
            "site": ["k"],
            "latitude": [1.87],
            "longitude": [-157.4],
            "time_zone": ["Pacific/Kiritimati"],
        }
    )
    got = rise_set(site, pl.Series([date(2025, 3, 20)])).row(0, named=True)
    for name in ("sunrise", "noon", "sunset"):
        assert got[name].astimezone(ZoneInfo("Pacific/Kiritimati")).date() == date(2025, 3, 20)


def test_an_unknown_place_or_time_has_no_sun():
    frame = pl.DataFrame(
        {
            "at": [datetime(2025, 6, 1, 12, tzinfo=UTC), None],
            "latitude": [None, 54.5],
            "longitude": [None, -3.1],
        },
        schema={"at": pl.Datetime("us", "UTC"), "latitude": pl.Float64, "longitude": pl.Float64},
    )
    got = with_position(frame)
    assert got["azimuth"].null_count() == got["elevation"].null_count() == 2
    assert with_position(frame.clear()).height == 0
    site = frame.select(site=pl.lit("x"), latitude="latitude", longitude="longitude").head(1)
    assert rise_set(site, pl.Series([date(2025, 6, 1)]))["sunset"].to_list() == [None]
