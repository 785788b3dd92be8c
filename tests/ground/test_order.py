"""Rows of one moment stay as their export told them, whichever way it runs."""

import polars as pl

from eventlab.ground.order import in_order
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
