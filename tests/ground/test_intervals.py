"""The algebra of intervals against a plain count of every minute."""

from datetime import datetime, timedelta
from itertools import pairwise

import polars as pl
from hypothesis import given
from hypothesis import strategies as st

from eventlab.ground import intervals

START = datetime(2024, 3, 1)  # noqa: DTZ001 - any clock will do here
LAST = 60

spans = st.lists(
    st.tuples(st.integers(0, 2), st.integers(0, LAST), st.integers(0, LAST)), max_size=12
)


def frame(rows):
    return pl.DataFrame(
        {
            "key": [r[0] for r in rows],
            "since": [START + timedelta(minutes=min(r[1:])) for r in rows],
            "until": [START + timedelta(minutes=max(r[1:])) for r in rows],
        },
        schema={"key": pl.Int64, "since": pl.Datetime("us"), "until": pl.Datetime("us")},
    )


def minutes(rows):
    count = {}
    for key, one, two in rows:
        for minute in range(min(one, two), max(one, two)):
            count[key, minute] = count.get((key, minute), 0) + 1
    return count


def covered(result):
    found = set()
    for row in result.iter_rows(named=True):
        low = int((row["since"] - START).total_seconds() // 60)
        high = int((row["until"] - START).total_seconds() // 60)
        assert low < high
        for minute in range(low, high):
            assert (row["key"], minute) not in found
            found.add((row["key"], minute))
    return found


def apart(result):
    """Results are sorted, and neighbours of a key never touch."""
    rows = result.rows(named=True)
    for one, two in pairwise(rows):
        assert one["key"] < two["key"] or one["until"] < two["since"]


@given(spans)
def test_united_time_is_each_minute_once(rows):
    result = intervals.unite(frame(rows), ["key"])
    assert covered(result) == set(minutes(rows))
    apart(result)


@given(spans, st.integers(1, 4))
def test_depth_counts_how_many_lie_over_each_minute(rows, least):
    result = intervals.depth(frame(rows), ["key"], least)
    assert covered(result) == {m for m, count in minutes(rows).items() if count >= least}
    apart(result)


@given(spans, spans)
def test_intersection_and_difference(left, right):
    one, two = set(minutes(left)), set(minutes(right))
    common = intervals.intersect(frame(left), frame(right), ["key"])
    rest = intervals.subtract(frame(left), frame(right), ["key"])
    assert covered(common) == one & two
    assert covered(rest) == one - two
    apart(common)
    apart(rest)


@given(spans)
def test_total_is_the_number_of_minutes(rows):
    sums = intervals.total(intervals.unite(frame(rows), ["key"]), ["key"])
    told = dict(sums.iter_rows())
    for key in range(3):
        count = sum(1 for k, _ in minutes(rows) if k == key)
        assert round(told.get(key, 0.0) * 60) == count


def test_a_key_may_be_null():
    rows = pl.DataFrame(
        {
            "area": [None, None, "1"],
            "since": [START, START + timedelta(minutes=5), START],
            "until": [START + timedelta(minutes=9)] * 3,
        }
    )
    assert intervals.unite(rows, ["area"]).height == 2
