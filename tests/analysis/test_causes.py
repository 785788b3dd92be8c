"""Causes of episodes: weights, floors, ceilings; and all analyses together."""

import math
from dataclasses import replace

import polars as pl
import pytest

from eventlab.analysis import ANALYSES, causes, run
from eventlab.analysis.drivers import inside
from eventlab.analysis.drivers.naming import PATTERNS
from eventlab.analysis.tables import OPEN, ratios, table
from eventlab.context import Context
from eventlab.ground import lay
from eventlab.schema import FOUND, Cause, Pattern
from eventlab.settings import Settings
from eventlab.simulate import Driven, site_events
from eventlab.simulate.ways import Ways
from tests.analysis.standing import SETTINGS, context, ground, nights
from tests.logbook import log

KNOWN = context("1 entry front door", "2 interior hall", "3 perimeter door", "9 fire smoke")
QUIET = nights(40)


def weighed(*texts, known=KNOWN):
    return causes(ground(QUIET, *texts, known=known), known, SETTINGS)


def shares(row):
    return {entry["cause"]: entry["probability"] for entry in row["causes"]}


def only(frame):
    assert frame.height == 1
    return frame.to_dicts()[0]


def test_the_tables_hold_every_cause_and_a_source():
    base = table("base_rates")
    assert set(base["cause"]) == {str(c) for c in Cause}
    assert base["share"].sum() == pytest.approx(1)
    # Gill and Hemming 2003, in POP guide 5: users about one half
    user = base.filter(pl.col("cause").str.starts_with("person"))["share"].sum()
    assert 0.4 <= user <= 0.6
    assert 0.02 <= base.filter(pl.col("cause") == "intrusion")["share"][0] <= 0.06
    readable = table("likelihood_ratios")
    assert readable["source"].null_count() == readable["means"].null_count() == 0
    assert not readable.select("family", "sign").is_duplicated().any()
    told = ratios()
    assert told["ratio"].max() <= 20
    assert told["ratio"].min() >= 1 / 20
    assert not told.select("family", "sign", "cause").is_duplicated().any()
    signs = set(told.filter(pl.col("family") == "driver")["sign"])
    assert signs == {*PATTERNS, *(name + OPEN for name in PATTERNS), "outside"}
    assert set(table("confidence")["pattern"]) <= {str(pattern) for pattern in Pattern}


def test_shares_add_up_and_keep_their_floors():
    got = weighed(
        "2025-01-10 02:00:00 intrusion-alarm zone=2",
        "2025-01-11 02:00:00 intrusion-alarm zone=3",
        "2025-01-12 07:58:00 entry-exit-alarm zone=1\n2025-01-12 07:58:30 disarm person=2",
    )
    assert got.height == 3
    for row in got.to_dicts():
        told = shares(row)
        assert sum(told.values()) == pytest.approx(1)
        assert told["unexplained"] >= SETTINGS.unexplained_floor
        assert max(told.values()) <= SETTINGS.certain_ceiling
        assert row["probability"] == max(told.values())
    nightly = shares(got.to_dicts()[0])
    assert nightly["intrusion"] >= SETTINGS.intrusion_floor


def test_a_late_entry_is_a_person_entering():
    row = only(
        weighed("2025-01-12 07:58:00 entry-exit-alarm zone=1\n2025-01-12 07:58:30 disarm person=2")
    )
    assert row["cause"] == Cause.PERSON_ENTERING
    assert row["probability"] > 0.8


def test_a_late_exit_is_a_person_leaving():
    row = only(
        weighed(
            "2025-01-12 18:01:30 intrusion-alarm zone=2\n2025-01-12 18:03:30 disarm person=1\n"
            "2025-01-12 18:05:00 arm person=1"
        )
    )
    assert row["cause"] == Cause.PERSON_LEAVING


def test_chatter_is_the_detector_and_a_mains_dip_is_power():
    noise = "\n".join(f"2025-01-10 02:00:{s:02} intrusion-alarm zone=2" for s in (0, 10, 20))
    assert only(weighed(noise))["cause"] == Cause.DETECTOR
    dip = "2025-01-10 02:00:00 mains-loss\n2025-01-10 02:00:02 intrusion-alarm zone=2"
    row = only(weighed(dip))
    assert shares(row)["power"] > 0.2
    assert shares(row)["intrusion"] > SETTINGS.intrusion_floor * 2


def test_a_break_in_is_the_likeliest_of_its_causes():
    text = "2025-01-10 02:00:00 intrusion-alarm zone=3\n2025-01-10 02:01:00 intrusion-alarm zone=2"
    row = only(
        weighed(text, "2025-01-10 02:01:05 confirmed-alarm", "2025-01-10 01:58:00 comms-fail")
    )
    assert row["cause"] == Cause.INTRUSION


