"""Is it still listening? Every lane has one of four words, and silence is never called well."""

from datetime import date, datetime, timedelta

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eventlab.analysis.alive import FAMILIES, lanes, walked
from eventlab.ground import lay
from eventlab.report import alive_in_words, alive_sentence, walk_sentence
from eventlab.schema import FOUND, Health, Pattern, Subject, conform, empty
from eventlab.settings import Settings
from tests.analysis.standing import context, nights
from tests.logbook import log

SETTINGS = Settings()
UTC_END = datetime.fromisoformat("2025-03-08T00:00:00+00:00")
FIRST = date(2025, 1, 6)
QUIET = nights(60)
ENDS = "2025-01-07 10:00:00 bypass zone=2\n2025-01-07 11:00:00 bypass end zone=2"
"""A log that tells ends."""
REPORTS = "\n".join(f"{FIRST + timedelta(days=d):%Y-%m-%d} 03:00:00 test-report" for d in range(60))


def told(*texts, known=None, now=UTC_END, more=None, quiet=QUIET):
    """Lanes of a log, without what findings add."""
    known = known or context("1 perimeter contact", "2 interior pir")
    events = log("\n".join((quiet, *texts))).sort("placed")
    if more is not None:
        events = pl.concat([events, more]).sort("placed")
    ground = lay(events, known, SETTINGS)
    return lanes(ground, known, SETTINGS, empty(FOUND), now)


def one(all_told, family, **subject):
    rows = all_told.lanes.filter(
        pl.col("family") == family, *(pl.col(k) == v for k, v in subject.items())
    ).to_dicts()
    assert len(rows) == 1, rows
    return rows[0]


def words(all_told):
    with_walls = all_told.lanes.with_columns(
        since_wall=pl.col("since").dt.replace_time_zone(None),
        last_wall=pl.col("last").dt.replace_time_zone(None),
    )
    return alive_in_words(with_walls)


def test_what_this_log_never_told_is_not_recorded_and_never_well():
    all_told = told()
    for family in ("mains", "system-battery", "path", "reports", "tamper", "masking", "siren",
                   "module", "arrival", "clock", "on-test", "work"):  # fmt: skip
        assert one(all_told, family)["health"] == Health.NOT_RECORDED, family
    assert one(all_told, "centre")["health"] == Health.NOT_COVERED
    assert one(all_told, "log")["health"] == Health.WELL
    says = words(all_told).filter(pl.col("health") == Health.NOT_RECORDED)["says"]
    assert all("would show" in one.lower() or "test would" in one for one in says)


def test_where_no_end_is_told_of_alarms_either_a_lid_is_not_recorded():
    noise = "\n".join(f"2025-01-{d:02} 02:00:00 intrusion-alarm zone=2" for d in range(7, 20))
    all_told = told(noise, "2025-02-03 10:00:00 tamper zone=1")
    assert one(all_told, "tamper", zone="1")["health"] == Health.NOT_RECORDED
    (says,) = words(all_told).filter(family="tamper", zone="1")["says"]
    assert "this log tells no ends" in says


def test_left_on_test_stands_above_all_else():
    all_told = told(
        ENDS, "2025-02-01 10:00:00 mains-loss", "2025-02-02 10:00:00 on-test",
        "2025-02-03 10:00:00 tamper zone=1",
    )  # fmt: skip
    assert all_told.lanes["family"].to_list()[:3] == ["on-test", "mains", "tamper"]
    assert set(all_told.lanes["health"][:3]) == {Health.NOT_WELL}
    assert alive_sentence(words(all_told)).startswith(
        "3 things are not well: test with the monitoring centre: on test since 2 Feb 2025"
    )


def test_times_to_restore_and_the_longest_are_of_what_ended():
    row = one(
        told(
            "2025-01-10 10:00:00 mains-loss", "2025-01-10 11:00:00 mains-loss end",
            "2025-01-20 10:00:00 mains-loss", "2025-01-20 13:00:00 mains-loss end",
        ),
        "mains",
    )  # fmt: skip
    assert (row["health"], row["times"], row["longest_h"], row["restore_h"]) == (
        Health.WELL, 2, 3.0, 2.0,
    )  # fmt: skip


