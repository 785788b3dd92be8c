"""Swingers: again within one armed period, period after period; chatter of points that sleep."""

from dataclasses import replace

import polars as pl
import pytest

from eventlab.analysis import chattering, run, swinger
from eventlab.context import Context
from eventlab.schema import Pattern
from eventlab.settings import Settings
from tests.analysis.standing import context, found, ground, nights

QUIET = nights(40)
NIGHTS = (8, 9, 12, 15, 20, 22, 25)


def again(days, clocks=("02:10:00", "02:16:00"), *, zone="5", after=3):
    """Trips of a point, each over after so many seconds."""
    lines = []
    for day in days:
        for clock in clocks:
            whole = f"2025-01-{day:02} {clock}"
            end = f"2025-01-{day:02} {clock[:6]}{int(clock[6:]) + after:02}"
            lines += [f"{whole} intrusion-alarm zone={zone}"]
            lines += [f"{end} intrusion-alarm end zone={zone}"] if after else []
    return "\n".join(lines)


def test_again_within_one_armed_period_on_several_nights_swings():
    row = found(swinger, QUIET, again(NIGHTS))[0]
    assert (row["subject"], row["events"]) == ("5", 14)
    assert (row["figures"]["swinging"], row["figures"]["tripped"]) == (7, 7)
    assert row["figures"]["half_s"] == 6 * 60
    assert row["figures"]["limit"] == 2  # no armed period shows a third
    told = {line["what"]: line["figure"] for line in row["evidence"]}
    assert told["alarms over within 10 s"].startswith("14 of 14; half last no longer than 3 s")


def test_bad_nights_are_records():
    assert found(swinger, QUIET, again(NIGHTS[:6])) == []
    # half an hour apart on seven nights is what chance still brings under a limit of two
    assert found(swinger, QUIET, again(NIGHTS, ("02:10:00", "02:40:00"))) == []
    # hours apart is another matter, and so is one alarm a night with few repeats
    assert found(swinger, QUIET, again(NIGHTS, ("02:10:00", "04:31:00"))) == []
    rare = again(range(8, 31), ("03:00:00",))
    assert found(swinger, QUIET, again(NIGHTS), rare) == []


def test_what_a_person_disarms_at_once_is_no_swinger():
    soon = "\n".join(f"2025-01-{day:02} 02:32:00 disarm person=1" for day in NIGHTS)
    assert found(swinger, QUIET, again(NIGHTS, ("02:30:00", "02:31:00")), soon) == []


def test_a_point_that_never_restored_only_tells_again():
    # a siren that stops after 15 minutes and a door still open: one alarm told again
    open_door = again(NIGHTS, ("02:10:00", "02:25:00"), after=0)
    shut = "\n".join(f"2025-01-{day:02} 02:40:00 intrusion-alarm end zone=5" for day in NIGHTS)
    assert found(swinger, QUIET, open_door, shut) == []


def test_without_arming_there_is_no_armed_period():
    assert found(swinger, again(range(8, 31))) == []


def test_life_safety_points_are_never_named():
    assert found(swinger, QUIET, again(NIGHTS), known=context("5 fire smoke detector")) == []
    smoke = "2025-01-20 12:00:00 fire zone=5"
    assert found(swinger, QUIET, again(NIGHTS), smoke) == []


def test_restores_at_the_disarm_tell_nothing_about_the_point():
    trips = again(NIGHTS, after=0)
    late = "\n".join(f"2025-01-{day:02} 08:00:01 intrusion-alarm end zone=5" for day in NIGHTS)
    row = found(swinger, QUIET, trips, late)[0]
    told = {line["what"]: line["figure"] for line in row["evidence"]}
    assert told["how long its alarms last"] == "not told"
    assert not any("over within" in what for what in told)


def test_alarms_that_ride_on_a_tamper_of_the_point_say_so():
    lids = "\n".join(
        f"2025-01-{day:02} 02:11:00 tamper zone=5\n2025-01-{day:02} 02:12:00 tamper end zone=5"
        for day in NIGHTS
    )
    row = found(swinger, QUIET, again(NIGHTS, ("02:10:00", "02:14:00")), lids)[0]
    assert row["figures"]["rides"] == "a tamper of the same point"
    assert (row["figures"]["rides_n"], row["figures"]["rides_of"]) == (14, 14)


def test_a_limit_is_told_as_what_hides_the_rest():
    shut = "\n".join(f"2025-01-{day:02} 02:16:01 shutdown zone=5" for day in NIGHTS)
    row = found(swinger, QUIET, again(NIGHTS), shut)[0]
    ceiling = next(x for x in row["evidence"] if x["what"].startswith("out after"))
    assert ceiling["figure"] == "2, shut out 7 times"
    assert "not shown" in ceiling["basis"]


