"""Real break-ins are never called anything else; nuisance is not all called one."""

from datetime import date, datetime, timedelta

import polars as pl
import pytest

from eventlab.analysis import intrusion
from eventlab.context import Context
from eventlab.ground import lay
from eventlab.report.said import Said
from eventlab.report.sentences import sentence
from eventlab.schema import SITE as SITE_SHAPE
from eventlab.schema import Timing, conform
from tests.analysis.standing import SETTINGS, context, events, found, nights

SITE = context(
    "1 entry front door",
    "2 interior hall",
    "3 perimeter back door",
    "4 interior office",
    "5 outdoor yard",
    "9 fire smoke detector",
)
QUIET = nights(60)
RESTORES = "\n".join(
    f"2025-01-{d:02} 12:00:00 activation zone=3\n2025-01-{d:02} 12:00:20 activation end zone=3"
    for d in range(8, 28)
)


def at(clock, kind="intrusion-alarm", rest="", day="2025-02-05"):
    return f"{day} {clock} {kind} {rest}"


def tell(*lines, known=SITE, quiet=QUIET):
    return found(intrusion, quiet, *lines, known=known)


def rules(*lines, **more):
    got = tell(*lines, **more)
    assert len(got) == 1, got
    return set(got[0]["figures"]["rules"])


# -- what may have been one ------------------------------------------------------------------


def test_a_door_and_then_a_room():
    got = tell(at("02:10:00", rest="zone=3"), at("02:11:30", rest="zone=2"))
    assert len(got) == 1
    row = got[0]
    assert (row["subject_kind"], row["subject"], row["events"]) == ("site", "S1", 2)
    assert row["figures"]["points"] == 2
    assert row["figures"]["rules"] == ["several points"]
    assert "back door" in row["evidence"][0]["figure"]
    assert row["standing"] is False


# BS 8243 5.2: the second detector within 30 to 60 min; the window is a setting.
@pytest.mark.parametrize(("clock", "hit"), [("03:10:00", True), ("03:10:01", False)])
def test_the_confirmation_window_is_the_bar(clock, hit):
    got = tell(at("02:10:00", rest="zone=4"), at(clock, rest="zone=2"))
    assert bool(got) == hit


def test_twelve_minutes_between_areas():
    known = context("1 entry door", "2 interior hall", "7 interior store")
    quiet = "\n".join(line + f" area={area}" for area in "AB" for line in nights(60).splitlines())
    text = [at("02:10:00", rest="zone=2 area=A"), at("02:22:30", rest="zone=7 area=B")]
    assert "several points" in rules(*text, known=known, quiet=quiet)


def test_a_keyholder_who_disarms_later_takes_nothing_away():
    keyholder = at("02:36:00", "disarm", "person=7")
    got = tell(at("02:10:00", rest="zone=3"), at("02:11:30", rest="zone=2"), keyholder)
    assert len(got) == 1
    assert got[0]["figures"]["disarm_min"] == pytest.approx(26)


def test_one_door_that_stays_open():
    assert "stays open" in rules(RESTORES, at("02:10:00", rest="zone=3"))
    closed = at("02:10:20", rest="end zone=3")
    assert tell(RESTORES, at("02:10:00", rest="zone=3"), closed) == []


LATE = "\n".join(
    f"2025-01-{d:02} {clock} {event}"
    for d in range(8, 16)
    for clock, event in (
        ("23:00:00", "intrusion-alarm zone=3"),
        ("23:40:00", "disarm person=1"),
        ("23:40:01", "intrusion-alarm end zone=3"),
        ("23:50:00", "arm person=1"),
    )
)
"""A panel that tells ends with the disarm: the same door on eight nights, shut each time."""


# The keyholder comes 40 min later; the door ends ten minutes on, or in no row at all.
@pytest.mark.parametrize("end", [at("03:00:00", rest="end zone=3"), ""])
def test_a_door_still_open_at_the_disarm_of_a_log_that_tells_ends_then(end):
    came = [at("02:50:00", "disarm", "person=7"), at("03:30:00", "arm", "person=7")]
    assert "stays open" in rules(LATE, at("02:10:00", rest="zone=3"), *came, end)
    shut = at("02:50:01", rest="end zone=3")
    assert tell(LATE, at("02:10:00", rest="zone=3"), *came, shut) == []


