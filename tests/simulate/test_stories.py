"""What was put into the buildings, told apart from how any analysis looks for it."""

import json
from datetime import UTC, datetime, timedelta

import polars as pl
import pytest

from eventlab.errors import UsageError
from eventlab.schema import LIFE_SAFETY, Cause, Kind, Pattern
from eventlab.simulate import NOTHING, simulate


@pytest.fixture(scope="module")
def truth(tmp_path_factory):
    folder = tmp_path_factory.mktemp("valley")
    return simulate(folder / "files", truth=folder / "truth.json"), folder


def events(truth, site, **match):
    frame = truth[0].events.filter(pl.col("site") == site)
    for name, value in match.items():
        frame = frame.filter(pl.col(name) == value)
    return frame


def test_each_building_has_its_story(truth):
    stories = truth[0].stories
    told = {(row["site"], row["pattern"]) for row in stories.rows(named=True)}
    assert told >= {
        ("TV02", Pattern.FOLLOWS_SUN),
        ("TV03", Pattern.CHATTERING),
        ("TV04", Pattern.ENTRY_OVERRUN),
        ("TV04", Pattern.EXIT_OVERRUN),
        ("TV05", Pattern.BATTERY_WEAK),
        ("TV05", Pattern.UNSUPERVISED),
        ("TV06", Pattern.FOLLOWS_WIND),
        ("TV07", Pattern.POSSIBLE_INTRUSION),
        ("TV08", Pattern.MAINS_OUT),
        ("TV08", Pattern.PATH_DOWN),
        ("TV09", Pattern.LEFT_ON_TEST),
    }
    quiet = {site for site, pattern in told if pattern == NOTHING}
    assert quiet == {"TV01", "TV10", "TV11", "TV12"}
    standing = stories.filter("standing")["pattern"].to_list()
    assert Pattern.LEFT_ON_TEST in standing


def test_where_nothing_is_wrong_only_noise_happens(truth):
    for site in ("TV01", "TV10", "TV11", "TV12"):
        alarms = events(truth, site, kind=Kind.INTRUSION_ALARM, phase="begin")
        assert alarms.height <= 1
        assert set(alarms["cause"]) <= {Cause.UNEXPLAINED}


def test_sun_alarms_stand_in_daylight_on_many_days(truth):
    sun = events(truth, "TV02", driver="sun", kind=Kind.INTRUSION_ALARM, phase="begin")
    assert sun["at"].dt.date().n_unique() >= 20
    assert sun["at"].dt.hour().is_between(13, 20).all()
    assert set(sun["zone"]) == {"5"}


def test_wind_alarms_come_on_windy_days(truth):
    wind = events(truth, "TV06", driver="wind", kind=Kind.INTRUSION_ALARM, phase="begin")
    assert wind["at"].dt.date().n_unique() >= 8
    weather = pl.read_csv(truth[1] / "files/weather.csv").with_columns(
        hour=pl.col("time_utc").str.strptime(pl.Datetime("us", "UTC"), "%Y-%m-%dT%H:%MZ")
    )
    blown = wind.with_columns(hour=pl.col("at").dt.truncate("1h")).join(weather, on="hour")
    assert blown["gust_m_s"].min() > weather["gust_m_s"].quantile(0.9)


def test_the_break_in_is_whole_and_nobody_disarms_for_25_minutes(truth):
    night = events(truth, "TV07", driver="break-in", phase="begin")
    order = night.filter(pl.col("kind") == Kind.INTRUSION_ALARM)["zone"].unique(maintain_order=True)
    assert order.to_list() == ["3", "10", "7", "8", "9", "5"]
    start = night["at"].min()
    log = (truth[1] / "files/logs/TV07-centre.csv").read_text().splitlines()
    opened = [line for line in log if line.startswith("2026-10-17") and ",Opening," in line]
    first = datetime.strptime(opened[0][:19], "%Y-%m-%d %H:%M:%S").replace(tzinfo=UTC)
    assert first - timedelta(hours=1) - start > timedelta(minutes=25)
    before = events(truth, "TV07", driver="probing", phase="begin")
    assert before["at"].max() < start
    assert Kind.TAMPER_ALARM in before["kind"].to_list()


def test_life_safety_happens_and_ends(truth):
    told = truth[0].events.filter(pl.col("kind").is_in(list(LIFE_SAFETY)))
    assert dict(told.group_by("site").len().rows()) == {"TV04": 2, "TV05": 2}


def test_hurried_people_disarm_within_three_minutes(truth):
    alarms = events(truth, "TV04", kind=Kind.ENTRY_EXIT_ALARM, phase="begin", driver="hurried")
    assert alarms["at"].n_unique() >= 8


def test_the_truth_is_written_only_where_asked(truth):
    told = json.loads((truth[1] / "truth.json").read_text("utf-8"))
    assert set(told) == {"stories", "events", "files"}
    assert not list((truth[1] / "files").rglob("*truth*"))


def test_rows_and_lines_of_the_files_are_counted(truth):
    for name, lines, rows in truth[0].files.rows():
        data = (truth[1] / "files/logs" / name).read_bytes()
        text = data.decode("utf-16" if data[:2] == b"\xff\xfe" else "cp1252")
        assert len(text.splitlines()) == lines
        assert 0 < rows < lines


def test_a_strange_site_is_refused(tmp_path):
    with pytest.raises(UsageError, match="TV99"):
        simulate(tmp_path, sites=["TV99"])
    with pytest.raises(UsageError, match="one day"):
        simulate(tmp_path, days=0)
