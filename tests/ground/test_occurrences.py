"""One row for each thing that happened, however many rows tell it."""

import polars as pl
import pytest

from tests.ground.laid import laid
from tests.logbook import log

PERIOD = """
2024-03-01 17:00:00 arm person=3
2024-03-01 22:00:00 intrusion-alarm zone=7
2024-03-01 22:00:20 intrusion-alarm end zone=7
"""


def alarms(ground):
    return ground.occurrences.filter(
        pl.col("kind").is_in(["intrusion-alarm", "entry-exit-alarm"]), phase="begin"
    )


def test_two_witnesses_of_one_alarm_are_one_occurrence():
    """Trait, two paths, one event: panel and receiver rows that match are one."""
    ground = laid(PERIOD + "2024-03-01 22:01:10 intrusion-alarm zone=7 witness=receiver path=ip")
    told = alarms(ground)
    assert told["rows"].to_list() == [2]
    assert told["witnesses"].to_list() == [["panel", "receiver"]]
    assert str(told["at"].item()).startswith("2024-03-01 22:00:00")
    assert told["path"].to_list() == ["ip"]


def test_one_event_over_two_paths_is_one_occurrence():
    """Trait, two paths, one event: each alarm twice, up to 90 s apart, not identical."""
    ground = laid("""
        2024-03-01 22:00:00 intrusion-alarm zone=7 witness=receiver path=ip
        2024-03-01 22:01:30 intrusion-alarm zone=7 witness=receiver path=radio
    """)
    assert alarms(ground)["rows"].to_list() == [2]


@pytest.mark.parametrize(("clock", "count"), [("22:02:00", 1), ("22:02:01", 2)])
def test_the_window_of_two_tellings_is_the_setting(clock, count):
    ground = laid(PERIOD + f"2024-03-01 {clock} intrusion-alarm zone=7 witness=receiver")
    assert alarms(ground).height == count


def test_repeats_on_one_channel_stay_apart():
    """A chattering point told by both witnesses has as many occurrences as trips."""
    ground = laid("""
        2024-03-01 17:00:00 arm
        2024-03-01 22:00:00 intrusion-alarm zone=7
        2024-03-01 22:00:10 intrusion-alarm zone=7
        2024-03-01 22:00:15 intrusion-alarm zone=7 witness=receiver
        2024-03-01 22:00:20 intrusion-alarm zone=7
        2024-03-01 22:00:25 intrusion-alarm zone=7 witness=receiver
        2024-03-01 22:00:35 intrusion-alarm zone=7 witness=receiver
    """)
    assert alarms(ground)["rows"].to_list() == [2, 2, 2]


def test_what_one_side_does_not_say_is_filled_from_the_other():
    ground = laid("""
        2024-03-01 17:00:00 arm
        2024-03-01 17:00:30 arm witness=receiver person=3
        2024-03-01 22:00:00 intrusion-alarm
        2024-03-01 22:00:30 entry-exit-alarm zone=7 area=1 witness=receiver
    """)
    told = ground.occurrences
    assert told["kind"].to_list() == ["arm", "entry-exit-alarm"]
    assert told["person"].to_list() == ["3", None]
    assert told["zone"].to_list() == [None, "7"]
    assert told["area"].to_list() == [None, "1"]


def test_other_points_and_other_people_never_match():
    ground = laid("""
        2024-03-01 17:00:00 arm person=3
        2024-03-01 17:00:30 arm person=4 witness=receiver
        2024-03-01 22:00:00 intrusion-alarm zone=7
        2024-03-01 22:00:30 intrusion-alarm zone=8 witness=receiver
    """)
    assert ground.occurrences.height == 4


def test_faults_and_tests_of_two_paths_are_two_things():
    ground = laid("""
        2024-03-01 22:00:00 comms-fail path=ip
        2024-03-01 22:00:30 comms-fail path=radio
        2024-03-01 23:00:00 test-report path=ip
        2024-03-01 23:00:30 test-report path=radio
    """)
    assert ground.occurrences.height == 4


def test_alarm_memory_is_counted_once():
    """Trait, alarm memory: at disarm many panels write the remembered alarms again."""
    ground = laid(
        PERIOD
        + """
        2024-03-01 22:10:00 disarm person=4
        2024-03-01 22:10:03 intrusion-alarm zone=7
        2024-03-02 17:00:00 arm person=3
    """
    )
    told = alarms(ground)
    assert told["memory_rows"].to_list() == [1]
    assert told["rows"].to_list() == [2]


