"""Rates that rise at a date: found where they do, told with their date, silent elsewhere."""

import dataclasses
from datetime import UTC, date, datetime

import numpy as np
import polars as pl
import pytest
from scipy.stats import binom

from eventlab.analysis import daily, listed, nights_at_risk, rate_change, run
from eventlab.ground import lay
from eventlab.report.said import Said
from eventlab.report.sentences import sentence
from eventlab.schema import FOUND, VISIT, conform
from eventlab.settings import Settings
from eventlab.simulate import BACKGROUNDS, site_events
from eventlab.simulate.ways import Ways
from eventlab.stats import adjusted, busiest, busiest_p, change_p, change_point
from tests.analysis.changed import healthy, power
from tests.analysis.standing import context, found, ground, nights

QUIET = nights(300, first="2025-01-06")
NEVER = 1e-3


def alarms(days, *, zone="5", kind="intrusion-alarm", clock="02:10:00"):
    return "\n".join(f"{day:%Y-%m-%d} {clock} {kind} zone={zone}" for day in days)


def days(*numbers):
    return [date.fromordinal(date(2025, 1, 6).toordinal() + n) for n in numbers]


FEW = days(20, 75, 130)
MANY = days(*range(240, 300, 4))


def test_a_rise_is_found_with_its_date_and_its_ratio():
    got = found(rate_change, QUIET, alarms(FEW + MANY))
    assert len(got) == 1
    row, told = got[0], got[0]["figures"]
    assert (row["subject"], row["events"], row["standing"]) == ("5", 15, True)
    assert row["since"] == datetime(2025, 9, 3, 2, 10, tzinfo=UTC)
    assert (told["days"], told["before_days"], told["stretch"]) == (15, 3, False)
    assert told["nights"] + told["before_nights"] == 300
    # from 18 to 8 o'clock but for the exit time, and no longer once it has tripped in a night
    assert told["hours"] == pytest.approx(
        told["nights"] * (14 - 255 / 3600) - 15 * (5 + 50 / 60), abs=0.01
    )
    assert row["ratio"] == pytest.approx(15 / told["hours"] / (3 / told["before_hours"]))
    assert row["ratio_low"] > 1
    assert row["q_value"] <= Settings().change_q
    assert any(line["what"].startswith("trend") for line in row["evidence"])


def test_a_rise_that_is_over_does_not_stand():
    ended = days(*range(180, 230, 3))
    got = found(rate_change, QUIET, alarms(FEW[:2] + ended))
    assert len(got) == 1
    assert (got[0]["standing"], got[0]["figures"]["stretch"]) == (False, True)
    said = Said("point 5", "zone", "site S1", False, "", "", got[0]["figures"], 20.0, 8.0, 70.0)
    assert "for a time: from" in sentence("rate-change", said)


def test_a_fall_a_spell_and_a_steady_rate_are_nothing():
    assert found(rate_change, QUIET, alarms(days(*range(5, 65, 4)) + days(130, 200, 280))) == []
    # seven nights in a row are one spell
    assert found(rate_change, QUIET, alarms(FEW + days(*range(285, 292)))) == []
    assert found(rate_change, QUIET, alarms(days(*range(3, 300, 12)))) == []
    assert found(rate_change, QUIET, alarms(days(280, 286, 292))) == []


def test_tampers_and_life_safety_points_are_never_told():
    assert found(rate_change, QUIET, alarms(FEW + MANY, kind="tamper-alarm")) == []
    listed = context("5 fire smoke detector")
    assert found(rate_change, QUIET, alarms(FEW + MANY), known=listed) == []


def test_what_stands_near_the_date_is_told_without_names():
    visits = conform(
        pl.DataFrame(
            {
                "site": ["S1", "S1", "S1"],
                "at": [datetime(2025, month, day, 10, tzinfo=UTC) for month, day in
                       ((9, 2), (9, 2), (3, 1))],
                "zones": [["5"], ["6"], None],
                "work": ["lens changed", "not here", "long ago"],
                "technician": ["A. Name"] * 3,
            }
        ),
        VISIT,
    )  # fmt: skip
    known = dataclasses.replace(context(), visits=visits)
    got = found(rate_change, QUIET, alarms(FEW + MANY), known=known)[0]
    assert got["figures"]["near"] == ["2 Sep 2025: a visit: lens changed"]
    assert "A. Name" not in str(got)


