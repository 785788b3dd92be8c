"""What must be alive: lids, masked detectors, faults, radio, and what the log does not cover."""

from datetime import UTC, datetime

import polars as pl
import pytest

from eventlab.analysis import (
    battery,
    faults,
    log_gap,
    mains,
    on_test,
    path_down,
    radio,
    reports,
    run,
    supervision,
)
from eventlab.analysis.conditions import spells
from eventlab.ground import lay
from eventlab.ground.standing import CONDITIONS
from tests.analysis.standing import NOTHING, SETTINGS, context, events, found, ground, nights

QUIET = nights(40)


class As:
    """One function of a module, where tests ask for ``find``."""

    def __init__(self, find):
        self.find = find


LIDS, MASKED, FAULTS = As(faults.tamper_open), As(faults.masked), As(faults.standing)


def one(rows):
    assert len(rows) == 1, rows
    return rows[0]


def of(text, source):
    return "\n".join(f"{line} source={source}" for line in text.splitlines() if line.strip())


def lasting(kind, since, until, more=""):
    return f"{since} {kind} {more}\n{until} {kind} end {more}"


# -- lids ---------------------------------------------------------------------------------------


def test_a_lid_left_open_is_found_and_one_shut_the_same_day_is_a_record():
    short = lasting("tamper", "2025-01-10 09:00:00", "2025-01-10 17:00:00", "zone=4")
    assert found(LIDS, QUIET, short) == []
    long = lasting("tamper", "2025-01-10 09:00:00", "2025-01-12 09:00:00", "zone=4")
    got = one(found(LIDS, QUIET, long))
    assert (got["subject"], got["standing"], got["figures"]["longest_h"]) == ("4", False, 48)
    got = one(found(LIDS, QUIET, "2025-02-10 09:00:00 tamper"))
    assert (got["subject_kind"], got["standing"]) == ("site", True)


def test_a_tamper_told_as_an_alarm_counts_where_its_end_is_told():
    alarm = "2025-01-20 21:00:00 tamper-alarm zone=4"
    assert found(LIDS, QUIET, alarm) == []
    ended = lasting("tamper-alarm", "2025-01-08 21:00:00", "2025-01-08 21:05:00", "zone=5")
    assert one(found(LIDS, QUIET, ended, alarm))["standing"] is True


def test_a_life_safety_lid_is_told_too():
    open_ = "2025-02-01 09:00:00 tamper zone=9"
    got = one(found(LIDS, QUIET, open_, known=context("9 fire smoke")))
    assert got["figures"]["life_safety"] is True


# -- masked -------------------------------------------------------------------------------------


def test_a_masked_detector_tells_its_armed_hours_and_whether_the_place_was_open():
    text = lasting("masking", "2025-01-10 12:00:00", "2025-01-12 12:00:00", "zone=4")
    got = one(found(MASKED, QUIET, text))
    assert (got["subject"], got["standing"]) == ("4", False)
    # armed from 18:00 to 08:00 twice in that time
    assert got["figures"]["armed_h"] == pytest.approx(28, abs=0.5)
    assert got["figures"]["while_open"] == 1
    night = lasting("masking", "2025-01-10 22:00:00", "2025-01-12 12:00:00", "zone=4")
    assert one(found(MASKED, QUIET, night))["figures"]["while_open"] == 0


def test_a_trolley_before_a_detector_is_a_record_and_three_are_not():
    text = [
        lasting("masking", f"2025-01-{d:02} 12:00:00", f"2025-01-{d:02} 13:00:00", "zone=4")
        for d in (10, 15, 20)
    ]
    assert found(MASKED, QUIET, *text[:2]) == []
    assert one(found(MASKED, QUIET, *text))["figures"]["repeats"] is True


