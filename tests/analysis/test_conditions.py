"""Mains, batteries, supervision, reports and tests that were left on."""

import pytest

from eventlab.analysis import battery, faults, mains, on_test, reports, supervision
from eventlab.context import Context
from eventlab.report.said import Said
from eventlab.report.sentences import sentence
from tests.analysis.standing import SETTINGS, context, found, ground, nights

QUIET = nights(40)


def one(rows):
    assert len(rows) == 1, rows
    return rows[0]


# -- mains --------------------------------------------------------------------------------------


def test_a_long_outage_is_found_and_a_short_one_is_a_record():
    short = "2025-01-10 02:00:00 mains-loss\n2025-01-10 04:00:00 mains-loss end"
    assert found(mains, QUIET, short) == []
    long = "2025-01-10 02:00:00 mains-loss\n2025-01-10 09:00:00 mains-loss end"
    got = one(found(mains, QUIET, short.replace("-10", "-12"), long))
    assert (got["standing"], got["events"], got["subject_kind"]) == (False, 1, "site")
    assert got["figures"]["longest_h"] == 7


def test_an_outage_that_stands_at_the_end_is_told_however_short():
    got = one(found(mains, QUIET, "2025-02-15 07:30:00 mains-loss"))
    assert got["standing"] is True


def test_outage_low_battery_silence_and_restart_are_one_finding():
    text = """
    2025-01-10 20:00:00 mains-loss
    2025-01-10 22:30:00 system-battery-low
    2025-01-11 03:00:00 system-restart
    """
    got = one(found(mains, QUIET, text))
    assert got["standing"] is False
    assert got["events"] == 1
    assert got["figures"]["battery_low"] == 1
    assert got["figures"]["silent_h"] == 4.5
    assert any("silence" in line["what"] for line in got["evidence"])


def test_a_restart_closes_what_is_not_told_again():
    # CP-01 power-up: after a restart the panel tells what still holds; ten minutes are a setting.
    told = """
    2025-02-12 20:00:00 mains-loss
    2025-02-12 21:00:00 system-restart
    2025-02-12 21:05:00 mains-loss
    """
    assert one(found(mains, QUIET, told))["standing"] is True
    gone = "\n".join(told.strip().splitlines()[:2])
    got = one(found(mains, QUIET, gone))
    assert got["standing"] is False  # it is one finding because the panel went down


def test_the_grade_sets_the_standby():
    # EN 50131-1 from memory: grade 3 asks for 30 h where mains loss is reported.
    text = "2025-01-10 02:00:00 mains-loss\n2025-01-10 22:00:00 mains-loss end"
    assert one(found(mains, QUIET, text))["figures"]["beyond"] is True
    got = one(found(mains, QUIET, text, known=context(grade="3")))
    assert got["figures"]["standby_h"] == 30
    assert got["figures"]["beyond"] is False


# -- battery ------------------------------------------------------------------------------------


def test_a_low_battery_that_stands_is_found_and_a_replaced_one_is_a_record():
    replaced = (
        "2025-01-08 03:00:00 device-battery-low zone=4\n"
        "2025-01-12 11:00:00 device-battery-low end zone=4"
    )
    assert found(battery, QUIET, replaced) == []
    late = replaced.replace("-12 ", "-28 ")
    assert one(found(battery, QUIET, late))["standing"] is False
    got = one(found(battery, QUIET, "2025-01-08 03:00:00 device-battery-low zone=4"))
    assert (got["subject_kind"], got["subject"], got["standing"]) == ("zone", "4", True)
    assert found(battery, QUIET, "2025-02-12 03:00:00 device-battery-low zone=4") == []


def test_a_battery_that_comes_and_goes_is_weak():
    text = "\n".join(
        f"2025-02-0{d} 06:00:00 device-battery-low zone=4\n"
        f"2025-02-0{d} 11:00:00 device-battery-low end zone=4"
        for d in (3, 5, 7)
    )
    got = one(found(battery, QUIET, text))
    assert got["figures"]["repeats"] is True
    assert got["standing"] is True
    assert got["events"] == 3


def test_low_in_a_short_outage_is_a_weak_standby_battery():
    text = """
    2025-01-10 02:00:00 mains-loss
    2025-01-10 02:50:00 system-battery-low
    2025-01-10 03:20:00 mains-loss end
    2025-01-10 05:00:00 system-battery-low end
    """
    got = one(found(battery, QUIET, text))
    assert got["subject_kind"] == "site"
    assert round(got["figures"]["low_after_min"]) == 50
    # EN 50131-6: within 72 h of a long outage a battery may still be recharging
    before = "2025-01-08 22:00:00 mains-loss\n2025-01-09 08:00:00 mains-loss end"
    assert found(battery, QUIET, text, before) == []


