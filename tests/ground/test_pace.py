"""A clock that was lost still ran: what came hours later is not told as at once."""

from datetime import UTC, datetime, timedelta

import polars as pl
from polars.testing import assert_frame_equal

from eventlab.context import Context
from eventlab.ground import lay
from eventlab.ground.pace import paced
from eventlab.schema import EVENT, Timing, conform
from eventlab.settings import Settings
from tests.logbook import log

TEXT = """
2025-02-04 18:00:00 arm person=1
2025-02-05 02:05:00 mains-loss
2025-02-05 02:30:00 system-restart
2025-02-05 02:40:00 intrusion-alarm zone=3
2025-02-05 07:55:00 disarm person=1
2025-02-05 18:00:00 arm person=1
"""
RESTART = datetime(2025, 2, 5, 2, 30, tzinfo=UTC)
MORNING = datetime(2025, 2, 5, 12, tzinfo=UTC)


def lost_clock(frame, since=RESTART, until=MORNING):
    """Let the clock start again at 2000 and be set right later; row order alone places rows."""
    lost = pl.col("placed").is_between(since, until)
    number = lost.cast(pl.Int64).cum_sum()
    last = frame.filter(pl.col("placed") < since)["placed"].max()
    moved = pl.col("placed") - pl.lit(since)
    return conform(
        frame.with_columns(
            at=pl.when(~lost).then("at"),
            wall=pl.when(lost)
            .then(pl.datetime(2000, 1, 1, time_unit="us") + moved)
            .otherwise("wall"),
            placed=pl.when(lost)
            .then(pl.lit(last) + pl.duration(microseconds=number))
            .otherwise("placed"),
            timing=pl.when(lost)
            .then(pl.lit(str(Timing.DOUBTFUL)))
            .otherwise(pl.lit(str(Timing.SURE))),
        ),
        EVENT,
    )


def test_rows_of_a_lost_clock_keep_the_distances_of_its_wall():
    got = paced(lost_clock(log(TEXT)))["placed"].to_list()
    step = timedelta(microseconds=1)  # what keeps rows of one moment in order
    assert got[3] - got[2] == timedelta(minutes=10) + step
    assert got[4] - got[2] == timedelta(hours=5, minutes=25) + 2 * step
    assert got == sorted(got)


def test_the_next_sure_row_of_the_export_bounds_them():
    late = lost_clock(log(TEXT)).with_columns(
        wall=pl.when(pl.col("kind") == "disarm")
        .then(pl.datetime(2000, 1, 20, time_unit="us"))
        .otherwise("wall")
    )
    got = paced(late)["placed"].to_list()
    assert got[4] < got[5]
    assert got == sorted(got)


def test_a_clock_that_starts_again_twice_adds_nothing():
    again = lost_clock(log(TEXT)).with_columns(
        wall=pl.when(pl.col("kind") == "disarm")
        .then(pl.datetime(2000, 1, 1, time_unit="us"))
        .otherwise("wall")
    )
    got = paced(again)["placed"].to_list()
    assert got[4] - got[3] == timedelta(microseconds=1)


def test_sure_rows_stay_where_they_are_in_any_order():
    sure = log(TEXT)
    assert_frame_equal(paced(sure), sure)
    mixed = lost_clock(sure)
    turned = paced(mixed.reverse()).reverse()
    assert_frame_equal(paced(mixed), turned)


def test_the_disarm_of_the_morning_does_not_answer_the_alarm_of_the_night():
    ground = lay(lost_clock(log(TEXT)), Context.empty(), Settings())
    assert ground.episodes["disarm_after_s"].to_list() == [(5 * 60 + 15) * 60]
