"""A point against its drivers: the hours behind each count are those of its exposure."""

from dataclasses import replace
from functools import cache

import polars as pl
import pytest
from scipy.stats import chi2

from eventlab.analysis.drivers import CHARTS, find, profile
from eventlab.ground import lay
from eventlab.report import chart_sentences, point_limits, point_sentence
from eventlab.schema import WEATHER, Kind, empty
from eventlab.settings import Settings
from eventlab.simulate.single import Driven, site_events
from eventlab.simulate.ways import Ways

SETTINGS = Settings()


@cache
def made(driver, alarms=12):
    ways = Ways(comings=driver == "area")
    return site_events(21, sites=2, story=Driven(driver, alarms), ways=ways)


@cache
def ground_of(driver):
    return lay(made(driver).events, made(driver).context, SETTINGS)


def told(driver, zone="1", *, ground=None, context=None):
    ground = ground or ground_of(driver)
    site = ground.sites["site"][0]
    return profile(ground, context or made(driver).context, SETTINGS, site, zone)


@pytest.mark.parametrize("driver", ["sun", "wind", "area"])
@pytest.mark.parametrize("zone", ["1", "2", "5"])
def test_the_hours_of_every_chart_add_up_to_the_hours_at_risk(driver, zone):
    ground = ground_of(driver)
    got = told(driver, zone)
    here = (pl.col("site") == ground.sites["site"][0]) & (pl.col("zone") == zone)
    hours = float(ground.exposure.filter(here)["hours"].sum())
    # What a trip limit took away after an alarm is left in, as the screening leaves it in.
    limit = ground.removed.filter(here, pl.col("reason") == "trip-limit")
    hours += float((limit["until"] - limit["since"]).dt.total_seconds().sum()) / 3600
    assert got.hours == pytest.approx(hours, rel=0.01)
    sums = got.bins.group_by("driver").agg(pl.col("hours", "alarms").sum())
    # One area only: no other is ever opened or closed beside it.
    charts = set(CHARTS) - ({"area"} if driver != "area" else set())
    assert set(sums["driver"]) == charts
    assert sums["hours"].to_list() == pytest.approx([hours] * len(charts), rel=0.01)
    assert set(sums["alarms"]) == {got.alarms}
    assert got.sky["hours"].sum() == pytest.approx(hours, rel=0.01)
    assert got.sky["alarms"].sum() == got.alarms


def test_intervals_are_exact():
    # Garwood (1936) by the quantiles of chi-squared, as NIST/SEMATECH 8.1.7.2 has them.
    for row in told("clock").bins.drop_nulls("rate").iter_rows(named=True):
        n, per = row["alarms"], row["hours"] / 100
        assert row["rate"] == pytest.approx(n / per)
        assert row["rate_low"] == pytest.approx(chi2.ppf(0.025, 2 * n) / 2 / per if n else 0)
        assert row["rate_high"] == pytest.approx(chi2.ppf(0.975, 2 * n + 2) / 2 / per)


def test_missing_weather_is_a_bin_of_its_own_and_never_calm():
    context = made("wind").context
    windy = pl.col("gust_m_s") >= 12
    whole = told("wind")
    silent = told("wind", context=replace(context, weather=context.weather.filter(~windy)))
    mine = silent.bins.filter(pl.col("driver") == "wind")
    untold = mine.filter(~pl.col("told"))
    assert untold["hours"].item() > 0
    assert mine["hours"].sum() == pytest.approx(whole.hours)
    assert mine["alarms"].sum() == whole.alarms
    assert untold["alarms"].item() > 0
    assert untold["low"].item() is None


def test_without_weather_or_place_it_is_said_what_is_missing():
    context = made("sun").context
    blank = replace(
        context,
        sites=context.sites.with_columns(latitude=pl.lit(None, pl.Float64)),
        weather=empty(WEATHER),
    )
    got = told("sun", context=blank)
    assert got.missing == {
        **dict.fromkeys(("temperature", "wind", "rain"), "weather"),
        "sun": "place",
        "area": "alone",
    }
    del got.missing["area"]
    says = chart_sentences(got)
    assert all(says[chart].startswith("not recorded") for chart in got.missing)
    assert got.sky.is_empty()


def test_where_arming_is_not_recorded_no_rate_is_told():
    arms = pl.col("kind").is_in([Kind.ARM, Kind.DISARM])
    ground = lay(made("clock").events.filter(~arms), made("clock").context, SETTINGS)
    got = told("clock", ground=ground)
    assert got.bins.is_empty()
    assert set(got.missing.values()) == {"arming"}
    assert set(got.missing) == {*CHARTS, "sun"}
    assert got.gaps["many"].sum() > 0
    point = ground.points.row(0, named=True)
    assert "does not tell when it was armed" in point_sentence(point, got)


