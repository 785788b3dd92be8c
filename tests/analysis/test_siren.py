"""Points that alarm as the siren stops: found by the same delay after whichever point began it."""

import json
from datetime import UTC, datetime, timedelta

import polars as pl
import pytest
from hypothesis import given
from hypothesis import settings as tries
from hypothesis import strategies as st

from eventlab.analysis import siren
from eventlab.ground import lay
from eventlab.schema import Pattern
from eventlab.simulate import BACKGROUNDS
from eventlab.simulate.single import site_events
from eventlab.simulate.sounding import sounding
from tests.analysis.standing import SETTINGS, context, ground, nights
from tests.proving.siren import found, right

KNOWN = context("1 interior hall", "2 interior store", "3 interior office", "9 fire smoke")
QUIET = nights(60)


def told(*pairs, kind="intrusion-alarm", more=()):
    """Point 2 or 3 begins, point 1 follows: (night, hour, delay [s])."""
    rows = []
    for night, hour, delay in pairs:
        first = 2 + night // 2 % 2
        begun = datetime(2025, 1, 1, hour, tzinfo=UTC) + timedelta(days=night)
        then = begun + timedelta(seconds=delay)
        rows.append(f"{begun:%Y-%m-%d %H:%M:%S} intrusion-alarm zone={first}")
        rows.append(f"{then:%Y-%m-%d %H:%M:%S} {kind} zone=1")
    return siren.find(ground(QUIET, *rows, *more, known=KNOWN), KNOWN, SETTINGS)


HOURS = (20, 22, 1, 3, 5, 21, 2, 4)


def test_the_same_delay_on_every_night_is_found_whoever_began():
    got = told(*((10 + 2 * n, hour, 900 + n % 4) for n, hour in enumerate(HOURS)))
    assert got.select("pattern", "subject", "events").rows() == [
        (Pattern.FOLLOWS_SIREN, "1", len(HOURS))
    ]
    figures = json.loads(got["figures"][0])
    assert (figures["shortest"], figures["longest"]) == (900, 903)
    assert got["q_value"][0] < 1e-6


@pytest.mark.parametrize(
    "pairs",
    [
        # each night another delay
        [(10 + 2 * n, hour, 200 + 110 * n) for n, hour in enumerate(HOURS)],
        # always at the same hour: the two may follow the clock, each its time
        [(10 + n, 2, 900) for n in range(8)],
        # just after the other: a shared supply, told elsewhere
        [(10 + 2 * n, hour, 4) for n, hour in enumerate(HOURS)],
        # three nights show nothing
        [(10 + 2 * n, hour, 900) for n, hour in enumerate(HOURS[:3])],
    ],
)
def test_other_delays_the_clock_and_few_nights_show_nothing(pairs):
    assert told(*pairs).is_empty()


def test_a_siren_that_was_silenced_sets_nothing_off():
    pairs = [(10 + 2 * n, hour, 900) for n, hour in enumerate(HOURS)]
    opened = [
        f"{datetime(2025, 1, 1, tzinfo=UTC) + timedelta(days=night):%Y-%m-%d} "
        f"{hour:02}:{minute:02}:00 {act} person=1"
        for night, hour, _ in pairs
        for minute, act in ((8, "disarm"), (10, "arm"))
    ]
    assert told(*pairs, more=opened).is_empty()


def test_life_safety_points_are_never_named():
    assert told(*((10 + 2 * n, h, 900) for n, h in enumerate(HOURS)), kind="fire").is_empty()


@given(seed=st.integers(0, 10_000), nights_=st.sampled_from([5, 12]))
@tries(max_examples=3, deadline=None)
def test_nobody_else_is_named(seed, nights_):
    got = found(seed, 4, nights_)
    assert right(got).height == got.height


def test_a_site_is_told_the_same_alone():
    made = sounding(site_events(3, sites=3), 3, 8)
    every = siren.find(lay(made.events, made.context, SETTINGS), made.context, SETTINGS)
    assert every["site"].n_unique() == 3
    for site in every["site"]:
        own, known = made.events.filter(pl.col("site") == site), made.context.only([site])
        assert siren.find(lay(own, known, SETTINGS), known, SETTINGS).equals(
            every.filter(pl.col("site") == site)
        )


@pytest.mark.parametrize("background", BACKGROUNDS)
def test_where_nothing_does_it_nothing_is_said(background):
    assert found(5, 12, 0, background).is_empty()
