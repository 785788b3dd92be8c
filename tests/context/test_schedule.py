"""A schedule of opening hours, and the public holidays of a region."""

from datetime import date

import polars as pl
import pytest

from eventlab.context import open_hours, parse, public_holidays, recognise
from eventlab.context.opening import time_of_day, weekdays
from eventlab.errors import WrongContext
from eventlab.schema import SCHEDULE, SITE, Role, conform, empty
from tests.context.table import table

SITES = empty(SITE)


def read(text, role=Role.SCHEDULE):
    return parse(role, table(text), sites=SITES)


@pytest.mark.parametrize(
    "headings",
    [
        "site,area,weekday,opens,closes,from,until,holidays",
        "Site No.,Day,Opening time,Closing time",
    ],
)
def test_a_schedule_is_known_by_its_headings(headings):
    assert recognise(headings.split(",")) is Role.SCHEDULE


@pytest.mark.parametrize(
    ("text", "days"),
    [
        ("Monday", ["mon"]),
        ("Mon-Fri", ["mon", "tue", "wed", "thu", "fri"]),
        ("Sat–Mon", ["sat", "sun", "mon"]),
        ("tue, thu and sat", ["tue", "thu", "sat"]),
        ("1-5", ["mon", "tue", "wed", "thu", "fri"]),  # ISO 8601: 1 is Monday
        ("Mo-Fr", ["mon", "tue", "wed", "thu", "fri"]),
        ("daily", ["mon", "tue", "wed", "thu", "fri", "sat", "sun"]),
        ("weekend", ["sat", "sun"]),
        ("Bank holidays", ["holiday"]),
        ("someday", None),
        ("Mon-someday", None),
    ],
)
def test_weekdays(text, days):
    assert pl.DataFrame({"c": [text]}).select(weekdays(pl.col("c")))["c"].to_list() == [days]


@pytest.mark.parametrize(
    ("text", "hour"),
    [("8:30", 8.5), ("08.30", 8.5), ("0830", 8.5), ("9", 9.0), ("9 am", 9.0), ("12:15 am", 0.25),
     ("5:30 p.m.", 17.5), ("24:00", 24.0), ("8:30:00", 8.5), ("25:00", None), ("13 pm", None),
     ("noon", None), ("9:75", None)],
)  # fmt: skip
def test_times_of_day(text, hour):
    assert pl.DataFrame({"c": [text]}).select(time_of_day(pl.col("c"))).item() == hour


def test_rows_of_a_schedule_and_what_cannot_be_used():
    got = read(
        """
        site,area,weekday,opens,closes,from,until,holidays
        S1,,Mon-Fri,9:00,17:30,,,no
        S1,02,fri,18:00,1:00,2026-01-01,2026-06-30,yes
        S1,,Sun,,,,,
        S1,,Sat,9:00,,,,
        S1,,Someday,9:00,12:00,,,
        """
    )
    assert dict(got.frame.schema) == dict(SCHEDULE)
    week, late, shut = got.frame.rows(named=True)
    assert (week["opens"], week["closes"], week["holidays"]) == (9.0, 17.5, False)
    # A closing before its opening lies on the next day.
    assert (late["area"], late["closes"], late["from"]) == ("2", 25.0, date(2026, 1, 1))
    assert (shut["opens"], shut["closes"]) == (None, None)
    problems = dict(got.problems.select("row", "problem").rows())
    assert set(problems) == {5, 6}
    assert "only one of opens and closes" in problems[5]
    assert "nothing under 'weekday'" in problems[6]
    with pytest.raises(WrongContext, match="weekday"):
        read("site,opens,closes\nS1,9,12")


def hours(schedule, area, *days):
    places = pl.DataFrame(
        {"k": [0], "site": ["S1"], "area": [area]}, schema_overrides={"area": pl.String}
    )
    dates = pl.DataFrame(
        [(0, date.fromisoformat(day), holiday) for day, holiday in days],
        schema=["k", "date", "holiday"], orient="row",
    )  # fmt: skip
    open_at, known = open_hours(read(schedule).frame, places, dates)
    return open_at.select("opens", "closes").rows(), known.height


def test_which_hours_hold_on_a_date():
    schedule = """
        site,area,weekday,opens,closes,from,until,holidays
        S1,,Mon-Fri,9,17,,2026-03-31,no
        S1,,Mon-Fri,9,20,2026-04-01,,no
        S1,A,Mon,6,7,,,yes
        S1,,holiday,10,12,2026-05-01,,
        """
    assert hours(schedule, None, ("2026-03-31", False)) == ([(9.0, 17.0)], 1)
    assert hours(schedule, None, ("2026-04-01", False)) == ([(9.0, 20.0)], 1)
    # A Saturday without a row, and a holiday on which the rows do not hold: closed, and known.
    assert hours(schedule, None, ("2026-04-04", False)) == ([], 1)
    assert hours(schedule, None, ("2026-04-03", True)) == ([], 1)
    assert hours(schedule, None, ("2026-05-25", True)) == ([(10.0, 12.0)], 1)
    # Rows of an area stand before those of its site.
    assert hours(schedule, "A", ("2026-04-06", True)) == ([(6.0, 7.0)], 1)
    silent = "site,weekday,opens,closes\nS1,daily,9,17"
    assert hours(silent, None, ("2026-04-03", True)) == ([], 0)


def test_public_holidays_hang_on_the_region():
    sites = conform(
        pl.DataFrame({"site": ["E", "S", "N"], "country": ["GB", None, None],
                      "region": ["ENG", "GB-SCT", None]}),
        SITE,
    )  # fmt: skip
    got = public_holidays(sites, date(2026, 1, 1), date(2026, 12, 31))
    england = set(got.filter(pl.col("site") == "E")["date"])
    scotland = set(got.filter(pl.col("site") == "S")["date"])
    # https://www.gov.uk/bank-holidays, from memory: Easter Monday is none in Scotland, the
    # second of January and Saint Andrew's Day are none in England; Good Friday is one in both.
    assert {date(2026, 4, 3), date(2026, 4, 6), date(2026, 8, 31)} <= england
    assert {date(2026, 1, 2), date(2026, 4, 3), date(2026, 11, 30)} <= scotland
    assert date(2026, 4, 6) not in scotland
    assert date(2026, 1, 2) not in england
    assert "N" not in set(got["site"])


def test_a_region_that_nobody_knows_is_told():
    got = read(
        """
        site,name,country,region
        S1,North,GB,GB-SCT
        S2,South,,DE-BY
        S3,East,GB,Atlantis
        S4,West,,
        """,
        Role.SITES,
    )
    assert got.frame["region"].to_list() == ["GB-SCT", "DE-BY", None, None]
    ((row, problem),) = got.problems.select("row", "problem").rows()
    assert row == 4
    assert "ISO 3166" in problem