def test_what_a_point_did_on_other_nights_counts():
    once = shares(only(weighed("2025-01-10 02:00:00 intrusion-alarm zone=2")))
    far = nights(120)
    lines = [f"2025-01-{d} 02:{d}:00 intrusion-alarm zone=2" for d in (10, 15, 20)]
    again = causes(ground(far, *lines, known=KNOWN), KNOWN, SETTINGS)
    alone = causes(ground(far, lines[0], known=KNOWN), KNOWN, SETTINGS)
    assert shares(again.row(0, named=True))["detector"] > once["detector"]
    # in a log of forty days nothing is said of the other nights
    assert shares(only(alone))["unexplained"] > once["unexplained"]
    assert shares(again.row(0, named=True))["unexplained"] < once["unexplained"]


def test_life_safety_gets_no_cause():
    got = weighed(
        "2025-01-10 02:00:00 fire zone=9",
        "2025-01-11 02:00:00 intrusion-alarm zone=9",
        "2025-01-12 02:00:00 intrusion-alarm zone=2",
    )
    life = got.filter("life_safety")
    assert life.height == 2
    assert life["cause"].null_count() == 2
    assert life["causes"].null_count() == 2
    assert life["probability"].null_count() == 2
    assert got.filter(~pl.col("life_safety"))["cause"].null_count() == 0


def test_one_ratio_per_family_and_no_larger_than_the_cap():
    text = "2025-01-10 02:00:00 intrusion-alarm zone=2"
    laid = ground(QUIET, text, "2025-01-10 01:59:00 mains-loss", known=KNOWN)
    tight = Settings(ratio_cap=2.0, evidence_sharpness=1.0)
    loose = shares(only(causes(laid, KNOWN, SETTINGS)))["power"]
    capped = shares(only(causes(laid, KNOWN, tight)))["power"]
    assert capped < loose
    prior = dict(table("base_rates").select("cause", "share").iter_rows())
    # twice as likely of power, half as likely of radio: no more than the cap either way
    assert capped / shares(only(causes(laid, KNOWN, tight)))["radio"] == pytest.approx(
        4 * prior["power"] / prior["radio"], rel=0.05
    )
    assert math.log(SETTINGS.ratio_cap) < math.log(21)


def test_nothing_is_made_of_nothing():
    empty = ground("", known=KNOWN)
    assert run(empty, KNOWN, SETTINGS).is_empty()
    assert run(empty, KNOWN, SETTINGS).columns == list(FOUND)
    assert causes(empty, KNOWN, SETTINGS).is_empty()
    quiet = ground(QUIET)
    assert run(quiet, Context.empty(), SETTINGS).is_empty()
    assert causes(quiet, Context.empty(), SETTINGS).is_empty()
    assert len(set(ANALYSES)) == len(ANALYSES) >= 9


TROUBLE = "\n".join(
    [
        "2025-02-10 14:00:00 on-test",
        "2025-01-09 03:00:00 device-battery-low zone=9",
        "2025-01-10 02:00:00 intrusion-alarm zone=3",
        "2025-01-10 02:01:00 intrusion-alarm zone=2",
        *(
            f"2025-01-{d} 03:00:{s:02} intrusion-alarm zone=2"
            for d in (20, 21, 22)
            for s in (1, 9, 19)
        ),
    ]
)


def test_what_leaves_a_place_unprotected_stands_first():
    got = run(ground(QUIET, TROUBLE, known=KNOWN), KNOWN, SETTINGS)
    assert got["pattern"].to_list() == [
        Pattern.LEFT_ON_TEST,
        Pattern.BATTERY_WEAK,
        Pattern.POSSIBLE_INTRUSION,
        Pattern.CHATTERING,
        Pattern.FOLLOWS_CLOCK,  # three of the four nights at three o'clock
    ]
    sure = dict(got.select("pattern", "confidence").iter_rows())
    assert sure[Pattern.POSSIBLE_INTRUSION] is None
    # this log tells no ends: what stands may be over
    assert sure[Pattern.LEFT_ON_TEST] == share(Pattern.LEFT_ON_TEST, "ends untold", 0)
    assert sure[Pattern.CHATTERING] == share(Pattern.CHATTERING, "plain", 0)


def share(pattern, margin, least):
    """What is measured, straight from the table."""
    measured = table("confidence").filter(pattern=pattern, margin=margin, events_min=least)
    return measured["confidence"].item()


def test_life_safety_points_stand_only_in_lost_protection():
    noise = "\n".join(
        f"2025-01-{d} 03:00:{s:02} {kind} zone=9"
        for d in (20, 21, 22)
        for s in (1, 9, 19)
        for kind in ("fire", "intrusion-alarm", "entry-exit-alarm", "tamper-alarm")
    )
    lost = "2025-01-09 03:00:00 supervision-loss zone=9"
    early = "\n".join(f"2025-01-{d} 07:59:30 entry-exit-alarm zone=9" for d in (25, 26, 27))
    got = run(ground(QUIET, noise, lost, early, known=KNOWN), KNOWN, SETTINGS)
    assert set(got["pattern"]) == {Pattern.UNSUPERVISED}
    assert '"life_safety":true' in got["figures"][0]