def test_one_finding_stands_of_a_point_that_chatters_and_swings():
    quick = again(NIGHTS, ("02:10:00", "02:10:20", "02:10:40"))
    known = Context.empty()
    got = run(ground(QUIET, quick, known=known), known, Settings())
    repeats = pl.col("pattern").is_in([Pattern.CHATTERING, Pattern.SWINGER])
    patterns = got.filter(repeats)["pattern"].to_list()
    assert patterns == [Pattern.CHATTERING]
    told = got.filter(pl.col("pattern") == Pattern.CHATTERING)["evidence"].to_list()[0]
    assert any(x["what"] == "tripped again within one armed period" for x in told)


# -- points that sleep after a trip ---------------------------------------------------------------


def metronome(days, step=180, many=8, *, zone="5"):
    lines = []
    for day in days:
        for n in range(many):
            second = 2 * 3600 + n * (step + 1) + n % 2
            clock = f"{second // 3600:02}:{second % 3600 // 60:02}:{second % 60:02}"
            lines.append(f"2025-01-{day:02} {clock} intrusion-alarm zone={zone}")
    return "\n".join(lines)


def test_a_metronome_at_the_shortest_spacing_chatters():
    # common practice: detectors that spare their battery sleep two to three minutes after a trip
    row = found(chattering, QUIET, metronome((8, 9, 12)))[0]
    assert row["figures"]["rule"] == "floor"
    assert row["figures"]["floor_s"] == pytest.approx(180, abs=4)
    assert row["figures"]["bursts"] == 3
    assert row["figures"]["most"] == 8
    assert row["figures"]["index"] is None  # not compared with points that may be quick
    assert any("as soon as the point could" in x["basis"] for x in row["evidence"])


def test_slow_repeats_of_no_rhythm_are_no_chatter():
    uneven = "\n".join(
        f"2025-01-{day:02} 02:{minute:02}:{day * 7 % 60:02} intrusion-alarm zone=5"
        for day, minutes in ((8, (1, 5, 7, 15)), (9, (2, 12, 16, 30)), (12, (5, 8, 26, 29)))
        for minute in minutes
    )
    assert found(chattering, QUIET, uneven) == []


def test_a_siren_that_repeats_an_open_door_is_no_metronome():
    ends = "\n".join(f"2025-01-{day:02} 05:00:00 intrusion-alarm end zone=5" for day in (8, 9, 12))
    # most alarms of the point have a restore, those of three nights are one alarm told again
    short = again(range(13, 31), ("03:00:00",))
    assert found(chattering, QUIET, metronome((8, 9, 12), many=5), ends, short) == []


def test_the_minute_rule_stands_where_it_can_fire():
    quick = again(NIGHTS, ("02:10:00", "02:10:20", "02:10:40"))
    assert found(chattering, QUIET, quick)[0]["figures"]["rule"] == "minute"


def test_a_listed_hold_off_is_the_shortest_spacing():
    zones = context("5 interior store PIR").zones.with_columns(hold_off_s=pl.lit(120.0))
    known = replace(context(), zones=zones)
    row = found(chattering, QUIET, metronome((8, 9, 12), step=125, many=5), known=known)[0]
    assert row["figures"]["floor_s"] == 120
    assert any(x["figure"].endswith(", listed") for x in row["evidence"])


def test_what_a_site_shows_does_not_hang_on_its_neighbours():
    here, there = again(NIGHTS), again(NIGHTS, ("03:00:00", "03:02:00"), zone="7")
    other = "\n".join(
        f"{line} site=S2" for line in (*there.splitlines(), *metronome((8,)).split("\n"))
    )
    alone = found(swinger, QUIET, here)
    both = found(swinger, QUIET, nights(40, site="S2"), here, other)
    assert [row for row in both if row["site"] == "S1"] == alone
    assert [row["subject"] for row in both] == ["5", "7"]


def test_what_follows_another_point_is_told_beside_how_it_repeats():
    known = context("5 interior store PIR", "6 interior hall PIR")
    leader = "\n".join(
        f"2025-01-{day:02} {clock}:58 intrusion-alarm zone=6"
        for day in NIGHTS
        for clock in ("02:09", "02:15")
    )
    got = run(ground(QUIET, again(NIGHTS), leader, known=known), known, Settings())
    own = got.filter(subject="5")
    assert {Pattern.SWINGER, Pattern.FOLLOWS_POINT} <= set(own["pattern"])
    told = own.filter(pattern=str(Pattern.SWINGER))["evidence"].to_list()[0]
    assert any("came just after point 6" in line["what"] for line in told)
