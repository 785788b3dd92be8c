"""Cells of context files to values; every cell that is not used is told."""

from datetime import UTC, date, datetime

import polars as pl
import pytest

from eventlab.context import parse
from eventlab.context.context import Context
from eventlab.errors import WrongContext
from eventlab.schema import OUTCOME, SITE, VISIT, WEATHER, ZONE, Role, conform, empty
from tests.context.table import table

SITES = conform(
    pl.DataFrame({"site": ["S1", "S2"], "time_zone": ["Europe/London", "Australia/Sydney"]}), SITE
)


def read(role, text, sites=SITES):
    return parse(role, table(text), sites=sites)


def test_a_site_list():
    got = read(
        Role.SITES,
        """
        Site,Name,Time zone,Latitude,Longitude,Entry delay (s),Exit_Delay_s,Trade,Grade,Next service
        S1,North Branch,Europe/London,"54,5",-3.10,30,45,library,2,2026-03-01
        S2, South Branch ,Mars/Base,95,,thirty,,-,,soon
        ,Nobody,Europe/London,1,1,,,,,
        """,
    )
    assert dict(got.frame.schema) == dict(SITE)
    first, second = got.frame.rows(named=True)
    assert first["latitude"] == 54.5
    assert first["exit_delay_s"] == 45.0
    assert first["next_service"] == date(2026, 3, 1)
    assert second["name"] == "South Branch"
    assert second["time_zone"] is None
    assert second["trade"] is None
    told = dict(got.problems.select("row", "problem").rows())
    assert set(told) == {3, 4}
    for word in ("time_zone", "latitude", "entry_delay_s", "next_service"):
        assert word in told[3]
    assert "nothing under 'Site'" in told[4]
    assert got.problems["raw"][0].startswith("S2, South Branch")


def test_a_zone_schedule():
    got = read(
        Role.ZONES,
        """
        site,zone,name,detector,use,area,area_rule,armed_in,facing_deg,entry_route,trip_limit,Colour
        S1,001,Front door,Contact,Entry/Exit,1;2,all,full part,,yes,3,red
        S1,Z02,Reading room,PIR,interior,1/2,any,full,WNW,n,,blue
        S1,7,Roof hatch,contact,24 hour,A+B,,,400,,2.5,
        S1,9,Main hall,pir,what?,Main hall,,sometimes,90,maybe,,
        """,
    )
    assert dict(got.frame.schema) == dict(ZONE)
    assert got.frame["zone"].to_list() == ["1", "2", "7", "9"]
    assert got.frame["use"].to_list() == ["entry", "interior", "24-hour", None]
    assert got.frame["area"].to_list()[:3] == [["1", "2"], ["1", "2"], ["A", "B"]]
    assert len(got.frame["area"][3]) == 1
    assert got.frame["armed_in"].to_list() == [["full", "part"], ["full"], None, None]
    assert got.frame["facing_deg"].to_list() == [None, 292.5, None, 90.0]
    assert got.frame["entry_route"].to_list() == [True, False, None, None]
    assert got.frame["trip_limit"].to_list() == [3, None, None, None]
    told = dict(got.problems.select("row", "problem").rows())
    assert "facing_deg: '400'" in told[4]
    assert "trip_limit: '2.5'" in told[4]
    assert "use: 'what?'" in told[5]
    assert "armed_in: 'sometimes'" in told[5]
    assert got.notes == ("headings not used: Colour",)


def test_weather_in_utc_missing_is_missing_never_zero():
    got = read(
        Role.WEATHER,
        """
        station,time_utc,temperature_c,wind_m_s,gust_m_s,rain_mm
        Head,2025-07-01T12:00Z,"21,5",3,NA,0.2
        Head,2025-07-01 13:00,,4.1,,
        Head,yesterday,20,1,1,0
        """,
    )
    assert dict(got.frame.schema) == dict(WEATHER)
    assert got.frame["at"].to_list() == [
        datetime(2025, 7, 1, 12, tzinfo=UTC),
        datetime(2025, 7, 1, 13, tzinfo=UTC),
    ]
    assert got.frame["gust_m_s"].to_list() == [None, None]
    assert got.frame["rain_mm"].to_list() == [0.2, None]
    assert got.problems["row"].to_list() == [4]
    assert "not a date and time" in got.problems["problem"][0]


