"""Is it still listening? What the page shows, draws and hands out."""

import csv
import io
import json
from datetime import timedelta

import polars as pl
import pytest

from dashboards import alive, ids, question
from dashboards.figures import lanes as picture
from dashboards.figures import weeks
from dashboards.marks import MOST_MARKS
from dashboards.palette import TONES, Theme
from dashboards.question import Watch
from tests.dashboards import fake_alive
from tests.dashboards.test_answers import page, say

WATCH = "/site/2102/watch"


def answer(asker, path=WATCH, theme="light", width="wide"):
    values = {"url.pathname": path, "url.search": "", "theme.data": theme, "width.data": width}
    return asker.answer(f"{ids.ALIVE_LANES}.children", values)


def drawn(view, *, points=False, narrow=False, theme=Theme.LIGHT):
    some = alive.lanes(view, points=points)
    failed = alive.spells(view, some)
    return picture.draw(
        some, failed, alive.beats(view, some, beside=failed.height), alive.gaps(view),
        alive.ends(view), theme=theme, narrow=narrow,
    )  # fmt: skip


def traces(figure):
    return {trace.name: trace for trace in figure.data}


@pytest.fixture(scope="module")
def view():
    return fake_alive.alive("2102", "Tarn Library")


def test_the_address_says_which_site_and_no_more():
    assert question.read("/site/TV%2F1/watch", "?x=1") != Watch("TV/1")
    for site in ("2102", "A b", "50%"):
        href = question.href(Watch(site))
        assert question.read(*href.partition("?")[::2]) == Watch(site)


def test_what_stands_comes_first_then_the_walk_test_then_the_lanes(asker):
    text = say(page(asker, WATCH))
    for earlier, later in (
        ("on test since 11 Aug 2026", "The last walk test"),
        ("Walk test of 14 May 2026: 2 of 3 points answered; not seen: 7.", "What must be alive"),
        ("This log tells of no tamper", "Each point"),
    ):
        assert text.index(earlier) < text.index(later)
    assert "This log covers 364 days" in text
    assert "The centre received 361 of the 364 test reports that were due" in text


def test_every_lane_has_a_mark_or_a_word_in_the_picture(view):
    figure, some = drawn(view), alive.lanes(view, points=False)
    written = {round(note.y) for note in figure.layout.annotations}
    lined = {round(shape.y0) for shape in figure.layout.shapes}
    assert written | lined == set(some["row"])
    said = {note.text for note in figure.layout.annotations}
    assert {"not recorded", "not covered", "<b>on test since 11 Aug 2026</b>"} <= said
    assert {"stands now", "failed", "gap", "heard of"} <= set(traces(figure))


def test_what_stands_is_drawn_in_ink_and_what_was_put_right_is_not(view):
    bars = traces(drawn(view))
    ink = TONES[Theme.LIGHT].ink
    assert bars["stands now"].marker.color == ink
    assert bars["failed"].marker.color != ink
    dark = traces(drawn(view, theme=Theme.DARK))
    assert dark["stands now"].marker.color == TONES[Theme.DARK].ink


def test_gaps_of_the_log_and_the_time_since_it_ended_are_hatched(view):
    bar = traces(drawn(view))["gap"]
    assert len(bar.base) == 2
    assert bar.base[1].startswith("2026-09-27 21:00")
    assert bar.marker.pattern.shape


def test_a_short_failure_can_be_seen_and_tells_its_true_length(view):
    bar = traces(drawn(view))["failed"]
    first, last = alive.ends(view)
    least = (last - first).total_seconds() * 1000 * picture.LEAST
    assert min(bar.x) >= least
    assert any("9 h" in text for text in bar.text)


def test_a_week_of_silence_against_its_rhythm_is_hollow(view):
    bars = traces(drawn(view, points=True))
    assert bars["silent"].marker.color == "rgba(0,0,0,0)"
    assert bars["silent"].marker.line.width > 1
    assert "not seen, though it usually is" in bars["silent"].text[0]


def test_names_from_a_log_are_data(view):
    figure = drawn(view, points=True)
    named = " ".join(figure.layout.yaxis.ticktext)
    assert "&lt;b&gt;" in named
    assert "<b>" not in named