def test_a_site_finds_the_same_alone_and_in_company():
    one = log("\n".join(sorted((QUIET + "\n" + TROUBLE).splitlines())))
    others = [one.with_columns(site=pl.lit(name)) for name in ("S2", "S0")]
    alone = run(lay(one, KNOWN, SETTINGS), KNOWN, SETTINGS)
    company = run(lay(pl.concat([others[0], one, others[1]]), KNOWN, SETTINGS), KNOWN, SETTINGS)
    assert company.filter(pl.col("site") == "S1").equals(alone)
    shuffled = one.sample(fraction=1, shuffle=True, seed=3)
    assert run(lay(shuffled, KNOWN, SETTINGS), KNOWN, SETTINGS).equals(alone)


def driven(driver):
    ways = Ways(comings=driver == "area")
    made = site_events(21, sites=4, points=4, story=Driven(driver, 14), ways=ways)
    laid = lay(made.events, made.context, SETTINGS)
    found = run(laid, made.context, SETTINGS)
    return made, laid, found, causes(laid, made.context, SETTINGS, found)


@pytest.mark.parametrize("driver", ["sun", "clock", "wind"])
def test_an_alarm_under_what_its_point_follows_is_of_the_surroundings(driver):
    made, laid, found, weighed = driven(driver)
    named = found.filter(
        (pl.col("pattern") == f"follows-{driver}")
        & (pl.col("subject") == "1")
        & ~pl.col("figures").str.contains('"open":true')
    )
    assert named.height >= 2
    mine = weighed.filter(pl.col("first_zone") == "1").join(named.select("site"), on="site")
    under = mine.filter(pl.col("driver") == driver)
    # the finding counts days with one alarm drawn each; each such day lies in the condition here
    hits = named.select(pl.col("figures").str.json_path_match("$.hits").cast(pl.Int64)).sum().item()
    assert under.height >= hits
    assert (under["cause"] == Cause.ENVIRONMENT).all()
    assert under["probability"].min() > 0.6
    without = causes(laid, made.context, SETTINGS)
    assert without["driver"].null_count() == without.height
    outside = mine.filter(pl.col("driver").is_null())
    assert outside["probability"].mean() < under["probability"].mean()


def test_an_alarm_soon_after_another_area_is_known_to_be_so():
    _, _, found, weighed = driven("area")
    mine = found.filter((pl.col("pattern") == "follows-area") & (pl.col("subject") == "1"))
    assert mine.height >= 2
    days = mine.select("site", hits=pl.col("figures").str.json_path_match("$.hits"))
    told = weighed.filter((pl.col("first_zone") == "1") & (pl.col("driver") == "area"))
    many = told.group_by("site").len().join(days, on="site")
    assert many.height == mine.height
    assert (many["len"] >= many["hits"].cast(pl.Int64)).all()


def test_what_cannot_be_told_apart_counts_less_and_what_lies_outside_hardly():
    driven = ratios().filter(pl.col("family") == "driver")
    told = {(sign, cause): ratio for sign, cause, ratio in
            driven.select("sign", "cause", "ratio").rows()}  # fmt: skip
    for name in PATTERNS:
        for cause in ("environment", "detector", "person-leaving"):
            full, less = told.get((name, cause), 1), told.get((name + OPEN, cause), 1)
            assert abs(math.log(less)) <= abs(math.log(full))
        if name != "wet":
            assert told["outside", "environment"] < told[name + OPEN, "environment"]
    assert told["wet", "detector"] > told["wet", "environment"]


def test_where_weather_is_not_known_nothing_is_said():
    made, laid, found, _ = driven("wind")
    blind = replace(made.context, weather=made.context.weather.clear())
    moments = laid.episodes.select(
        "site", "area", zone="first_zone", tamper=pl.lit(value=False), at="since",
        local=pl.col("since").dt.replace_time_zone(None), begun_s=pl.lit(None, pl.Float64),
    )  # fmt: skip
    wind = found.filter(pl.col("pattern") == "follows-wind")
    assert inside(moments, wind, laid, blind, SETTINGS)["inside"].null_count() > 0
    assert inside(moments, wind, laid, blind, SETTINGS)["inside"].drop_nulls().is_empty()
    assert inside(moments, wind, laid, made.context, SETTINGS)["inside"].any()


def test_life_safety_follows_nothing_and_gets_no_driver():
    got = weighed("2025-01-10 02:00:00 fire zone=9")
    assert got["driver"].to_list() == [None]