# -- faults -------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", ["siren-fault", "module-fault", "sensor-fault", "system-fault"])
def test_a_fault_that_stands_is_found_and_one_that_cleared_is_a_record(kind):
    short = lasting(kind, "2025-01-10 09:00:00", "2025-01-10 21:00:00", "zone=4")
    assert found(FAULTS, QUIET, short) == []
    got = one(found(FAULTS, QUIET, f"2025-02-01 09:00:00 {kind} zone=4"))
    assert got["standing"] is True
    assert got["figures"]["what"] == kind.replace("-", " ")
    assert got["figures"]["siren"] == (kind == "siren-fault")


def test_several_faults_of_one_part_are_one_finding():
    text = "2025-02-01 09:00:00 siren-fault\n2025-02-02 09:00:00 module-fault"
    got = one(found(FAULTS, QUIET, text))
    assert (got["events"], got["figures"]["what"]) == (2, "siren fault, module fault")


# -- radio --------------------------------------------------------------------------------------


def wave(day, zones=(5, 6, 7), hours=2):
    since = [f"2025-01-{day:02} 03:0{n}:00 supervision-loss zone={z}" for n, z in enumerate(zones)]
    end = [
        f"2025-01-{day:02} {3 + hours:02}:0{n}:00 supervision-loss end zone={z}"
        for n, z in enumerate(zones)
    ]
    return "\n".join(since + end)


def test_many_devices_lost_at_once_again_and_again_are_one_finding_of_the_site():
    assert found(radio, QUIET, wave(10)) == []
    three = (wave(10), wave(15), wave(20))
    got = one(found(radio, QUIET, *three))
    assert (got["figures"]["waves"], got["figures"]["devices"]) == (3, 3)
    assert any("receiver" in line["figure"] for line in got["evidence"])
    assert found(supervision, QUIET, *three) == []


def test_devices_that_stay_lost_together_are_one_and_a_life_safety_one_is_told_itself():
    lost = "\n".join(f"2025-02-10 03:0{z}:00 supervision-loss zone={z}" for z in (5, 6, 7, 8))
    got = one(found(radio, QUIET, lost))
    assert (got["standing"], got["figures"]["lost_now"]) == (True, 4)
    assert found(supervision, QUIET, lost) == []
    known = context("8 fire smoke")
    assert [r["subject"] for r in found(supervision, QUIET, lost, known=known)] == ["8"]
    assert one(found(radio, QUIET, lost, known=known))["figures"]["life_lost"] == 1


def test_a_device_that_stays_away_when_the_others_are_back_is_that_device():
    back = wave(10, hours=9).replace("2025-01-10 12:02:00 supervision-loss end zone=7", "")
    got = one(found(supervision, QUIET, back, wave(15, (5, 6, 8)), wave(20, (5, 6, 8))))
    assert got["subject"] == "7"


def test_jamming_is_told_when_it_lasts_or_comes_back():
    short = lasting("radio-jam", "2025-01-10 09:00:00", "2025-01-10 09:05:00")
    assert found(radio, QUIET, short) == []
    long = lasting("radio-jam", "2025-01-10 09:00:00", "2025-01-10 15:00:00")
    assert one(found(radio, QUIET, long))["figures"]["jams"] == 1
    again = [short.replace("-10", f"-{d}") for d in (10, 15, 20)]
    assert one(found(radio, QUIET, *again))["figures"]["jams"] == 3


def test_of_jamming_that_a_restart_closes_it_is_not_known_how_long_it_was():
    text = "2025-01-10 09:00:00 radio-jam\n2025-01-14 09:00:00 system-restart"
    assert found(radio, QUIET, text) == []


# -- restarts -----------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", CONDITIONS)
def test_a_restart_closes_every_condition_that_is_not_told_again_within_ten_minutes(kind):
    text = f"""
    2025-02-10 20:00:00 {kind} zone=4
    2025-02-10 21:00:00 system-restart
    """
    again = f"2025-02-10 21:08:00 {kind} zone=4"
    late = f"2025-02-10 21:30:00 {kind} zone=4"
    assert spells(ground(QUIET, text), [kind], SETTINGS)["open"].to_list() == [False]
    assert spells(ground(QUIET, text, again), [kind], SETTINGS)["open"].to_list() == [True]
    # told again later it is another one
    told = spells(ground(QUIET, text, late), [kind], SETTINGS)
    assert told["open"].to_list() == [False, True]


