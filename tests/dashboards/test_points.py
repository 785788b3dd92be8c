"""Why this point? What its page shows, of which it explains nothing, and what it hands out."""

import csv
import io
import json

import polars as pl
import pytest

from dashboards import ids, rates
from dashboards.callbacks.point import figures
from dashboards.figures import rates as bars
from dashboards.figures import sky
from dashboards.palette import TONES, Theme
from tests.dashboards.points import SAYS, profile
from tests.dashboards.test_answers import page, say

POINT = "/site/2102/zone/7"
LIFE = "/site/2102/zone/9"


def charts(asker, path=POINT, search="", theme="light"):
    values = {
        "url.pathname": path,
        "url.search": search,
        "theme.data": theme,
        "width.data": "wide",
    }
    return asker.answer(f"{ids.POINT_CHARTS}.children", values)


def drawn(narrow=False, **more):
    return figures(profile(**more), Theme.LIGHT, of_hours="armed hours", narrow=narrow)


def traces(figure):
    return {trace.name: trace for trace in figure.data}


# ---- figures ------------------------------------------------------------------------------


def test_each_bar_has_its_interval_and_the_hours_behind_it():
    bins = rates.named(profile(), "clock")
    figure = drawn()["clock"]
    rate, hours = traces(figure)["rate"], traces(figure)["hours"]
    assert list(rate.y) == pytest.approx(bins["rate"].to_list())
    high = [y + up for y, up in zip(rate.y, rate.error_y.array, strict=True)]
    top = figure.layout.yaxis.range[1]
    assert high == pytest.approx([min(one, 2 * top) for one in bins["rate_high"]])
    low = [y - down for y, down in zip(rate.y, rate.error_y.arrayminus, strict=True)]
    assert low == pytest.approx(bins["rate_low"].to_list())
    assert list(hours.y) == pytest.approx(bins["hours"].to_list())
    assert list(hours.x) == list(rate.x)
    assert hours.yaxis == "y2"


def test_a_day_is_drawn_from_noon_to_noon():
    figure = drawn()["clock"]
    assert figure.layout.xaxis.ticktext[0] == figure.layout.xaxis.ticktext[-1] == "noon"
    assert "<b>12:00 to 13:00</b>" in traces(figure)["rate"].text[0]


def test_the_rate_over_all_hours_is_a_line():
    line = drawn()["wind"].layout.shapes[0]
    assert line.y0 == line.y1 == pytest.approx(100 * 38 / 4512)


def test_what_is_not_told_stands_apart_and_is_never_zero_degrees():
    figure = drawn()["temperature"]
    rate = traces(figure)["rate"]
    assert rate.x[-1] - rate.x[-2] > 1
    assert figure.layout.xaxis.ticktext[-1] == "not<br>told"
    assert rate.marker.color[-1] != rate.marker.color[0]
    assert rates.NOT_TOLD in rate.text[-1]


def test_too_little_time_bears_no_rate():
    last = rates.named(profile(), "wind").to_dicts()[-1]
    assert last["rate"] is None
    assert rates.rate(last) == "too little time"
    assert "too little time" in traces(drawn()["wind"])["rate"].text[-1]


def test_a_picture_is_not_dwarfed_by_a_wide_interval():
    bins = rates.named(profile(), "rain").with_columns(rate_high=pl.lit(10_000.0))
    figure = bars.draw(bins, "rain", theme=Theme.LIGHT, overall=0.8)
    assert figure.layout.yaxis.range[1] < 20


@pytest.mark.parametrize("theme", Theme)
def test_the_sky_shows_hours_alarm_days_and_the_way_a_point_faces(theme):
    figure = drawn()["sun"]
    figure = sky.draw(rates.named(profile(), "sun"), theme=theme, facing=282.5)
    days = traces(figure)["alarm days"]
    assert list(zip(days.x, days.y, strict=True)) == [(277.5, 5.0), (292.5, 5.0)]
    assert days.marker.size[0] > days.marker.size[1]
    assert days.marker.color == TONES[theme].accent
    assert [one.x0 for one in figure.layout.shapes] == pytest.approx([282.5, 222.5, 342.5])
    field = traces(figure)["hours"]
    assert field.z[0][list(field.x).index(277.5)] == 60
    assert field.z[-1][0] is None
    # What lay beyond an edge would lie over the words beside the picture.
    assert min(field.x) > figure.layout.xaxis.range[0]
    assert max(field.x) < figure.layout.xaxis.range[1]
    assert max(field.y) < figure.layout.yaxis.range[1]


