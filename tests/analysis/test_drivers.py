"""What alarms follow, on simulated sites of known truth; full tables: ``tests.proving.driving``.

Sites, drivers and backgrounds are those of ``eventlab.simulate.site_events``.
"""

from dataclasses import replace
from datetime import timedelta
from functools import cache

import numpy as np
import polars as pl
import pytest
from scipy.stats import binom

from eventlab.analysis import listed
from eventlab.analysis.drivers import find
from eventlab.analysis.drivers.grid import STEPS, grid
from eventlab.context import Context
from eventlab.ground import lay
from eventlab.schema import WEATHER, Kind, Pattern, Subject, conform, empty
from eventlab.settings import Settings
from eventlab.simulate import BACKGROUNDS
from eventlab.simulate.single import Driven, site_events

SETTINGS = Settings()
PATTERN = {
    "sun": Pattern.FOLLOWS_SUN,
    "clock": Pattern.FOLLOWS_CLOCK,
    "temperature": Pattern.FOLLOWS_TEMPERATURE,
    "wind": Pattern.FOLLOWS_WIND,
    "rain": Pattern.FOLLOWS_RAIN,
}
NEVER = 1e-3
"""What a true share would show less often than this is taken to contradict it."""


@cache
def made(driver, sites=12, alarms=12, seed=21):
    return site_events(seed, sites=sites, story=Driven(driver, alarms))


@cache
def laid(driver):
    return lay(made(driver).events, made(driver).context, SETTINGS)


def found(events, context):
    return find(lay(events, context, SETTINGS), context, SETTINGS)


def sure(frame):
    return frame.filter(~pl.col("figures").str.contains('"open":true'))


@pytest.mark.parametrize("driver", PATTERN)
def test_twelve_alarms_under_one_condition_are_named(driver):
    got = find(laid(driver), made(driver).context, SETTINGS)
    mine = got.filter(pl.col("subject") == "1")
    right = sure(mine).filter(pl.col("pattern") == PATTERN[driver])
    assert right.height >= 10
    assert sure(mine).height - right.height <= 1
    assert (mine["subject_kind"] == Subject.ZONE).all()
    assert (mine["q_value"] <= SETTINGS.driver_q).all()
    assert (right["ratio_low"] > 1).all()
    assert (mine["looks"] >= 11).all()
    assert mine.group_by("site").len()["len"].max() == 1
    others = got.filter(pl.col("subject") != "1")
    assert binom.sf(others.height - 1, 7 * 12, 0.02) > NEVER


@pytest.mark.parametrize("background", BACKGROUNDS)
def test_points_that_follow_nothing_show_nothing(background):
    quiet = site_events(31, sites=25, background=background)
    shown = found(quiet.events, quiet.context)["site"].n_unique()
    assert binom.sf(shown - 1, 25, 0.03) > NEVER


def test_a_site_follows_the_same_alone_and_in_company():
    whole = find(laid("sun"), made("sun").context, SETTINGS)
    name = whole["site"][0]
    alone = found(
        made("sun").events.filter(pl.col("site") == name), made("sun").context.only([name])
    )
    assert alone.equals(whole.filter(pl.col("site") == name))


def test_the_order_of_rows_changes_nothing():
    events = made("wind").events
    mixed = events.sample(fraction=1, shuffle=True, seed=3)
    assert found(mixed, made("wind").context).equals(
        find(laid("wind"), made("wind").context, SETTINGS)
    )


def test_without_weather_or_place_nothing_is_said_of_them():
    nowhere = replace(made("wind").context, weather=empty(WEATHER))
    told = found(made("wind").events, nowhere)
    assert not told["pattern"].is_in([Pattern.FOLLOWS_WIND, Pattern.FOLLOWS_RAIN]).any()
    blank = replace(
        made("sun").context,
        sites=made("sun").context.sites.with_columns(latitude=pl.lit(None, pl.Float64)),
        weather=empty(WEATHER),
    )
    told = found(made("sun").events, blank)
    assert not told["pattern"].is_in([Pattern.FOLLOWS_SUN, Pattern.AFTER_DARK]).any()


def test_missing_weather_is_missing_and_never_calm():
    # Of the hours with an alarm in strong wind none is told: nothing is left to follow.
    context = made("wind").context
    windy = pl.col("gust_m_s") >= 12
    silent = replace(context, weather=context.weather.filter(~windy))
    got = found(made("wind").events, silent)
    assert Pattern.FOLLOWS_WIND not in got.filter(pl.col("subject") == "1")["pattern"].to_list()