def test_weather_in_other_units():
    """1 mph = 0.44704 m/s and 1 in = 25.4 mm by definition; 39.02 F = 3.9 C."""
    got = read(
        Role.WEATHER,
        """
        site,time_utc,Temp (F),Wind (mph),Gust (km/h),Rain (in)
        S1,2025-01-01T00:00Z,39.02,10,36,0.1
        """,
    )
    row = got.frame.row(0, named=True)
    assert row["temperature_c"] == pytest.approx(3.9)
    assert row["wind_m_s"] == pytest.approx(4.4704)
    assert row["gust_m_s"] == pytest.approx(10.0)
    assert row["rain_mm"] == pytest.approx(2.54)


def test_local_times_take_the_zone_of_the_site():
    """London is one hour before UTC in July, Sydney ten (IANA tz database)."""
    got = read(
        Role.VISITS,
        """
        site,at,zones,work,technician
        S1,2025-07-01 09:30,3 4,new contact,T. Quill
        S2,2025-07-01 09:30,,battery,
        S1,2025-07-01T09:30+03:00,,clean,
        S3,2025-07-01 09:30,,unknown place,
        """,
    )
    assert dict(got.frame.schema) == dict(VISIT)
    assert got.frame["at"].to_list() == [
        datetime(2025, 7, 1, 8, 30, tzinfo=UTC),
        datetime(2025, 6, 30, 23, 30, tzinfo=UTC),
        datetime(2025, 7, 1, 6, 30, tzinfo=UTC),
    ]
    assert got.frame["zones"].to_list()[0] == ["3", "4"]
    assert "time zone" in got.problems["problem"][0]


def test_a_time_that_never_was_is_told():
    """Europe/London skips 01:00 to 02:00 on 30 March 2025 (IANA tz database)."""
    got = read(
        Role.VISITS,
        """
        site,at,work
        S1,2025-03-30 00:30,a
        S1,2025-03-30 01:30,b
        """,
    )
    assert got.frame.height == 1
    assert "does not exist" in got.problems["problem"][0]


def test_date_and_time_in_two_columns():
    got = read(Role.VISITS, "Site,Visit date,Time,Work\nS1,2025-01-05,14:00,clean")
    assert got.frame["at"].to_list() == [datetime(2025, 1, 5, 14, tzinfo=UTC)]
    assert got.notes == ()


def test_outcomes():
    got = read(
        Role.OUTCOMES,
        """
        site,at,outcome,passed_on,attended,found,note
        S1,2025-07-01T12:00Z,sun on detector,No,Y,"blind open, warm",
        """,
    )
    assert dict(got.frame.schema) == dict(OUTCOME)
    row = got.frame.row(0, named=True)
    assert (row["passed_on"], row["attended"]) == (False, True)


def test_the_later_of_two_rows_about_one_thing_counts_and_the_other_is_told():
    got = read(Role.SITES, "site,name\nS1,Old\nS2,Other\nS1,New")
    assert sorted(got.frame["name"].to_list()) == ["New", "Other"]
    assert got.problems.row(0)[:2] == (2, "S1,Old")


def test_a_missing_column_says_which():
    with pytest.raises(WrongContext, match="column site") as caught:
        read(Role.ZONES, "zone,name\n1,Door")
    assert "zone, name" in str(caught.value)


def test_a_list_of_which_nothing_can_be_used_is_refused():
    with pytest.raises(WrongContext, match="no row"):
        read(Role.VISITS, "site,at,work\nS1,tomorrow,clean")


def test_a_context_keeps_what_concerns_some_sites():
    weather = read(
        Role.WEATHER,
        "site,station,time_utc,rain_mm\n,Head,2025-01-01T00:00Z,1\nS2,,2025-01-01T00:00Z,2",
    ).frame
    nothing = Context.empty()
    known = Context(SITES, empty(ZONE), weather, nothing.visits, nothing.outcomes)
    only = known.only(["S1"])
    assert only.sites["site"].to_list() == ["S1"]
    assert only.weather["station"].to_list() == ["Head"]
    assert all(
        getattr(nothing, name).is_empty()
        for name in ("sites", "zones", "weather", "visits", "outcomes")
    )


def test_dates_in_another_form_are_read_where_the_column_decides():
    got = read(
        Role.VISITS,
        "site,at,work\nS1,30/04/2025 09:30,clean\nS1,02/05/2025 10:00,battery",
    )
    assert got.frame["at"].to_list() == [
        datetime(2025, 4, 30, 8, 30, tzinfo=UTC),
        datetime(2025, 5, 2, 9, 0, tzinfo=UTC),
    ]


def test_dates_that_can_be_read_in_two_ways_are_refused_with_the_way_out():
    with pytest.raises(WrongContext, match="day first or month first") as caught:
        read(Role.VISITS, "site,at,work\nS1,03/04/2025 09:30,clean\nS1,02/05/2025 10:00,battery")
    assert "2025-12-31" in str(caught.value)
