"""Numbers and times are said as people say them."""

from datetime import UTC, date, datetime, timedelta

import pytest

from dashboards import words
from eventlab.advice.tables import table
from eventlab.schema import Kind, Pattern, Phase, Timing


def test_counts_carry_their_noun():
    assert words.count(1, "alarm") == "1 alarm"
    assert words.count(2000, "alarm") == "2\u202f000 alarms"
    assert words.count(0, "entry", "entries") == "0 entries"


def test_what_is_not_known_is_a_dash_never_a_zero():
    assert words.number(None) == words.rate(None) == words.day(None) == words.moment(None) == "–"


@pytest.mark.parametrize(
    ("value", "said"),
    [
        (0.95, "almost certain (95 in 100)"),
        (0.7, "likely (70 in 100)"),
        (0.85, "very likely (85 in 100)"),
        (0.4, "possible (40 in 100)"),
        (0.2, "doubtful (20 in 100)"),
        (None, "how sure: not measured"),
    ],
)
def test_how_sure_is_a_word_first(value, said):
    assert words.confidence(value) == said


@pytest.mark.parametrize(
    ("past", "said"),
    [
        (timedelta(minutes=5), "within the hour"),
        (timedelta(hours=1), "1 hour"),
        (timedelta(hours=47), "47 hours"),
        (timedelta(days=83), "83 days"),
    ],
)
def test_ages_have_one_unit(past, said):
    now = datetime(2026, 9, 30, tzinfo=UTC)
    assert words.age(now - past, now) == said


def test_times_are_to_the_second_and_dates_unmistakable():
    assert words.moment(datetime.fromisoformat("2026-03-04T03:02:01")) == "4 Mar 2026, 03:02:01"
    assert words.day(date(2026, 4, 3)) == "3 Apr 2026"


def test_kinds_and_patterns_read_as_words():
    assert words.kind(Kind.MAINS_LOSS, Phase.END) == "mains loss ends"
    assert words.kind(Kind.HOLD_UP) == "hold-up"
    assert all(words.pattern(p) and "-" not in words.pattern(p) for p in Pattern)


def test_each_way_to_begin_that_advice_names_is_told():
    assert words.WAYS.keys() >= set(table("advice")["settle"])


def test_small_rates_keep_a_figure_that_says_something():
    assert [words.rate(x) for x in (0, 0.042, 0.3, 12.4)] == ["0", "0.04", "0.3", "12"]


def test_a_doubtful_time_is_said():
    assert words.timing(Timing.DOUBTFUL) == "time doubtful"
    assert words.timing(Timing.SURE) == ""