def test_a_low_told_daily_and_then_no_more_is_over():
    daily = "\n".join(f"2025-01-{d:02} 06:00:00 device-battery-low zone=4" for d in range(8, 20))
    assert found(battery, QUIET, daily) == []
    lost = "2025-01-20 06:00:00 supervision-loss zone=4"
    assert one(found(battery, QUIET, daily, lost))["standing"] is True


def test_life_safety_points_lose_protection_too():
    text = "2025-01-08 03:00:00 device-battery-low zone=9"
    got = one(found(battery, QUIET, text, known=context("9 fire smoke detector")))
    assert got["figures"]["life_safety"] is True


# -- supervision --------------------------------------------------------------------------------


def test_a_device_lost_for_long_or_often_is_found_and_one_blink_is_a_record():
    blink = (
        "2025-01-10 03:00:00 supervision-loss zone=5\n"
        "2025-01-10 09:00:00 supervision-loss end zone=5"
    )
    assert found(supervision, QUIET, blink) == []
    often = "\n".join(blink.replace("-10 ", f"-{d} ") for d in (10, 14, 20))
    got = one(found(supervision, QUIET, often))
    assert got["figures"]["repeats"] is True
    got = one(found(supervision, QUIET, "2025-02-10 03:00:00 supervision-loss zone=5"))
    assert got["standing"] is True


def test_those_still_lost_stand_first_and_losses_together_are_said():
    text = """
    2025-01-10 03:00:00 supervision-loss zone=5
    2025-01-12 09:00:00 supervision-loss end zone=5
    2025-02-10 03:00:00 supervision-loss zone=6
    2025-02-10 03:02:00 supervision-loss zone=7
    2025-02-10 03:05:00 supervision-loss zone=8
    """
    # three at once are their radio or its receiver, told once: tests/analysis/test_watching.py
    assert [row["subject"] for row in found(supervision, QUIET, text)] == ["5"]
    two = text.replace("2025-02-10 03:05:00", "2025-02-12 03:05:00")
    got = found(supervision, QUIET, two)
    assert [row["standing"] for row in got] == [True, True, True, False]
    assert got[0]["figures"]["together"] == 1


# -- test reports -------------------------------------------------------------------------------


def daily(days, clock="03:00:00"):
    return "\n".join(f"2025-01-{d:02} {clock} test-report" for d in days)


def test_reports_that_stop_are_found():
    got = one(found(reports, QUIET, daily(range(7, 25))))
    assert got["standing"] is True
    assert got["figures"]["period_h"] == 24
    assert found(reports, nights(10), daily(range(7, 17))) == []


def test_one_late_report_is_a_record_and_three_are_not():
    quiet = nights(24)
    assert found(reports, quiet, daily([*range(7, 15), *range(16, 31)])) == []
    got = one(found(reports, quiet, daily([*range(7, 15), *range(18, 31)])))
    assert got["standing"] is False
    assert got["events"] == 3


def test_two_paths_are_one_report_and_two_reports_teach_nothing():
    both = daily(range(7, 30)) + "\n" + daily(range(7, 30), clock="03:06:00")
    assert found(reports, nights(23), both) == []
    assert found(reports, QUIET, daily([7, 8])) == []


def test_the_path_is_named_where_the_panel_did_send():
    sent = [f"2025-01-{d:02} 03:00:00 test-report" for d in range(7, 30)]
    came = [f"{line} witness=receiver" for line in sent[:8] + sent[14:]]
    got = one(found(reports, nights(23), "\n".join(sent), "\n".join(came)))
    assert got["figures"]["centre"] is True
    assert got["figures"]["sent"] == 6
    assert any("the path is at fault" in line["basis"] for line in got["evidence"])


def test_silence_across_a_gap_of_the_log_is_not_judged():
    early, late = nights(8), nights(10, first="2025-03-01")
    report = daily(range(7, 15)) + "\n" + daily(range(1, 11)).replace("-01-", "-03-")
    laid = [line + f" source={'a' * 64}" for line in (early + "\n" + report).splitlines()
            if line < "2025-02"]  # fmt: skip
    laid += [line + f" source={'b' * 64}" for line in (late + "\n" + report).splitlines()
             if line > "2025-02"]  # fmt: skip
    assert found(reports, "\n".join(laid)) == []