def test_a_mains_lane_says_that_short_dips_are_not_seen():
    says = words(told("2025-01-10 10:00:00 mains-loss")).filter(pl.col("family") == "mains")["says"]
    assert "short dips are not seen" in says[0]


def test_a_restart_closes_what_is_not_told_again_within_ten_minutes():
    # Common practice: after a restart a panel tells again what still stands.
    lost = "2025-02-01 10:00:00 supervision-loss zone=1", "2025-02-01 10:00:00 mains-loss"
    closed = told(*lost, "2025-02-03 10:00:00 system-restart")
    assert one(closed, "mains")["health"] == Health.WELL
    again = told(
        ENDS, *lost, "2025-02-03 10:00:00 system-restart", "2025-02-03 10:08:00 mains-loss"
    )
    assert one(again, "mains")["health"] == Health.NOT_WELL
    on_test = told("2025-02-01 10:00:00 on-test", "2025-02-03 10:00:00 system-restart")
    assert one(on_test, "on-test")["health"] == Health.NOT_WELL


def test_without_a_log_for_sixty_days_nothing_is_well():
    late = UTC_END + timedelta(days=70)
    all_told = told(REPORTS, "2025-02-02 10:00:00 tamper zone=1", now=late)
    assert Health.WELL not in set(all_told.lanes["health"])
    assert one(all_told, "tamper")["health"] == Health.NOT_WELL  # the last that was known
    assert one(all_told, "reports")["health"] == Health.NOT_COVERED
    said = alive_sentence(words(all_told), stale_days=70)
    assert said.startswith("Nothing is known of this site now: its newest log is 70 days old.")


def test_devices_have_their_own_lanes_and_wired_sites_have_no_batteries():
    known = context("1 perimeter contact", "2 interior pir")
    radio = known.zones.with_columns(link=pl.lit("radio"))
    wireless = context("1 perimeter contact")
    object.__setattr__(wireless, "zones", radio)
    all_told = told("2025-02-02 10:00:00 device-battery-low zone=2", known=wireless)
    assert one(all_told, "battery", zone="2")["health"] == Health.NOT_WELL
    assert one(all_told, "battery", zone="1")["health"] == Health.WELL
    assert one(all_told, "supervision")["zone"] is None  # never told: one lane says so
    object.__setattr__(wireless, "zones", radio.with_columns(link=pl.lit("wired")))
    assert "battery" not in told(known=wireless).lanes["family"].to_list()


def test_reports_that_stop_stand_and_those_that_came_do_not():
    row = one(told(REPORTS), "reports")
    assert (row["health"], row["period_h"], row["times"]) == (Health.WELL, 24.0, 0)
    early = "\n".join(REPORTS.splitlines()[:40])
    assert one(told(early), "reports")["health"] == Health.NOT_WELL


def test_points_are_told_silent_only_where_movement_is_recorded():
    assert one(told(), "point", zone="1")["why"] == "no-movement"
    moves = "\n".join(
        f"{FIRST + timedelta(days=d):%Y-%m-%d} 12:00:00 activation zone=1" for d in range(60)
    )
    all_told = told(moves)
    assert one(all_told, "point", zone="1")["health"] == Health.WELL
    assert one(all_told, "point", zone="2")["health"] == Health.NOT_RECORDED


def test_of_a_life_safety_point_only_lost_protection_is_told():
    known = context("1 perimeter contact", "9 fire smoke")
    quiet = told("2025-02-01 12:00:00 fire zone=9", known=known)
    row = one(quiet, "point", zone="9")
    assert (row["health"], row["why"]) == (Health.NOT_RECORDED, "life")
    assert quiet.beats.filter(pl.col("zone") == "9").is_empty()
    untold = one(told("2025-02-01 12:00:00 bypass zone=9", known=known), "point", zone="9")
    assert untold["health"] == Health.NOT_WELL
    lost = told(ENDS, "2025-02-01 12:00:00 bypass zone=9", known=known)
    assert one(lost, "point", zone="9")["health"] == Health.NOT_WELL
    says = words(lost).filter(pl.col("family") == "point", pl.col("zone") == "9")["says"][0]
    assert "Have it examined by a licensed person" in says


