"""Points that should have been seen: their rhythm, and what is never told silent."""

from datetime import date, datetime, timedelta
from math import comb
from pathlib import Path

import polars as pl
import pytest

from eventlab.analysis import rhythm, silent_zone
from eventlab.ground import lay
from eventlab.schema import EVENT, conform
from tests.analysis.standing import NOTHING, SETTINGS, context, found, ground, nights

MOTION = Path(__file__).parents[3] / "shared/data/motion_week/motion_week.txt"


def moves(points, count, *, first="2025-01-06", skip=(), weekdays=range(5), more=""):
    """Lines of movement by day: each point once every hour of four, on its days."""
    start = datetime.fromisoformat(first)
    lines = []
    for day in range(count):
        when = start + timedelta(days=day)
        if when.weekday() not in weekdays or day in skip:
            continue
        for place, zone in enumerate(points):
            for hour in (9, 11, 14, 16):
                moment = when + timedelta(hours=hour, minutes=place)
                lines.append(f"{moment:%Y-%m-%d %H:%M:%S} activation zone={zone}{more}")
    return "\n".join(lines)


QUIET = nights(70)
OTHERS = moves([1, 2, 3, 4], 70)


def test_a_point_seen_every_working_day_and_then_no_more_is_found():
    (got,) = found(silent_zone, QUIET, OTHERS, moves([7], 56))
    assert (got["subject"], got["standing"], got["events"]) == ("7", True, 9)
    # by weekday: 8 of each were seen on all of the 7 or 8 before, of the last 2 (or 1) on none
    assert got["p_value"] < 1e-7
    assert got["looks"] == 5
    assert got["figures"]["expected"] == 36
    assert got["since"].date() == date(2025, 2, 28)


def test_the_chance_is_that_of_counting_out_the_days():
    rows = {
        row["zone"]: row
        for row in rhythm.rhythms(ground(QUIET, OTHERS, moves([7], 56)), SETTINGS).to_dicts()
    }
    # 70 days from a Monday: of ten Mondays to Fridays the first and last day are left out.
    one = {"Mon": (9, 7, 2), "Tue": (10, 8, 2), "Wed": (10, 8, 2), "Thu": (10, 8, 2),
           "Fri": (9, 8, 1)}  # fmt: skip
    wanted = 1.0
    for many, often, last in one.values():
        wanted *= comb(many - last, often) / comb(many, often)
    assert rows["7"]["chance"] == pytest.approx(wanted)
    assert rows["7"]["silent_days"] == 9
    assert rows["1"]["chance"] == 1
    assert rows["1"]["silent_days"] == 0


def test_what_silences_all_is_the_building():
    closed = set(range(42, 70))
    everyone = moves([1, 2, 3, 4, 7], 70, skip=closed)
    assert found(silent_zone, QUIET, everyone) == []
    # a keyholder who looks in now and then by one door makes no working day of it
    looks_in = moves([1], 70, skip=set(range(42)), weekdays=(2,))
    assert found(silent_zone, QUIET, everyone, looks_in) == []


def test_holidays_and_other_weekdays_are_not_held_against_a_point():
    mondays = moves([7], 68, weekdays=(0,))
    assert found(silent_zone, QUIET, OTHERS, mondays) == []


def test_a_room_used_in_spells_is_not_told_dead():
    spells = moves([7], 10) + "\n" + moves([7], 10, first="2025-02-10")
    assert found(silent_zone, nights(84), moves([1, 2, 3, 4], 84), spells) == []


def test_a_walk_test_or_an_alarm_shows_it_alive():
    for proof in ("walk-test zone=7", "intrusion-alarm zone=7"):
        alive = f"2025-03-13 23:00:00 {proof}"
        assert found(silent_zone, QUIET, OTHERS, moves([7], 56), alive) == []


