"""Alarms soon after the arming, or after another area was opened or closed."""

from datetime import UTC, datetime, timedelta

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eventlab.advice import advise
from eventlab.analysis.drivers import find
from eventlab.context import Context
from eventlab.ground import lay
from eventlab.report import state
from eventlab.schema import ZONE, Pattern, conform
from eventlab.settings import Settings
from eventlab.simulate.single import AREA, Driven, site_events
from eventlab.simulate.ways import Time, Ways, told
from tests.logbook import log

SETTINGS = Settings()
FIRST = datetime(2025, 3, 3, tzinfo=UTC)


def night(number, *lines):
    day = (FIRST + timedelta(days=number)).date()
    after = day + timedelta(days=1)
    return [f"{day} {line}" for line in lines] + [f"{after} 08:00:00 disarm person=1 area=1"]


def nights(alarm, modes=("full", "timed"), count=60):
    """Armed by turns by hand and by a timer, early or late; an alarm after every third timer."""
    lines = []
    for number in range(count):
        mode = modes[number % len(modes)]
        who = "" if mode == "timed" else " person=1"
        hour = 16 + number // 6 * 5 % 7
        rows = [f"{hour}:00:00 arm mode={mode}{who} area=1"]
        if mode == "timed" and number % 6 == 1:
            rows.append(f"{alarm or f'{hour}:09:00'} intrusion-alarm zone=5 area=1")
        lines += night(number, *rows)
    return log("\n".join(lines))


def found(events, context=None):
    known = context or Context.empty()
    return find(lay(events, known, SETTINGS), known, SETTINGS)


def test_how_it_had_been_armed_is_told_where_alarms_follow_the_arming():
    got = found(nights(None))
    row = got.filter(pl.col("pattern") == Pattern.FOLLOWS_ARMING).to_dicts()[0]
    how = [one for one in row["evidence"] if one["what"] == "how it had been armed"]
    assert how[0]["figure"] == "by a timer 10 of 10 (of all armings 30 of 60)"


def test_late_alarms_say_nothing_of_arming():
    lines = {one["what"] for row in found(nights("23:09:00"))["evidence"] for one in row}
    assert "how it had been armed" not in lines


@pytest.fixture(scope="module")
def beside():
    return site_events(3, sites=6, story=Driven(AREA, 8), ways=Ways(comings=True))


def test_alarms_after_another_area_opens_are_told_in_plain_words(beside):
    got = found(beside.events, beside.context)
    mine = got.filter((pl.col("subject") == "1") & (pl.col("pattern") == Pattern.FOLLOWS_AREA))
    assert mine["site"].n_unique() >= 5
    advised = advise(mine, beside.context)
    assert (advised["advice"].list.len() > 0).all()
    ground = lay(beside.events, beside.context, SETTINGS)
    said = state(advised, ground, beside.context)["statement"]
    assert said.str.contains("minutes after another area is opened").all()


def test_the_own_area_is_no_other_and_one_area_has_none(beside):
    # All rows of the second tenant are those of area 1: nobody else is there.
    second = pl.col("area") == "2"
    got = found(beside.events.filter(~second), beside.context)
    assert Pattern.FOLLOWS_AREA not in got["pattern"].to_list()
    both = beside.context.zones.with_columns(area=pl.lit(["1", "2"]), area_rule=pl.lit("any"))
    shared = Context(
        beside.context.sites, conform(both, ZONE), beside.context.weather,
        beside.context.visits, beside.context.outcomes,
    )  # fmt: skip
    got = found(beside.events, shared)
    assert Pattern.FOLLOWS_AREA not in got["pattern"].to_list()


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.integers(0, 86_399), max_size=12, unique=True),
    st.integers(0, 3),
    st.booleans(),
    st.sampled_from([0, 180]),
)
def test_what_a_panel_hides_of_one_night(moments, limit, latched, lockout):
    """Never more than the limit, one where latched, none within the lock-out of the one before."""
    import numpy as np

    at = np.array(sorted(moments), dtype=np.int64)
    time = Time(*(np.array([edge], dtype=np.int64) for edge in (0, 0, 86_400)))
    ways = Ways(trip_limit=limit, latched=latched, lockout_s=lockout)
    kept, ends, bypassed = told(np.random.default_rng(1), at, time, ways)
    most = 1 if latched else limit or len(at)
    assert kept.sum() <= most
    assert not len(at) or kept[0]
    assert (np.diff(at[kept]) >= lockout).all()
    assert (ends > at).all()
    assert not len(bypassed)
