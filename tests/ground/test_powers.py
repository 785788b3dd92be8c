"""What a log can show, measured before anything rests on it."""

import polars as pl
import pytest

from tests.ground.laid import laid, nights, power

EVENING = "{d} 17:00:00 arm person=3\n{n} 07:00:00 disarm person=3"


def test_arming_that_is_recorded_is_rested_on():
    ground = laid(nights(9, EVENING))
    assert power(ground, "arming") == "all"
    assert ground.sites["arming_reliable"].item()


def test_openings_told_only_after_an_alarm():
    """Trait, arming not recorded: an opening only after an alarm."""
    ground = laid(nights(9, "{d} 22:00:00 intrusion-alarm zone=7\n{d} 22:12:00 disarm person=3"))
    assert power(ground, "arming") == "after-alarm"
    assert not ground.sites["arming_reliable"].item()
    assert ground.exposure["basis"].to_list() == ["calendar"]


def test_openings_without_closings_are_no_arming():
    """Trait, arming not recorded: one side alone cannot be followed."""
    ground = laid(nights(9, "{d} 07:00:00 disarm person=3") + "\n2024-03-11 22:00:00 reset")
    assert power(ground, "arming") == "none"
    assert "0 closings, 9 openings" in ground.powers.filter(power="arming")["figure"].item()


def test_a_site_that_sends_alarms_and_tests_only():
    """Trait, arming not recorded: a site never armed, as the log tells it."""
    ground = laid(nights(9, "{d} 22:00:00 intrusion-alarm zone=7\n{n} 03:00:00 test-report"))
    assert power(ground, "arming") == "none"
    assert ground.armed.is_empty()
    assert ground.occurrences["state"].unique().to_list() == ["unknown"]
    assert ground.sites["contradiction_share"].item() is None


def test_entry_overruns_alone_do_not_hide_the_closings():
    """An overrun every third morning is not ``after an alarm``."""
    usual = nights(9, EVENING)
    late = nights(3, "{n} 06:59:00 entry-exit-alarm zone=1")
    assert power(laid(usual + "\n" + late), "arming") == "all"


def test_each_witness_has_its_own_powers():
    receiver = nights(9, "{d} 22:00:00 intrusion-alarm zone=7 witness=receiver")
    ground = laid(nights(9, EVENING) + "\n" + receiver)
    assert power(ground, "arming") == "all"
    assert power(ground, "arming", "receiver") == "none"
    assert ground.sites["arming_reliable"].item()


def test_most_panels_log_alarms_and_no_movement_by_day():
    """Trait, activations not recorded."""
    day = "{d} 10:00:00 activation zone=7\n{d} 10:00:09 activation end zone=7"
    assert power(laid(nights(9, EVENING)), "activations") == "no"
    assert power(laid(nights(9, EVENING + "\n" + day)), "activations") == "yes"


@pytest.mark.parametrize(
    ("restore", "value"),
    [
        ("{d} 22:00:30 intrusion-alarm end zone=7", "live"),
        ("{d} 22:30:02 intrusion-alarm end zone=7", "at-disarm"),
        ("{d} 22:40:00 test-report", "none"),
    ],
)
def test_restores_that_come_with_the_disarm_tell_nothing(restore, value):
    """Trait, restores only at disarm: detected by coincidence."""
    night = f"{{d}} 17:00:00 arm\n{{d}} 22:00:00 intrusion-alarm zone=7\n{restore}\n"
    assert power(laid(nights(9, night + "{d} 22:30:00 disarm")), "restores") == value


def test_bypass_ends():
    """Trait, bypass that ends without a row: a one-shot bypass lifts at disarm silently."""
    night = "{d} 16:59:00 bypass zone=7\n" + EVENING
    assert power(laid(nights(5, EVENING)), "bypass-ends") == "none"
    assert power(laid(nights(5, night)), "bypass-ends") == "no"
    assert (
        power(laid(nights(5, night + "\n{n} 07:00:01 bypass end zone=7")), "bypass-ends") == "yes"
    )


