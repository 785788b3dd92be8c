"""How a place is used: timers, latches, switches, forced armings, bypasses.

What stands beside each bar is common practice of the trade, unless another source is named.
"""

from datetime import UTC, datetime, timedelta

import pytest

from eventlab.analysis import (
    armed_on_people,
    entry_overrun,
    forced_arming,
    last_door,
    lasting_bypass,
    mains,
    off_when_closed,
)
from eventlab.report.said import Said
from eventlab.report.sentences import sentence
from tests.analysis.standing import context, found, nights

PLACE = context("1 entry front door", "2 interior hall", "3 perimeter back window", "9 fire smoke")
FIRST = datetime(2025, 1, 6, tzinfo=UTC)


def day(number):
    return f"{FIRST + timedelta(days=number):%Y-%m-%d}"


def lived(skip=(), count=20, arm="18:00:00"):
    """Quiet nights but for some evenings."""
    left = {f"{day(n)} {arm}" for n in skip}
    return "\n".join(x for x in nights(count, arm=arm).splitlines() if x[:19] not in left)


# ---- a timer that arms on people -----------------------------------------------------------


def stayed(number, *, after="18:09:00", off="18:10:00", hour=None, mode="mode=timed"):
    lines = (
        f"{day(number)} 18:00:00 arm {mode}\n{day(number)} {after} intrusion-alarm zone=2\n"
        f"{day(number)} {off} disarm person=3\n{day(number)} 19:30:00 arm person=3"
    )
    return lines.replace(" 18:", f" {hour}:") if hour else lines


def test_a_timer_that_arms_on_people_is_found_and_its_share_told():
    four = "\n".join(stayed(n) for n in (3, 5, 9, 11))
    fine = f"{day(12)} 18:00:00 arm mode=timed"
    got = found(armed_on_people, lived((3, 5, 9, 11, 12)), four, fine, known=PLACE)
    assert [(row["subject"], row["events"]) for row in got] == [("S1", 4)]
    assert got[0]["rate"] == pytest.approx(4 / 5)
    assert got[0]["figures"]["half_s"] == 540
    assert got[0]["figures"]["off_s"] == 60


def test_it_moves_with_the_schedule():
    hours = ((3, "18"), (5, "17"), (9, "16"), (11, "15"))
    moved = "\n".join(stayed(n, hour=h) for n, h in hours)
    got = found(armed_on_people, lived((3, 5, 9, 11)), moved, known=PLACE)
    assert got[0]["events"] == 4
    assert any("different hours" in line["basis"] for line in got[0]["evidence"])


@pytest.mark.parametrize(
    "change",
    [
        {"off": "18:59:00"},  # a heater: nobody was there, somebody came
        {"after": "18:45:00", "off": "18:46:00"},  # too long after the arming
        {"mode": "person=4"},  # a person armed, at one hour no timer keeps
    ],
)
def test_what_is_no_timer_arming_on_people(change):
    four = "\n".join(stayed(n, **change) for n in (3, 5, 9, 11))
    assert found(armed_on_people, lived((3, 5, 9, 11)), four, known=PLACE) == []


def test_three_evenings_are_a_record():
    three = "\n".join(stayed(n) for n in (3, 5, 9))
    assert found(armed_on_people, lived((3, 5, 9)), three, known=PLACE) == []


def test_who_is_inside_is_not_coming_in():
    unlisted = "\n".join(stayed(n) for n in (3, 5, 9))
    assert found(entry_overrun, lived((3, 5, 9)), unlisted) == []


# ---- a final door that does not latch ------------------------------------------------------


def opens(number, *, at="18:20:00", shut="07:59:50", zone=1, next_day=True):
    over = number + 1 if next_day else number
    return (
        f"{day(number)} {at} entry-exit-alarm zone={zone}\n"
        f"{day(over)} {shut} entry-exit-alarm end zone={zone}"
    )


LIVE = "\n".join(
    f"{day(n)} 2{n % 4}:30:00 intrusion-alarm zone=3\n{day(n)} 2{n % 4}:30:04 intrusion-alarm end "
    "zone=3"
    for n in range(10, 15)
)


def test_a_door_that_opens_after_closing_until_someone_comes():
    four = "\n".join(opens(n) for n in (2, 4, 6, 8))
    got = found(last_door, lived(), four, LIVE, known=PLACE)
    assert [(row["subject"], row["events"]) for row in got] == [("1", 4)]
    assert got[0]["figures"]["half_s"] == 1200


