"""Figures: what they draw, what they never do."""

from datetime import date, datetime, timedelta
from pathlib import Path

import polars as pl
import pytest

import dashboards
from dashboards import data, marks
from dashboards.figures import map as site_map
from dashboards.figures import raster, spark, style
from dashboards.layouts import home
from dashboards.palette import FAMILIES, LIFE_SAFETY, Theme
from dashboards.question import Home, Point, Site
from tests.dashboards.fake_lab import FakeLab

SOURCES = sorted(Path(dashboards.__file__).parent.rglob("*.py"))


def draw(lab, asked, **more):
    shown = data.picture(lab, asked)
    figure = raster.draw(
        shown.drawn,
        shown.spans,
        shown.sun,
        theme=Theme.LIGHT,
        first=shown.first,
        last=shown.last,
        binned=shown.binned,
        **more,
    )
    return shown, figure


def traces(figure):
    return {trace.name: trace for trace in figure.data}


def test_a_night_is_one_piece_from_noon_to_noon(lab):
    _, figure = draw(lab, Site("2102"))
    assert list(figure.layout.yaxis.range) == [36, 12]
    assert figure.layout.yaxis.ticktext[0] == figure.layout.yaxis.ticktext[-1] == "noon"
    assert figure.layout.yaxis.ticktext[4] == "midnight"
    assert figure.layout.yaxis.tickvals[4] == 24


def test_every_alarm_is_a_mark_of_its_family(lab):
    shown, figure = draw(lab, Site("2102"))
    drawn = traces(figure)
    for family in FAMILIES:
        trace = drawn[family.word]
        assert len(trace.x) == shown.counts[family.key]
        assert trace.marker.symbol == family.symbol
        assert trace.marker.color == family.colour[Theme.LIGHT]
        assert trace.type == "scatter"
    told = [i for f in FAMILIES for i in drawn[f.word].customdata]
    assert sorted(told) == shown.marks["id"].sort().to_list()


def test_armed_time_is_bars_with_a_base_and_exact_edges(lab):
    shown, figure = draw(lab, Site("2102"))
    armed = shown.spans.filter(pl.col("what") == "armed")
    bar = traces(figure)["armed"]
    assert bar.type == "bar"
    assert figure.layout.barmode == "overlay"
    assert list(bar.base) == armed["start_h"].to_list()
    ends = [b + y for b, y in zip(bar.base, bar.y, strict=True)]
    assert ends == pytest.approx(armed["end_h"].to_list())
    assert set(bar.width if isinstance(bar.width, tuple) else [bar.width]) == {86_400_000}


def test_set_aside_and_uncovered_time_have_shades_of_their_own(lab):
    _, figure = draw(lab, Site("2104"))
    drawn = traces(figure)
    assert drawn["aside"].marker.pattern.shape == "/"
    assert drawn["gap"].marker.pattern.shape == "."
    assert {"sunset", "sunrise"} <= drawn.keys()


def test_the_chosen_mark_is_ringed(lab):
    shown, figure = draw(lab, Site("2102"), chosen=7)
    one = shown.marks.filter(pl.col("id") == 7)
    ring = traces(figure)["chosen"]
    assert list(ring.y) == one["hour"].to_list()


def test_a_life_safety_point_has_its_own_mark_whatever_it_raised_and_never_a_cause():
    told = pl.DataFrame(
        {
            "kind": ["intrusion-alarm", "fire", "intrusion-alarm", "hold-up"],
            "cause": ["environment", "environment", "environment", None],
            "probability": [0.9, 0.9, 0.9, None],
            "life_safety": [True, False, False, None],
        }
    )
    named = marks.with_family(told)
    assert named["family"].to_list() == [
        LIFE_SAFETY.key,
        LIFE_SAFETY.key,
        "surroundings",
        LIFE_SAFETY.key,
    ]
    assert named["cause"].to_list() == [None, None, "environment", None]
    assert named["probability"].to_list() == [None, None, 0.9, None]


def test_what_no_cause_is_known_for_is_not_explained():
    told = pl.DataFrame(
        {"kind": ["intrusion-alarm"], "cause": [None], "probability": [None]},
        schema_overrides={"cause": pl.String, "probability": pl.Float64},
    )
    assert marks.with_family(told)["family"].to_list() == ["unexplained"]


def test_at_most_5000_marks_are_drawn_and_none_is_lost():
    lab = FakeLab(extra_marks=9000)
    shown, figure = draw(lab, Site("2102"))
    assert shown.binned
    assert shown.drawn.height <= data.MOST_MARKS == 5000
    assert shown.drawn["many"].sum() == shown.marks.height > 9000
    assert sum(len(t.x) for t in figure.data if t.type == "scatter" and t.mode == "markers") <= 5000


def test_few_marks_are_never_binned(lab):
    shown, _ = draw(lab, Site("2102"))
    assert not shown.binned
    assert shown.drawn.height == shown.marks.height


