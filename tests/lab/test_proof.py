"""Did it work, through lab, words and command line."""

from datetime import UTC, date, datetime

import polars as pl
import pytest

from eventlab.errors import NotFound
from eventlab.lab.proving import prove, visits_of
from eventlab.lab.standing import work_out
from eventlab.report import proof_as_text
from eventlab.schema import VISIT, Verdict, conform
from eventlab.settings import Settings
from tests.advice.test_proof import BEFORE, QUIET, WALKED, alarms
from tests.analysis.standing import context, events


@pytest.fixture(scope="module")
def standing():
    known = context("5 interior Reading room", "6 interior Store", "7 fire smoke detector",
                    name="North branch", time_zone="Europe/London")  # fmt: skip
    visits = [
        {"site": "S1", "at": datetime(2025, 8, 1, 11, tzinfo=UTC), "zones": ["5"],
         "work": "=new lens", "technician": "A. Name"},
        {"site": "S1", "at": datetime(2025, 5, 1, 9, tzinfo=UTC), "zones": None,
         "work": "yearly service", "technician": "A. Name"},
    ]  # fmt: skip
    known = type(known)(
        known.sites, known.zones, known.weather, conform(pl.DataFrame(visits), VISIT),
        known.outcomes,
    )  # fmt: skip
    fire = "2025-03-01 02:00:00 fire zone=7"
    told = events(QUIET, BEFORE, WALKED, alarms(7, 90, zone="6"), fire)
    return work_out(told, known, Settings())


def proven(standing, **asked):
    return prove(standing, "S1", Settings(), **asked)


def test_visits_are_numbered_by_time_and_tell_no_names(standing):
    visits = visits_of(standing, "S1")
    assert visits["visit"].to_list() == [1, 2]
    assert visits["day"].to_list() == [date(2025, 5, 1), date(2025, 8, 1)]
    assert "technician" not in visits.columns


def test_a_visit_asks_for_its_points_else_for_the_site_and_all_that_had_alarmed(standing):
    rows = proven(standing).rows
    assert rows.select("visit", "zone").rows() == [(1, None), (1, "5"), (1, "6"), (2, "5")]
    assert proven(standing, visit=2).rows["verdict"].to_list() == [Verdict.BETTER]
    assert proven(standing, visit=2, zone="6").rows["zone"].to_list() == ["6"]


def test_a_date_is_the_beginning_of_the_sites_own_day(standing):
    one = proven(standing, at=date(2025, 8, 1), zone="5").rows.row(0, named=True)
    assert one["at"] == datetime(2025, 7, 31, 23, tzinfo=UTC)  # summer time
    assert one["day"] == "1 Aug 2025"
    assert one["visit"] is None


def test_words_say_before_after_and_what_it_comes_to(standing):
    one = proven(standing, visit=2).rows.row(0, named=True)
    assert one["subject"] == "point 5 (Reading room)"
    assert one["statement"].startswith(
        "Point 5 (Reading room): 20 alarm nights in 207 armed nights ("
    )
    assert "; 0 alarm nights in 93 armed nights (" in one["statement"]
    assert one["verdict_told"].startswith("Better: ")
    assert "walk test, 1 Aug 2025" in one["verdict_told"]
    text = proof_as_text(proven(standing).rows)
    assert "A. Name" not in text
    assert "visit 2: point 5 (Reading room), 1 Aug 2025 (=new lens)\n  BETTER\n" in text


def test_a_life_safety_point_is_never_counted(standing):
    got = proven(standing, at=date(2025, 8, 1), zone="7")
    one = got.rows.row(0, named=True)
    assert one["verdict"] == Verdict.UNPROVEN
    assert "examined by a licensed person" in one["statement"]
    assert not any(
        char.isdigit() for char in one["statement"].replace("7", "").replace("1 Aug 2025", "")
    )
    assert got.nights.is_empty()
    text = proof_as_text(got.rows)
    assert "BETTER" not in text
    assert "p =" not in text


def test_the_nights_behind_it_are_those_of_the_picture(standing):
    got = proven(standing, visit=2)
    assert got.nights.height == 300
    assert got.nights.filter(pl.col("alarms") > 0).height == 20
    one = got.rows.row(0, named=True)
    cut = date(2025, 8, 1)
    assert got.nights.filter(pl.col("night") < cut)["hours"].sum() == pytest.approx(
        one["before_hours"], abs=1
    )


def test_a_visit_or_point_that_is_not_there_is_told(standing):
    with pytest.raises(NotFound, match="no visit 9"):
        proven(standing, visit=9)
    with pytest.raises(NotFound, match="no point '99'"):
        proven(standing, at=date(2025, 8, 1), zone="99")


def test_without_visits_and_date_nothing_is_asked(standing):
    bare = type(standing)(standing.ground, context(), standing.findings, standing.episodes)
    assert prove(bare, "S1", Settings()).rows.is_empty()
    assert "name a date" in proof_as_text(prove(bare, "S1", Settings()).rows)
