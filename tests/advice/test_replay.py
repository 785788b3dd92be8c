"""Replays against a plain replay, trip by trip."""

from datetime import UTC, datetime, timedelta

import polars as pl
from hypothesis import given
from hypothesis import strategies as st

from eventlab.advice.replay import count_of_two, firsts, hold_off, paired

START = datetime(2025, 1, 8, tzinfo=UTC)
MOMENT = pl.Datetime("us", "UTC")


def at(second):
    return None if second is None else START + timedelta(seconds=second)


def frame(rows):
    told = [(period, at(when), at(until)) for period, when, until in rows]
    return pl.DataFrame(
        told, schema={"period": pl.Int64, "at": MOMENT, "until": MOMENT}, orient="row"
    )


@st.composite
def logs(draw):
    """Armed periods of 1000 s, trips in them, each over some seconds later or not at all."""
    rows = []
    for period in range(draw(st.integers(1, 4))):
        times = draw(st.lists(st.integers(0, 200), max_size=12))
        for when in sorted(times):
            lasts = draw(st.none() | st.integers(0, 60))
            moment = period * 1000 + when
            rows.append((period, moment, None if lasts is None else moment + lasts))
    return rows


def told(replayed):
    times = replayed.select("period", "at", "raised_at").rows()
    return [
        tuple(x if isinstance(x, int) or x is None else (x - START).total_seconds() for x in row)
        for row in times
    ]


@given(logs(), st.integers(1, 45))
def test_a_hold_off_waits_and_looks_again(rows, seconds):
    plain = []
    for period, when, until in rows:
        still = until is None or until >= when + seconds
        plain.append((period, when, when + seconds if still else None))
    assert told(hold_off(frame(rows), seconds)) == plain


@given(logs(), st.integers(1, 45))
def test_a_count_of_two_starts_anew_after_each_alarm(rows, seconds):
    plain, first, before = [], None, None
    for period, when, _ in rows:
        if period != before:
            first, before = None, period
        if first is not None and when - first <= seconds:
            plain.append((period, when, when))
            first = None
        else:
            plain.append((period, when, None))
            first = when
    assert told(count_of_two(frame(rows), seconds)) == plain


@given(logs(), st.lists(st.integers(0, 4000), max_size=30), st.integers(1, 45))
def test_a_second_detector_must_trip_near(rows, other, seconds):
    plain = []
    for period, when, _ in rows:
        near = [o for o in other if abs(o - when) <= seconds]
        if any(o <= when for o in near):
            plain.append((period, when, when))
        else:
            plain.append((period, when, min(near, default=None)))
    marks = pl.DataFrame({"at": [at(o) for o in other]}, schema={"at": MOMENT})
    assert told(paired(frame(rows), marks, seconds)) == plain


@given(logs(), st.integers(1, 45))
def test_the_first_alarm_of_a_period_is_late_or_lost_or_neither(rows, seconds):
    replayed = count_of_two(frame(rows), seconds)
    got = {row["period"]: row for row in firsts(replayed).to_dicts()}
    for period in {row[0] for row in rows}:
        own = [row for row in told(replayed) if row[0] == period]
        raised = [row[2] for row in own if row[2] is not None]
        late = got[period]["late_s"]
        assert (late is None) == (not raised)
        assert late is None or late == min(raised) - min(row[1] for row in own)
