"""Ordinary buildings: the truth that is written down stands in the log, and nothing else does."""

from datetime import timedelta
from functools import cache

import polars as pl
import pytest

from eventlab.schema import EVENT, Kind, Pattern, Phase, Witness
from eventlab.simulate import BACKGROUNDS, PATTERNS, ordinary

TOLD_AS = {
    Pattern.CHATTERING: Kind.INTRUSION_ALARM,
    Pattern.MAINS_OUT: Kind.MAINS_LOSS,
    Pattern.UNSUPERVISED: Kind.SUPERVISION_LOSS,
    Pattern.LEFT_ON_TEST: Kind.ON_TEST,
}


EVERY = 4 * (len(PATTERNS) + 4)
"""Each trouble, and nothing wrong, on each background."""


@cache
def made(seed=1, sites=EVERY):
    return ordinary(seed, sites=sites)


def test_the_same_seed_makes_the_same_and_each_site_stands_alone():
    few = ordinary(1, sites=14)
    names = few.sites["site"].to_list()
    assert few.events.equals(made().events.filter(pl.col("site").is_in(names)))
    assert not few.events.equals(ordinary(2, sites=12).events)
    assert dict(few.events.schema) == dict(EVENT)


def test_every_trouble_and_every_background_has_its_turn():
    sites = made().sites
    assert set(sites["trouble"]) == {*PATTERNS, "nothing"}
    assert set(sites.filter(trouble="nothing")["background"]) == set(BACKGROUNDS)
    planted = made().planted.join(sites, on="site")
    # a lost path brings no test reports; exports of any site may not meet
    beside = planted.filter(pl.col("pattern") != pl.col("trouble"))
    assert set(beside["pattern"]) <= {Pattern.REPORT_MISSED, Pattern.LOG_GAP}
    gap = pl.col("pattern") == Pattern.LOG_GAP
    assert set(beside.filter(~gap)["trouble"]) == {Pattern.PATH_DOWN}
    assert beside.filter(gap)["gap"].all()


@pytest.mark.parametrize("pattern", TOLD_AS)
def test_what_is_planted_stands_in_the_log(pattern):
    begins = made().events.filter(
        (pl.col("kind") == TOLD_AS[pattern]) & (pl.col("phase") == Phase.BEGIN)
    )
    planted = made().planted.filter((pl.col("pattern") == pattern) & (pl.col("told") > 0))
    for row in planted.to_dicts():
        near = begins.filter(
            (pl.col("site") == row["site"])
            # a clock set by hand every three months is off by up to 81 s
            & (pl.col("at") >= row["since"] - timedelta(minutes=3))
            & (pl.col("at") <= row["until"])
        )
        if row["subject_kind"] == "zone":
            near = near.filter(zone=row["subject"])
        assert near.height >= row["told"]


def test_a_log_tells_what_its_powers_allow():
    told = made().events.join(made().sites, on="site")
    assert told.filter(~pl.col("arming") & pl.col("kind").is_in([Kind.ARM, Kind.DISARM])).is_empty()
    assert told.filter((pl.col("ends") == "none") & (pl.col("phase") == Phase.END)).is_empty()
    assert told.filter(~pl.col("centre") & (pl.col("witness") == Witness.RECEIVER)).is_empty()
    assert told.filter(~pl.col("panel") & (pl.col("witness") == Witness.PANEL)).is_empty()
    minute = told.filter(pl.col("grain") == 60)
    assert (minute["at"].dt.second() == 0).all()
    trips = (
        told.filter((pl.col("kind") == Kind.SHUTDOWN) & (pl.col("phase") == Phase.BEGIN))
        .select("trip_limit")
        .unique()
    )
    assert trips.height >= 2