@pytest.mark.parametrize(
    ("row", "why"),
    [
        ("2024-03-01 22:10:03 intrusion-alarm zone=8", "the point did not alarm before"),
        ("2024-03-01 22:10:30 intrusion-alarm zone=7", "not within seconds"),
    ],
)
def test_what_is_not_memory_stays(row, why):
    ground = laid(PERIOD + "2024-03-01 22:10:00 disarm\n" + row)
    assert alarms(ground).height == 2, why


def test_memory_of_an_earlier_period_is_no_memory():
    ground = laid(
        PERIOD
        + """
        2024-03-01 22:10:00 disarm
        2024-03-02 17:00:00 arm
        2024-03-02 22:10:00 disarm
        2024-03-02 22:10:03 intrusion-alarm zone=7
    """
    )
    assert alarms(ground).height == 2


def test_memory_under_a_clock_of_minutes():
    """Trait, alarm memory and minute resolution: the memory row bears the minute of the disarm."""
    ground = laid(
        """
        2024-03-01 17:00:00 arm
        2024-03-01 22:09:00 intrusion-alarm zone=7
        2024-03-01 22:10:00 disarm
        2024-03-01 22:10:00 intrusion-alarm zone=7
        """,
        grain=60,
    )
    assert alarms(ground)["memory_rows"].to_list() == [1]


def test_a_confirmation_is_never_a_trip():
    """Trait, confirmed rows: the confirmed row is evidence, not another alarm."""
    ground = laid(PERIOD + "2024-03-01 22:03:00 confirmed-alarm zone=0")
    assert ground.occurrences.filter("trip")["kind"].to_list() == ["intrusion-alarm"]


def test_a_status_row_never_opens_a_second_one():
    """ANSI/SIA DC-05: qualifier 6 says that a condition is still present."""
    ground = laid("""
        2024-03-01 17:00:00 arm code=3401
        2024-03-01 22:00:00 intrusion-alarm zone=7 code=1131
        2024-03-01 23:00:00 intrusion-alarm zone=7 code=6131
        2024-03-02 01:00:00 intrusion-alarm end zone=7 code=3131
        2024-03-02 02:00:00 intrusion-alarm zone=7 code=1131
    """)
    assert alarms(ground)["rows"].to_list() == [2, 1]


def test_a_status_row_with_nothing_before_it_stands_for_itself():
    ground = laid("2024-03-01 23:00:00 device-battery-low zone=7 code=6384")
    assert ground.occurrences.height == 1


def test_a_test_report_is_no_status_row():
    """DC-05 602 is a class 6 event told in three digits, not a qualifier."""
    ground = laid("\n".join(f"2024-03-0{d} 23:00:00 test-report code=602" for d in range(1, 5)))
    assert ground.occurrences.height == 4


def test_repeats_of_a_standing_condition_are_one():
    """Trait, told again on a schedule: a low battery is told again every day."""
    days = "\n".join(f"2024-03-0{d} 03:00:00 device-battery-low zone=7" for d in range(1, 6))
    ground = laid(
        days
        + """
        2024-03-06 03:00:00 device-battery-low end zone=7
        2024-03-07 03:00:00 device-battery-low zone=7
    """
    )
    told = ground.occurrences
    assert told["phase"].to_list() == ["begin", "end", "begin"]
    assert told["rows"].to_list() == [5, 1, 1]


def test_a_restart_closes_what_is_not_told_again():
    """Trait, mains and restart: within ten minutes it stands on, later it is a new one."""

    def told(clock):
        return (
            laid(f"""
            2024-03-01 03:00:00 system-battery-low
            2024-03-02 03:00:00 system-restart
            2024-03-02 {clock} system-battery-low
        """)
            .occurrences.filter(kind="system-battery-low")
            .height
        )

    assert told("03:09:59") == 1
    assert told("03:10:01") == 2