def test_what_the_log_itself_explains_is_told_there():
    dead = moves([7], 56)
    lost = "2025-03-03 10:00:00 supervision-loss zone=7"
    ends = "2025-02-03 10:00:00 mains-loss\n2025-02-03 10:20:00 mains-loss end"
    assert found(silent_zone, QUIET, OTHERS, dead, lost, ends) == []
    # A log that tells no end of anything cannot say that it is still lost; its silence can.
    assert len(found(silent_zone, QUIET, OTHERS, dead, lost)) == 1
    out = "2025-02-28 17:00:00 bypass zone=7"
    assert len(found(silent_zone, QUIET, OTHERS, dead, out)) <= 1


def test_life_safety_points_are_never_judged_by_habit():
    known = context("7 fire smoke", *(f"{n} interior pir" for n in (1, 2, 3, 4)))
    texts = (QUIET, OTHERS, moves([7], 56))
    assert found(silent_zone, *texts, known=known) == []
    weeks = rhythm.weekly(ground(*texts, known=known), SETTINGS)
    assert set(weeks.filter(zone="7")["health"]) == {"not recorded"}


def test_without_movement_in_the_log_nothing_is_said():
    alarms = "\n".join(
        f"2025-01-{day:02d} 23:00:00 intrusion-alarm zone={zone}"
        for day in range(7, 20)
        for zone in (1, 2, 7)
    )
    assert found(silent_zone, QUIET, alarms) == []
    weeks = rhythm.weekly(ground(QUIET, alarms), SETTINGS)
    assert set(weeks["health"]) == {"not recorded"}
    assert weeks["week"].min() == date(2025, 1, 6)


def test_weeks_have_a_word_each():
    weeks = rhythm.weekly(ground(QUIET, OTHERS, moves([7], 56)), SETTINGS).filter(zone="7")
    words = dict(weeks.select("week", "health").iter_rows())
    assert words[date(2025, 1, 13)] == "well"
    assert words[date(2025, 3, 3)] == "not well"
    row = weeks.filter(week=date(2025, 1, 13)).row(0, named=True)
    assert (row["days"], row["seen"], row["activations"]) == (5, 5, 20)
    assert row["expected"] == pytest.approx(4, abs=0.2)
    closed = rhythm.weekly(
        ground(QUIET, moves([1, 2, 3, 7], 70, skip=set(range(14, 21)))), SETTINGS
    )
    assert closed.filter(zone="7", week=date(2025, 1, 20))["health"].to_list() == ["not covered"]


def test_the_hours_of_a_point_are_its_own():
    hours = rhythm.by_hour(ground(QUIET, OTHERS, moves([7], 56)), SETTINGS).filter(zone="7")
    assert set(hours["hour"]) == {9, 11, 14, 16}
    assert set(hours["weekday"]) == {1, 2, 3, 4, 5}
    assert hours["rate"].max() <= 1


def test_an_empty_house_is_never_22_dead_sensors():
    """One real week of 22 points, silent together three times: WSU-CASAS/CIL (MIT)."""
    if not MOTION.exists():
        pytest.skip("open data not present")
    columns = ["at", "zone", "state", "nothing"]
    rows = pl.read_csv(MOTION, separator="\t", has_header=False, new_columns=columns)
    at = pl.col("at").str.to_datetime("%Y-%m-%d %H:%M:%S%.f").dt.replace_time_zone("UTC")
    events = conform(
        rows.with_columns(at=at).sort("at").with_columns(
            site=pl.lit("HOME"), placed="at", wall=pl.col("at").dt.replace_time_zone(None),
            timing=pl.lit("sure"), grain=pl.lit(1), kind=pl.lit("activation"),
            phase=pl.when(pl.col("state") == "ON").then(pl.lit("begin")).otherwise(pl.lit("end")),
            witness=pl.lit("panel"), source=pl.lit("0" * 64), row=pl.int_range(1, pl.len() + 1),
            piece=pl.lit(1), nth=pl.lit(1), reading=pl.lit("test"),
        ),
        EVENT,
    )  # fmt: skip
    laid = lay(events, NOTHING, SETTINGS)
    assert silent_zone.find(laid, NOTHING, SETTINGS).is_empty()
    told = rhythm.rhythms(laid, SETTINGS)
    assert told.height == 22
    assert "not well" not in set(rhythm.weekly(laid, SETTINGS)["health"])