def test_mains_battery_silence_and_restart_are_one_finding_of_all_analyses():
    text = """
    2025-01-20 20:00:00 mains-loss
    2025-01-21 09:30:00 system-battery-low
    2025-01-26 03:00:00 system-restart
    """
    alive = "\n".join(f"2025-01-{d:02} 03:10:00 test-report" for d in range(7, 21))
    back = "\n".join(f"2025-01-{d:02} 03:10:00 test-report" for d in range(27, 32))
    quiet = nights(14) + "\n" + nights(6, first="2025-01-26")
    texts = (quiet, alive, back, text)
    got = one(found(mains, *texts))
    assert got["figures"]["silent_h"] == pytest.approx(113.5)
    assert got["figures"]["unprotected_h"] == pytest.approx(113.5)
    for other in (battery, reports, log_gap, supervision, on_test):
        assert found(other, *texts) == [], other.__name__


def test_an_outage_that_the_panel_outlived_by_weeks_had_an_end_that_got_lost():
    short = lasting("mains-loss", "2025-01-08 02:00:00", "2025-01-08 02:30:00")
    text = "2025-01-10 02:00:00 mains-loss\n2025-01-30 12:00:00 system-restart"
    assert found(mains, QUIET, short, text) == []
    soon = text.replace("2025-01-30", "2025-01-14")
    assert one(found(mains, QUIET, short, soon))["figures"]["longest_h"] == 106


def test_a_panel_that_has_died_with_its_mains_is_said_to_be_silent():
    text = "2025-01-20 20:00:00 mains-loss\n2025-01-21 08:30:00 system-battery-low"
    laid = (nights(14), text)
    end = events(*laid)["at"].max().replace(day=27)
    found_ = mains.find(lay(events(*laid), NOTHING, SETTINGS, now=end), NOTHING, SETTINGS)
    assert found_["standing"].to_list() == [True]
    assert '"quiet_h":1' in found_["figures"][0]


def test_a_restart_beyond_a_gap_of_the_log_does_not_tell_how_long_a_condition_stood():
    first = of(nights(14) + "\n2025-01-19 20:00:00 mains-loss", "a")
    second = of(nights(14, first="2025-02-10") + "\n2025-02-12 12:00:00 system-restart", "b")
    assert found(mains, first, second) == []
    told = spells(ground(first, second), ["mains-loss"], SETTINGS)
    assert told.select("open", "hours", "ended_by").rows() == [(False, None, "untold")]


def test_what_a_dead_panel_did_not_send_is_told_as_that():
    def reports_on(days):
        return "\n".join(f"2025-01-{d:02} 03:10:00 test-report" for d in days)

    quiet = nights(14) + "\n" + nights(5, first="2025-01-27")
    alive = reports_on([*range(7, 21), *range(27, 32)])
    restart = "2025-01-26 12:00:00 system-restart"
    assert len(found(reports, quiet, alive)) == 1
    assert found(reports, quiet, alive, restart) == []
    assert found(log_gap, quiet, alive, restart)[0]["figures"]["dead"] == 1
    # a path told lost takes nothing away here: in a run the two become one finding
    lost = lasting("comms-fail", "2025-01-20 05:00:00", "2025-01-26 20:00:00")
    assert len(found(reports, nights(26), alive, lost)) == 1


def test_a_lost_path_and_the_reports_that_it_did_not_carry_are_one_finding():
    reported = "\n".join(f"2025-01-{d:02} 03:10:00 test-report" for d in range(7, 21))
    lost = "2025-01-20 05:00:00 comms-fail"
    told = run(ground(nights(20), reported, lost), NOTHING, SETTINGS)
    (row,) = told.filter(pl.col("pattern").is_in(["path-down", "report-missed"])).to_dicts()
    assert (row["pattern"], row["standing"]) == ("path-down", True)
    assert any(line["what"].startswith("no test report after") for line in row["evidence"])
    # Reports that failed to come at another time as well stay a finding of their own.
    some = (*range(7, 12), *range(16, 21))
    earlier = "\n".join(f"2025-01-{d:02} 03:10:00 test-report" for d in some)
    both = run(ground(nights(20), earlier, lost), NOTHING, SETTINGS)["pattern"]
    assert {"path-down", "report-missed"} <= set(both)