def test_mains_losses_without_restores_are_not_one_outage():
    """Trait, mains and restart: often no mains-restore row is written."""
    ground = laid("""
        2024-03-01 03:00:00 mains-loss
        2024-03-01 04:00:00 mains-loss
        2024-03-21 03:00:00 mains-loss
    """)
    assert ground.occurrences["rows"].to_list() == [2, 1]


def test_arms_of_several_areas_by_one_person_are_one_act():
    """Trait, one act, several rows: a user who arms four areas has armed once."""
    ground = laid("""
        2024-03-01 17:00:00 arm area=1 person=3
        2024-03-01 17:00:05 arm area=2 person=3
        2024-03-01 17:00:10 arm area=3 person=4
        2024-03-01 17:00:15 arm area=4 person=3
        2024-03-01 17:02:00 arm area=5 person=3
    """)
    told = ground.occurrences
    assert told.height == 5
    assert told["act"].to_list() == [1, 1, 3, 1, 5]


def test_one_number_per_site_whoever_else_is_loaded():
    alone = laid(PERIOD).occurrences
    among = laid(pl.concat([log(PERIOD, site="S0"), log(PERIOD)])).occurrences
    assert among.filter(site="S1").equals(alone)


def test_unread_rows_are_no_occurrences_but_stay_among_the_events():
    ground = laid(PERIOD + "2024-03-01 22:05:00 unread raw=????")
    assert ground.events.height == 4
    assert ground.occurrences.height == 3


def test_a_test_told_by_both_witnesses_is_one():
    ground = laid("""
        2024-03-01 03:00:00 test-report
        2024-03-01 03:00:20 test-report witness=receiver path=ip
        2024-03-01 03:00:40 test-report witness=receiver path=radio
    """)
    assert ground.occurrences["rows"].to_list() == [2, 1]


BURST = """
2024-03-01 17:00:00 arm person=3
2024-03-01 20:00:00 comms-fail witness=receiver path=ip
2024-03-02 02:10:00 intrusion-alarm zone=7
2024-03-02 02:10:20 intrusion-alarm end zone=7
2024-03-02 02:14:00 intrusion-alarm zone=9
2024-03-02 02:40:00 disarm person=4
2024-03-02 02:55:00 arm person=4
2024-03-02 06:00:00 comms-fail end witness=receiver path=ip
2024-03-02 06:00:10 intrusion-alarm zone=7 witness=receiver path=ip
2024-03-02 06:00:11 intrusion-alarm end zone=7 witness=receiver path=ip
2024-03-02 06:00:12 intrusion-alarm zone=9 witness=receiver path=ip
2024-03-02 06:00:13 disarm person=4 witness=receiver path=ip
2024-03-02 06:00:14 arm person=4 witness=receiver path=ip
"""


def test_what_was_kept_while_a_path_was_down_is_dated_by_the_panel():
    """Trait, store and forward: hours-old events in a burst when the path is back."""
    told = alarms(laid(BURST))
    assert told["placed"].dt.hour().to_list() == [2, 2]
    assert told["witnesses"].to_list() == [["panel", "receiver"]] * 2
    assert set(told["timing"]) == {"sure"}


def test_what_nothing_dates_is_doubtful_and_stays():
    """Trait, store and forward: without the panel's log the hour of these alarms is not known."""
    lone = "\n".join(line for line in BURST.splitlines() if "receiver" in line)
    ground = laid(lone)
    told = alarms(ground)
    assert told.height == 2
    assert set(told["timing"]) == {"doubtful"}
    assert told["at"].null_count() == 2
    assert not told["trip"].any()


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("2024-03-01 20:00:00 comms-fail", "2024-03-02 05:58:00 comms-fail"),
        ("2024-03-02 06:00:00 comms-fail end", "2024-03-02 05:50:00 comms-fail end"),
        (
            "2024-03-02 06:00:12 intrusion-alarm zone=9",
            "2024-03-02 06:30:12 intrusion-alarm zone=9",
        ),
    ],
    ids=["down for moments only", "long after the restore", "few at once"],
)
def test_what_is_no_burst_after_an_outage_keeps_its_time(old, new):
    lone = "\n".join(line for line in BURST.splitlines() if "receiver" in line)
    assert set(alarms(laid(lone.replace(old, new)))["timing"]) == {"sure"}


