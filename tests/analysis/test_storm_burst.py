"""Several points within seconds: a storm only with the weather, and never with a door left open."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from random import Random

import polars as pl
import pytest

from eventlab.analysis import run, storm_burst
from eventlab.schema import OUTAGE, WEATHER, Kind, Pattern, conform
from eventlab.settings import Settings
from tests.analysis.standing import context, found, ground, nights

QUIET = nights(40)
KNOWN = context("1 perimeter window", "2 interior room PIR", "3 interior hall PIR", "4 interior")
NIGHTS = (8, 15, 22)


def weather(stormy=NIGHTS, *, gust=24.0, rain=0.0, hours=40 * 24):
    """Hours of calm, with gusts or rain at two in the night of some days."""
    start = datetime(2025, 1, 1, tzinfo=UTC)
    calm, rows = Random(3), []
    for hour in range(hours):
        at = start + timedelta(hours=hour)
        strong = at.month == 1 and at.day in stormy and at.hour == 2
        rows.append(
            {"at": at, "station": "S", "gust_m_s": gust if strong else 5.0 + 5.0 * calm.random(),
             "rain_mm": rain if strong else 0.0}
        )  # fmt: skip
    return replace(KNOWN, weather=conform(pl.DataFrame(rows), WEATHER))


def burst(days=NIGHTS, *, zones=(1, 2, 3), closes=4):
    lines = []
    for day in days:
        for n, zone in enumerate(zones):
            at = datetime(2025, 1, day, 2, 10, n, tzinfo=UTC)
            lines.append(f"{at:%Y-%m-%d %H:%M:%S} intrusion-alarm zone={zone}")
            if closes:
                shut = at + timedelta(seconds=closes)
                lines.append(f"{shut:%Y-%m-%d %H:%M:%S} intrusion-alarm end zone={zone}")
    return "\n".join(lines)


def test_bursts_in_strong_gusts_are_the_storms():
    row = found(storm_burst, QUIET, burst(), known=weather())[0]
    assert (row["subject_kind"], row["events"]) == ("site", 9)
    assert row["figures"]["nights"] == 3
    assert row["figures"]["gust"] == 24
    assert row["p_value"] < 1e-3


def test_rain_does_as_well_as_wind():
    row = found(storm_burst, QUIET, burst(), known=weather(gust=9.0, rain=6.0))[0]
    assert row["figures"]["rain"] == 6


@pytest.mark.parametrize("known", [KNOWN, weather(()), weather(hours=600)])
def test_without_such_weather_it_is_none(known):
    # a mains dip at one site is no storm
    dip = "\n".join(f"2025-01-{day:02} 02:09:58 mains-loss" for day in NIGHTS)
    assert found(storm_burst, QUIET, burst(), dip, known=known) == []


def test_an_opening_that_was_not_seen_to_close_is_no_storm():
    assert found(storm_burst, QUIET, burst(closes=1800), known=weather()) == []
    assert found(storm_burst, QUIET, burst(closes=0), known=weather()) == []
    # one more opening, half an hour later, that stays open
    later = "\n".join(f"2025-01-{day:02} 02:40:00 intrusion-alarm zone=1" for day in NIGHTS)
    assert found(storm_burst, QUIET, burst(zones=(2, 3, 4)), later, known=weather()) == []
    assert found(storm_burst, QUIET, burst(zones=(2, 3, 4)), known=weather()) != []


def test_one_night_and_two_points_are_records():
    assert found(storm_burst, QUIET, burst((8,)), known=weather()) == []
    assert found(storm_burst, QUIET, burst(zones=(1, 2)), known=weather()) == []


def test_many_bursts_of_which_some_meet_wind_follow_no_storm():
    every = tuple(range(8, 28))
    assert found(storm_burst, QUIET, burst(every), known=weather((8, 9))) == []


@pytest.mark.parametrize(
    ("kind", "said"),
    [
        (Kind.MAINS_LOSS, "mains lost at other sites near by"),
        (Kind.INTRUSION_ALARM, "points in alarm together at other sites near by"),
    ],
)
def test_what_other_sites_near_by_had_then_tells_a_storm(kind, said):
    here = replace(
        KNOWN, sites=KNOWN.sites.with_columns(latitude=pl.lit(54.5), longitude=pl.lit(-3.1))
    )
    lost = [
        {"site": site, "at": datetime(2025, 1, day, 2, 20, tzinfo=UTC), "kind": kind,
         "latitude": 54.52, "longitude": -3.1}
        for day in NIGHTS
        for site in ("A", "B")
    ]  # fmt: skip
    known = replace(here, outages=conform(pl.DataFrame(lost), OUTAGE))
    row = found(storm_burst, QUIET, burst(), known=known)[0]
    assert row["figures"]["shared"] == 3
    assert said in row["evidence"][0]["figure"]
    one = known.outages.filter(pl.col("site") == "A")
    assert found(storm_burst, QUIET, burst(), known=replace(known, outages=one)) == []


def test_a_storm_takes_no_possible_intrusion_away():
    known = weather()
    got = run(ground(QUIET, burst(), known=known), known, Settings())
    without = run(ground(QUIET, burst(), known=KNOWN), KNOWN, Settings())
    assert Pattern.STORM_BURST in got["pattern"].to_list()
    held = [
        frame.filter(pl.col("pattern") == Pattern.POSSIBLE_INTRUSION) for frame in (got, without)
    ]
    assert held[0].height == 3
    assert held[0].equals(held[1])
