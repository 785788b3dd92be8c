"""Time that is set aside: shown, and counted towards nothing."""

import polars as pl
import pytest

from tests.ground.laid import laid, nights, utc

EVENING = "{d} 17:00:00 arm\n{n} 07:00:00 disarm"


def test_time_on_test_is_set_aside():
    """Trait, service and test: alarms on commissioning day are not the worst night."""
    ground = laid(
        """
        2024-03-01 17:00:00 arm
        2024-03-01 18:00:00 on-test witness=receiver
        2024-03-01 19:00:00 intrusion-alarm zone=7
        2024-03-01 20:00:00 on-test end witness=receiver
        2024-03-01 22:00:00 intrusion-alarm zone=8
        2024-03-02 07:00:00 disarm
        """,
        zones=[{"zone": "7", "trip_limit": 6}, {"zone": "8", "trip_limit": 6}],
    )
    alarms = ground.occurrences.filter(kind="intrusion-alarm")
    assert alarms["aside"].to_list() == [True, False]
    assert alarms["trip"].to_list() == [False, True]
    assert ground.episodes["aside"].to_list() == [True, False]
    assert ground.aside["ended"].to_list() == [True]
    assert ground.exposure["hours"].to_list() == pytest.approx([14 - 2 - 255 / 3600] * 2)


def test_a_test_that_never_ends_stands_to_the_end_of_the_log():
    ground = laid(nights(3, EVENING) + "\n2024-03-02 10:00:00 on-test witness=receiver")
    told = ground.aside.row(0, named=True)
    assert told["ended"] is False
    assert told["until"] == utc("2024-03-04 07:00:00")


def test_a_centre_that_never_tells_the_end_of_tests():
    """Only the last stands; those before it lapsed."""
    tests = nights(3, "{d} 10:00:00 on-test witness=receiver")
    ground = laid(nights(3, EVENING) + "\n" + tests)
    assert ground.aside["ended"].to_list() == [None, None, False]
    spans = ground.aside.select(pl.col("until") - pl.col("since")).to_series().dt.total_hours()
    assert spans.to_list()[:2] == [2, 2]


def test_service_mode_ends_when_the_place_is_armed_or_restarts():
    """A panel in programming cannot be armed (common practice)."""
    ground = laid("""
        2024-03-01 10:00:00 on-site-work
        2024-03-01 17:00:00 arm
        2024-03-02 07:00:00 disarm
        2024-03-02 10:00:00 walk-test
        2024-03-02 11:00:00 system-restart
        2024-03-02 12:00:00 reset
    """)
    rows = ground.aside.select("reason", "until", "ended").rows()
    assert rows == [
        ("on-site-work", utc("2024-03-01 17:00:00"), True),
        ("walk-test", utc("2024-03-02 11:00:00"), True),
        ("restart", utc("2024-03-02 11:05:00"), True),
    ]


def test_a_test_that_began_before_the_log():
    ground = laid("""
        2024-03-01 10:00:00 tamper zone=7
        2024-03-01 11:00:00 on-test end
        2024-03-01 17:00:00 arm
        2024-03-02 07:00:00 disarm
    """)
    assert ground.aside["since"].to_list() == [utc("2024-03-01 10:00:00")]
    assert ground.aside["until"].to_list() == [utc("2024-03-01 11:00:00")]


def test_five_minutes_after_a_restart():
    """Trait, mains and restart: alarms and tampers within 5 minutes of a restart belong to it."""
    ground = laid("""
        2024-03-01 17:00:00 arm
        2024-03-01 22:00:00 system-restart
        2024-03-01 22:04:59 intrusion-alarm zone=7
        2024-03-01 22:05:00 intrusion-alarm zone=8
        2024-03-02 07:00:00 disarm
    """)
    alarms = ground.occurrences.filter(kind="intrusion-alarm")
    assert alarms["aside"].to_list() == [True, False]


LIDS = """
    2024-03-01 07:00:00 disarm
    2024-03-01 10:00:00 tamper zone=1
    2024-03-01 10:40:00 tamper zone=2
    2024-03-01 11:20:00 tamper zone=3
    2024-03-01 17:00:00 arm
    2024-03-02 07:00:00 disarm
"""


def test_several_lids_are_a_visit_nobody_announced():
    """Trait, service and test: an unannounced visit shows as three lids."""
    ground = laid(LIDS)
    told = ground.aside.row(0, named=True)
    assert (told["reason"], told["since"], told["until"]) == (
        *("visit", utc("2024-03-01 10:00:00")),
        utc("2024-03-01 11:25:00"),
    )


def test_two_lids_or_one_lid_often_are_no_visit():
    assert laid(LIDS.replace("zone=3", "zone=2")).aside.is_empty()


def test_lids_opened_while_armed_are_never_a_visit():
    """Whoever takes detectors off the wall of an armed place is not there for service."""
    ground = laid(LIDS.replace("disarm\n    2024-03-01 10", "arm\n    2024-03-01 10"))
    assert ground.aside.is_empty()


def test_lids_after_an_alarm_of_unknown_state_are_no_visit():
    ground = laid("""
        2024-03-01 09:30:00 intrusion-alarm zone=7
        2024-03-01 10:00:00 tamper zone=1
        2024-03-01 10:40:00 tamper zone=2
        2024-03-01 11:20:00 tamper zone=3
    """)
    assert ground.aside.is_empty()


def test_one_area_on_test_leaves_the_others_at_work():
    ground = laid(
        """
        2024-03-01 17:00:00 arm area=1
        2024-03-01 17:00:00 arm area=2
        2024-03-01 18:00:00 on-test area=1
        2024-03-01 19:00:00 intrusion-alarm zone=7 area=1
        2024-03-01 19:00:00 intrusion-alarm zone=8 area=2
        2024-03-01 20:00:00 on-test end area=1
        2024-03-02 07:00:00 disarm area=1
        2024-03-02 07:00:00 disarm area=2
        """,
        zones=[{"zone": "7", "trip_limit": 6}, {"zone": "8", "trip_limit": 6}],
    )
    alarms = ground.occurrences.filter(kind="intrusion-alarm")
    assert alarms["aside"].to_list() == [True, False]
    whole = 14 - 255 / 3600
    assert ground.exposure["hours"].to_list() == pytest.approx([whole - 2, whole])


def test_a_test_told_again_stands_since_it_began():
    """A centre that files a later signal ``account on test`` says that it is still on."""
    ground = laid(
        nights(9, EVENING)
        + """
        2024-03-02 10:00:00 on-test witness=receiver
        2024-03-07 01:00:00 on-test witness=receiver
        """
    )
    assert ground.aside.select("since", "ended").rows() == [(utc("2024-03-02 10:00:00"), False)]
