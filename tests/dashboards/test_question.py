"""Addresses and questions say the same, both ways."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboards import question
from dashboards.palette import BY_KEY
from dashboards.question import Home, Logs, Order, People, Point, Proof, Show, Site, Unknown

words = st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1, max_size=40)
days = st.dates(date(1990, 1, 1), date(2100, 1, 1))
sites = st.builds(
    Site,
    # A path of dots is resolved by browsers before anybody else sees it.
    site=words.filter(lambda text: text.strip(".") != ""),
    since=st.none() | st.just(date(2026, 1, 1)),
    until=st.none() | st.dates(date(2026, 1, 2), date(2100, 1, 1)),
    without=st.frozensets(st.sampled_from(sorted(BY_KEY))),
    around=st.none() | st.integers(0, 10**12),
    finding=st.none() | words,
    page=st.integers(1, 1000),
)
points = st.builds(
    Point,
    site=words.filter(lambda text: text.strip(".") != ""),
    zone=words.filter(lambda text: text.strip(".") != ""),
    within=st.none() | words,
    since=st.none() | st.just(date(2026, 1, 1)),
    around=st.none() | st.integers(0, 10**12),
    finding=st.none() | words,
)
homes = st.builds(
    Home,
    find=words.map(str.strip),
    show=st.sampled_from(Show),
    trade=words,
    order=st.sampled_from(Order),
)


proofs = st.one_of(
    st.builds(Proof, words.filter(lambda t: t.strip(".") != ""), visit=st.integers(1, 10**6)),
    st.builds(Proof, words.filter(lambda t: t.strip(".") != ""), at=days, zone=st.none() | words),
)
uses = st.builds(People, words.filter(lambda t: t.strip(".") != ""), at=st.none() | days)


def both_ways(asked):
    path, _, search = question.href(asked).partition("?")
    return question.read(path, search)


@given(sites | points | homes | proofs | uses | st.builds(Logs, job=st.none() | words))
def test_an_address_holds_the_whole_question(asked):
    assert both_ways(asked) == asked
    assert question.href(both_ways(asked)) == question.href(asked)


@pytest.mark.parametrize("number", ["12/34", "50%", "a b", "Ä&?#", "%2F", "..x"])
def test_a_site_may_be_numbered_in_any_way(number):
    assert both_ways(Site(number)) == Site(number)
    assert both_ways(Point(number, zone=number)) == Point(number, zone=number)


@pytest.mark.parametrize(
    "path", ["/nowhere", "/site", "/site/1/zone", "/site/1/zone/2/3", "/logs/x", "/account/1"]
)
def test_what_no_page_answers_is_unknown(path):
    assert isinstance(question.read(path, ""), Unknown)


def test_what_an_address_says_wrongly_is_left_out():
    asked = question.read(
        "/site/1", "?since=31.3.2026&until=2026-02-30&around=-1&page=0&without=nobody&page=x"
    )
    assert asked == Site("1")
    assert question.read("/", "?show=everything&order=;drop") == Home()


def test_dates_the_wrong_way_round_are_turned():
    asked = question.read("/site/1", "?since=2026-03-01&until=2026-02-01")
    assert (asked.since, asked.until) == (date(2026, 2, 1), date(2026, 3, 1))


def test_no_value_is_longer_than_it_need_be():
    assert len(question.read("/", "?find=" + "x" * 10_000).find) == question.LONGEST