@pytest.mark.parametrize(
    "told",
    [{"rain_mm": 1.0}, {"cloud_oktas": 8.0}, {"ghi_w_m2": 2.0}],
    ids=lambda told: next(iter(told)),
)
def test_no_sun_is_followed_in_rain_under_closed_cloud_or_without_light(told):
    # Of every site the same alarms, once under an open sky and once not.
    made_ = made("sun")
    sun = pl.col("pattern") == Pattern.FOLLOWS_SUN
    hours = made_.context.weather.select("station", "at", "site")
    for light, expected in ((False, 0), (True, 10)):
        open_ = {"rain_mm": 0.0, "cloud_oktas": 2.0, "ghi_w_m2": 900.0}
        sky = hours.with_columns(
            **{name: pl.lit(open_[name] if light else value) for name, value in told.items()}
        )
        got = find(laid("sun"), replace(made_.context, weather=conform(sky, WEATHER)), SETTINGS)
        assert got.filter(sun & (pl.col("subject") == "1")).height >= expected
        if not light:
            # Light is not judged in the hour of dusk, which some few alarms may lie in.
            assert got.filter(sun).height <= ("ghi_w_m2" in told)


def test_an_alarm_of_the_sun_in_rain_is_told_as_not_counted():
    base = made("sun", seed=22)
    ground = lay(base.events, base.context, SETTINGS)
    got = find(ground, base.context, SETTINGS)
    best = got.filter(pl.col("pattern") == Pattern.FOLLOWS_SUN)
    last = best.select("site", at=pl.col("until").dt.truncate("1h"))
    wet = base.context.weather.with_columns(
        rain_mm=pl.when(pl.col("at").is_in(last["at"].implode())).then(3.0).otherwise(0.0)
    )
    rained = find(ground, replace(base.context, weather=wet), SETTINGS)
    both = best.join(rained.filter(pl.col("pattern") == Pattern.FOLLOWS_SUN), on="site")
    lines = both["evidence_right"].explode().struct.field("what").to_list()
    assert lines.count("not counted") >= both.height // 2


def test_what_is_not_recorded_is_not_looked_at():
    arms = pl.col("kind").is_in([Kind.ARM, Kind.DISARM])
    assert found(made("clock").events.filter(~arms), made("clock").context).is_empty()


@pytest.mark.parametrize("use", ["fire", "hold-up", "medical"])
def test_no_life_safety_point_ever_follows_anything(use):
    context = made("clock").context
    zones = context.zones.with_columns(
        use=pl.when(pl.col("zone") == "1").then(pl.lit(use)).otherwise("use")
    )
    got = found(made("clock").events, replace(context, zones=zones))
    assert "1" not in got["subject"].to_list()


def test_people_who_come_in_late_are_no_clock():
    # Every alarm of point 1 is disarmed within a minute: somebody at the door (common practice).
    events = made("clock").events
    alarm = (pl.col("kind") == Kind.INTRUSION_ALARM) & (pl.col("zone") == "1")
    begun = events.filter(alarm & (pl.col("phase") == "begin"))
    answered = begun.with_columns(
        pl.col("at", "placed", "wall") + pl.duration(seconds=40),
        kind=pl.lit(Kind.DISARM, dtype=events.schema["kind"]),
        phase=pl.lit("moment", dtype=events.schema["phase"]),
        zone=pl.lit(None, pl.String),
        person=pl.lit("1"),
        row=pl.col("row") + 1_000_000,
    )
    armed = answered.with_columns(
        pl.col("at", "placed", "wall") + pl.duration(seconds=60),
        kind=pl.lit(Kind.ARM, dtype=events.schema["kind"]),
        mode=pl.lit("full", dtype=events.schema["mode"]),
        row=pl.col("row") + 1_000_000,
    )
    got = found(pl.concat([events, answered, armed]), made("clock").context)
    assert "1" not in got["subject"].to_list()