def test_changes_of_the_zone_list_stand_near_the_date():
    schedule = context("5 pir", "6 pir")
    dates = pl.col("zone").replace_strict({"5": None, "6": date(2025, 9, 3)}, return_dtype=pl.Date)
    known = dataclasses.replace(schedule, zones=schedule.zones.with_columns(installed=dates))
    got = found(rate_change, QUIET, alarms(FEW + MANY), known=known)[0]
    assert got["figures"]["near"] == ["3 Sep 2025: point 6 was installed"]


def test_a_list_over_many_sites_holds_back_changes_that_so_many_bring_by_chance():
    rows = {"site": ["S1", "S2"], "pattern": ["rate-change"] * 2, "q_value": [1e-6, 0.003]}
    both = conform(pl.DataFrame(rows), FOUND)
    assert listed(both, 2, Settings())["site"].to_list() == ["S1", "S2"]
    assert listed(both, 2000, Settings())["site"].to_list() == ["S1"]


def test_a_point_that_was_out_until_then_did_not_rise():
    # bypassed for two thirds of the log: few alarms then are no lower rate
    out = "2025-01-06 17:59:00 bypass zone=5\n2025-09-01 09:00:00 bypass end zone=5"
    steady = days(*range(240, 300, 8))
    assert found(rate_change, QUIET, out, alarms(steady)) == []
    assert found(rate_change, QUIET, alarms(steady)) != []


def test_where_arming_is_not_recorded_nights_are_calendar_nights():
    got = found(rate_change, alarms(days(*range(0, 300, 30)), zone="9"), alarms(FEW + MANY))
    assert got[0]["figures"]["basis"] == "calendar"
    assert "calendar" in got[0]["evidence"][0]["basis"]


def test_a_finding_that_says_why_takes_the_dates_over():
    burst = "\n".join(alarms(MANY, clock=f"02:10:{second}") for second in ("20", "40"))
    laid = ground(QUIET, alarms(FEW + MANY), burst)
    got = run(laid, context(), Settings()).filter(pl.col("subject") == "5")
    assert set(got["pattern"]) == {"chattering", "follows-clock"}
    for lines in got["evidence"].to_list():
        assert "it became more frequent between" in [line["what"] for line in lines]
    hours = (
        "19:40",
        "23:15",
        "03:05",
        "21:50",
        "01:20",
        "06:30",
        "20:10",
        "04:45",
        "22:25",
        "02:00",
    )
    scattered = "\n".join(
        alarms([day], clock=f"{hours[n * 7 % 10]}:{n:02}") for n, day in enumerate(FEW + MANY)
    )
    alone = run(ground(QUIET, scattered), context(), Settings())
    assert alone.filter(pl.col("subject") == "5")["pattern"].to_list() == ["rate-change"]


def test_the_first_look_and_the_exact_one_agree():
    laid = ground(QUIET, alarms(FEW + MANY))
    counted = daily.alarm_days(laid)
    kept = daily.thinned(counted, 5)
    first = daily.positions(kept, laid, 5)["share"].to_list()
    points = kept.select("point", "site", "zone", "within").unique()
    ((_, record),) = nights_at_risk.records(laid, points, counted, 5)
    exact = rate_change._shares(record, record.live[None] * 0 + 1)[0]
    # one trip a night is all this point can show: the rest of each alarm night is no risk
    assert first == pytest.approx(exact.tolist(), abs=1e-9)
    assert kept["night"].diff().dt.total_days().drop_nulls().min() >= 5


