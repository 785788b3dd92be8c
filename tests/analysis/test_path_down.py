"""Alarms that never reached a centre: told only where nothing ordinary accounts for it.

What need not reach a centre is common practice and stands in the standards named: abort and entry
(ANSI/SIA CP-01), confirmed alarms only (BS 8243), part-set local by programming.
"""

from datetime import datetime, timedelta

import pytest

from eventlab.analysis import path_down
from eventlab.report.said import Said
from eventlab.report.sentences import sentence
from tests.analysis.standing import context
from tests.analysis.standing import found as found_by

START = datetime.fromisoformat("2025-01-06 00:00:00")
DAYS = 60
ZONES = ("7", "8", "9")


def at(day, clock):
    return f"{START + timedelta(days=day):%Y-%m-%d} {clock}"


def history(
    lost=(), *, days=DAYS, alarm="02:10:00", mode="", after=None, more=(), centre=True, lag=4
):
    """Write nights with an alarm each third; ``lost`` ones the centre did not hear of."""
    lines = []
    for day in range(days):
        lines.append(f"{at(day, '18:00:00')} arm person=1 {mode}")
        lines.append(f"{at(day, f'18:00:{lag:02}')} arm person=1 {mode} witness=receiver path=IP")
        if day % 3 == 0:
            zone = ZONES[day // 3 % len(ZONES)]
            lines.append(f"{at(day + 1, alarm)} intrusion-alarm zone={zone}")
            if day // 3 not in lost and centre:
                heard = at(day + 1, f"{alarm[:-2]}{lag:02}")
                lines.append(f"{heard} intrusion-alarm zone={zone} witness=receiver path=IP")
            if after:
                lines.append(f"{at(day + 1, after)}")
        lines.append(f"{at(day + 1, '08:00:00')} disarm person=1")
        lines.append(f"{at(day + 1, f'08:00:{lag:02}')} disarm person=1 witness=receiver path=IP")
    return "\n".join([*lines, *more])


def found(text):
    return found_by(path_down, text, known=context())


def test_alarms_that_never_came_are_told_with_what_proves_it():
    (row,) = found(history(lost=range(12, 16)))
    assert (row["pattern"], row["subject_kind"], row["events"]) == ("path-down", "site", 4)
    assert not row["standing"]
    assert row["since"].date().isoformat() == "2025-02-12"
    told = {line["what"]: line["figure"] for line in row["evidence"]}
    assert told["other alarms of these kinds and points that did reach the centre"] == "16 of 16"
    assert told["openings and closings in that time that did reach it"] == "18 of 18"


def test_where_none_came_since_it_still_holds():
    assert [row["standing"] for row in found(history(lost=range(15, 20)))] == [True]


@pytest.mark.parametrize("lost", [(3,), (3, 9, 15), (12, 13)])
def test_single_losses_are_records(lost):
    assert found(history(lost=lost)) == []


def test_a_centre_that_never_hears_of_such_alarms_is_not_accused():
    """Nothing proves that the path was expected to carry them."""
    assert found(history(lost=range(20))) == []
    assert found(history(lost=range(4, 20))) == []


LOST = range(12, 20)


def test_without_any_such_account_these_are_told():
    assert len(found(history(lost=LOST))) == 1


@pytest.mark.parametrize(
    ("how", "why"),
    [
        ({"after": "02:10:40 disarm person=1"}, "disarmed inside entry and abort time"),
        ({"after": "02:10:40 cancel"}, "aborted"),
        (
            {"after": "02:25:00 confirmed-alarm witness=receiver"},
            "the centre heard of it otherwise",
        ),
        ({"after": "06:10:00 intrusion-alarm witness=receiver path=IP"}, "received late"),
    ],
)
def test_what_accounts_for_each_lost_alarm(how, why):
    text = history(lost=LOST)
    lines = text.splitlines()
    for number in LOST:
        lines.append(at(3 * number + 1, how["after"]))
    assert found("\n".join(lines)) == [], why


def test_on_test_with_the_centre():
    more = [f"{at(36, '12:00:00')} on-test witness=receiver",
            f"{at(60, '17:00:00')} on-test end witness=receiver"]  # fmt: skip
    assert found(history(lost=LOST, more=more)) == []


def test_local_by_mode():
    """Part-armed nights are a class of their own, and none of them ever reached the centre."""
    lines = history(lost=LOST).splitlines()
    part = [
        f"{line} mode=part" if " arm " in line and line[:10] >= at(36, "")[:10] else line
        for line in lines
    ]
    assert found("\n".join(part)) == []


def test_shut_out():
    lines = history(lost=LOST).splitlines()
    for number in LOST:
        zone = ZONES[number % 3]
        lines.append(f"{at(3 * number + 1, '02:00:00')} shutdown zone={zone}")
        lines.append(f"{at(3 * number + 1, '08:00:01')} shutdown end zone={zone}")
    assert found("\n".join(lines)) == []


def test_unconfirmed_where_only_confirmed_alarms_are_sent():
    """Confirmed ones came, single ones never did, whatever the point."""
    lines = history(lost=range(20)).splitlines()
    for day in range(1, 60, 6):
        at_night = f"{at(day + 1, '03:00:00')[:-3]}"
        for second, zone in ((0, "7"), (40, "8")):
            lines.append(f"{at_night}:{second:02} intrusion-alarm zone={zone}")
            lines.append(f"{at_night}:{second + 5:02} intrusion-alarm zone={zone} witness=receiver")
        lines.append(f"{at_night}:40 confirmed-alarm zone=8")
        lines.append(f"{at_night}:46 confirmed-alarm zone=8 witness=receiver")
    assert found("\n".join(lines)) == []


def test_a_point_that_is_never_sent():
    lines = history().splitlines()
    lines += [f"{at(day + 1, '03:00:00')} intrusion-alarm zone=12" for day in range(1, 60, 4)]
    assert found("\n".join(lines)) == []


def test_a_history_that_ends_before_the_panel_s_log_tells_nothing_of_later():
    text = history(lost=LOST)
    kept = [line for line in text.splitlines() if "receiver" not in line or line < at(36, "")]
    assert found("\n".join(kept)) == []


def test_a_clock_that_is_off_is_no_lost_alarm():
    lines = []
    for line in history().splitlines():
        moment = datetime.fromisoformat(line[:19])
        shift = timedelta(0) if "receiver" in line else timedelta(minutes=27)
        lines.append(f"{moment + shift:%Y-%m-%d %H:%M:%S}{line[19:]}")
    assert found("\n".join(lines)) == []


def test_one_log_alone_tells_nothing_of_what_came():
    text = history(lost=LOST)
    assert found("\n".join(x for x in text.splitlines() if "receiver" not in x)) == []


# -- paths that were told lost ----------------------------------------------------------------


def cut(since, until=None, path="IP", speaks=True):
    lines = history().splitlines()
    if not speaks:
        stop = until or at(400, "")
        lines = [x for x in lines if "receiver" not in x or not since <= x[:19] < stop]
    lines.append(f"{since} comms-fail witness=receiver path={path}")
    if until:
        lines.append(f"{until} comms-fail end witness=receiver path={path}")
    return "\n".join(lines)


def test_a_path_that_stays_lost():
    (row,) = found(cut(at(40, "10:00:00"), speaks=False))
    assert row["standing"]
    assert row["since"] == datetime.fromisoformat(at(40, "10:00:00+00:00"))
    told = Said("S1", "site", "S1", True, "15 Feb", "7 Mar", row["figures"])
    text = sentence("path-down", told)
    assert text.startswith("The path IP of S1 has been lost since 15 Feb")


def test_a_path_lost_for_days_is_told_and_for_hours_is_a_record():
    assert len(found(cut(at(40, "10:00:00"), at(43, "10:00:00"), speaks=False))) == 1
    assert found(cut(at(40, "10:00:00"), at(41, "09:00:00"), speaks=False)) == []


def test_a_path_that_still_speaks_is_not_lost():
    assert found(cut(at(40, "10:00:00"))) == []


def test_another_path_that_speaks_does_not_mend_this_one():
    assert [row["standing"] for row in found(cut(at(40, "10:00:00"), path="Radio"))] == [True]


def lost_for_two_days(*more, end="path=IP"):
    """Lose a path for two days of the nights above; the centre hears nothing meanwhile."""
    lines = history(lost=range(3, 4)).splitlines()
    away = [at(9, "12:00:00") < line < at(11, "13:00:00") for line in lines]
    kept = [x for x, gone in zip(lines, away, strict=True) if not gone or "receiver" not in x]
    rows = (
        f"{at(9, '12:00:00')} comms-fail begin witness=receiver path=IP",
        f"{at(11, '12:30:00')} comms-fail end witness=receiver {end}",
    )
    return found("\n".join([*kept, *rows, *more]))


@pytest.mark.parametrize("end", ["path=IP", ""])
def test_a_path_is_back_whether_or_not_its_return_names_it(end):
    (row,) = lost_for_two_days(end=end)
    assert (row["pattern"], row["standing"]) == ("path-down", False)
    assert row["until"].date().isoformat() == at(11, "")[:10]


def test_a_return_without_a_name_ends_neither_of_two_lost_paths():
    # Which came back nobody says. Over one of them something came later; the other stays lost.
    (row,) = lost_for_two_days(
        f"{at(10, '12:00:00')} comms-fail begin witness=receiver path=GSM", end=""
    )
    assert (row["standing"], row["events"]) == (True, 1)
    assert row["since"].date().isoformat() == at(10, "")[:10]