# -- left on test -------------------------------------------------------------------------------


def test_a_test_without_end_is_left_on():
    got = one(found(on_test, QUIET, "2025-02-01 14:00:00 on-test"))
    assert got["standing"] is True
    assert got["figures"]["centre"] is True
    done = "2025-02-01 14:00:00 on-test\n2025-02-01 16:00:00 on-test end"
    assert found(on_test, QUIET, done) == []


def test_a_restart_ends_service_mode_and_never_a_test_with_the_centre():
    restart = "2025-02-02 09:00:00 system-restart"
    assert one(found(on_test, QUIET, "2025-02-01 14:00:00 on-test", restart))["standing"] is True
    over = found(on_test, QUIET, "2025-02-02 08:00:00 on-site-work", restart)
    assert over == []


def test_a_test_of_last_weekend_is_over():
    text = "2025-02-01 14:00:00 on-test\n2025-02-03 08:30:00 on-test end"
    got = one(found(on_test, QUIET, text))
    assert got["standing"] is False
    assert got["figures"]["hours"] == 42.5


# -- logs that tell no ends ---------------------------------------------------------------------

ENDLESS = "\n".join(
    [f"2025-01-{d:02} 03:00:00 intrusion-alarm zone=3" for d in range(7, 20)]
    + [f"2025-01-{d:02} 11:00:00 mains-loss" for d in (8, 12, 16)]
)


def test_a_log_that_tells_no_ends_leaves_nothing_standing():
    lows = "2025-01-09 03:00:00 device-battery-low zone=4\n2025-01-14 03:00:00 on-test"
    lost = "2025-01-15 03:00:00 supervision-loss zone=5"
    for module in (mains, battery, supervision, on_test):
        assert found(module, QUIET, ENDLESS, lows, lost) == []
    # one end of anything, and what has none still holds
    restored = "2025-01-19 03:00:04 intrusion-alarm end zone=3"
    for module in (mains, battery, supervision, on_test):
        assert one(found(module, QUIET, ENDLESS, lows, lost, restored))["standing"] is True


NOISE = "\n".join(f"2025-01-{d:02} 02:00:00 intrusion-alarm zone=2" for d in range(7, 20))
"""Alarms enough, and none of them ever ends."""


@pytest.mark.parametrize(
    ("module", "kind"),
    [(faults.tamper_open, "tamper"), (faults.masked, "masking"), (faults.standing, "module-fault"),
     (battery.find, "device-battery-low"), (supervision.find, "supervision-loss")],
)  # fmt: skip
def test_where_no_end_is_told_of_alarms_either_no_condition_is_said_to_stand(module, kind):
    begun = f"2025-01-12 10:00:00 {kind} zone=3"
    told = module(ground(QUIET, begun), Context.empty(), SETTINGS)
    assert told["standing"].to_list() == [True]
    assert module(ground(QUIET, NOISE, begun), Context.empty(), SETTINGS).is_empty()
    # A restart months later tells no more than when it was over at the latest.
    after = "2025-02-10 10:00:00 system-restart"
    assert module(ground(QUIET, NOISE, begun, after), Context.empty(), SETTINGS).is_empty()
    # One end of anything shows that ends are told.
    end = "2025-01-08 10:00:00 mains-loss\n2025-01-08 10:20:00 mains-loss end"
    told = module(ground(QUIET, NOISE, end, begun), Context.empty(), SETTINGS)
    assert told["standing"].to_list() == [True]


def test_what_may_leave_a_site_or_a_life_unprotected_is_told_with_the_limit_of_the_log():
    test = one(found(on_test, QUIET, NOISE, "2025-01-12 10:00:00 on-test"))
    assert test["figures"]["ends_told"] is False
    said = Said("S1", "site", "Hill Library", standing=True, since="12 Jan 2025 10:00", until="",
                figures=test["figures"])  # fmt: skip
    assert "must be looked at" in sentence("left-on-test", said)
    head = context("9 fire Smoke head")
    lost = "2025-01-12 10:00:00 supervision-loss zone=9"
    device = one(found(supervision, QUIET, NOISE, lost, known=head))
    assert device["figures"]["ends_told"] is False
    assert device["figures"]["life_safety"] is True