def test_time_at_risk_is_laid_exactly():
    # Random intervals against a sum over minutes.
    draw = np.random.default_rng(2)
    edges = np.sort(draw.choice(60 * 24 * 6, 24, replace=False)).reshape(-1, 2)
    origin = pl.datetime(2025, 6, 1, 12, time_zone="UTC")
    spans = pl.DataFrame({"row": 0, "site": "A", "a": edges[:, 0], "b": edges[:, 1]}).select(
        pl.col("row").cast(pl.Int64),
        "site",
        since=origin + pl.duration(minutes="a"),
        until=origin + pl.duration(minutes="b"),
    )
    got = grid(spans, pl.DataFrame({"site": ["A"], "time_zone": ["UTC"]}))
    minutes = np.zeros(got.days * 24 * 60)
    for low, high in edges:
        minutes[low:high] = 1
    shift = (20_240 - got.first) * 24 * 60  # 1 June 2025 is day 20,240 of the era
    want = np.roll(minutes, shift).reshape(got.days, STEPS, 10).mean(axis=2)
    assert got.laid(np.array([0]))[0] == pytest.approx(want, abs=1e-9)
    soon = got.laid(np.array([0]), within=30).sum() * 10
    assert soon == pytest.approx(np.minimum(edges[:, 1] - edges[:, 0], 30).sum())
    row, day = np.zeros(5, dtype=np.int64), np.array([3, got.days - 1, 0, 3, 5])
    for within in (None, 30):
        whole = got.laid(np.array([0]), within=within)[0]
        assert got.of_days(row, day, within=within) == pytest.approx(whole[day], abs=1e-9)
    assert got.by_fortnight(np.array([0]))[0].sum(axis=0) == pytest.approx(want.sum(axis=0))


def test_nothing_is_made_of_nothing():
    blank = made("clock").events.clear()
    assert found(blank, Context.empty()).is_empty()


def test_one_weekday_is_told_from_the_days_on_which_the_place_is_closed():
    # A lorry on Tuesdays between nine at night and three: twelve alarms, at no one hour.
    base = site_events(5, sites=3, alarms=(6, 6))
    quiet = pl.col("zone") != "1"
    kept = base.events.filter(quiet | (pl.col("zone").is_null()))
    draw = np.random.default_rng(4)
    nights = range(28, 330, 7)
    rows = []
    for site in ("S0001", "S0002", "S0003"):
        begin = base.events["wall"].min().date()
        tuesday = (1 - begin.weekday()) % 7
        for night in draw.choice(nights, 12, replace=False):
            at = pl.datetime(begin.year, begin.month, begin.day, 21) + pl.duration(
                days=int(night) + tuesday, minutes=int(draw.integers(0, 170))
            )
            rows.append(pl.select(site=pl.lit(site), wall=at))
    alarms = pl.concat(rows).with_columns(
        pl.col("wall").dt.cast_time_unit("us"), zone=pl.lit("1"), row=pl.int_range(pl.len()) + 10**6
    )
    like = kept.filter(pl.col("kind") == Kind.INTRUSION_ALARM).head(1).drop(*alarms.columns)
    made_up = alarms.join(like, how="cross").with_columns(
        at=pl.col("wall").dt.replace_time_zone("Europe/London").dt.convert_time_zone("UTC")
    )
    made_up = made_up.with_columns(placed="at", phase=pl.lit("begin"))
    events = pl.concat([kept, made_up.select(kept.columns).cast(kept.schema)])
    got = found(events.sort("site", "at"), base.context)
    mine = got.filter(pl.col("subject") == "1")
    assert mine.height == 3
    assert mine["figures"].str.contains('"driver":"weekday"').all()
    assert mine["figures"].str.contains('"from":1,').all()


def test_a_list_over_many_sites_holds_back_what_so_many_bring_by_chance():
    whole = find(laid("rain"), made("rain").context, SETTINGS)
    kept = listed(whole, 12, SETTINGS)
    assert kept["site"].n_unique() == whole["site"].n_unique()
    weak = whole.head(1).with_columns(q_value=pl.lit(0.02), site=pl.lit("weak"))
    other = whole.head(1).with_columns(pattern=pl.lit(str(Pattern.CHATTERING)), site=pl.lit("c"))
    both = pl.concat([weak, other])
    assert listed(both, 1, SETTINGS)["site"].to_list() == ["weak", "c"]
    assert listed(both, 2000, SETTINGS)["site"].to_list() == ["c"]


def test_the_sun_of_a_site_is_the_same_alone_as_beside_a_near_one_with_an_older_log():
    both = made("sun", sites=2, alarms=16, seed=4)
    began = both.events["at"].min() + timedelta(days=17)
    late = pl.col("site") == "S0002"
    events = both.events.filter(~late | (pl.col("at") >= began))
    north = pl.when(late).then(54.72).otherwise(54.55)
    context = replace(both.context, sites=both.context.sites.with_columns(latitude=north))
    figures = ("pattern", "subject", "p_value", "ratio", "figures")
    told = [
        find(lay(some, context, SETTINGS), context, SETTINGS).filter(late).select(figures)
        for some in (events, events.filter(late))
    ]
    assert "follows-sun" in told[0]["pattern"].to_list()
    assert told[0].equals(told[1])
