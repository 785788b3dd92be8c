"""Entries, closings and codes: seconds, ways in, who is a person, and what is expected of each."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from scipy.stats import gamma

from eventlab.advice import trained
from eventlab.analysis.by_person import by_person, mistakes
from eventlab.analysis.entries import closings, entries
from eventlab.analysis.who import codes, people
from eventlab.stats import gamma_interval, shrunk_rates
from tests.analysis.standing import SETTINGS, context, ground

PLACE = context(
    "1 entry front door", "2 follower lobby", "3 interior hall", "5 entry side door",
    entry_delay_s=30.0,
)  # fmt: skip
FIRST = datetime(2025, 1, 6, tzinfo=UTC)


def at(day, clock):
    return f"{FIRST + timedelta(days=day):%Y-%m-%d} {clock}"


def days(count, who=("1", "2", "3"), **skip):
    return "\n".join(
        f"{at(n, '18:00:00')} arm person={who[n % len(who)]}\n"
        f"{at(n + 1, '08:00:00')} disarm person={who[n % len(who)]}"
        for n in range(count)
        if n not in skip.get("skip", ())
    )


def entered(day, *, door=1, opened="08:00:00", off="08:00:21", alarm=None, person="1"):
    lines = [f"{at(day, '18:00:00')} arm person={person}"]
    lines.append(f"{at(day + 1, opened)} activation zone={door}")
    lines.append(f"{at(day + 1, '08:00:06')} activation zone=2")
    if alarm:
        lines.append(f"{at(day + 1, alarm)} entry-exit-alarm zone={door}")
    lines.append(f"{at(day + 1, off)} disarm person={person}")
    return "\n".join(lines)


# ---- entries -------------------------------------------------------------------------------


def test_seconds_run_from_the_first_door_to_the_disarm_and_the_way_is_told():
    laid = ground(entered(1), entered(3, door=5), days(6, skip=(1, 3)), known=PLACE)
    got = entries(laid, PLACE, SETTINGS).filter(entry_s=21.0)
    assert got["door"].to_list() == ["1", "5"]
    assert got["steps"].to_list() == [["1", "2"], ["5", "2"]]
    assert got["delay_s"].to_list() == [30.0, 30.0]
    assert not got["late"].any()


def test_where_only_alarm_and_disarm_are_told_no_margin_is():
    late = f"{at(2, '07:59:00')} entry-exit-alarm zone=1"
    got = entries(ground(late, days(6), known=PLACE), PLACE, SETTINGS)
    one = got.filter("late")
    assert one["over_s"].to_list() == [60.0]
    assert got["entry_s"].null_count() == got.height


def test_several_areas_opened_at_once_are_one_entry():
    # common practice: one act of one person, four rows
    rows = "\n".join(f"{at(1, f'08:00:0{n}')} disarm person=1 area={n}" for n in range(1, 5))
    armed = "\n".join(f"{at(0, f'18:00:0{n}')} arm person=1 area={n}" for n in range(1, 5))
    assert entries(ground(armed, rows), PLACE, SETTINGS).height == 1


# ---- closings ------------------------------------------------------------------------------


def test_a_closing_that_went_wrong_is_late_and_armed_again():
    wrong = (
        f"{at(2, '18:00:00')} arm person=1\n{at(2, '18:01:00')} exit-error person=1\n"
        f"{at(2, '18:01:40')} disarm person=1\n{at(2, '18:02:30')} arm person=1\n"
        f"{at(3, '08:00:00')} disarm person=1"
    )
    got = closings(ground(wrong, days(8, skip=(2,)), known=PLACE), PLACE, SETTINGS)
    assert got["late"].sum() == 1
    assert got.filter("again")["local"].dt.minute().to_list() == [2]


def test_the_way_out_is_timed_where_arming_is_written_at_its_start():
    left = "\n".join(f"{at(n, '18:00:17')} activation zone=1" for n in range(8))
    late = f"{at(3, '18:00:52')} activation zone=1"
    got = closings(ground(days(8), left, late, known=PLACE), PLACE, SETTINGS)
    assert sorted(got["exit_s"].to_list()) == [17.0] * 7 + [52.0]
    before = "\n".join(f"{at(n, '17:59:40')} activation zone=1" for n in range(8))
    ended = closings(ground(days(8), before, known=PLACE), PLACE, SETTINGS)
    assert ended["exit_s"].null_count() == ended.height


def test_people_left_inside_by_a_person_are_told_apart_from_a_timer():
    stayed = (
        f"{at(2, '18:00:00')} arm person=1\n{at(2, '18:12:00')} intrusion-alarm zone=3\n"
        f"{at(2, '18:13:00')} disarm person=2\n{at(2, '18:40:00')} arm person=2\n"
        f"{at(3, '08:00:00')} disarm person=1"
    )
    got = closings(ground(stayed, days(8, skip=(2,)), known=PLACE), PLACE, SETTINGS)
    assert got["left_inside"].sum() == 1
    assert not got["timed"].any()


# ---- who is a person -----------------------------------------------------------------------


def what(*texts):
    return dict(codes(ground(*texts), SETTINGS).select("person", "what").iter_rows())


def test_numbers_that_stand_for_no_person():
    timer = "\n".join(f"{at(n, '19:30:00')} arm person=99 mode=timed" for n in range(12))
    even = "\n".join(f"{at(n, '20:15:00')} arm person=50" for n in range(12))
    key = "\n".join(f"{at(n, '21:00:00')} arm person=60 mode=key" for n in range(3))
    named = f"{at(2, '12:00:00')} disarm person=90 person_name=Installer"
    got = what(days(12), timer, even, key, named)
    assert got == {"1": "person", "2": "person", "3": "person", "50": "timer", "60": "key",
                   "90": "installer", "99": "timer"}  # fmt: skip


def test_a_shared_code_gives_no_figures_by_person():
    often = days(30, who=("1",) * 9 + ("2",))
    laid = ground(often)
    assert codes(laid, SETTINGS)["what"].to_list() == ["shared", "person"]
    assert people(laid, SETTINGS).is_empty()
    told = by_person(
        laid, entries(laid, PLACE, SETTINGS), closings(laid, PLACE, SETTINGS), SETTINGS
    )
    assert told["expected"].null_count() == 2


def test_one_bad_evening_is_no_verdict():
    late = f"{at(2, '07:59:00')} entry-exit-alarm zone=1"
    laid = ground(days(60), late, known=PLACE)
    told = by_person(
        laid, entries(laid, PLACE, SETTINGS), closings(laid, PLACE, SETTINGS), SETTINGS
    )
    worst = told.filter(alarms=1).row(0, named=True)
    usual = 100 * told["alarms"].sum() / told["acts"].sum()
    assert worst["rate"] == pytest.approx(100 / 40)
    assert usual <= worst["expected"] < worst["rate"]
    assert worst["expected_low"] < usual


def test_the_interval_is_the_gamma_distribution_of_the_reference_library():
    count, acts = np.array([9.0, 1, 0, 2]), np.array([80.0, 90, 85, 100])
    got = shrunk_rates(count, acts)
    low, high = gamma_interval(count, acts, got)
    scale = 1 / (got.shape / got.mean + acts)
    assert low == pytest.approx(gamma.ppf(0.025, got.shape + count, scale=scale))
    assert high == pytest.approx(gamma.ppf(0.975, got.shape + count, scale=scale))


def test_codes_not_used_or_only_at_odd_hours_are_asked_about():
    gone = f"{at(1, '12:00:00')} disarm person=8\n{at(1, '12:30:00')} arm person=8"
    odd = "\n".join(
        f"{at(n, '02:10:00')} disarm person=9\n{at(n, '02:40:00')} arm person=9"
        for n in (30, 60, 90)
    )
    laid = ground(days(120), gone, odd)
    told = by_person(
        laid, entries(laid, PLACE, SETTINGS), closings(laid, PLACE, SETTINGS), SETTINGS
    )
    assert told.drop_nulls("unused_d")["person"].to_list() == ["8"]
    assert told.filter("odd")["person"].to_list() == ["9"]


def test_wrong_codes_and_cancels_are_counted_with_how_long_they_took():
    wrong = f"{at(1, '07:59:52')} wrong-code\n{at(3, '03:00:00')} wrong-code"
    alarm = f"{at(2, '07:59:20')} entry-exit-alarm zone=1\n{at(2, '08:00:01')} cancel person=2"
    got = mistakes(ground(days(6), wrong, alarm, known=PLACE), SETTINGS).row(0, named=True)
    assert (got["wrong"], got["righted"], got["right_s"]) == (2, 1, 8.0)
    assert (got["cancels"], got["cancel_s"]) == (1, 41.0)


# ---- training ------------------------------------------------------------------------------


def test_training_is_proven_as_a_fix_is():
    late = "\n".join(f"{at(n + 1, '07:59:00')} entry-exit-alarm zone=1" for n in range(0, 60, 3))
    laid = ground(days(200), late, known=PLACE)
    got = trained(laid, PLACE, SETTINGS, "S1", FIRST + timedelta(days=60, hours=12))
    everyone, one = got.to_dicts()
    assert everyone["person"] is None
    assert one["person"] == "1"
    for row in (everyone, one):
        assert (row["before_late"], row["after_late"], row["verdict"]) == (20, 0, "better")
    early = trained(laid, PLACE, SETTINGS, "S1", FIRST + timedelta(days=198, hours=12))
    assert early["verdict"].to_list()[0] == "no evidence yet"
    assert early["more_acts"][0] > 0


def test_training_needs_openings_and_closings():
    laid = ground(f"{at(2, '07:59:00')} entry-exit-alarm zone=1", known=PLACE)
    assert trained(laid, PLACE, SETTINGS, "S1", FIRST).is_empty()