@pytest.mark.parametrize(
    "case",
    [
        {"at": "23:40:00"},  # wind, in the middle of the night
        {"shut": "18:20:20", "next_day": False},  # it fell shut again
        {"at": "18:02:00"},  # somebody leaving
        {"zone": 3},  # no final door
    ],
)
def test_what_is_no_latch(case):
    four = "\n".join(opens(n, **case) for n in (2, 4, 6, 8))
    assert found(last_door, lived(), four, LIVE, known=PLACE) == []


def test_a_second_point_is_no_latch():
    four = "\n".join(
        opens(n) + f"\n{day(n)} 18:50:00 intrusion-alarm zone=2\n"
        f"{day(n)} 18:50:04 intrusion-alarm end zone=2"
        for n in (2, 4, 6, 8)
    )
    assert found(last_door, lived(), four, LIVE, known=PLACE) == []


def test_without_ends_as_they_happen_nothing_is_said_of_a_latch():
    at_disarm = "\n".join(opens(n, shut="08:00:01") for n in (2, 4, 6, 8))
    assert found(last_door, lived(), at_disarm, known=PLACE) == []


# ---- switched off with the lights ----------------------------------------------------------


def lost(number, *, begin="18:04:00", end="08:03:00", kind="mains-loss"):
    return f"{day(number)} {begin} {kind}\n{day(number + 1)} {end} {kind} end"


@pytest.mark.parametrize("kind", ["mains-loss", "comms-fail"])
def test_lost_at_closing_and_back_at_opening(kind):
    every = "\n".join(lost(n, kind=kind) for n in range(2, 12))
    got = found(off_when_closed, lived(), every, known=PLACE)
    assert [(row["subject"], row["events"]) for row in got] == [("S1", 10)]
    assert got[0]["figures"]["half_min"] == pytest.approx(4)


def test_what_people_switch_off_is_no_long_outage_beside_it():
    every = "\n".join(lost(n) for n in range(2, 12))
    assert found(mains, lived(), every, known=PLACE) == []
    once = lost(3)
    assert len(found(mains, lived(), once, known=PLACE)) == 1


def test_by_the_clock_is_not_by_the_closing():
    uneven = "\n".join(
        f"{day(n)} {16 + n % 3}:{10 * (n % 6):02}:00 arm person=1\n{day(n + 1)} 08:00:00 disarm "
        "person=1"
        for n in range(20)
    )
    clocked = "\n".join(lost(n, begin="19:00:00") for n in range(2, 12))
    assert found(off_when_closed, uneven, clocked, known=PLACE) == []
    with_it = "\n".join(
        lost(n, begin=f"{16 + n % 3}:{10 * (n % 6) + 4:02}:00") for n in range(2, 12)
    )
    assert len(found(off_when_closed, uneven, with_it, known=PLACE)) == 1


def test_where_arming_is_not_told_nothing_is_said_of_closing():
    every = "\n".join(lost(n) for n in range(2, 12))
    assert found(off_when_closed, every, known=PLACE) == []


# ---- armed by force ------------------------------------------------------------------------


def by_force(number, *, zone=3):
    return (
        f"{day(number)} 18:00:00 bypass zone={zone}\n"
        f"{day(number)} 18:00:02 arm mode=forced person=1"
    )


def test_armed_by_force_as_a_habit_with_what_was_left_out():
    four = "\n".join(by_force(n) for n in (2, 4, 6, 8))
    got = found(forced_arming, lived((2, 4, 6, 8)), four, known=PLACE)
    assert got[0]["events"] == 4
    told = got[0]["figures"]
    assert (told["armings"], told["worst"], told["worst_times"]) == (20, "3", 4)
    # exact interval of 4 in 20 (Clopper and Pearson 1934): 0.0573 to 0.4366
    assert told["share_low"] == pytest.approx(0.0573, abs=1e-3)
    assert told["share_high"] == pytest.approx(0.4366, abs=1e-3)
    assert found(lasting_bypass, lived((2, 4, 6, 8)), four, known=PLACE) == []


