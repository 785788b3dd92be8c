"""A panel logs what its people and points do; delays and limits by common practice."""

from dataclasses import replace

import pytest

from eventlab.schema import Cause, Kind, Mode, Phase, Use
from eventlab.simulate.model import Building, Panel, Person, Point, Push
from eventlab.simulate.panel import run

HOUSE = Building(
    site="T1",
    name="House",
    trade="test",
    place=(54.5, -3.1),
    hours=(None,) * 7,
    points=(
        Point("1", "Door", "contact", Use.ENTRY, route=True),
        Point("2", "Hall", "pir", Use.FOLLOWER, route=True),
        Point("3", "Room", "pir", Use.INTERIOR),
        Point("4", "Window", "contact", Use.PERIMETER, part=True),
        Point("5", "Button", "hold-up button", Use.HOLD_UP),
    ),
    people=(Person("1", "A"),),
    story=lambda *_: [],
)
ARMED = Push(0, "arm", person="1", mode=Mode.FULL)


def told(pushes, **panel):
    log = run(replace(HOUSE, panel=Panel(**panel)), pushes)
    return [(r.at, str(r.kind), r.zone) for r in log if r.phase is not Phase.END]


def kinds(pushes, **panel):
    return [kind for _, kind, _ in told(pushes, **panel)]


def entry(walk):
    return [
        Push(1000, "open", zone="1"),
        Push(1004, "shut", zone="1"),
        Push(1010, "move", zone="2"),
        Push(1000 + walk, "disarm", person="1"),
    ]


def test_in_time_no_alarm():
    assert kinds([ARMED, *entry(29)]) == ["arm", "disarm"]


def test_too_late_is_an_entry_alarm_at_the_end_of_the_delay():
    assert (1030, "entry-exit-alarm", "1") in told([ARMED, *entry(60)])
    assert kinds([ARMED, *entry(60)])[-2:] == ["disarm", "cancel"]


def test_a_room_without_the_door_alarms_at_once():
    assert told([ARMED, Push(1000, "move", zone="3")])[-1] == (1000, "intrusion-alarm", "3")
    assert told([ARMED, Push(1000, "move", zone="2")])[-1] == (1000, "intrusion-alarm", "2")


@pytest.mark.parametrize("second", [1, 44])
def test_leaving_is_quiet_until_the_exit_time_ends(second):
    assert kinds([ARMED, Push(second, "move", zone="3")]) == ["arm"]


def test_a_door_still_open_when_the_exit_time_ends_is_an_exit_error():
    held = [ARMED, Push(40, "open", zone="1"), Push(60, "shut", zone="1")]
    assert told(held)[-2:] == [(45, "exit-error", "1"), (75, "entry-exit-alarm", "1")]
    back = [*held, Push(70, "disarm", person="1")]
    assert kinds(back) == ["arm", "exit-error", "disarm"]


def test_armed_is_logged_at_either_end_of_the_exit_time():
    assert told([ARMED], arm_at="start")[0][0] == 0
    assert told([ARMED], arm_at="end")[0][0] == 45


def test_the_trip_limit_shuts_a_point_out_until_the_disarm():
    shakes = [Push(1000 + 60 * n, "move", zone="3") for n in range(6)]
    seen = kinds([ARMED, *shakes], trip_limit=2)
    assert seen == ["arm", "intrusion-alarm", "intrusion-alarm", "shutdown"]
    again = [*shakes, Push(2000, "disarm", person="1"), replace(ARMED, at=2100)]
    more = kinds([ARMED, *again, Push(9000, "move", zone="3")], trip_limit=2)
    assert more.count("intrusion-alarm") == 3


def test_alarm_memory_is_written_after_the_disarm():
    pushes = [ARMED, Push(1000, "move", zone="3"), Push(5000, "disarm", person="1")]
    assert kinds(pushes, memory=True) == ["arm", "intrusion-alarm", "disarm", "intrusion-alarm"]


