"""The hours in which each point could have raised an alarm."""

import polars as pl
import pytest

from tests.ground.laid import laid, nights, utc

WAIT = 255 / 3600
EVENING = "{d} 17:00:00 arm person=3\n{n} 07:00:00 disarm person=3"


def hours(ground, zone="7"):
    return ground.exposure.filter(zone=zone)["hours"].item()


def listed(**more):
    return [{"zone": "7", "trip_limit": 6, **more}]


def test_armed_hours_of_a_plain_point():
    row = laid(nights(5, EVENING), zones=listed()).exposure.row(0, named=True)
    assert row["hours"] == pytest.approx(5 * (14 - WAIT))
    assert (row["periods"], row["basis"]) == (5, "armed")


def test_24_hour_points_are_at_risk_whenever_the_log_covers_the_time():
    """Trait, 24-hour points."""
    ground = laid(nights(5, EVENING), zones=listed(use="24-hour", detector="shock"))
    assert hours(ground) == pytest.approx(4 * 24 + 14)
    assert ground.exposure["basis"].to_list() == ["always"]


def test_without_arming_rates_are_per_calendar_day():
    """Trait, arming not recorded."""
    ground = laid(nights(5, "{d} 12:00:00 intrusion-alarm zone=7"), zones=listed())
    assert ground.exposure["basis"].to_list() == ["calendar"]
    assert hours(ground) == pytest.approx(4 * 24)
    assert ground.occurrences["at_risk"].all()


@pytest.mark.parametrize(
    ("armed_in", "expected", "part"),
    [(["full"], 14, False), (["full", "part"], 28, True), (None, 14, None), (["part"], 14, True)],
)
def test_part_armed_time_counts_where_the_mode_includes_the_point(armed_in, expected, part):
    """Trait, part-arming: points out in part-arming get no false armed hours."""
    ground = laid(
        """
        2024-03-01 17:00:00 arm mode=full
        2024-03-02 07:00:00 disarm
        2024-03-02 17:00:00 arm mode=part
        2024-03-03 07:00:00 disarm
        """,
        zones=listed(armed_in=armed_in),
    )
    periods = expected // 14
    assert hours(ground) == pytest.approx(expected - periods * WAIT)
    assert ground.exposure["part"].to_list() == [part]
    left_out = 14 - WAIT if armed_in is None else 0
    assert ground.exposure["left_out_h"].to_list() == pytest.approx([left_out])


@pytest.mark.parametrize(("rule", "expected"), [("all", 12), ("any", 15), (None, 12)])
def test_points_of_several_areas_follow_their_rule(rule, expected):
    """Trait, points in several areas: with no rule known, only all armed is sure."""
    ground = laid(
        """
        2024-03-01 16:00:00 disarm area=1
        2024-03-01 16:00:00 disarm area=2
        2024-03-01 17:00:00 arm area=1
        2024-03-01 19:00:00 arm area=2
        2024-03-02 07:00:00 disarm area=1
        2024-03-02 08:00:00 disarm area=2
        """,
        zones=listed(area=["1", "2"], area_rule=rule),
    )
    assert hours(ground) == pytest.approx(expected - WAIT)


def test_a_bypass_takes_the_point_out_to_its_end():
    rows = """
        2024-03-01 17:00:00 arm
        2024-03-01 20:00:00 bypass zone=7
        2024-03-02 07:00:00 disarm
        2024-03-02 17:00:00 arm
        2024-03-02 22:00:00 bypass end zone=7
        2024-03-03 07:00:00 disarm
    """
    ground = laid(rows, zones=listed())
    assert hours(ground) == pytest.approx(3 - WAIT + 9)
    assert ground.exposure["periods"].item() == 2


def test_a_bypass_whose_end_is_never_told_lifts_at_the_next_disarm():
    """Trait, bypass that ends without a row: a one-shot bypass lifts silently."""
    ground = laid(nights(3, EVENING) + "\n2024-03-02 16:59:00 bypass zone=7", zones=listed())
    assert hours(ground) == pytest.approx(2 * (14 - WAIT))
    assert ground.exposure["periods"].item() == 2
    assert ground.removed["until"].to_list() == [utc("2024-03-03 07:00:00")]


def test_a_bypass_on_a_log_that_tells_ends_stays_until_the_point_is_seen_at_work():
    """Trait, bypass that ends without a row: not nine months on a point that alarmed last week."""
    other = "\n2024-03-01 16:00:00 bypass zone=8\n2024-03-01 16:30:00 bypass end zone=8"
    bypass = "\n2024-03-02 16:59:00 bypass zone=7"
    still = laid(nights(5, EVENING) + other + bypass, zones=listed())
    assert hours(still) == pytest.approx(14 - WAIT)
    seen = laid(
        nights(5, EVENING) + other + bypass + "\n2024-03-05 22:00:00 intrusion-alarm zone=7",
        zones=listed(),
    )
    assert hours(seen) == pytest.approx(4 * (14 - WAIT))