def test_armed_by_force_twice_is_a_record_and_what_was_left_out_may_not_be_told():
    two = "\n".join(by_force(n) for n in (2, 4))
    assert found(forced_arming, lived((2, 4)), two, known=PLACE) == []
    bare = "\n".join(f"{day(n)} 18:00:02 arm mode=forced" for n in (2, 4, 6))
    got = found(forced_arming, lived((2, 4, 6)), bare, known=PLACE)
    assert got[0]["figures"]["points"] is None
    assert any(line["figure"] == "not recorded" for line in got[0]["evidence"])


# ---- bypasses that stay --------------------------------------------------------------------

TELLS = f"{day(0)} 17:00:00 bypass zone=2\n{day(0)} 17:30:00 bypass end zone=2"


def test_a_bypass_that_the_log_does_not_show_lifted():
    got = found(lasting_bypass, lived(), TELLS, f"{day(5)} 12:00:00 bypass zone=3", known=PLACE)
    assert [(row["subject"], row["standing"]) for row in got] == [("3", True)]
    assert got[0]["figures"]["nights"] == 15
    said = Said("Point 3", "zone", "Site", standing=True, since="x", until="y",
                figures=got[0]["figures"])  # fmt: skip
    assert "the log does not show it lifted" in sentence("lasting-bypass", said)


def test_a_bypass_ends_at_the_next_disarm_where_the_log_tells_no_ends():
    # common practice: a one-shot bypass lifts at the disarm without a row
    one = f"{day(5)} 17:00:00 bypass zone=3"
    assert found(lasting_bypass, lived(), one, known=PLACE) == []
    nightly = "\n".join(f"{day(n)} 17:00:00 bypass zone=3" for n in range(5, 20))
    got = found(lasting_bypass, lived(), nightly, known=PLACE)
    assert got[0]["figures"]["nights"] == 15
    assert got[0]["figures"]["many"] == 15


def test_a_point_seen_at_work_in_an_armed_period_was_back():
    seen = f"{day(6)} 02:00:00 intrusion-alarm zone=3"
    bypass = f"{day(5)} 12:00:00 bypass zone=3"
    assert found(lasting_bypass, lived(), TELLS, bypass, seen, known=PLACE) == []


def test_lifted_the_same_day_or_within_days_is_a_record():
    short = f"{day(5)} 12:00:00 bypass zone=3\n{day(5)} 17:00:00 bypass end zone=3"
    days = f"{day(8)} 12:00:00 bypass zone=3\n{day(13)} 17:00:00 bypass end zone=3"
    assert found(lasting_bypass, lived(), short, days, known=PLACE) == []


def test_without_arming_and_ends_nobody_knows_how_long_a_bypass_lasted():
    bypass = f"{day(5)} 12:00:00 bypass zone=3\n{day(30)} 12:00:00 intrusion-alarm zone=2"
    assert found(lasting_bypass, bypass, known=PLACE) == []
    got = found(lasting_bypass, bypass, TELLS, known=PLACE)
    assert [(row["subject"], row["figures"]["nights"]) for row in got] == [("3", None)]


def test_a_life_safety_point_is_missed_within_a_day():
    gone = f"{day(8)} 12:00:00 bypass zone=9\n{day(9)} 17:00:00 bypass end zone=9"
    got = found(lasting_bypass, lived(), gone, known=PLACE)
    assert [row["subject"] for row in got] == ["9"]
    assert got[0]["figures"]["life_safety"] is True


# ---- who is told, and how ------------------------------------------------------------------


def test_findings_of_use_name_nobody_and_accuse_nobody():
    timed = "\n".join(stayed(n).replace("person=3", "person=Ragnhild") for n in (3, 5, 7, 9))
    forced = "\n".join(by_force(n).replace("person=1", "person=Ragnhild") for n in (11, 13, 15))
    left = f"{day(16)} 12:00:00 bypass zone=3 person=Ragnhild"
    lines = lived((3, 5, 7, 9, 11, 13, 15))
    for module, pattern in (
        (armed_on_people, "armed-on-people"),
        (forced_arming, "forced-arming"),
        (lasting_bypass, "lasting-bypass"),
    ):
        got = found(module, lines, timed, forced, left, TELLS, known=PLACE)
        assert got, pattern
        for row in got:
            said = Said("S1", row["subject_kind"], "Hill Library", standing=row["standing"],
                        since="x", until="y", figures=row["figures"])  # fmt: skip
            text = f"{sentence(pattern, said)} {row}"
            assert "Ragnhild" not in text
            assert "misuse" not in text.lower()