def test_a_log_that_mostly_leaves_ends_out_does_not_show_it_by_a_missing_one():
    few = "\n".join(
        line for line in LATE.splitlines() if " end " not in line or line < "2025-01-11"
    )
    came = [at("02:50:00", "disarm", "person=7"), at("03:30:00", "arm", "person=7")]
    assert tell(few, at("02:10:00", rest="zone=3"), *came) == []


def test_a_log_without_restores_cannot_show_that_a_door_stays_open():
    assert tell(at("02:10:00", rest="zone=3")) == []


@pytest.mark.parametrize("kind", ["comms-fail", "mains-loss", "tamper", "radio-jam", "masking"])
def test_a_path_or_supply_cut_first(kind):
    cut = at("01:58:00", kind)
    assert rules(cut, at("02:10:00", rest="zone=2")) == {"lost while armed"}


def test_a_path_lost_for_moments_is_no_sign():
    lost = at("01:58:00", "comms-fail") + "\n" + at("01:58:30", "comms-fail", "end")
    assert tell(lost, at("02:10:00", rest="zone=2")) == []


def test_what_a_site_shows_all_the_time_is_no_sign():
    often = "\n".join(f"2025-01-{d:02} 23:00:00 comms-fail\n2025-01-{d:02} 23:05:00 comms-fail end"
                      for d in range(8, 28))  # fmt: skip
    assert tell(often, at("01:58:00", "comms-fail"), at("02:10:00", rest="zone=2")) == []


def test_tamper_and_cut_path_with_no_alarm_at_all():
    got = rules(at("02:00:00", "tamper", "zone=3"), at("02:04:00", "comms-fail"))
    assert got == {"lost while armed"}
    assert tell(at("02:00:00", "mains-loss"), at("02:00:10", "comms-fail")) == []


def test_an_opening_that_nobody_disarmed_beside_a_cut():
    text = [at("02:00:00", "comms-fail"), at("02:01:00", "activation", "zone=1")]
    assert rules(*text) == {"lost while armed"}


def test_days_of_masking_or_tamper_before():
    before = at("11:00:00", "masking", "zone=4", day="2025-02-02")
    assert rules(before, at("02:10:00", rest="zone=2")) == {"signs before"}
    long_ago = at("11:00:00", "masking", "zone=4", day="2025-01-20")
    assert tell(long_ago, at("02:10:00", rest="zone=2")) == []


def test_probing_nights_before():
    tried = [at("23:40:00", rest="zone=5", day=f"2025-02-0{d}") for d in (1, 3)]
    assert rules(*tried, at("02:10:00", rest="zone=2")) == {"signs before"}


def test_a_bypass_in_the_days_before():
    text = [at("17:50:00", "bypass", "zone=3", day="2025-02-04"), at("02:10:00", rest="zone=2")]
    assert rules(*text) == {"out of service"}


def test_a_bypass_of_a_room_or_of_the_room_behind_is_a_record():
    for bypassed, alarmed in (("4", "2"), ("3", "5"), ("2", "3")):
        text = [at("17:50:00", "bypass", f"zone={bypassed}", day="2025-02-04"),
                at("02:10:00", rest=f"zone={alarmed}")]  # fmt: skip
        assert tell(*text) == []


def test_a_lid_opened_and_shut_days_before_is_a_record_but_of_the_point_that_alarmed():
    lid = [at("11:00:00", "tamper", "zone=4", day="2025-02-02"),
           at("11:10:00", "tamper", "end zone=4", day="2025-02-02")]  # fmt: skip
    assert tell(*lid, at("02:10:00", rest="zone=2")) == []
    assert rules(*lid, at("02:10:00", rest="zone=4")) == {"signs before"}
    assert rules(lid[0], at("02:10:00", rest="zone=2")) == {"signs before"}


def test_what_rattles_every_week_is_no_trial():
    weeks = [
        at("23:40:00", rest="zone=5", day=f"{date(2024, 12, 9) + timedelta(days=n)}")
        for n in range(0, 53, 3)
    ]
    tried = [at("23:40:00", rest="zone=5", day=f"2025-02-0{d}") for d in (1, 3)]
    assert tell(*weeks, *tried, at("02:10:00", rest="zone=2")) == []