def test_after_a_shutdown_the_point_is_out_until_the_disarm():
    """Trait: swinger shutdown (DC-05 377, DC-03 BD)."""
    ground = laid(nights(2, EVENING) + "\n2024-03-01 20:00:00 shutdown zone=7", zones=listed())
    assert hours(ground) == pytest.approx(3 - WAIT + 14 - WAIT)


def test_after_its_last_permitted_trip_the_point_is_out():
    """Trait, trip limit: after N trips it is dead until the disarm."""
    trips = "\n".join(f"2024-03-01 2{h}:00:00 intrusion-alarm zone=7" for h in range(3))
    for limit, expected in ((1, 3), (2, 4), (3, 5), (6, 14)):
        ground = laid(nights(2, EVENING) + "\n" + trips, zones=[{"zone": "7", "trip_limit": limit}])
        assert hours(ground) == pytest.approx(expected - WAIT + 14 - WAIT)
        assert ground.occurrences["at_risk"].sum() == min(limit, 3)


def test_a_ceiling_of_trips_is_seen_over_many_periods():
    """Trait, trip limit: never more than N alarms a night."""
    night = EVENING + "".join(f"\n{{d}} 2{h}:00:00 intrusion-alarm zone=7" for h in range(2))
    ground = laid(nights(5, night))
    assert ground.points.select("trip_limit", "limit_basis").row(0) == (2, "seen")
    assert hours(ground) == pytest.approx(5 * (4 - WAIT))


def test_a_limit_of_one_that_cannot_be_ruled_out():
    """Trait, trip limit: some panels latch on trip 1; the first of each period counts."""
    ground = laid(nights(5, EVENING) + "\n2024-03-01 20:00:00 intrusion-alarm zone=7")
    assert ground.points.select("trip_limit", "limit_basis").row(0) == (1, "possible")
    assert hours(ground) == pytest.approx(3 - WAIT + 4 * (14 - WAIT))


def test_two_trips_in_one_period_rule_it_out():
    ground = laid(
        nights(5, EVENING)
        + "\n2024-03-01 20:00:00 intrusion-alarm zone=7\n2024-03-01 21:00:00 intrusion-alarm zone=7"
    )
    assert ground.points.select("trip_limit", "limit_basis").row(0) == (None, None)
    assert hours(ground) == pytest.approx(5 * (14 - WAIT))


def test_doubtful_stretches_are_left_out_of_rates():
    """Between the last sure row before and the first sure row after."""
    from tests.logbook import log

    events = log(
        nights(2, EVENING)
        + """
        2024-03-01 20:00:00 reset
        2024-03-01 21:00:00 mains-loss
        2024-03-01 22:00:00 reset
    """
    )
    lost = pl.col("kind") == "mains-loss"
    ground = laid(
        events.with_columns(at=pl.when(~lost).then("at")),
        zones=listed(),
    )
    assert hours(ground) == pytest.approx(2 * (14 - WAIT) - 2)
    assert ground.watched.height == 2


def test_a_tamper_is_at_risk_at_any_time():
    """Trait, 24-hour points: siren-lid tamper in wind is weekly bread."""
    ground = laid(nights(2, EVENING) + "\n2024-03-02 12:00:00 tamper-alarm zone=7", zones=listed())
    told = ground.occurrences.filter(kind="tamper-alarm")
    assert told.select("state", "trip", "at_risk").row(0) == ("unarmed", True, True)


def test_trips_outside_armed_time_are_not_at_risk():
    ground = laid(
        nights(2, EVENING)
        + """
        2024-03-01 17:02:00 intrusion-alarm zone=7
        2024-03-01 20:00:00 intrusion-alarm zone=7
        2024-03-02 12:00:00 intrusion-alarm zone=7
        """,
        zones=listed(),
    )
    trips = ground.occurrences.filter("trip")
    assert trips["at_risk"].to_list() == [False, True, False]


def test_a_receiver_s_history_beyond_the_panel_s_log_has_no_armed_hours():
    """Powers are each witness's own: outside the panel's log the state is unknown."""
    receiver = "\n".join(
        f"2024-0{m}-15 22:00:00 intrusion-alarm zone=7 witness=receiver" for m in range(1, 6)
    )
    ground = laid(nights(3, EVENING) + "\n" + receiver, zones=listed())
    assert hours(ground) == pytest.approx(3 * (14 - WAIT))
    assert ground.occurrences.filter("trip")["at_risk"].to_list() == [False] * 5


def test_intervals_sum_to_the_hours():
    ground = laid(
        nights(5, EVENING + "\n{d} 20:00:00 intrusion-alarm zone=7\n{n} 12:00:00 system-restart"),
        zones=[{"zone": "7"}, {"zone": "8"}],
    )
    spans = ground.exposed(["S1"]).with_columns(
        h=(pl.col("until") - pl.col("since")).dt.total_seconds() / 3600
    )
    sums = spans.group_by("zone").agg(pl.col("h").sum()).sort("zone")
    assert sums["h"].to_list() == pytest.approx(ground.exposure["hours"].to_list())
