"""Alarms that belong together."""

import polars as pl
import pytest

from tests.ground.laid import laid, nights, utc

LIVE = nights(4, "{d} 02:00:00 intrusion-alarm zone=5\n{d} 02:00:09 intrusion-alarm end zone=5")


def night(*rows, before="2024-03-10 17:00:00 arm person=3"):
    return "\n".join([before, *(f"2024-03-10 {row}" for row in rows)])


def alarm(clock, zone=7, *more):
    said = " ".join(more)
    return f"{clock} intrusion-alarm zone={zone} {said}"


def fleeting(clock, zone=7):
    return alarm(clock, zone), f"{clock[:-2]}30 intrusion-alarm end zone={zone}"


@pytest.mark.parametrize(("clock", "count"), [("22:10:00", 1), ("22:10:01", 2)])
def test_ten_minutes_hold_an_episode_together(clock, count):
    ground = laid(night(*fleeting("22:00:00"), alarm(clock, 8)))
    assert ground.episodes.height == count


def test_a_point_that_has_not_restored_continues_it():
    """Trait, re-alarm at siren time: however long the gap."""
    rows = night(alarm("18:00:00"), alarm("21:00:00"), "23:00:00 intrusion-alarm end zone=7")
    assert laid(LIVE + "\n" + rows).episodes.filter(pl.col("since") > utc("2024-03-10 00:00:00"))[
        "alarms"
    ].to_list() == [2]


def test_a_point_that_restored_does_not():
    rows = night(*fleeting("18:00:00"), *fleeting("21:00:00"))
    assert laid(LIVE + "\n" + rows).episodes.height == 6


@pytest.mark.parametrize("step", [15, 20])
def test_repeats_at_the_siren_s_time_are_one_episode(step):
    """Trait, re-alarm at siren time: one open door is not six episodes."""
    rows = [alarm(f"{18 + m // 60}:{m % 60:02}:00") for m in range(0, 6 * step, step)]
    episodes = laid(night(*rows)).episodes
    assert episodes["alarms"].to_list() == [6]


def test_another_point_at_that_spacing_is_not():
    assert laid(night(*fleeting("18:00:00"), alarm("18:15:00", 8))).episodes.height == 2


def test_a_held_point_takes_what_lies_between_with_it():
    rows = night(alarm("18:00:00"), alarm("18:12:00", 8), alarm("18:16:00"))
    assert laid(rows).episodes["points"].to_list() == [["7", "8"]]


def test_a_disarm_ends_it():
    rows = night(
        alarm("22:00:00"), "22:02:00 disarm person=4", "22:04:00 arm person=4", alarm("22:05:00")
    )
    episodes = laid(rows).episodes
    assert episodes["alarms"].to_list() == [1, 1]
    assert episodes["armed_by"].to_list() == ["3", "4"]
    assert episodes["armed_at"].to_list() == [
        utc("2024-03-10 17:00:00"),
        utc("2024-03-10 22:04:00"),
    ]
    assert episodes["disarmed_by"].to_list() == ["4", None]
    assert episodes["disarm_after_s"].to_list() == [120.0, None]


def test_overrun_and_attendance_are_told_by_the_seconds():
    """Trait, abort, cancel, keyholder: 30 s after is an overrun; 25 min after, somebody came."""
    for clock, seconds in (("07:00:30", 30.0), ("07:25:00", 1500.0)):
        ground = laid(f"""
            2024-03-10 17:00:00 arm
            2024-03-11 07:00:00 entry-exit-alarm zone=1
            2024-03-11 {clock} disarm person=4
        """)
        assert ground.episodes["disarm_after_s"].to_list() == [seconds]


def test_a_cancel_counts_like_a_disarm():
    rows = night(alarm("22:00:00"), "22:01:00 cancel person=4", "22:03:00 disarm person=4")
    told = laid(rows).episodes.row(0, named=True)
    assert told["cancelled"]
    assert told["disarm_after_s"] == 60.0
    assert told["disarmed_at"] == utc("2024-03-10 22:03:00")


def test_areas_have_episodes_of_their_own_and_their_own_disarm():
    ground = laid("""
        2024-03-10 17:00:00 arm area=1
        2024-03-10 17:00:00 arm area=2
        2024-03-10 22:00:00 intrusion-alarm zone=7 area=1
        2024-03-10 22:01:00 intrusion-alarm zone=8 area=2
        2024-03-10 22:05:00 disarm area=2 person=4
        2024-03-10 23:00:00 disarm area=1 person=5
    """)
    assert ground.episodes.select("area", "disarmed_by").rows() == [("1", "5"), ("2", "4")]


def test_life_safety_and_environment_are_apart():
    ground = laid(
        night(alarm("22:00:00"), "22:01:00 fire zone=9", "22:02:00 environment-alarm zone=4")
    )
    assert ground.episodes["life_safety"].to_list() == [False, True, False]
    assert ground.episodes["kinds"].to_list() == [
        ["intrusion-alarm"],
        ["fire"],
        ["environment-alarm"],
    ]


def test_a_confirmation_is_told_and_not_counted():
    """Trait, confirmed rows; BS 8243: a second detector within the window confirms."""
    rows = night(alarm("22:00:00"), alarm("22:02:00", 8), "22:02:01 confirmed-alarm")
    told = laid(rows).episodes.row(0, named=True)
    assert (told["alarms"], told["confirmed"]) == (2, True)


def test_an_open_episode_stands_at_the_end_of_the_log():
    rows = night(alarm("22:00:00"), "23:00:00 mains-loss", "23:01:00 mains-loss end")
    assert laid(LIVE + "\n" + rows).episodes["standing"].to_list() == [False] * 4 + [True]
    assert laid(rows).episodes["standing"].to_list() == [False]


def test_doubtful_rows_keep_their_place_in_an_episode():
    """Left out of rates, not out of episodes."""
    from tests.logbook import log

    events = log(night(alarm("22:00:00"), alarm("22:03:00", 8), "23:00:00 disarm"))
    unsure = pl.col("zone") == "8"
    events = events.with_columns(
        at=pl.when(~unsure.fill_null(value=False)).then("at"),
        timing=pl.when(unsure).then(pl.lit("doubtful")).otherwise("timing"),
    ).cast({"timing": events.schema["timing"]})
    ground = laid(events)
    assert ground.episodes["alarms"].to_list() == [2]
    assert ground.episodes["doubtful"].to_list() == [True]
    assert ground.occurrences.filter("trip")["zone"].to_list() == ["7"]


def test_memory_starts_no_episode():
    """Trait, alarm memory."""
    rows = night(alarm("22:00:00"), "22:05:00 disarm", alarm("22:05:02"))
    assert laid(rows).episodes["alarms"].to_list() == [1]


def test_a_restore_may_be_told_of_the_point_and_not_of_the_alarm():
    """Many logs write ``zone restored`` after an alarm: an activation's end."""
    rows = night(
        alarm("18:00:00"), "18:00:30 activation end zone=7", alarm("21:00:00"), "22:00:00 disarm"
    )
    assert laid(LIVE + "\n" + rows).episodes["alarms"].to_list() == [1] * 6