def test_the_first_look_takes_away_what_takes_single_points_out():
    # Points are bypassed and shut out, most of all in the nights in which they alarm.
    ways = Ways(trip_limit=2, bypasses=True)
    made = site_events(17, sites=6, days=200, background="bad-spells", ways=ways)
    laid = lay(made.events, made.context, Settings())
    counted = daily.alarm_days(laid)
    kept = daily.thinned(counted, 5)
    points = kept.select("point", "site", "zone", "within").unique()
    assert points.join(laid.removed, on=["site", "zone"], how="semi").height > 20
    first = daily.positions(kept, laid, 5).group_by("point").agg("share")
    told = dict(first.iter_rows())
    seen = 0
    for point, record in nights_at_risk.records(laid, points, counted, 5):
        exact = rate_change._shares(record, record.live[None] * 0 + 1)[0]
        assert told[point] == pytest.approx(exact.tolist(), abs=1e-9)
        seen += 1
    assert seen > 40


def test_nothing_that_could_tell_is_left_out_at_the_first_look():
    settings = Settings()
    few = int(settings.change_days_min)
    gains, none = np.linspace(1, 25, 97), np.zeros(97)
    for n in (4, 7, 12, 30):
        assert (rate_change.least_chance(gains, none, few) <= 2 * change_p(gains, n)).all()
        assert (rate_change.least_chance(none, gains, few) <= 2 * busiest_p(gains, n)).all()
    cut = change_point([0.9, 0.95, 0.97, 0.99]).gain[None]
    stretch = busiest([0.1, 0.5, 0.5001, 0.5002, 0.5003, 0.5004]).gain[None]
    assert rate_change.least_chance(cut, none[:1], few) < settings.change_q
    assert rate_change.least_chance(none[:1], stretch, few) < settings.change_q


def test_no_point_is_left_out_that_its_family_would_prove():
    draw, settings = np.random.default_rng(8), Settings()
    for _ in range(300):
        m = int(draw.integers(1, 40))
        site = np.sort(draw.integers(0, 4, m)).astype(str)
        gains = draw.exponential(4, (2, m)).round(2)
        tested = pl.DataFrame(
            {"point": np.arange(m), "site": site, "days": draw.integers(4, 16, m)}
        )
        first = pl.DataFrame({"point": np.arange(m), "cut": gains[0], "stretch": gains[1]})
        worth = rate_change._worth(tested, first, settings)
        p = np.minimum(2 * np.minimum(change_p(gains[0], 8), busiest_p(gains[1], 8)), 1)
        every, left = adjusted(p, site), adjusted(np.where(worth, p, 1.0), site)
        bar = np.where(tested["days"] < 10, settings.change_few_q, settings.change_q)
        told = every <= bar
        assert (left[told] == every[told]).all()
        assert not (left[~told] <= bar[~told]).any()


@pytest.mark.parametrize("background", BACKGROUNDS)
def test_few_of_some_sites_with_nothing_wrong_show_a_change(background):
    assert binom.sf(healthy(31, sites=25, background=background) - 1, 25, 0.01) > NEVER


@pytest.mark.slow
@pytest.mark.timeout(3600)
def test_at_most_one_in_a_hundred_sites_with_nothing_wrong_shows_a_change():
    shown = {b: healthy(32, sites=250, background=b) for b in BACKGROUNDS}
    assert sum(shown.values()) <= 10, shown
    for one in shown.values():
        assert binom.sf(one - 1, 250, 0.01) > NEVER, shown


# Measured with 100 sites each (one affected point of eight, 365 days, the higher rate in the last
# 90): found at 10 times with 4, 8, 12, 20 alarm days .05 .16 .48 .80; at 5 times .01 .08 .11 .30;
# at 3 times .02 at most. Spells of five days and a family of eight points cost the rest.
@pytest.mark.slow
@pytest.mark.timeout(3600)
@pytest.mark.parametrize(("times", "after", "least"), [(10, 12, 0.3), (10, 20, 0.6), (5, 20, 0.15)])
def test_large_rises_are_found_and_their_date_is_held(times, after, least):
    hit, held, other, _ = power(33, sites=100, times=times, after=after)
    assert binom.cdf(hit, 100, least) > NEVER
    assert binom.cdf(held, hit, 0.75) > NEVER
    assert binom.sf(other - 1, 100, 0.02) > NEVER
