"""Clocks that nobody should rely on, and what a person is told of them."""

import json
from datetime import date

import polars as pl
import pytest

from eventlab.advice import advise
from eventlab.analysis import clock_fault
from eventlab.ground import lay
from eventlab.report import state
from eventlab.settings import Settings
from tests.analysis.standing import context
from tests.ground.clock_years import HOURS, Year, years
from tests.ground.laid import known
from tests.logbook import log


def told(year, **site):
    """Return the finding of one simulated year and its sentence; None where there is none."""
    events, sites = years({"S1": year})
    where = known(sites=[{**sites[0], **site}])
    ground = lay(events.drop("true"), where, Settings())
    found = clock_fault.find(ground, where, Settings())
    if found.is_empty():
        return None, ""
    said = state(advise(found, where), ground, where)
    assert said["advice"].list.len().item() >= 4
    return found.row(0, named=True), said["statement"].item()


def test_a_clock_that_runs_away():
    row, text = told(Year(centre=True, drift=6, days=200))
    assert row["standing"]
    assert "is 19 min" in text or "is 20 min" in text
    assert "gains 6 s a day" in text
    assert "put right" in text
    figures = json.loads(row["figures"])
    assert figures["drift_s_day"] == pytest.approx(6, abs=0.05)
    assert figures["plus_minus_s"] < 3


def test_no_second_is_told_of_a_clock_of_minutes():
    row, text = told(Year(centre=True, drift=6, days=200, grain=60))
    assert json.loads(row["figures"])["plus_minus_s"] >= 30
    assert " s fast" not in text
    assert "about" in text


def test_a_clock_that_keeps_standard_time():
    row, text = told(Year(rule="standard-time", hours=HOURS[1]))
    assert row["standing"]
    assert "keeps standard time all year" in text


def test_a_rule_that_a_person_said_is_no_fault():
    assert told(Year(rule="standard-time"), clock="standard-time")[0] is None


def test_a_centre_s_clock_is_called_so():
    _, text = told(Year(centre=True, centre_rule="utc"))
    assert text.startswith("The monitoring centre's clock")


def test_a_clock_that_was_wrong_for_weeks_and_set_is_told_as_over():
    row, text = told(Year(centre=True, steps=((60, 1500.0), (120, -1500.0))))
    assert not row["standing"]
    assert "was 24 min" in text or "was 25 min" in text


@pytest.mark.parametrize(
    "year",
    [
        Year(centre=True),
        Year(),
        Year(centre=True, drift=0.5, steps=((90, -45.0), (180, -45.0), (270, -45.0))),
        Year(centre=True, steps=((60, 1500.0), (63, -1500.0))),
        Year(centre=True, lag=(5, 90), late=0.2),
        Year(centre=True, shifts=((date(2025, 3, 28), -1.0, -1.0),)),
    ],
    ids=["right", "alone", "kept by hand", "a few days", "slow path", "another timetable"],
)
def test_what_is_no_fault(year):
    assert told(year)[0] is None


def test_a_clock_that_was_put_back_by_at_least_so_much():
    days = "\n".join(f"2025-01-{day:02} 09:00:00 disarm" for day in range(1, 21))
    text = days + "\n2025-01-20 08:20:00 clock-set\n2025-01-21 09:00:00 disarm"
    ground = lay(log(text), context(), Settings())
    said = clock_fault.find(ground, context(), Settings())
    text = state(advise(said, context()), ground, context())["statement"].item()
    assert "was put back by at least 40 min on 20 Jan 2025" in text


def test_a_clock_that_loses_the_time_again_and_again():
    days = [
        f"2025-0{month}-02 06:00:00 system-restart\n2025-0{month}-02 06:00:01 disarm\n"
        f"2025-0{month}-03 08:00:00 disarm"
        for month in range(1, 5)
    ]
    events = log("2025-01-01 08:00:00 disarm\n" + "\n".join(days))
    lost = pl.col("placed").dt.hour() == 6
    anew = pl.datetime(2000, 1, 1, 0, 0, pl.col("placed").dt.second())
    events = events.with_columns(
        wall=pl.when(lost).then(anew).otherwise("wall"),
        at=pl.when(~lost).then("at"),
        timing=pl.when(lost).then(pl.lit("doubtful")).otherwise(pl.lit("sure"))
        .cast(events.schema["timing"]),
    )  # fmt: skip
    ground = lay(events, context(), Settings())
    row = clock_fault.find(ground, context(), Settings()).row(0, named=True)
    figures = json.loads(row["figures"])
    assert (figures["sign"], figures["resets"], figures["doubted"]) == ("reset", 4, 8)
    assert row["standing"]
