"""When an area was armed, and in which state a row found it."""

import polars as pl
import pytest

from tests.ground.laid import laid, nights, utc


def states(ground, kind="intrusion-alarm"):
    return ground.occurrences.filter(pl.col("phase") != "end", kind=kind)["state"].to_list()


def test_before_the_first_arm_or_disarm_the_state_is_unknown():
    """Trait, armed state contradicts the alarms: its state is unknown, not unarmed."""
    ground = laid("""
        2024-03-01 12:00:00 intrusion-alarm zone=7
        2024-03-01 17:00:00 arm
        2024-03-01 22:00:00 intrusion-alarm zone=7
        2024-03-02 07:00:00 disarm
        2024-03-02 12:00:00 intrusion-alarm zone=7
    """)
    assert states(ground) == ["unknown", "armed", "unarmed"]
    assert ground.armed["known"].to_list() == [False, True]


def test_across_a_gap_the_state_is_unknown():
    """Trait, armed state contradicts the alarms; exports that do not meet leave a gap."""
    from tests.logbook import log

    first = log("2024-03-01 17:00:00 arm\n2024-03-02 07:00:00 disarm\n2024-03-02 17:00:00 arm")
    later = log("""
        2024-03-20 12:00:00 intrusion-alarm zone=7
        2024-03-20 17:00:00 arm
        2024-03-20 22:00:00 intrusion-alarm zone=7
        2024-03-21 07:00:00 disarm
    """).with_columns(source=pl.lit("1" * 64))
    ground = laid(pl.concat([first, later]))
    assert ground.coverage.height == 2
    assert states(ground) == ["unknown", "armed"]
    gap = utc("2024-03-02 17:00:00"), utc("2024-03-20 12:00:00")
    across = ground.armed.filter((pl.col("since") < gap[1]) & (pl.col("until") > gap[0]))
    assert across.is_empty()


def test_a_short_time_between_exports_is_no_gap_where_overlaps_were_united():
    from tests.logbook import log

    first = log("2024-03-01 17:00:00 arm\n2024-03-02 07:00:00 disarm")
    later = log("2024-03-02 17:00:00 arm\n2024-03-03 07:00:00 disarm").with_columns(
        source=pl.lit("1" * 64)
    )
    both = pl.concat([first, later])
    assert laid(both).coverage.height == 1
    spans = pl.DataFrame(
        {
            "site": ["S1", "S1"],
            "source": ["0" * 64, "1" * 64],
            "since": [utc("2024-03-01 17:00:00"), utc("2024-03-02 17:00:00")],
            "until": [utc("2024-03-02 07:00:00"), utc("2024-03-03 07:00:00")],
        }
    )
    assert laid(both, spans=spans).coverage.height == 2


def test_the_export_time_ends_what_a_fresh_log_covers():
    """Trait, ring buffer: exposure and ``standing`` use the export time, not the last row."""
    text = "2024-03-01 17:00:00 arm\n2024-03-02 07:00:00 disarm\n2024-03-02 17:00:00 arm"
    fresh = laid(text, now=utc("2024-03-03 07:00:00"))
    assert fresh.coverage["until"].to_list() == [utc("2024-03-03 07:00:00")]
    assert fresh.armed["until"].to_list()[-1] == utc("2024-03-03 07:00:00")
    old = laid(text, now=utc("2024-06-01 07:00:00"))
    assert old.coverage["until"].to_list() == [utc("2024-03-02 17:00:00")]


def test_a_row_of_the_same_second_is_judged_by_its_place():
    ground = laid("""
        2024-03-01 17:00:00 arm
        2024-03-01 22:00:00 intrusion-alarm zone=7
        2024-03-01 22:00:00 disarm
        2024-03-01 22:00:00 intrusion-alarm zone=8
    """)
    assert states(ground) == ["armed", "unarmed"]


def test_a_restart_keeps_the_state():
    """ANSI/SIA CP-01 4.4.3: after full power loss it returns to the same armed state."""
    ground = laid("""
        2024-03-01 17:00:00 arm
        2024-03-01 21:00:00 system-restart
        2024-03-01 22:00:00 intrusion-alarm zone=7
        2024-03-02 07:00:00 disarm
    """)
    assert states(ground) == ["armed"]


def test_a_timer_that_finds_the_place_armed_changes_nothing():
    ground = laid("""
        2024-03-01 17:00:00 arm person=3
        2024-03-01 20:00:00 arm mode=timed
        2024-03-02 07:00:00 disarm person=4
        2024-03-02 07:30:00 disarm person=4
    """)
    assert ground.armed.height == 1
    assert ground.armed["person"].to_list() == ["3"]
    assert ground.armed["disarmed_by"].to_list() == ["4"]