def test_a_bypassed_point_is_not_listening():
    row = one(told("2025-02-20 12:00:00 bypass zone=1",
                   "2025-01-08 12:00:00 bypass zone=2",
                   "2025-01-08 15:00:00 bypass end zone=2"), "point", zone="1")  # fmt: skip
    assert (row["health"], row["what"]) == (Health.NOT_WELL, "bypass")


def test_the_other_witness_tells_what_arrived():
    # Common practice: a centre's history holds the alarms and reports that reached it.
    centre = log(REPORTS + "\n2025-02-10 22:00:03 intrusion-alarm zone=1").with_columns(
        witness=pl.lit("receiver").cast(pl.Enum(["panel", "receiver"])), source=pl.lit("1" * 64)
    )
    all_told = told(REPORTS, "2025-02-10 22:00:00 intrusion-alarm zone=1", more=centre)
    assert one(all_told, "centre")["health"] == Health.WELL
    assert one(all_told, "arrival")["health"] == Health.WELL
    assert all_told.lanes.filter(pl.col("family") == "reports")["witness"].to_list() == [
        "panel", "receiver",
    ]  # fmt: skip


def test_a_lid_told_open_as_an_alarm_is_shut_by_a_restore_of_either_kind():
    opened = "2025-02-03 10:00:00 tamper-alarm zone=1"
    shut = one(told(opened, "2025-02-03 10:05:00 tamper end zone=1"), "tamper", zone="1")
    assert (shut["health"], shut["times"]) == (Health.WELL, 1)
    never = one(told(ENDS, opened), "tamper", zone="1")  # this log tells no lid shut
    assert never["health"] == Health.NOT_RECORDED
    other = "2025-02-01 10:00:00 tamper zone=2\n2025-02-01 10:05:00 tamper end zone=2"
    assert one(told(opened, other), "tamper", zone="1")["health"] == Health.NOT_WELL


def test_a_full_memory_and_a_silent_point_are_told_by_their_findings():
    known = context("1 perimeter contact")
    ground = lay(log(QUIET), known, SETTINGS)
    holds = conform(
        pl.DataFrame(
            {
                "site": ["S1", "S1"],
                "pattern": [Pattern.LOG_GAP, Pattern.SILENT_ZONE],
                "subject": ["S1", "1"],
                "subject_kind": [Subject.SITE, Subject.ZONE],
                "standing": [True, True],
            }
        ),
        FOUND,
    )
    full = words(lanes(ground, known, SETTINGS, holds, UTC_END))
    bad = full.filter(pl.col("health") == Health.NOT_WELL)
    assert bad["family"].to_list() == ["log", "point"]
    assert "overwritten" in bad["says"][0]
    assert "should have been seen" in bad["says"][1]


WALK = """
2025-03-03 10:00:00 walk-test
2025-03-03 10:01:00 walk-test moment zone=1
2025-03-03 10:02:00 walk-test moment zone=2
2025-03-03 10:30:00 walk-test end
"""


def walk_of(*texts, known):
    ground = lay(log("\n".join((QUIET, *texts))).sort("placed"), known, SETTINGS)
    return walked(ground, SETTINGS, "S1")


def test_the_last_walk_test_says_which_points_were_not_seen():
    known = context("1 perimeter contact", "2 interior pir", "3 interior pir", "9 fire smoke")
    walk = walk_of("2025-01-07 12:01:00 walk-test moment zone=3", WALK, known=known)
    assert walk.missed == ["3"]
    assert walk.apart == ["9"]
    assert walk_sentence(walk, walk.day) == (
        "Walk test today: 2 of 3 points answered; not seen: 3. Tried apart, at tests of their own: "
        "point 9."
    )
    assert walk_sentence(walk, walk.day + timedelta(days=1)).startswith("Walk test of 3 Mar 2025")