@pytest.mark.parametrize("use", ["fire", "hold-up", "medical"])
def test_a_life_safety_point_has_no_profile(use):
    context = made("clock").context
    zones = context.zones.with_columns(
        use=pl.when(pl.col("zone") == "1").then(pl.lit(use)).otherwise("use")
    )
    context = replace(context, zones=zones)
    ground = lay(made("clock").events, context, SETTINGS)
    assert told("clock", ground=ground, context=context) is None
    point = ground.points.filter(pl.col("zone") == "1").row(0, named=True)
    assert "examined by a licensed person" in point_sentence(point, None)


def test_a_point_there_is_not_has_none():
    assert told("clock", "99") is None


@pytest.mark.parametrize("driver", ["sun", "clock", "wind"])
def test_what_the_screening_names_leads_and_is_said_first(driver):
    ground = ground_of(driver)
    got = told(driver)
    site = ground.sites["site"][0]
    found = find(ground, made(driver).context, SETTINGS)
    mine = found.filter((pl.col("site") == site) & (pl.col("subject") == "1")).row(0, named=True)
    leads = got.verdicts.filter(pl.col("place") == "leads").row(0, named=True)
    assert leads["driver"] == driver
    # Tails this far out hold but a few figures.
    assert leads["p"] == pytest.approx(mine["p_value"], rel=1e-2)
    assert leads["q"] == pytest.approx(mine["q_value"], rel=1e-2)
    first, said = next(iter(chart_sentences(got).items()))
    assert first == leads["chart"]
    assert said.startswith(f"{leads['hits']} of {leads['days']} alarm days fall")
    assert "of the armed hours" in said


def test_what_follows_another_area_stands_on_a_chart_of_its_own():
    got = told("area")
    leads = got.verdicts.filter(pl.col("place") == "leads").row(0, named=True)
    assert (leads["driver"], leads["chart"]) == ("area", "area")
    assert "after another area is" in chart_sentences(got)["area"]
    assert "another area" not in chart_sentences(got)["arming"]
    bins = got.bins.filter(pl.col("driver") == "area")
    assert bins["low"].to_list() == [0, 5, 15, 30, 60]
    soon, later = bins.head(4).sum(), bins.row(-1, named=True)
    assert 100 * soon["alarms"].item() / soon["hours"].item() > 5 * later["rate_high"]


def test_a_point_that_alarms_seldom_proves_nothing():
    ground = ground_of("clock")
    quiet = next(p for z in map(str, range(2, 9)) if (p := told("clock", z)) and p.alarms < 4)
    says = chart_sentences(quiet)
    charts = [chart for chart in CHARTS if chart not in quiet.missing]
    assert quiet.missing == {"area": "alone"}
    assert all("prove nothing" in says[c] or "nothing to tell" in says[c] for c in charts)
    assert "No other area here" in says["area"]
    point = ground.points.row(1, named=True)
    assert "armed hours" in point_sentence(point, quiet)


def test_gaps_are_told_no_finer_than_the_clock():
    events = made("clock").events.with_columns(
        pl.col("at", "placed", "wall").dt.truncate("1m"), grain=pl.lit(60, pl.Int32)
    )
    got = told("clock", ground=lay(events, made("clock").context, SETTINGS))
    assert got.grain_s == 60
    assert got.gaps["low_s"].to_list()[:2] == [0.0, 180.0]
    fine = told("clock")
    assert fine.gaps["many"].sum() == pytest.approx(got.gaps["many"].sum(), abs=2)
    assert any("steps of" in one for one in point_limits(
        ground_of("clock"), ground_of("clock").sites["site"][0], {}, got
    ))  # fmt: skip


def test_no_gap_is_taken_across_what_no_log_covers():
    events = made("clock").events
    ground = ground_of("clock")
    site = ground.sites["site"][0]
    whole = told("clock")
    middle = ground.coverage.filter(pl.col("site") == site).select(
        pl.col("since").first() + (pl.col("until").first() - pl.col("since").first()) / 2
    )
    assert len(events)
    cut = ground.coverage.filter(pl.col("site") == site).row(0, named=True)
    two = pl.DataFrame(
        {"site": [site] * 2, "since": [cut["since"], middle.item()],
         "until": [middle.item(), cut["until"]]}
    ).cast({"since": pl.Datetime("us", "UTC"), "until": pl.Datetime("us", "UTC")})  # fmt: skip
    got = told("clock", ground=replace(ground, coverage=two))
    assert got.gaps["many"].sum() == whole.gaps["many"].sum() - 1