def test_a_sky_that_was_never_seen_and_a_way_not_listed_can_be_drawn():
    none = rates.named(profile(), "sun").filter(pl.col("azimuth").is_null())
    figure = sky.draw(none, theme=Theme.LIGHT)
    assert list(figure.layout.xaxis.range) == [0, 360]
    assert not figure.layout.shapes


def test_gaps_are_drawn_from_the_first_to_the_last():
    table = rates.gaps_named(profile())
    assert table["name"].to_list() == ["1 min to 3 min", "3 min to 1 d", "1 d to 30 d"]
    assert list(drawn()["gaps"].data[0].y) == [4, 9, 21]


@pytest.mark.parametrize("narrow", [True, False])
def test_no_figure_reacts_to_dragging_and_every_bin_has_its_words(narrow):
    for key, figure in drawn(narrow).items():
        assert figure.layout.dragmode is False, key
        assert figure.layout.xaxis.fixedrange, key
        assert all(text.startswith("<b>") for text in figure.data[-1].text), key


@pytest.mark.parametrize(
    ("row", "name"),
    [
        (("clock", 23.0, 24.0), "23:00 to 00:00"),
        (("weekday", 2.0, 2.0), "Tue"),
        (("month", 12.0, 12.0), "Dec"),
        (("temperature", None, -3.0), "below -3 °C"),
        (("wind", 14.0, None), "14 m/s and more"),
        (("rain", 0.0, 0.0), "none"),
        (("rain", 0.5, 1.0), "0.5 to 1 mm"),
        (("arming", 0.0, 15.0), "to 15 min"),
        (("arming", 30.0, 60.0), "30 min to 1 h"),
        (("arming", 480.0, None), "8 h and more"),
    ],
)
def test_bins_are_named_for_people(row, name):
    driver, low, high = row
    assert rates.bin_name({"driver": driver, "low": low, "high": high, "told": True}) == name


# ---- the page -----------------------------------------------------------------------------


def test_the_page_asks_why_and_opens_with_what_is_known(asker):
    told = say(page(asker, POINT))
    assert "point 7, Glasshouse, west" in told
    assert told.index("Point 7 had 38 alarm days") < told.index("Night by night")
    assert "This log covers 364 days" in told
    assert "What this log cannot show of it" in told
    assert told.index("What stands out") < told.index("What its alarms follow")
    assert "bypassed" in told


def test_what_other_rules_would_have_come_to_stands_with_its_cautions(asker):
    told = say(page(asker, POINT))
    assert "What would have removed these alarms?" in told
    assert told.index("A hold-off of 10 s") < told.index("A count of two within 20 s")
    assert "Of 1 night ..." in told
    assert "not what would have been missed" in told
    assert "No hold-off and no count is listed." in told


def test_only_the_marks_and_findings_of_the_point_are_shown(asker):
    values = {"url.pathname": POINT, "url.search": "", "theme.data": "light", "width.data": "wide"}
    told = say(asker.answer(f"{ids.SITE_RASTER}.figure", values)[ids.SITE_RASTER_WORDS])
    assert "of point 7 in" in told
    cards = say(asker.answer(f"{ids.SITE_FINDINGS}.children", values))
    assert "Point 7 follows the sun" in cards
    assert f"{POINT}?finding=follows-sun" in cards
    other = {**values, "url.pathname": "/site/2102/zone/4"}
    assert "No finding stands on this point" in say(
        asker.answer(f"{ids.SITE_FINDINGS}.children", other)
    )


