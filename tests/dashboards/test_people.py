"""How is the place used? What its page shows, what it does not, and what it hands out."""

import csv
import io

import polars as pl
import pytest

from dashboards import ids, usage
from dashboards.callbacks.people import figures
from dashboards.layouts.people import sections
from dashboards.palette import Theme
from dashboards.question import People
from dashboards.usage import PARTS, Used
from tests.dashboards.fake_people import HEADING, SAYS, people_view, usual_hours
from tests.dashboards.test_answers import page, say

PATH = "/site/2102/people"


def charts(asker, path=PATH, theme="light"):
    values = {"url.pathname": path, "url.search": "", "theme.data": theme, "width.data": "wide"}
    return say(asker.answer(f"{ids.PEOPLE_CHARTS}.children", values))


def used(**more):
    return Used(people_view("2102", "Glasshouse", None, **more), usual_hours("2102", **more))


def test_the_page_opens_with_what_the_log_covers_and_what_such_figures_are(asker):
    told = say(page(asker, PATH))
    assert told.index("This log covers 364 days") < told.index(HEADING)
    assert "Did training help?" in told
    assert "misuse" not in (told + charts(asker)).lower()


def test_every_chart_has_its_sentence_its_table_and_its_file(asker):
    told = charts(asker)
    assert told.count('"type": "Graph"') == len(PARTS)
    for said in SAYS.values():
        assert said in told
    for key, part in PARTS.items():
        assert part.title in told
        assert f"{PATH}/{key}.csv" in told
    assert "3 in 212 closings, once in 71 (24 to 343)" in told


def test_what_is_not_recorded_is_said_and_not_drawn(asker):
    told = charts(asker, "/site/2109/people")
    assert '"type": "Graph"' not in told
    assert told.count("not recorded") >= 5
    assert ".csv" not in told


def test_training_is_asked_for_by_a_date_in_the_address(asker):
    assert "2 in 266 after: better" in say(page(asker, PATH, "?at=2026-06-01"))
    assert "after: better" not in say(page(asker, PATH))


@pytest.mark.parametrize("key", PARTS)
def test_files_name_no_site_and_no_person(client, key):
    got = client.get(f"{PATH}/{key}.csv")
    assert got.status_code == 200
    assert got.headers["Content-Disposition"] == f'attachment; filename="{key}.csv"'
    rows = list(csv.DictReader(io.StringIO(got.text)))
    assert rows
    assert "person" not in rows[0]
    assert "Glasshouse" not in got.text


def test_no_other_table_and_no_other_site_is_handed_out(client):
    assert client.get(f"{PATH}/secrets.csv").status_code == 404
    assert client.get("/site/nowhere/people/people.csv").status_code == 404
    assert client.get("/site/nowhere/people").status_code == 404


@pytest.mark.parametrize("theme", Theme)
@pytest.mark.parametrize("narrow", [True, False])
def test_no_figure_reacts_to_dragging_and_every_mark_has_its_words(theme, narrow):
    drawn = figures(used(), theme, narrow=narrow)
    assert set(drawn) == set(PARTS)
    for key, (figure, rows) in drawn.items():
        assert rows > 0
        assert figure.layout.dragmode is False, key
        assert all(text.startswith("<b>") for trace in figure.data for text in trace.text), key


def test_late_entries_have_a_shape_of_their_own_and_the_delay_is_a_line():
    figure, _ = figures(used(), Theme.LIGHT, narrow=False)["entries"]
    shapes = {trace.name: trace.marker.symbol for trace in figure.data}
    assert shapes == {"no alarm": "circle-open", "late: an alarm": "triangle-up"}
    assert figure.layout.shapes[0].x0 == 30.0


def test_where_no_door_is_told_only_late_entries_are_drawn_from_their_alarm():
    plain = used()
    entries = plain.view.entries.with_columns(entry_s=pl.lit(None, pl.Float64))
    some, timed = usage.entries_drawn(entries)
    assert not timed
    assert some["s"].to_list() == entries.filter("late")["over_s"].to_list()


def test_more_entries_than_can_be_drawn_are_the_newest():
    view = used().view
    many = pl.concat([view.entries] * 10)
    assert usage.entries_drawn(many)[0].height == usage.MOST_MARKS


def test_hours_after_midnight_are_of_the_next_day():
    assert usage.clock(18.0833) == "18:05"
    assert usage.clock(25.5) == "01:30 the next day"


def test_no_question_is_no_heading():
    told = repr(sections(used(recorded=False), {}, People("2102")))
    assert "Questions about codes" not in told