def test_a_point_shut_out_on_an_earlier_night_is_a_record():
    text = [at("20:00:00", "shutdown", "zone=3", day="2025-02-02"), at("02:10:00", rest="zone=2")]
    assert tell(*text) == []


def test_an_alarm_by_day_hides_none_of_the_same_night():
    # noon to noon is one night: what alarmed at 12:30 is not what alarmed after the next arming
    early = [at("12:00:00", "arm", "person=1", day="2025-02-04"),
             at("12:30:00", rest="zone=2", day="2025-02-04"),
             at("13:30:00", "disarm", "person=1", day="2025-02-04")]  # fmt: skip
    shut = at("23:00:00", "shutdown", "zone=3", day="2025-02-04")
    assert "out of service" in rules(*early, shut, at("02:10:00", rest="zone=2"))


def test_after_a_point_was_shut_out():
    text = [at("20:00:00", "shutdown", "zone=3", day="2025-02-04"), at("02:10:00", rest="zone=2")]
    assert rules(*text) == {"out of service"}


def test_a_point_shut_out_in_another_area_of_the_site():
    known = context("1 entry door", "2 interior hall", "3 perimeter window", "7 interior store")
    quiet = "\n".join(line + f" area={area}" for area in "AB" for line in nights(60).splitlines())
    text = [
        at("20:00:00", rest="zone=3 area=A", day="2025-02-04"),
        at("20:00:00", "shutdown", "zone=3 area=A", day="2025-02-04"),
        at("02:10:00", rest="zone=7 area=B"),
    ]
    assert "out of service" in rules(*text, known=known, quiet=quiet)


def test_all_pairs_of_a_night_belong_to_it():
    early = [at("19:00:00", rest=f"zone={z}", day="2025-02-04") for z in (2, 4)]
    got = tell(*early, at("02:10:00", rest="zone=3"), at("02:12:00", rest="zone=2"))
    assert len(got) == 1
    assert got[0]["until"].isoformat().startswith("2025-02-05T02:12")
    assert got[0]["events"] == 4


def test_the_last_point_still_able_to_report():
    known = context("1 entry door", "2 interior hall", "3 perimeter door")
    out = [at("09:00:00", "supervision-loss", f"zone={z}", day="2025-01-10") for z in (1, 3)]
    assert rules(*out, at("02:10:00", rest="zone=2"), known=known) == {"out of service"}


def test_the_system_confirmed_it():
    assert rules(at("02:10:00", "confirmed-alarm")) == {"confirmed"}


def test_a_reset_clock_takes_nothing_away():
    after = [
        at("02:05:00", "mains-loss"),
        at("02:30:00", "system-restart", "timing=doubtful"),
        at("02:40:00", rest="zone=3 timing=doubtful"),
        at("02:43:00", rest="zone=2 timing=doubtful"),
    ]
    assert "several points" in rules(*after)


def reset(frame, since):
    """Let the clock start again at 2000-01-01 from a moment on; row order alone places the rows."""
    lost = pl.col("placed") >= since
    began = datetime(2000, 1, 1)  # noqa: DTZ001 - a wall time
    place = pl.lit(since) + pl.duration(microseconds=pl.int_range(pl.len()))
    return frame.with_columns(
        at=pl.when(~lost).then("at"),
        wall=pl.when(lost)
        .then(pl.lit(began) + (pl.col("placed") - pl.lit(since)))
        .otherwise("wall"),
        placed=pl.when(lost).then(place).otherwise("placed"),
        timing=pl.when(lost)
        .then(pl.lit(str(Timing.DOUBTFUL)))
        .otherwise(pl.lit(str(Timing.SURE)))
        .cast(frame.schema["timing"]),
    )