def test_movement_in_service_stands_for_a_walk_test_where_only_that_is_told():
    known = context("1 interior pir", "2 interior pir", "3 interior pir", "4 interior pir")
    service = "\n".join([
        "2025-03-03 10:00:00 on-site-work",
        *(f"2025-03-03 10:0{n}:00 activation zone={n}" for n in (1, 2, 3)),
        "2025-03-03 11:00:00 on-site-work end",
    ])  # fmt: skip
    walk = walk_of(service, known=known)
    assert (walk.missed, walk.told, walk.by) == (["4"], False, "on-site-work")
    assert "3 of 4 points answered" in walk_sentence(walk, walk.day)
    assert walk_of(known=known).day is None


def test_a_walk_test_without_points_is_told_as_that():
    walk = walk_of(
        "2025-03-03 10:00:00 walk-test\n2025-03-03 10:30:00 walk-test end",
        known=context("1 perimeter contact"),
    )
    assert (walk.day, walk.missed) == (date(2025, 3, 3), [])
    assert "does not tell which points answered" in walk_sentence(walk, date(2025, 3, 8))


def test_no_walk_test_is_said_to_show_nothing():
    walk = walk_of(known=context("1 perimeter contact"))
    assert "cannot show that every point still detects" in walk_sentence(walk, date(2025, 3, 8))


def test_a_finding_that_still_holds_is_not_well_though_nothing_is_open():
    known = context("1 perimeter contact")
    lost = "\n".join(
        f"2025-02-{day:02} 10:00:00 supervision-loss zone=1\n"
        f"2025-02-{day:02} 12:00:00 supervision-loss end zone=1" for day in (3, 10, 17)
    )  # fmt: skip
    ground = lay(log(f"{QUIET}\n{lost}").sort("placed"), known, SETTINGS)
    holds = conform(
        pl.DataFrame({"site": ["S1"], "pattern": [Pattern.UNSUPERVISED], "subject": ["1"],
                      "subject_kind": [Subject.ZONE], "standing": [True]}), FOUND,
    )  # fmt: skip
    row = one(lanes(ground, known, SETTINGS, holds, UTC_END), "supervision", zone="1")
    assert (row["health"], row["why"], row["times"]) == (Health.NOT_WELL, "found", 3)


KINDS = st.sampled_from(sorted({str(kind) for family in FAMILIES for kind in family.kinds}))


@settings(max_examples=12, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.integers(0, 11), st.integers(0, 23), KINDS, st.sampled_from(["begin", "end"]),
            st.sampled_from(["", " zone=1", " zone=9"]),
        ),
        max_size=12,
    )
)  # fmt: skip
@pytest.mark.filterwarnings("error")
def test_whatever_is_told_every_lane_has_one_word_and_a_sentence(rows):
    lines = [
        f"{FIRST + timedelta(days=day):%Y-%m-%d} {hour:02}:00:00 {kind} "
        f"{'' if kind == 'test-report' else phase}{zone}"
        for day, hour, kind, phase, zone in rows
    ]
    known = context("1 perimeter contact", "9 fire smoke")
    all_told = told(*lines, known=known, quiet=nights(12))
    full = words(all_told)
    assert set(full["health"]) <= set(Health)
    assert full.select(pl.col("thing", "now", "says").is_not_null().all()).row(0) == (True,) * 3
    subject = full.select("site", "family", "zone", "within", "path", "witness")
    assert subject.is_duplicated().sum() == 0
    # A lane says well only where nothing stands in it.
    stands = all_told.spells.filter("standing").select("family", "zone").unique()
    open_lanes = full.join(stands, on=["family", "zone"], how="semi", nulls_equal=True)
    assert set(open_lanes["health"]) <= {Health.NOT_WELL}
    # Every spell has a lane to be drawn in.
    key = ["site", "family", "zone", "within", "path", "witness"]
    assert all_told.spells.join(full, on=key, how="anti", nulls_equal=True).is_empty()
    assert all_told.beats.join(full, on=key, how="anti", nulls_equal=True).is_empty()