def test_restores_wait_for_the_disarm_where_the_panel_does_so():
    pushes = [ARMED, Push(1000, "move", zone="3"), Push(5000, "disarm", person="1")]
    for restores, at in (("live", 1003), ("at-disarm", 5001)):
        log = run(replace(HOUSE, panel=Panel(restores=restores)), pushes)
        assert [r.at for r in log if r.phase is Phase.END] == [at]


def test_a_second_point_confirms():
    pushes = [ARMED, Push(1000, "open", zone="4"), Push(1020, "move", zone="3")]
    assert kinds(pushes, confirms=True)[-1] == "confirmed-alarm"


def test_a_part_set_leaves_the_rooms_out():
    part = replace(ARMED, mode=Mode.PART)
    assert kinds([part, Push(1000, "move", zone="3")]) == ["arm"]
    assert kinds([part, Push(1000, "open", zone="4")])[-1] == "intrusion-alarm"


def test_activations_are_logged_only_where_the_panel_logs_them():
    assert kinds([Push(10, "move", zone="3")]) == []
    assert kinds([Push(10, "move", zone="3")], activations=True) == ["activation"]


def test_a_hold_up_button_tells_at_any_time():
    assert kinds([Push(10, "open", zone="5")]) == ["hold-up"]
    assert kinds([ARMED, Push(999, "open", zone="5")])[-1] == "hold-up"


def test_a_lid_is_a_tamper_alarm_only_while_armed():
    lid = Push(1000, "lid", zone="4", cause=Cause.SERVICE)
    assert kinds([lid]) == ["tamper"]
    assert kinds([ARMED, lid])[-1] == "tamper-alarm"


def test_an_open_window_refuses_the_arming():
    pushes = [Push(-10, "open", zone="4"), ARMED]
    assert kinds(pushes) == ["arm-failed"]
    assert Kind.ARM_FAILED == "arm-failed"


def test_a_detector_sleeps_after_a_trip():
    # common practice: detectors that spare their battery sleep two to three minutes after a trip
    asleep = replace(HOUSE, points=tuple(replace(p, lockout_s=180) for p in HOUSE.points))
    moves = [Push(1000 + 10 * n, "move", zone="3") for n in range(40)]
    log = run(asleep, [ARMED, *moves])
    alarms = [r.at for r in log if r.kind is Kind.INTRUSION_ALARM and r.phase is Phase.BEGIN]
    assert alarms == [1000, 1180, 1360]


def test_a_latched_point_alarms_once_and_restores_at_the_disarm():
    moves = [Push(1000 + 60 * n, "move", zone="3") for n in range(6)]
    pushes = [ARMED, *moves, Push(5000, "disarm", person="1")]
    log = run(replace(HOUSE, panel=Panel(latched=True)), pushes)
    alarms = [(r.at, r.phase) for r in log if r.kind is Kind.INTRUSION_ALARM]
    assert alarms == [(1000, Phase.BEGIN), (5001, Phase.END)]
    assert Kind.SHUTDOWN not in [r.kind for r in log]


@pytest.mark.parametrize("lifts", [True, False])
def test_a_bypass_ends_at_the_disarm_with_a_row_or_without(lifts):
    moves = [
        Push(1000, "open", zone="4"),
        Push(1004, "shut", zone="4"),
        Push(9000, "open", zone="4"),
    ]
    acts = [Push(-50, "bypass", zone="4"), ARMED, Push(5000, "disarm", person="1")]
    log = run(replace(HOUSE, panel=Panel(lifts=lifts)), [*acts, replace(ARMED, at=5100), *moves])
    assert [r.at for r in log if r.kind is Kind.INTRUSION_ALARM and r.phase is Phase.BEGIN] == [
        9000
    ]
    ends = [r.at for r in log if r.kind is Kind.BYPASS and r.phase is Phase.END]
    assert ends == ([5000] if lifts else [])