def test_from_part_to_full_without_a_disarm_is_one_armed_period():
    """Trait, part-arming: several extents within one period."""
    ground = laid("""
        2024-03-01 17:00:00 arm mode=part
        2024-03-01 20:00:00 arm mode=full
        2024-03-02 07:00:00 disarm
        2024-03-02 17:00:00 arm mode=full
        2024-03-03 07:00:00 disarm
    """)
    assert ground.armed["mode"].to_list() == ["part", "full", "full"]
    assert ground.armed["period"].to_list() == [1, 1, 2]


def test_a_failed_arming_takes_the_arm_back():
    """Trait, failed arming: could not arm, a point stood open."""
    ground = laid("""
        2024-03-01 17:00:00 arm
        2024-03-01 17:01:00 arm-failed zone=7
        2024-03-01 22:00:00 intrusion-alarm zone=7
        2024-03-02 17:00:00 arm
        2024-03-03 07:00:00 disarm
    """)
    assert states(ground) == ["unarmed"]


def test_areas_are_armed_apart():
    ground = laid("""
        2024-03-01 17:00:00 arm area=1
        2024-03-01 17:00:00 disarm area=2
        2024-03-01 22:00:00 intrusion-alarm zone=7 area=1
        2024-03-01 22:01:00 intrusion-alarm zone=8 area=2
        2024-03-01 22:02:00 mains-loss
        2024-03-01 22:03:00 intrusion-alarm zone=9
        2024-03-02 07:00:00 disarm area=1
        2024-03-02 07:00:00 arm area=2
    """)
    assert states(ground) == ["armed", "unarmed", "unknown"]
    assert states(ground, "mains-loss") == ["armed"]


def test_an_arm_that_names_no_area_arms_all():
    ground = laid("""
        2024-03-01 16:00:00 disarm area=1
        2024-03-01 16:00:00 disarm area=2
        2024-03-01 17:00:00 arm
        2024-03-01 22:00:00 intrusion-alarm zone=7 area=1
        2024-03-01 22:01:00 intrusion-alarm zone=8 area=2
    """)
    assert states(ground) == ["armed", "armed"]


@pytest.mark.parametrize(
    ("rule", "state"), [("any", "armed"), ("all", "unarmed"), (None, "unknown")]
)
def test_a_common_area_follows_its_rule(rule, state):
    """Trait, points in several areas: the hallway is armed only when all tenants have armed."""
    ground = laid(
        """
        2024-03-01 16:00:00 disarm area=1
        2024-03-01 16:00:00 disarm area=2
        2024-03-01 17:00:00 arm area=1
        2024-03-01 22:00:00 intrusion-alarm zone=7
        """,
        zones=[{"zone": "7", "area": ["1", "2"], "area_rule": rule}],
    )
    assert states(ground) == [state]


def test_areas_of_alarms_do_not_matter_where_arming_names_none():
    ground = laid("""
        2024-03-01 17:00:00 arm
        2024-03-01 22:00:00 intrusion-alarm zone=7 area=1
        2024-03-01 22:01:00 intrusion-alarm zone=8 area=2
        2024-03-02 07:00:00 disarm
    """)
    assert states(ground) == ["armed", "armed"]
    assert ground.armed["area"].to_list() == [None]


def test_alarms_while_unarmed_measure_how_wrong_the_state_is():
    """Trait, armed state contradicts the alarms: above a share nothing rests on arming."""
    usual = "{d} 17:00:00 arm\n{d} 22:00:00 intrusion-alarm zone=7\n{n} 07:00:00 disarm"
    wrong = "\n{n} 12:00:00 intrusion-alarm zone=7"
    right = laid(nights(9, usual))
    assert right.sites["contradiction_share"].item() == 0
    assert right.exposure["basis"].to_list() == ["armed"]
    ground = laid(nights(9, usual + wrong))
    assert ground.sites["contradiction_share"].item() == pytest.approx(0.5)
    assert not ground.sites["arming_reliable"].item()
    assert ground.exposure["basis"].to_list() == ["calendar"]


def test_an_alarm_told_late_is_no_contradiction():
    """Trait, late receipt: receipt comes after entry hold, abort window and dialling."""
    night = "{d} 17:00:00 arm\n{n} 07:00:00 disarm\n{n} 07:01:00 intrusion-alarm zone=7"
    assert laid(nights(9, night)).sites["contradiction_share"].item() == 0


def test_listed_24_hour_points_do_not_contradict():
    """Trait, 24-hour points: safe, roof hatch, glass in a display case."""
    night = "{d} 17:00:00 arm\n{n} 07:00:00 disarm\n{n} 12:00:00 intrusion-alarm zone=9"
    ground = laid(
        nights(9, night), zones=[{"zone": "9", "use": "24-hour", "detector": "glass break"}]
    )
    assert ground.sites["contradiction_share"].item() is None
    assert ground.sites["arming_reliable"].item()