def heard_on(*days):
    return "\n".join(f"2025-01-{d:02} 18:00:05 arm person=1 witness=receiver path=IP" for d in days)


def test_an_outage_whose_end_got_lost_ends_when_something_comes_over_the_path():
    """Lost on the 10th, its end is not told; lost again on the 20th and back on the 26th."""
    told = f"""
    2025-01-10 12:00:00 comms-fail path=IP witness=receiver
    2025-01-20 19:00:00 comms-fail path=IP witness=receiver
    2025-01-26 12:00:00 comms-fail end path=IP witness=receiver
    {heard_on(*range(10, 21), *range(27, 30))}
    """
    lost = path_down.lost_paths(ground(QUIET, told), SETTINGS)
    first, second = lost.sort("since").to_dicts()
    assert (first["ended_by"], first["hours"], first["until"].day) == ("heard", None, 10)
    assert (second["ended_by"], second["hours"]) == ("end", pytest.approx(137))


def test_two_paths_have_outages_of_their_own():
    told = """
    2025-01-10 12:00:00 comms-fail path=IP witness=receiver
    2025-01-10 12:01:00 comms-fail path=radio witness=receiver
    2025-01-10 13:00:00 comms-fail end path=radio witness=receiver
    """
    lost = path_down.lost_paths(ground(QUIET, told), SETTINGS)
    assert dict(lost.select("path", "open").iter_rows()) == {"IP": True, "radio": False}


def test_reports_are_judged_up_to_the_last_row_of_the_log():
    reported = "\n".join(f"2025-01-{d:02} 03:10:00 test-report" for d in range(6, 27))
    laid = ground(nights(20), reported, now=datetime(2025, 1, 28, 12, tzinfo=UTC))
    assert reports.find(laid, NOTHING, SETTINGS).is_empty()
    # Rows that went on while no report came show that it stopped.
    assert len(found(reports, nights(25), reported)) == 1


# -- the log itself -----------------------------------------------------------------------------


def test_exports_that_do_not_meet_leave_a_gap():
    first, second = of(nights(14), "a"), of(nights(14, first="2025-02-10"), "b")
    got = one(found(log_gap, first, second))
    assert (got["figures"]["gaps"], got["standing"]) == (1, False)
    assert got["figures"]["gap_h"] == pytest.approx(21 * 24 + 10)
    meets = of(nights(14, first="2025-01-20"), "b")
    assert found(log_gap, first, meets) == []


def test_a_full_memory_that_reaches_back_a_few_days_is_told():
    def full(rows, minutes):
        lines = [
            f"2025-01-{6 + n * minutes // 1440:02} {n * minutes // 60 % 24:02}:00:00"
            " activation zone=4"
            for n in range(rows)
        ]  # fmt: skip
        return "\n".join(lines)

    got = one(found(log_gap, full(250, 60)))
    assert (got["figures"]["rows"], got["standing"]) == (250, True)
    assert got["figures"]["covers_h"] == pytest.approx(249)
    assert found(log_gap, full(251, 60)) == []
    centre = "\n".join(f"{x} witness=receiver" for x in full(250, 60).splitlines())
    assert found(log_gap, centre) == []


def test_a_silence_before_a_restart_longer_than_any_other_is_a_dead_panel():
    before, after = nights(14), nights(14, first="2025-01-26")
    got = one(found(log_gap, before, after, "2025-01-25 12:00:00 system-restart"))
    assert (got["figures"]["dead"], got["figures"]["dead_h"]) == (1, 124)
    update = "2025-01-15 12:00:00 system-restart"
    assert found(log_gap, QUIET, update) == []
