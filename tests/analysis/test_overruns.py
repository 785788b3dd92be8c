"""Late at the keypad, late out of the door."""

from datetime import UTC, datetime, timedelta

import pytest

from eventlab.analysis import entry_overrun, exit_overrun
from tests.analysis.standing import context, found, nights

ENTRY = context("1 entry front door", "2 interior hall", "3 perimeter back door")


def morning(day, *, late=20, zone=1, kind="entry-exit-alarm", person="2"):
    alarm = datetime(2025, 1, day, 7, 59, tzinfo=UTC)
    off = alarm + timedelta(seconds=late)
    return (
        f"{alarm:%Y-%m-%d %H:%M:%S} {kind} zone={zone}\n"
        f"{off:%Y-%m-%d %H:%M:%S} disarm person={person}"
    )


def days(skip, count=20, person="1"):
    """Quiet nights with the mornings of some days left to others."""
    lines = nights(count, person=person).splitlines()
    left = {f"2025-01-{day:02} 08:00:00" for day in skip}
    return "\n".join(line for line in lines if line[:19] not in left)


def test_three_late_entries_are_found_with_share_seconds_and_person():
    late = "\n".join(morning(day) for day in (8, 9, 10))
    site, person = sorted(
        found(entry_overrun, days((8, 9, 10)), late, known=ENTRY),
        key=lambda row: row["subject_kind"],
        reverse=True,
    )
    assert (site["subject_kind"], site["subject"], site["events"]) == ("site", "S1", 3)
    assert site["figures"]["acts"] == 20
    assert site["rate"] == pytest.approx(3 / 20)
    assert site["figures"]["over_median_s"] == 20
    assert "user 2" in site["figures"]["who"]
    assert (person["subject_kind"], person["subject"]) == ("person", "2")
    assert person["figures"]["acts"] == 3
    # exact: 3 of 3 against 0 of 17: 1 / C(20, 3) doubled away by the mid-p
    assert person["looks"] == 2
    assert person["q_value"] < 0.01


def test_two_are_a_record_and_three_a_year_are_ordinary_life():
    two = "\n".join(morning(day) for day in (8, 9))
    assert found(entry_overrun, days((8, 9)), two, known=ENTRY) == []
    spread = [morning(8), morning(8).replace("-01-", "-05-"), morning(8).replace("-01-", "-10-")]
    quiet = nights(300)
    assert found(entry_overrun, quiet, *spread, known=ENTRY) == []


def test_a_busy_place_has_some_late_entries():
    # By hand: four of 300, five in a thousand are usual: P(X >= 4) = 0.066 (Poisson 1.5).
    late = "\n".join(morning(day) for day in (8, 9, 10, 13))
    busy = "\n".join(
        f"2025-01-{day:02} {hour:02}:{minute:02}:00 {kind} person=1"
        for day in range(7, 27)
        for hour in (9, 10, 11, 12, 13, 14, 15)
        for minute, kind in ((0, "arm"), (20, "disarm"), (30, "arm"), (50, "disarm"))
    )
    assert found(entry_overrun, days((8, 9, 10, 13)), late, busy, known=ENTRY) == []
    assert len(found(entry_overrun, days((8, 9, 10, 13)), late, known=ENTRY)) == 2


def test_a_later_disarm_is_an_attendance():
    late = "\n".join(morning(day, late=200) for day in (8, 9, 10))
    assert found(entry_overrun, days((8, 9, 10)), late, known=ENTRY) == []


def test_a_back_door_is_not_the_way_in():
    late = "\n".join(morning(day, zone=3, kind="intrusion-alarm") for day in (8, 9, 10))
    assert found(entry_overrun, days((8, 9, 10)), late, known=ENTRY) == []
    # the hall counts where the front door opened just before
    hall = "\n".join(
        f"2025-01-{day:02} 07:58:40 activation zone=1\n"
        + morning(day, zone=2, kind="intrusion-alarm")
        for day in (8, 9, 10)
    )
    got = found(entry_overrun, days((8, 9, 10)), hall, known=ENTRY)
    assert got[0]["figures"]["off_route"] == 3


def test_a_point_of_unknown_use_is_on_the_way_in_where_its_alarms_end_so():
    late = "\n".join(morning(day, zone=8, kind="intrusion-alarm") for day in (8, 9, 10))
    assert len(found(entry_overrun, days((8, 9, 10)), late)) == 2
    nightly = "\n".join(f"2025-01-{d:02} 02:00:00 intrusion-alarm zone=8" for d in range(11, 18))
    assert found(entry_overrun, days((8, 9, 10)), late, nightly) == []


def test_tests_and_life_safety_are_left_out():
    late = "\n".join(morning(day) for day in (8, 9, 10))
    work = "2025-01-08 07:00:00 on-test\n2025-01-10 09:00:00 on-test end"
    assert found(entry_overrun, days((8, 9, 10)), late, work, known=ENTRY) == []
    fire = "\n".join(morning(day, kind="fire", zone=9) for day in (8, 9, 10))
    assert found(entry_overrun, days((8, 9, 10)), fire, known=ENTRY) == []


def test_no_share_is_told_where_openings_are_not():
    late = "\n".join(morning(day) for day in (8, 9, 10))
    got = found(entry_overrun, late, known=ENTRY)
    assert got
    assert all(row["figures"]["acts"] is None and row["rate"] is None for row in got)


def evening(day, *, after=90, back=60):
    error = f"2025-01-{day:02} 18:01:{after - 60:02} entry-exit-alarm zone=1"
    off = f"2025-01-{day:02} 18:02:{after + back - 120:02} disarm person=1"
    again = f"2025-01-{day:02} 18:05:00 arm person=1"
    return f"{error}\n{off}\n{again}"


def test_alarms_just_after_arming_that_somebody_comes_back_to_are_exits():
    late = "\n".join(evening(day) for day in (8, 9, 10))
    got = found(exit_overrun, nights(20), late, known=ENTRY)
    assert {row["subject_kind"] for row in got} == {"site", "person"}
    assert got[0]["events"] == 3
    assert found(entry_overrun, nights(20), late, known=ENTRY) == []


def test_an_exit_error_and_its_alarm_are_one():
    # DC-03: EA (zone) and EE (user) from the same minute are one exit error
    late = "\n".join(
        f"2025-01-{day:02} 18:01:30 exit-error person=1\n"
        f"2025-01-{day:02} 18:01:31 entry-exit-alarm zone=1\n"
        f"2025-01-{day:02} 18:03:00 disarm person=1\n"
        f"2025-01-{day:02} 18:05:00 arm person=1"
        for day in (8, 9, 10)
    )
    assert found(exit_overrun, nights(20), late, known=ENTRY)[0]["events"] == 3


def test_nobody_who_comes_back_makes_no_exit():
    alone = "\n".join(f"2025-01-{d:02} 18:01:30 intrusion-alarm zone=2" for d in (8, 9, 10))
    assert found(exit_overrun, nights(20), alone, known=ENTRY) == []


@pytest.mark.parametrize(("after", "exits"), [("18:04:15", True), ("18:04:16", False)])
def test_the_longest_exit_time_is_the_bar(after, exits):
    # ANSI/SIA CP-01 4.2.2: an exit time is 255 s at most; armed at 18:00:00
    late = "\n".join(
        f"2025-01-{day:02} {after} entry-exit-alarm zone=1\n"
        f"2025-01-{day:02} 18:05:30 disarm person=1\n"
        f"2025-01-{day:02} 18:07:00 arm person=1"
        for day in (8, 9, 10)
    )
    assert bool(found(exit_overrun, nights(20), late, known=ENTRY)) is exits