def test_every_chart_has_its_sentence_its_table_and_its_file_and_what_leads_is_first(asker):
    told = say(charts(asker))
    assert told.count('"type": "Graph"') == len(SAYS)
    for key, said in SAYS.items():
        assert said in told
        assert f"{POINT}/rates/{key}.csv" in told
        assert rates.CHARTS[key].title in told
    assert told.count("chart-first") == 1
    assert told.index("Where the sun stood") < told.index("Time of day")
    assert "270 to 285° (W), 0 to 10° high" in told


def test_what_nobody_measured_is_said_and_not_drawn(asker):
    told = say(charts(asker, "/site/2102/zone/12"))
    assert told.count('"type": "Graph"') == len(SAYS) - 3
    assert told.count("not recorded: the weather here.") == 1
    assert "Temperature outside, Gusts" in told


def test_with_few_days_the_charts_stand_folded(asker):
    told = say(charts(asker, "/site/2102/zone/3"))
    assert "2 alarm days: it takes 4 to say anything" in told
    assert told.index("Show the armed hours all the same") < told.index('"type": "Graph"')
    assert "chart-first" not in told


@pytest.mark.parametrize("zone", ["9", "20"])
def test_nothing_of_a_life_safety_point_is_explained(asker, client, zone):
    path = f"/site/2102/zone/{zone}"
    told = say(page(asker, path))
    assert "have it examined" in told
    assert "What was lost of its protection" in told
    assert ids.POINT_CHARTS not in told
    assert "follow" not in told
    assert "What would have removed" not in told
    assert charts(asker, path) == {}
    assert client.get(f"{path}/rates/clock.csv").status_code == 404
    out = "bypassed" if zone == "20" else "no bypass and no shutdown"
    assert out in told


def test_calls_of_a_life_safety_point_are_counted_over_nights_not_armed_hours(asker):
    values = {"url.pathname": LIFE, "url.search": "", "theme.data": "light", "width.data": "wide"}
    told = say(asker.answer(f"{ids.SITE_RASTER}.figure", values)[ids.SITE_RASTER_WORDS])
    assert "1 life-safety alarm of point 9, over 364 nights" in told
    assert "treated as real until examined" in told
    assert "armed hours" not in told


def test_the_life_safety_marks_of_a_point_name_no_cause(client):
    rows = list(csv.DictReader(io.StringIO(client.get(f"{LIFE}/alarms.csv").text)))
    assert {row["explained_by"] for row in rows} == {"life safety"}
    assert {row["share"] for row in rows} == {""}


def test_points_and_cards_of_a_site_lead_to_the_page(asker):
    assert f'"{POINT}"' in say(page(asker, "/site/2102"))
    values = {"url.pathname": "/site/2102", "url.search": "", "theme.data": "dark"}
    told = say(asker.answer(f"{ids.SITE_FINDINGS}.children", values))
    assert "Why point 7?" in told
    assert f'"{POINT}"' in told


def test_a_point_there_is_not_is_lost_with_a_true_status(asker, client):
    assert "There is no point 99 at site 2102" in say(page(asker, "/site/2102/zone/99"))
    assert client.get("/site/2102/zone/99").status_code == 404
    assert client.get("/site/9999/zone/7").status_code == 404
    assert client.get(POINT).status_code == 200


@pytest.mark.parametrize("key", rates.CHARTS)
def test_the_numbers_behind_a_chart_can_be_taken_away(client, key):
    response = client.get(f"{POINT}/rates/{key}.csv")
    rows = list(csv.DictReader(io.StringIO(response.text)))
    assert response.mimetype == "text/csv"
    assert len(rows) == rates.table(profile(), key).height
    assert "2102" not in response.headers["Content-Disposition"]
    if key != "gaps":
        given = {"alarm_days", "hours_at_risk", "rate_per_100_h", "rate_low", "rate_high"}
        assert given <= rows[0].keys()


def test_no_other_table_can_be_asked_for(client):
    assert client.get(f"{POINT}/rates/secrets.csv").status_code == 404
    assert client.get("/site/2102/zone/99/rates/clock.csv").status_code == 404


def test_charts_take_the_light_that_was_chosen(asker):
    told = json.dumps(charts(asker, theme="dark"))
    assert TONES[Theme.DARK].accent in told
    assert TONES[Theme.LIGHT].accent not in told