def test_a_memory_row_of_one_witness_and_an_alarm_of_the_other_are_one():
    """Traits, alarm memory and two witnesses together: one thing happened."""
    ground = laid(
        PERIOD
        + """
        2024-03-01 22:00:04 intrusion-alarm zone=7 witness=receiver path=ip
        2024-03-01 22:00:40 intrusion-alarm zone=7 witness=receiver path=radio
        2024-03-01 22:10:00 disarm person=4
        2024-03-01 22:10:03 intrusion-alarm zone=7
        2024-03-01 22:10:05 disarm person=4 witness=receiver
    """
    )
    told = alarms(ground)
    assert told["rows"].to_list() == [4]
    assert ground.occurrences.filter(kind="disarm").height == 1


def test_a_confirmation_told_by_both_is_one_and_no_trip():
    """Trait, confirmed rows, by both witnesses and with point 0 on one side."""
    ground = laid(
        PERIOD
        + """
        2024-03-01 22:03:00 intrusion-alarm zone=8
        2024-03-01 22:03:00 confirmed-alarm zone=8
        2024-03-01 22:03:06 intrusion-alarm zone=8 witness=receiver
        2024-03-01 22:03:07 confirmed-alarm witness=receiver
    """
    )
    assert ground.occurrences.filter(kind="confirmed-alarm")["rows"].to_list() == [2]
    assert ground.occurrences.filter("trip").height == 2


def test_one_act_told_by_both_witnesses_for_four_areas_is_one_act():
    """Traits, one act and two witnesses: four rows of each, one arming."""
    ground = laid("\n".join(
        f"2024-03-01 17:00:{second + late:02} arm area={area} person=3{who}"
        for late, who in ((0, ""), (4, " witness=receiver"))
        for area, second in enumerate((0, 2, 4, 6), start=1)
    ))  # fmt: skip
    told = ground.occurrences
    assert told["rows"].to_list() == [2] * 4
    assert told["act"].unique().to_list() == [1]


def test_what_one_log_tells_alone_is_counted():
    ground = laid(
        PERIOD
        + """
        2024-03-01 22:00:06 intrusion-alarm zone=7 witness=receiver
        2024-03-01 23:00:00 intrusion-alarm zone=8
        2024-03-01 23:30:00 intrusion-alarm zone=9 witness=receiver
    """
    )
    told = ground.powers.filter(power="told-by-both").sort("witness")
    assert told["value"].to_list() == ["1", "1"]
    assert told["figure"].str.contains("1 events in both, 1 in this one alone").all()
    assert laid(PERIOD).powers.filter(power="told-by-both").is_empty()


DELAYED = """
2024-03-01 08:00:00 disarm person=3
2024-03-01 12:30:00 arm person=4
2024-03-01 12:30:05 arm person=4 witness=receiver
{when} disarm person={who} witness=receiver
2024-03-04 08:00:00 disarm person=3
2024-03-04 08:00:04 disarm person=3 witness=receiver
2024-03-04 17:00:00 arm person=3
2024-03-04 17:00:06 arm person=3 witness=receiver
"""


def test_an_opening_that_a_centre_heard_hours_late_opens_nothing():
    """A receiver's time is the time of receipt: the panel's log, which covers it, dates the act."""
    ground = laid(DELAYED.format(when="2024-03-01 14:10:00", who=3))
    first = ground.occurrences.filter(kind="disarm").row(0, named=True)
    assert str(first["placed"]).startswith("2024-03-01 08:00:00")
    assert first["witnesses"] == ["panel", "receiver"]
    assert ground.occurrences.filter(kind="disarm").height == 2
    assert ground.armed.filter("known")["until"].dt.strftime("%d %H").to_list() == [
        "04 08",
        "04 17",
    ]


@pytest.mark.parametrize(("when", "who"), [("2024-03-01 14:10:00", 9), ("2024-03-02 14:10:00", 3)])
def test_an_opening_by_somebody_else_or_days_later_is_its_own(when, who):
    assert laid(DELAYED.format(when=when, who=who)).occurrences.filter(kind="disarm").height == 3


def test_beyond_the_panels_log_the_centre_is_believed():
    lines = [line for line in DELAYED.splitlines() if "receiver" in line or "03-01" in line]
    ground = laid("\n".join(lines).format(when="2024-03-01 14:10:00", who=3))
    assert ground.occurrences.filter(kind="disarm").height == 3