def test_a_supply_outlives_no_week_without_mains():
    # EN 50131-1: 60 h of standby at most; the log goes on for weeks and tells no ends
    assert found(mains, QUIET, "2025-01-10 20:00:00 mains-loss") == []
    blip = "2025-01-08 20:00:00 mains-loss\n2025-01-08 20:30:00 mains-loss end"
    assert one(found(mains, QUIET, blip, "2025-01-10 20:00:00 mains-loss"))["standing"] is True


def test_a_device_that_speaks_is_not_lost():
    lost = "2025-01-10 03:00:00 supervision-loss zone=5"
    spoke = "2025-02-12 22:00:00 intrusion-alarm zone=5"
    assert one(found(supervision, QUIET, lost))["standing"] is True
    assert found(supervision, QUIET, lost, spoke) == []
    # what comes with the loss may be how the panel tells it
    at_once = "2025-01-10 03:00:02 intrusion-alarm zone=5"
    assert one(found(supervision, QUIET, lost, at_once))["standing"] is True


# -- which of several it is about ---------------------------------------------------------------


def test_a_weak_battery_in_a_short_outage_is_one_finding():
    text = """
    2025-01-10 02:00:00 mains-loss
    2025-01-10 02:50:00 system-battery-low
    2025-01-10 03:20:00 mains-loss end
    2025-01-10 05:00:00 system-battery-low end
    """
    assert found(mains, QUIET, text) == []
    got = one(found(battery, QUIET, text))
    assert got["standing"] is True  # nothing shows that it was replaced
    longer = "2025-01-28 02:00:00 mains-loss\n2025-01-28 04:00:00 mains-loss end"
    assert one(found(battery, QUIET, text, longer))["standing"] is False


def test_a_battery_low_again_says_which_time_it_tells():
    text = """
    2025-01-07 10:20:00 device-battery-low zone=6
    2025-01-19 10:20:00 device-battery-low end zone=6
    2025-02-14 15:00:00 device-battery-low zone=6
    """
    got = one(found(battery, QUIET, text))
    assert got["standing"] is True
    assert f"{got['since']:%m-%d %H:%M}" == "02-14 15:00"
    assert got["figures"]["longest_days"] == 12
    over = "\n".join(text.strip().splitlines()[:2])
    short = (
        "2024-12-30 03:00:00 device-battery-low zone=6\n"
        "2024-12-31 03:00:00 device-battery-low end zone=6"
    )
    got = one(found(battery, QUIET, short, over))
    assert f"{got['since']:%m-%d}" == "01-07"


def test_a_long_loss_is_told_from_its_own_begin():
    text = """
    2025-01-07 03:00:00 supervision-loss zone=5
    2025-01-07 05:00:00 supervision-loss end zone=5
    2025-01-20 03:00:00 supervision-loss zone=5
    2025-01-24 03:00:00 supervision-loss end zone=5
    """
    got = one(found(supervision, QUIET, text))
    assert f"{got['since']:%m-%d}" == "01-20"
    assert got["standing"] is False
    again = "2025-02-15 05:00:00 supervision-loss zone=5"
    got = one(found(supervision, QUIET, text, again))
    assert got["standing"] is True
    assert f"{got['since']:%m-%d}" == "02-15"


def test_reports_missed_now_and_then_up_to_the_end_still_hold():
    quiet = nights(24)
    gone = {12, 16, 20, 24, 27}
    got = one(found(reports, quiet, daily([d for d in range(7, 31) if d not in gone])))
    assert got["standing"] is True
    assert got["figures"]["open_h"] is None


# -- the edges of the standards -----------------------------------------------------------------


def test_standby_is_beyond_twelve_hours():
    # EN 50131-1 grade 2: 12 h of standby
    text = "2025-01-10 02:00:00 mains-loss\n2025-01-10 14:{m:02}:00 mains-loss end"
    assert one(found(mains, QUIET, text.format(m=0)))["figures"]["beyond"] is False
    assert one(found(mains, QUIET, text.format(m=1)))["figures"]["beyond"] is True


def test_a_battery_recharges_for_seventy_two_hours():
    # EN 50131-6: 72 h at most until it is recharged after a long outage
    text = """
    2025-01-10 02:00:00 mains-loss
    2025-01-10 02:50:00 system-battery-low
    2025-01-10 03:20:00 mains-loss end
    2025-01-10 05:00:00 system-battery-low end
    """
    long = "2025-01-06 20:00:00 mains-loss\n2025-01-07 0{h}:00:00 mains-loss end"
    assert found(battery, QUIET, text, long.format(h=3)) == []
    assert len(found(battery, QUIET, text, long.format(h=1))) == 1