def test_a_log_that_tells_no_ends():
    """Trait, no restores of anything: measured over the whole log, conditions of several days."""
    alarm = EVENING + "\n{d} 22:00:00 intrusion-alarm zone=7"
    assert power(laid(nights(12, alarm)), "ends") == "none"  # no condition that might have ended
    blip = alarm + "\n{d} 12:00:00 mains-loss"
    assert power(laid(nights(12, blip)), "ends") == "no"
    assert power(laid(nights(2, blip)), "ends") == "none"
    assert power(laid(nights(12, blip + "\n{d} 12:04:00 mains-loss end")), "ends") == "yes"
    # a battery that is told low every day is one condition
    daily = alarm + "\n{d} 12:00:00 device-battery-low zone=7"
    assert power(laid(nights(12, daily)), "ends") == "none"


def test_a_test_lapses_where_no_end_is_told():
    blip = EVENING + "\n{d} 22:00:00 intrusion-alarm zone=7\n{d} 12:00:00 mains-loss"
    ground = laid(nights(12, blip) + "\n2024-03-02 13:00:00 on-test")
    tested = ground.aside.filter(reason="on-test").row(0, named=True)
    assert (tested["until"] - tested["since"]).total_seconds() == 7200
    assert tested["ended"] is None


def test_the_clock_is_told_as_fine_as_it_is():
    """Trait, minute resolution."""
    assert power(laid(nights(3, EVENING), grain=60), "grain") == "60"
    assert power(laid(nights(3, EVENING)), "grain") == "1"


WAYS_OUT = {
    "start": "{d} 17:00:20 activation zone=1",
    "end": "{d} 16:59:40 activation zone=1",
}


@pytest.mark.parametrize("where", ["start", "end"])
def test_movement_on_the_way_out_tells_where_arm_stands(where):
    """Trait: arm stands at the start or at the end of exit time."""
    ground = laid(nights(9, EVENING + "\n" + WAYS_OUT[where]))
    assert power(ground, "arm-at") == where
    wait = (ground.armed["settled_since"] - ground.armed["since"]).dt.total_seconds()
    # ANSI/SIA CP-01 4.2.2: exit time 60 s where the site does not say.
    assert wait.filter(ground.armed["known"]).unique().to_list() == [60 if where == "start" else 0]


@pytest.mark.parametrize(("clock", "where"), [("17:01:00", "start"), ("17:00:00", "end")])
def test_exit_errors_tell_where_movement_is_not_logged(clock, where):
    """Trait, arm in exit time: an exit error comes when exit time is over."""
    ground = laid(nights(9, EVENING + f"\n{{d}} {clock} exit-error person=3"))
    assert power(ground, "arm-at") == where


def test_until_it_is_decided_the_longest_exit_time_is_apart():
    """Trait, arm in exit time; ANSI/SIA CP-01 4.2.2: exit time is at most 255 s."""
    ground = laid(
        nights(9, EVENING)
        + """
        2024-03-01 17:04:14 intrusion-alarm zone=7
        2024-03-02 17:04:15 intrusion-alarm zone=7
    """
    )
    assert power(ground, "arm-at") == "unknown"
    alarms = ground.occurrences.filter(kind="intrusion-alarm")
    assert alarms["state"].to_list() == ["exit", "armed"]


def test_the_site_s_own_exit_time_is_used():
    ground = laid(
        nights(9, EVENING + "\n" + WAYS_OUT["start"]), sites=[{"site": "S1", "exit_delay_s": 90}]
    )
    wait = (ground.armed["settled_since"] - ground.armed["since"]).dt.total_seconds()
    assert wait.filter(ground.armed["known"]).unique().to_list() == [90]


def test_every_power_bears_its_figure_and_its_stretch():
    powers = laid(nights(3, EVENING)).powers
    assert powers["power"].to_list() == [
        *("activations", "arm-at", "arming", "bypass-ends", "clock", "ends", "grain", "restores")
    ]
    assert powers["figure"].null_count() == 0
    assert powers.select(pl.col("since") < pl.col("until")).to_series().all()
