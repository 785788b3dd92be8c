"""Which events prove a finding, and how long its condition lasted."""

from datetime import UTC, date, datetime

import polars as pl
import pytest

from dashboards import showing
from eventlab.schema import EVENT, FINDING, Kind, Pattern, Subject, conform
from tests.logbook import log


def finding(pattern, subject_kind=Subject.SITE, subject=None, **more):
    row = {
        "site": "S1",
        "pattern": str(pattern),
        "subject_kind": str(subject_kind),
        "subject": subject,
        "standing": False,
        **more,
    }
    return conform(pl.DataFrame([row]), FINDING).to_dicts()[0]


def shown(events, told, *, end=date(2026, 3, 10)):
    return showing.show(told, showing.wall_clock(log(events), "UTC"), end)


def kinds(one):
    return [str(kind) for kind in one.events["kind"]]


def test_mains_lost_for_two_nights_is_held_for_two_nights():
    one = shown(
        """
        2026-03-01 20:00:00 mains-loss begin
        2026-03-02 03:00:00 intrusion-alarm zone=1
        2026-03-03 08:00:00 mains-loss end
        """,
        finding(Pattern.MAINS_OUT),
    )
    assert kinds(one) == [Kind.MAINS_LOSS, Kind.MAINS_LOSS]
    assert one.held.rows() == [
        (date(2026, 3, 1), 20.0, 36.0),
        (date(2026, 3, 2), 12.0, 32.0),
    ]


def test_a_condition_that_never_ended_lasts_to_the_end_of_the_log():
    one = shown("2026-03-08 13:00:00 on-test begin", finding(Pattern.LEFT_ON_TEST, standing=True))
    assert one.held["night"].to_list() == [date(2026, 3, d) for d in (8, 9, 10)]
    assert one.held["end_h"].to_list() == [36.0] * 3


def test_what_names_another_point_does_not_prove_this_one():
    events = """
        2026-03-01 20:00:00 intrusion-alarm zone=7
        2026-03-01 20:00:05 intrusion-alarm zone=8
        2026-03-01 20:01:00 disarm person=4
        2026-03-01 20:02:00 mains-loss begin
        """
    late = shown(events, finding(Pattern.ENTRY_OVERRUN, Subject.ZONE, "7"))
    assert kinds(late) == [Kind.INTRUSION_ALARM, Kind.DISARM]
    other = shown(events, finding(Pattern.FOLLOWS_SUN, Subject.ZONE, "7"))
    assert kinds(other) == [Kind.INTRUSION_ALARM]


def test_only_the_time_of_the_finding_counts_unless_it_still_stands():
    events = """
        2026-03-01 20:00:00 device-battery-low zone=7
        2026-03-05 20:00:00 device-battery-low zone=7
        2026-03-09 20:00:00 device-battery-low zone=7
        """
    span = {
        "since": datetime(2026, 3, 2, tzinfo=UTC),
        "until": datetime(2026, 3, 6, tzinfo=UTC),
    }
    told = finding(Pattern.BATTERY_WEAK, Subject.ZONE, "7", **span)
    assert shown(events, told).events.height == 1
    told["standing"] = True
    assert shown(events, told).events.height == 2


def test_a_person_and_an_area_are_subjects_too():
    events = """
        2026-03-01 20:00:00 disarm person=4
        2026-03-01 20:00:01 disarm person=5
        2026-03-01 20:00:02 arm area=2
        """
    person = finding(Pattern.ODD_HOURS_OPENING, Subject.PERSON, "4")
    assert shown(events, person).events["person"].to_list() == ["4", None]
    area = finding(Pattern.LATE_CLOSING, Subject.AREA, "2")
    assert shown(events, area).events["area"].to_list() == [None, None, "2"]


def test_nights_are_the_sites_own_also_when_clocks_change():
    # Europe/London put its clocks on at 01:00 UTC on 29 March 2026 (tz database).
    events = log(
        """
        2026-03-28 13:00:00 intrusion-alarm zone=1
        2026-03-29 11:30:00 intrusion-alarm zone=1
        """
    )
    told = showing.wall_clock(events, "Europe/London")
    assert told["night"].to_list() == [date(2026, 3, 28), date(2026, 3, 29)]
    assert told["hour"].to_list() == [13.0, 12.5]


def test_a_stretch_is_cut_at_each_noon():
    stretch = pl.DataFrame(
        {
            "since": [datetime.fromisoformat("2026-01-01T11:00")],
            "until": [datetime.fromisoformat("2026-01-02T12:00")],
        }
    )
    assert showing.by_night(stretch).rows() == [
        (date(2025, 12, 31), 35.0, 36.0),
        (date(2026, 1, 1), 12.0, 36.0),
    ]


def test_no_events_prove_nothing_and_fail_nothing():
    none = showing.wall_clock(pl.DataFrame(schema=EVENT), None)
    one = showing.show(finding(Pattern.MAINS_OUT), none, date(2026, 1, 1))
    assert one.events.is_empty()
    assert one.held.is_empty()


def test_a_finding_has_a_name_that_an_address_can_hold():
    one = finding(Pattern.CHATTERING, Subject.ZONE, "7", area="2")
    assert showing.key(one) == "chattering~zone~7~2~"
    other = finding(Pattern.CHATTERING, since=datetime(2026, 3, 2, 1, 2, tzinfo=UTC))
    assert showing.key(other) == "chattering~site~~~202603020102"


@pytest.mark.parametrize("pattern", Pattern)
def test_every_pattern_can_be_shown(pattern):
    shown("2026-03-01 20:00:00 intrusion-alarm zone=1", finding(pattern))


def test_the_event_that_was_chosen_is_found_again():
    events = showing.wall_clock(
        log(
            """
            2026-03-01 20:00:00 arm
            2026-03-01 21:00:00 intrusion-alarm zone=1
            """
        ),
        "UTC",
    )
    marks = events.with_columns(id=pl.int_range(10, 12))
    assert showing.row_of(events, marks, 11) == 1
    assert showing.row_of(events, marks, 99) is None
