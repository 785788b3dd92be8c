"""Chattering: three or more in a minute (ISA-18.2, IEC 62682), and what is none."""

import pytest

from eventlab.analysis import chattering
from tests.analysis.standing import context, found, nights

QUIET = nights(40)


def bursts(days, seconds=(0, 20, 40), *, zone="5", kind="intrusion-alarm", clock="02:10"):
    return "\n".join(
        f"2025-01-{day:02} {clock}:{s:02} {kind} zone={zone}" for day in days for s in seconds
    )


def test_three_in_a_minute_on_several_nights_chatter():
    got = found(chattering, QUIET, bursts((8, 9, 12)))
    assert len(got) == 1
    row = got[0]
    assert (row["subject_kind"], row["subject"], row["events"]) == ("zone", "5", 9)
    assert row["figures"]["most"] == 3
    assert row["figures"]["bursts"] == 3
    assert row["figures"]["nights"] == 3
    assert row["figures"]["hours"] == pytest.approx(40 * 14, rel=0.05)
    assert row["ratio"] is None  # no other point alarmed


@pytest.mark.parametrize("seconds", [(0, 30), (0, 30, 59), (0, 20, 40)])
def test_the_minute_is_the_bar(seconds):
    # published article on ISA-18.2: 0, 20, 40 s are three in a minute; 0, 30, 61 s are not
    got = found(chattering, QUIET, bursts((8, 9, 12), seconds))
    assert bool(got) == (len(seconds) == 3)


def test_sixty_one_seconds_are_no_minute():
    text = "\n".join(
        f"2025-01-{day:02} 02:{clock} intrusion-alarm zone=5"
        for day in (8, 9, 12)
        for clock in ("10:00", "10:30", "11:01")
    )
    assert found(chattering, QUIET, text) == []


def test_one_bad_night_is_a_record_unless_it_is_a_very_bad_one():
    assert found(chattering, QUIET, bursts((8,)), bursts((8,), clock="03:10")) == []
    flood = "\n".join(bursts((8,), range(0, 60, 12), clock=f"02:{m:02}") for m in range(10, 20))
    assert found(chattering, QUIET, flood)[0]["events"] == 50
    intruder = flood + "\n2025-01-08 02:15:00 intrusion-alarm zone=6"
    assert found(chattering, QUIET, intruder) == []


def test_a_minute_clock_proves_only_what_shares_a_minute():
    near = "\n".join(
        f"2025-01-{day:02} 02:{m}:00 intrusion-alarm zone=5"
        for day in (8, 9, 12)
        for m in (10, 11, 12)
    )
    assert found(chattering, QUIET, near, grain=60) == []
    same = "\n".join(
        f"2025-01-{day:02} 02:10:00 intrusion-alarm zone=5 nth={n}"
        for day in (8, 9, 12)
        for n in (1, 2, 3)
    )
    got = found(chattering, QUIET, same, grain=60)
    assert len(got) == 1
    assert got[0]["figures"]["index"] is None  # no index finer than the clock


def test_people_who_come_and_go_by_day_are_no_chatter():
    busy = bursts(range(8, 20), kind="activation", clock="11:00")
    assert found(chattering, QUIET, busy) == []
    assert found(chattering, QUIET, bursts(range(8, 20), kind="activation")) != []


def test_life_safety_points_and_tests_are_left_out():
    listed = context("5 fire smoke detector")
    assert found(chattering, QUIET, bursts((8, 9, 12)), known=listed) == []
    smoke = "2025-01-20 02:00:00 fire zone=5"
    assert found(chattering, QUIET, bursts((8, 9, 12)), smoke) == []
    work = "2025-01-08 01:00:00 on-test\n2025-01-13 01:00:00 on-test end"
    assert found(chattering, QUIET, bursts((8, 9, 12)), work) == []


def test_the_index_stands_beside_a_minimum_of_runs():
    # Kondaveeti et al. 2013: every 20 s is 0.05 per second within a burst
    few = found(chattering, QUIET, bursts((8, 9, 12)))[0]
    assert few["figures"]["index"] is None
    many = found(chattering, QUIET, bursts(range(8, 14), (0, 5, 10, 15)))[0]
    assert many["figures"]["index"] == pytest.approx((18 / 5 + 5 * 1e-5) / 23, abs=1e-3)


def test_the_ratio_counts_nights_not_trips():
    other = "\n".join(f"2025-01-{d:02} 04:00:00 intrusion-alarm zone=6" for d in (20,))
    row = found(chattering, QUIET, bursts(range(8, 18), (0, 10, 20, 30)), other)[0]
    assert row["ratio"] == pytest.approx(10)
    assert row["ratio_low"] > 1
    assert row["rate"] == pytest.approx(40 / row["figures"]["hours"])


def test_memory_is_no_chatter_where_disarms_are_not_told():
    # common practice: a panel writes its alarms again at disarm; here no disarm is in the log
    nightly = "\n".join(
        f"2025-01-{d:02} {clock} intrusion-alarm zone=5\n"
        f"2025-01-{d:02} {clock[:6]}30 intrusion-alarm end zone=5"
        for d in (8, 9, 12)
        for clock in ("01:10:00", "02:30:00", "04:20:00")
    )
    again = "\n".join(
        f"2025-01-{d:02} 08:00:0{s} intrusion-alarm zone=5" for d in (8, 9, 12) for s in (2, 3, 4)
    )
    assert found(chattering, nightly, again) == []
    # real repeats restore in between
    real = "\n".join(
        f"2025-01-{d:02} 08:00:{s:02} intrusion-alarm zone=5\n"
        f"2025-01-{d:02} 08:00:{s + 3:02} intrusion-alarm end zone=5"
        for d in (8, 9, 12)
        for s in (2, 12, 22)
    )
    assert found(chattering, nightly, real)[0]["figures"]["bursts"] == 3