def test_a_reset_clock_that_squeezes_all_rows_together_takes_nothing_away():
    text = [
        at("02:05:00", "mains-loss"),
        at("02:30:00", "system-restart"),
        at("02:40:00", rest="zone=3"),
        at("02:43:00", rest="zone=2"),
    ]
    frame = events(nights(29), *text)
    since = frame.filter(pl.col("kind") == "system-restart")["placed"][0]
    laid = lay(reset(frame, since), SITE, SETTINGS)
    got = intrusion.find(laid, SITE, SETTINGS)
    assert got.height == 1
    assert "several points" in got["figures"][0]
    assert "time not known" not in got["figures"][0]
    # and detectors that only warm up stay what they are
    warm = [
        at("02:30:00", "system-restart"),
        at("02:30:30", rest="zone=3"),
        at("02:30:40", rest="zone=2"),
    ]
    frame = events(nights(29), *warm)
    since = frame.filter(pl.col("kind") == "system-restart")["placed"][0]
    laid = lay(reset(frame, since), SITE, SETTINGS)
    assert intrusion.find(laid, SITE, SETTINGS).is_empty()


def test_a_storm_takes_nothing_away():
    lost = [at("02:09:58", "mains-loss"), at("02:10:03", "mains-loss", "end")]
    text = [at("02:10:00", rest="zone=3"), at("02:10:01", rest="zone=2")]
    assert "several points" in rules(*lost, *text)


def test_chatter_takes_nothing_away():
    noise = [at(f"02:{m:02}:{s:02}", rest="zone=4") for m in range(0, 20, 2) for s in (0, 10, 20)]
    assert "several points" in rules(*noise, at("02:11:05", rest="zone=3"))


def test_a_visit_that_is_only_inferred_takes_nothing_away():
    lids = [at(f"02:1{n}:00", "tamper-alarm", f"zone={z}") for n, z in enumerate((2, 3, 4))]
    assert tell(*lids, at("02:14:00", rest="zone=3"), at("02:15:00", rest="zone=2")) != []


def test_each_night_is_one_finding():
    text = [
        at(clock, rest=f"zone={zone}", day=day)
        for day in ("2025-02-05", "2025-02-09")
        for clock, zone in (("02:10:00", 3), ("02:12:00", 2), ("02:30:00", 4))
    ]
    got = tell(*text)
    assert len(got) == 2
    assert [row["events"] for row in got] == [3, 3]


def pairs(*days, second="4"):
    return [
        at(clock, rest=f"zone={zone}", day=day)
        for day in days
        for clock, zone in (("02:10:00", "2"), ("02:30:00", second))
    ]


NOISY = [f"2025-01-{day:02}" for day in (10, 13, 16, 19, 22)]


def test_many_nights_of_two_rooms_are_one_finding_that_tells_each():
    got = tell(*pairs(*NOISY))
    assert len(got) == 1
    row = got[0]
    assert (row["figures"]["nights"], row["events"]) == (5, 10)
    assert row["since"].isoformat().startswith("2025-01-10T02:10")
    assert row["until"].isoformat().startswith("2025-01-22T02:30")
    told = [line["what"] for line in row["evidence"]]
    both = "different points within 60 min"
    assert [f"{day} Jan 2025 02:10: {both}" in told for day in (10, 13, 16, 19, 22)] == [True] * 5
    assert len(tell(*pairs(*NOISY[:2]))) == 1
    (alone,) = tell(*pairs(NOISY[0]))
    assert "nights" not in alone["figures"]


def test_a_night_with_more_to_it_stands_by_itself_among_many():
    # from the outer skin inwards; a third point; a path cut: each is more than two rooms
    for more in (
        [at("02:10:00", rest="zone=3"), at("02:12:00", rest="zone=2")],
        [*pairs("2025-02-05"), at("02:35:00", rest="zone=3")],
        [at("02:00:00", "comms-fail"), *pairs("2025-02-05")],
    ):
        got = tell(*pairs(*NOISY), *more)
        assert ["nights" in row["figures"] for row in got] == [False, True]
        assert got[0]["since"].isoformat().startswith("2025-02-05T02:")


def test_how_often_chance_does_the_same_is_told_and_takes_nothing_away():
    got = tell(*pairs(*NOISY))[0]
    line = next(one for one in got["evidence"] if "by chance" in one["what"])
    # by hand: 5 nights of each of two points, 2 * 5 * 5 * 1 h over the armed hours of the log
    hours = float(line["figure"].split(" alarms in ")[1].split()[0])
    assert got["figures"]["chance"] == pytest.approx(50 / hours, rel=0.01)


