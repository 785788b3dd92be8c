"""Many plain sites as events: shapes, exposure, and the driver that one point follows."""

from itertools import pairwise

import polars as pl
import pytest

from eventlab.errors import UsageError
from eventlab.schema import EVENT, Kind, Phase
from eventlab.simulate import BACKGROUNDS, DRIVERS, Driven, site_events


def alarms(made, zone=None):
    frame = made.events.filter(
        (pl.col("kind") == Kind.INTRUSION_ALARM) & (pl.col("phase") == Phase.BEGIN)
    )
    return frame if zone is None else frame.filter(pl.col("zone") == zone)


@pytest.mark.parametrize("background", BACKGROUNDS)
def test_alarms_fall_only_while_armed(background):
    made = site_events(1, sites=3, days=120, background=background)
    assert dict(made.events.schema) == dict(EVENT)
    state = made.events.with_columns(
        armed=pl.when(pl.col("kind") == Kind.ARM)
        .then(pl.lit(value=True))
        .when(pl.col("kind") == Kind.DISARM)
        .then(pl.lit(value=False))
        .forward_fill()
        .over("site")
    )
    seen = state.filter(pl.col("kind") == Kind.INTRUSION_ALARM)
    assert seen["armed"].all()
    per_point = alarms(made).group_by("site", "zone").len()
    assert per_point.height == 24
    assert per_point["len"].is_between(4, 25).all()
    assert made.affected.is_empty()


def test_the_same_seed_makes_the_same_and_each_site_stands_alone():
    one, more = site_events(5, sites=1, days=60), site_events(5, sites=3, days=60)
    assert one.events.equals(more.events.filter(pl.col("site") == "S0001"))
    assert not one.events.equals(site_events(6, days=60).events)


def test_arm_and_disarm_alternate():
    made = site_events(2, days=200)
    acts = made.events.filter(pl.col("kind").is_in([Kind.ARM, Kind.DISARM]))["kind"].to_list()
    assert all(a != b for a, b in pairwise(acts))


def test_bad_days_hold_more_than_chance_would():
    spread = {}
    for background in ("poisson", "bad-days", "bad-spells"):
        made = alarms(site_events(4, sites=20, background=background))
        days = made.select("site", "zone", pl.col("at").dt.date()).n_unique()
        spread[background] = days / made.height
    assert spread["poisson"] > 0.95
    assert spread["bad-days"] < 0.7


@pytest.mark.parametrize("driver", DRIVERS)
def test_the_first_point_follows_its_driver(driver):
    made = site_events(3, sites=5, points=3, story=Driven(driver, 8))
    assert made.affected["driver"].unique().to_list() == [driver]
    assert (made.affected["alarms"] == 8).all()
    first = alarms(made, "1").with_columns(hour=pl.col("at").dt.truncate("1h"))
    joined = first.join(
        made.context.weather.with_columns(hour=pl.col("at")), on="hour", how="inner"
    )
    typical = made.context.weather
    if driver == "clock":
        minutes = first["wall"].dt.hour().cast(pl.Int32) * 60 + first["wall"].dt.minute()
        busiest = first.with_columns(slot=minutes // 20).group_by("site", "slot").len()
        assert busiest.group_by("site").agg(pl.col("len").max())["len"].min() >= 4
    elif driver == "sun":
        assert first["wall"].dt.hour().is_between(12, 21).mean() > 0.7
    elif driver == "dark":
        assert not first["wall"].dt.hour().is_between(9, 15).any()
    elif driver == "arming":
        arms = made.events.filter(pl.col("kind") == Kind.ARM).select("site", "at", armed="at")
        since = first.sort("at").join_asof(
            arms.sort("at"), on="at", by="site", check_sortedness=False
        )
        minutes = (since["at"] - since["armed"]).dt.total_minutes()
        assert minutes.median() < 60
    else:
        column = {"temperature": "temperature_c", "wind": "gust_m_s", "rain": "rain_mm"}[driver]
        assert joined[column].median() > typical[column].quantile(0.95)


def test_a_strange_driver_is_refused():
    with pytest.raises(UsageError, match="no such"):
        site_events(1, story=Driven("moon", 5))
