"""Rows of one moment stay as their export told them, whichever way it runs."""

import polars as pl
from hypothesis import given, settings
from hypothesis import strategies as st

from eventlab.ground.order import in_order, newest_first
from tests.ground.laid import laid
from tests.logbook import log

NIGHT = """
2024-03-01 17:00:00 arm
2024-03-01 22:00:00 intrusion-alarm zone=7
2024-03-01 22:00:00 disarm person=4
2024-03-02 08:00:00 mains-loss
"""


def test_an_export_that_runs_newest_first_is_followed_from_its_end():
    events = log(NIGHT)
    newest_first = events.with_columns(row=10 - pl.col("row")).reverse()
    assert in_order(newest_first)["kind"].to_list() == events["kind"].to_list()


def test_state_is_the_same_in_both_directions():
    events = log(NIGHT)
    newest_first = events.with_columns(row=10 - pl.col("row")).reverse()
    for frame in (events, newest_first):
        alarm = laid(frame).occurrences.filter(kind="intrusion-alarm")
        assert alarm["state"].to_list() == ["armed"]


def test_shuffled_rows_are_put_in_order():
    events = pl.concat([log(NIGHT), log(NIGHT, site="S0")])
    shuffled = events.sample(fraction=1, shuffle=True, seed=3)
    assert in_order(shuffled).equals(in_order(events))
    assert in_order(shuffled)["site"].to_list() == ["S0"] * 4 + ["S1"] * 4


ROW = st.tuples(
    st.sampled_from([None, "S1", "S2"]), st.integers(0, 3), st.sampled_from("ab"), st.integers(1, 9)
)


@settings(max_examples=150, deadline=None)
@given(st.lists(ROW, min_size=2, max_size=14, unique_by=lambda row: row[2:]), st.integers(0, 2))
def test_any_disorder_is_sorted_by_site_time_export_and_row(rows, sorted_by):
    rows = [
        rows,
        sorted(rows, key=lambda row: row[0] or ""),
        sorted(rows, key=lambda row: (row[0] or "", row[1])),
    ][sorted_by]
    frame = pl.DataFrame(rows, schema=["site", "placed", "source", "row"], orient="row").cast(
        {"site": pl.String}
    )
    frame = frame.with_columns(pl.from_epoch("placed"), piece=pl.lit(1))
    backward = pl.col("source").is_in(newest_first(frame))
    step = pl.when(backward).then(-pl.col("row")).otherwise("row")
    want = frame.sort("site", "placed", "source", step, nulls_last=False)
    assert in_order(frame).equals(want)