def test_nights_of_one_reason_each_are_one_finding_whatever_the_reasons():
    out = at("17:50:00", "bypass", "zone=3", day="2025-01-21")
    got = tell(*pairs(NOISY[0]), out, at("02:10:00", rest="zone=2", day="2025-01-22"))
    (row,) = got
    assert row["figures"]["nights"] == 2
    assert (row["figures"]["pairs"], row["figures"]["out"]) == (1, 1)
    said = Said("S1", "site", "Hill Library", standing=False, since="x", until="y",
                figures=row["figures"])  # fmt: skip
    text = sentence("possible-intrusion", said)
    assert "two points alarmed within 1 hour of each other (1 night)" in text
    assert "while others were out of service (1 night)" in text


# -- what is none ----------------------------------------------------------------------------


def test_one_room_alone_is_none():
    assert tell(at("02:10:00", rest="zone=2")) == []
    assert tell(*(at("02:10:00", rest="zone=2", day=f"2025-02-0{d}") for d in range(1, 9))) == []


def test_one_chattering_room_is_none():
    noise = [at(f"02:{m:02}:{s:02}", rest="zone=4") for m in range(0, 50, 2) for s in (0, 10, 20)]
    assert tell(*noise) == []


def test_a_late_entry_is_none():
    late = [
        at("07:58:00", "entry-exit-alarm", "zone=1"),
        at("07:58:20", rest="zone=2"),
        at("07:59:10", "disarm", "person=1"),
    ]
    assert tell(*late) == []


def test_a_late_exit_is_none():
    late = [
        at("18:01:30", "entry-exit-alarm", "zone=1"),
        at("18:01:40", rest="zone=2"),
        at("18:04:10", "disarm", "person=1"),
        at("18:06:00", "arm", "person=1"),
    ]
    assert tell(*late) == []


def test_a_walk_test_is_none():
    text = [at("10:00:00", "walk-test")]
    text += [at(f"10:0{n}:00", rest=f"zone={n}") for n in range(1, 5)]
    text += [at("10:20:00", "walk-test", "end")]
    assert tell(*text) == []
    test = [at("02:00:00", "on-test"), at("03:00:00", "on-test", "end")]
    assert tell(*test, at("02:10:00", rest="zone=3"), at("02:11:00", rest="zone=2")) == []


def test_a_test_that_was_left_on_hides_nothing_later():
    left = at("14:00:00", "on-test", day="2025-02-01")
    assert tell(left, at("02:10:00", rest="zone=3"), at("02:11:00", rest="zone=2")) != []


def test_detectors_that_warm_up_are_none():
    text = [at("02:10:00", "system-restart")]
    text += [at(f"02:10:{s}", rest=f"zone={z}") for s, z in ((20, 2), (40, 4), (50, 3))]
    assert tell(*text) == []


def test_detectors_outside_do_not_confirm():
    # BS 8243 5.1.1: detectors outside the premises do not confirm
    assert tell(at("02:10:00", rest="zone=5"), at("02:20:00", rest="zone=2")) == []


def test_life_safety_points_are_no_part_of_it():
    assert tell(at("02:10:00", rest="zone=9"), at("02:11:00", rest="zone=2")) == []


def test_mains_lost_all_around_explains_the_supply():
    sites = [("S1", 50.0), ("S2", 50.01), ("S3", 50.02), ("S4", 52.0)]
    empty = Context.empty()
    frame = conform(
        pl.DataFrame(
            [{"site": s, "time_zone": "UTC", "latitude": lat, "longitude": 1.0} for s, lat in sites]
        ),
        SITE_SHAPE,
    )
    known = Context(frame, SITE.zones, empty.weather, empty.visits, empty.outcomes)
    quiet = "\n".join(nights(60, site=s) for s, _ in sites)
    alarm = at("02:10:00", rest="zone=2")
    cut = [at("02:00:00", "mains-loss", f"site={s}") for s in ("S1", "S2", "S3")]
    assert tell(*cut, alarm, known=known, quiet=quiet) == []
    far = [at("02:00:00", "mains-loss", f"site={s}") for s in ("S1", "S2", "S4")]
    assert rules(*far, alarm, known=known, quiet=quiet) == {"lost while armed"}