def test_families_can_be_left_out_and_are_still_counted(lab):
    shown = data.picture(lab, Site("2102", without=frozenset({"surroundings"})))
    assert "surroundings" not in shown.marks["family"]
    assert shown.counts["surroundings"] > 100


def test_only_the_nights_and_the_point_asked_for_are_shown(lab):
    since, until = date(2026, 3, 1), date(2026, 3, 31)
    shown = data.picture(lab, Point("2102", since=since, until=until, zone="7"))
    assert (shown.first, shown.last) == (since, until)
    assert shown.marks["night"].is_between(since, until).all()
    assert set(shown.marks["zone"]) == {"7"}
    assert shown.sun["night"].is_between(since, until).all()


def test_what_a_log_says_is_no_markup_in_a_plot(lab):
    named = marks.with_family(lab.raster("2101").marks).with_columns(
        zone_name=pl.lit('<a href="https://elsewhere">&')
    )
    said = named.with_columns(say=marks.say())["say"][0]
    assert "<a" not in said
    assert "&lt;a href" in said
    assert "&amp;" in said


def test_overlapping_areas_count_each_armed_hour_once():
    night = date(2026, 1, 1)
    spans = pl.DataFrame(
        {"night": [night] * 3, "start_h": [18.0, 20.0, 30.0], "end_h": [24.0, 22.0, 31.0]}
    )
    assert marks.hours(spans) == 7


def test_the_small_picture_reacts_to_nothing(lab):
    shown = data.picture(lab, Site("2102"))
    figure = spark.draw(
        shown.marks, shown.spans, theme=Theme.DARK, first=shown.first, last=shown.last
    )
    assert figure.layout.hovermode is False
    assert figure.layout.dragmode is False


@pytest.mark.parametrize("nights", [1, 7, 31, 100, 365, 1500])
@pytest.mark.parametrize("narrow", [True, False])
def test_dates_on_the_axis_are_few_enough_to_read(lab, nights, narrow):
    first = date(2026, 1, 1)
    last = first + timedelta(days=nights - 1)
    none = data.picture(lab, Site("2102", since=last, until=last))
    figure = raster.draw(
        none.marks.clear(),
        none.spans.clear(),
        none.sun.clear(),
        theme=Theme.LIGHT,
        first=first,
        last=last,
        narrow=narrow,
    )
    step = figure.layout.xaxis.dtick
    days = int(step[1:]) * 30 if isinstance(step, str) else step / 86_400_000
    assert nights / days <= (10 if narrow else 17)


def test_the_map_is_square_and_holds_every_site(lab):
    sites = home.map_rows(data.overview(lab))
    figure = site_map.draw(sites, theme=Theme.LIGHT)
    assert figure.layout.xaxis.scaleanchor == "y"
    assert figure.layout.xaxis.scaleratio == pytest.approx(0.58, abs=0.01)  # cos 54.4 degrees
    assert sum(len(t.x) for t in figure.data) == sites.height == 11
    assert {t.name for t in figure.data if t.x} == {"plain", "unknown", "test", "missing"}


def test_names_that_would_stand_on_each_other_are_left_out_of_the_map(lab):
    sites = home.map_rows(data.overview(lab)).with_columns(
        latitude=pl.lit(54.4) + pl.int_range(pl.len()) * 0.0001, longitude=pl.lit(-3.0)
    )
    figure = site_map.draw(sites, theme=Theme.LIGHT)
    named = [text for trace in figure.data for text in trace.text or () if text]
    assert 0 < len(named) < 11
    assert sum(len(trace.x) for trace in figure.data) == 11


def test_the_map_bears_one_site_and_none(lab):
    sites = home.map_rows(data.chosen(data.overview(lab), Home(find="2101")))
    assert site_map.draw(sites, theme=Theme.LIGHT).layout.shapes[0].x1
    assert site_map.draw(sites.clear(), theme=Theme.LIGHT).data


def test_a_log_with_nothing_in_it_is_drawn_as_nothing(lab):
    told = lab.raster("2101")
    for name in ("armed", "marks", "aside", "gaps", "sun"):
        object.__setattr__(told, name, getattr(told, name).clear())
    lab.raster = lambda *_: told
    shown, figure = draw(lab, Site("2101"))
    assert shown.marks.is_empty()
    assert shown.armed_hours == 0
    assert figure.data


def test_no_figure_can_be_sent_anywhere():
    told = style.config("x")
    assert told["showSendToCloud"] is False
    assert told["plotlyServerURL"] == ""
    assert not told["displaylogo"]


@pytest.mark.parametrize("path", SOURCES, ids=lambda p: p.name)
def test_nothing_in_the_sources_reaches_for_what_is_banned(path):
    text = path.read_text(encoding="utf-8")
    for banned in ("scattergl", "cdn", "https://", "register_page", "DangerouslySet", "Markdown("):
        assert banned.lower() not in text.lower(), banned
    assert "@callback" not in text.replace("@app.callback", "")
    assert "dcc.Upload" not in text


def test_times_are_the_sites_own(lab):
    local = lab.raster("2101").marks["local"][0]
    assert isinstance(local, datetime)
    assert local.tzinfo is None