def test_a_thousand_points_bring_no_more_marks_than_a_browser_draws():
    many = [(str(n), f"Room {n}") for n in range(1, 200)]
    big = fake_alive.alive("2102", "Tarn", points=[*many[:3], *many[3:]])
    some = alive.lanes(big, points=True)
    spells = alive.spells(big, some)
    beats = alive.beats(big, some, beside=spells.height)
    assert beats.height + 2 * spells.height <= MOST_MARKS
    assert "Each thin mark stands for" in alive.shows(some, beats, points=True)
    assert beats["many"].sum() == big.beats.join(some, on="lane")["many"].sum()


def test_many_failures_are_brought_together_and_none_is_lost(view):
    row = view.spells.filter(pl.col("what") == "mains-loss")
    one = row.to_dicts()[0]
    often = pl.DataFrame(
        [
            {**one, "since": one["since"] + timedelta(hours=2 * n),
             "until": one["since"] + timedelta(hours=2 * n + 1), "hours": 1.0}
            for n in range(4000)
        ],
        schema=view.spells.schema,
    )  # fmt: skip
    crowded = type(view)(**{**vars(view), "spells": often})
    some = alive.lanes(crowded, points=False)
    told = alive.spells(crowded, some)
    assert told.height * 2 <= MOST_MARKS
    assert told["many"].sum() == 4000


@pytest.mark.parametrize("narrow", [True, False])
def test_a_small_screen_has_the_names_above_their_lanes(view, narrow):
    figure = drawn(view, narrow=narrow)
    assert ("names" in traces(figure)) == narrow
    assert bool(figure.layout.yaxis.ticktext) != narrow
    assert figure.layout.height == picture.height(alive.lanes(view, points=False), narrow=narrow)


def test_weeks_stack_to_all_that_was_due(view):
    figure = weeks.draw(view.weeks, view.heard, theme=Theme.LIGHT, narrow=False)
    parts = [trace.y for trace in figure.data]
    assert all(sum(week) == pytest.approx(1) for week in zip(*parts, strict=True))
    assert figure.layout.shapes[0].y0 == pytest.approx(0.97)


def test_the_callback_draws_lanes_points_and_weeks_and_nothing_elsewhere(asker):
    told = answer(asker)
    text = json.dumps(told)
    assert text.count('"Graph"') == 3
    assert text.count('"aria-label": ') >= 3
    assert answer(asker, path="/site/2102") == {}


@pytest.mark.parametrize(("table", "head"), [
    ("lanes", "thing,health,now,since"), ("spells", "thing,what,since,until"),
    ("weeks", "week,name,due"),
])  # fmt: skip
def test_tables_can_be_taken_away_and_are_harmless(client, table, head):
    got = client.get(f"{WATCH}/{table}.csv")
    assert got.status_code == 200
    text = got.get_data(as_text=True)
    assert text.startswith(head)
    assert "2102" not in got.headers["Content-Disposition"]
    assert len(list(csv.reader(io.StringIO(text)))) > 2
    assert not any(cell.startswith("=") for row in csv.reader(io.StringIO(text)) for cell in row)
    assert client.get(f"{WATCH}/other.csv").status_code == 404
    assert client.get("/site/9999/watch/lanes.csv").status_code == 404


def test_a_site_without_a_log_or_an_old_one_is_never_well(lab, asker):
    lab.alive = lambda site: fake_alive.alive(site, "Tarn", known=False)
    text = say(page(asker, WATCH))
    assert "nothing is known" in text
    empty = fake_alive.alive("2102", "Tarn")
    nothing = {"lanes": empty.lanes.clear(), "sentence": "", "first": None, "last": None}
    bare = type(empty)(**{**vars(empty), **nothing})
    lab.alive = lambda site: bare  # noqa: ARG005 - the lab's face
    lab.changed += 1
    assert "silence is never healthy" in say(page(asker, WATCH))


def test_an_unknown_site_is_not_found(client):
    assert client.get("/site/9999/watch").status_code == 404
    assert client.get(WATCH).status_code == 200
