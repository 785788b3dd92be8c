"""Points that alarm after visits: visits are counted, never single alarms."""

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import polars as pl
import pytest

from eventlab.analysis import after_visit
from eventlab.ground import lay
from eventlab.schema import UTC as UTC_TYPE
from eventlab.schema import VISIT, Pattern, conform
from eventlab.simulate import BACKGROUNDS
from eventlab.simulate.single import site_events
from tests.analysis.standing import SETTINGS, context, ground, nights
from tests.proving.visiting import found, visited

KNOWN = context("1 interior hall", "2 interior store", "9 fire smoke")
QUIET = nights(360)
VISITS = (40, 110, 180, 250, 320)
"""Days of visits after the first of January, in the morning."""


def day(number, clock="%Y-%m-%d"):
    return f"{datetime(2025, 1, 1, tzinfo=UTC) + timedelta(days=number):{clock}}"


def told(alarms, *, zones=None, kind="intrusion-alarm", visits=VISITS):
    rows = [(("S1"), datetime(2025, 1, 1, 10, tzinfo=UTC) + timedelta(days=v)) for v in visits]
    frame = pl.DataFrame(rows, schema={"site": pl.String, "at": UTC_TYPE}, orient="row")
    frame = frame.with_columns(zones=pl.lit(zones, pl.List(pl.String)))
    known = replace(KNOWN, visits=conform(frame, VISIT))
    lines = [f"{day(number)} 22:00:00 {kind} zone=1" for number in alarms]
    return after_visit.find(ground(QUIET, *lines, known=known), known, SETTINGS)


SOON = [visit + wait for visit, wait in zip(VISITS, (0, 1, 2, 1, 0), strict=True)]


def test_a_point_that_alarms_after_each_visit_is_found_with_how_usual_that_is():
    got = told(SOON)
    assert got.select("pattern", "subject", "events").rows() == [(Pattern.AFTER_VISIT, "1", 5)]
    figures = json.loads(got["figures"][0])
    assert (figures["followed"], figures["visits"], figures["before"]) == (5, 5, 0)
    # five alarm nights, each with itself and the two nights before it, of about 360
    assert figures["wide"] == 3
    assert figures["share"] == pytest.approx(15 / 360, abs=0.002)


@pytest.mark.parametrize(
    "alarms",
    [
        [number + 30 for number in VISITS],  # long after
        [*SOON, *(visit - 1 for visit in VISITS)],  # before and after: called for
        list(range(20, 350, 5)),  # all the time
        SOON[:2],
    ],
)
def test_others_are_not(alarms):
    assert told(alarms).is_empty()


def test_many_alarms_after_one_or_two_visits_show_nothing():
    alarms = [40, 41, 42, 43, 44, 110, 111, 112, 113]
    assert told(alarms, visits=VISITS[:2]).is_empty()


def test_a_visit_that_names_points_counts_for_those():
    assert told(SOON, zones=["2"]).is_empty()
    assert told(SOON, zones=["1", "2"]).height == 1


def test_visits_in_a_row_are_one():
    assert told(SOON, visits=[40, 41, 42, 43, 44]).is_empty()


def test_life_safety_points_are_never_named():
    assert told(SOON, kind="fire").is_empty()


def test_a_site_is_told_the_same_alone():
    made = visited(site_events(3, sites=4), 3, 5, 12)
    every = after_visit.find(lay(made.events, made.context, SETTINGS), made.context, SETTINGS)
    assert every["site"].n_unique() > 1
    for site in every["site"]:
        own, known = made.events.filter(pl.col("site") == site), made.context.only([site])
        assert after_visit.find(lay(own, known, SETTINGS), known, SETTINGS).equals(
            every.filter(pl.col("site") == site)
        )


@pytest.mark.parametrize("background", BACKGROUNDS)
def test_where_visits_do_nothing_nothing_is_said(background):
    assert found(5, 8, 4, 0, background).is_empty()
