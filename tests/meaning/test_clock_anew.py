"""Clocks that start again at a first of January: common practice of panels that lose all power."""

from datetime import UTC, datetime

import polars as pl
import pytest

from eventlab.meaning.clock import to_utc
from eventlab.meaning.clock_anew import remarks
from eventlab.schema import Timing

NOW = datetime(2031, 1, 1, tzinfo=UTC)
BEFORE = ["2024-05-01 10:00", "2024-05-01 18:00", "2024-05-02 08:00"]
ANEW = ["2015-01-01 00:00", "2015-01-01 00:20", "2015-01-03 08:00"]
AFTER = ["2024-05-04 09:00", "2024-05-05 10:00"]


def read(*walls, sites=None):
    rows = [(datetime.fromisoformat(wall)) for wall in walls]
    frame = pl.DataFrame({"wall": rows}).with_columns(
        pl.col("wall").cast(pl.Datetime("us")),
        site=pl.Series(sites or ["S1"] * len(rows)),
        time_zone=pl.lit("UTC"),
    )
    return to_utc(frame, now=NOW)


def doubtful(*walls, **how):
    return read(*walls, **how)["timing"].eq(Timing.DOUBTFUL).to_list()


@pytest.mark.parametrize("turn", [1, -1])
def test_a_stretch_long_before_everything_else_is_doubtful_and_placed_by_order(turn):
    found = read(*[*BEFORE, *ANEW, *AFTER][::turn])
    assert (
        found["timing"].eq(Timing.DOUBTFUL).to_list() == [False] * 3 * 1 + [True] * 3 + [False] * 2
        if turn == 1
        else [False] * 2 + [True] * 3 + [False] * 3
    )
    placed = found["placed"].to_list()[::turn]
    assert placed == sorted(placed)
    assert found["wall"].to_list()[::turn] == [
        datetime.fromisoformat(x) for x in [*BEFORE, *ANEW, *AFTER]
    ]


def test_twice_anew():
    assert sum(doubtful(*BEFORE, *ANEW, *AFTER, *ANEW, "2024-06-01 10:00")) == 6


@pytest.mark.parametrize("rows", [[*ANEW, *AFTER], [*BEFORE, *ANEW]])
def test_at_an_end_of_the_log_it_must_begin_at_midnight(rows):
    assert sum(doubtful(*rows)) == 3
    late = [row.replace("2015-01-01 00", "2015-01-01 11") for row in rows]
    assert sum(doubtful(*late)) == 0


@pytest.mark.parametrize(
    ("rows", "why"),
    [
        (
            ["2023-01-01 00:10", "2023-06-01 10:00", "2023-12-30 10:00", *BEFORE],
            "a year of its own",
        ),
        (["2015-03-01 00:00", *BEFORE, *AFTER], "not a first of January"),
        ([*BEFORE, "2015-03-01 00:00", *AFTER], "a day that somebody set"),
        (["2024-01-01 00:00", "2024-01-03 10:00", "2024-01-20 10:00"], "nothing else there"),
        (["2024-01-01 00:10", "2024-01-12 10:00", "2024-02-05 10:00"], "near the rest"),
        ([], "nothing"),
    ],
)
def test_what_is_no_lost_clock(rows, why):
    assert sum(doubtful(*rows)) == 0, why


def test_of_many_sites_in_one_history_nothing_is_taken_for_a_lost_clock():
    rows = [*ANEW, *AFTER]
    assert sum(doubtful(*rows, sites=["A", "B", "A", "B", "A"])) == 0


def test_it_is_said_how_many_rows_and_why():
    spring = "2024-03-31 01:30"
    frame = read(*BEFORE, *ANEW, "2000-01-01 00:00", "2040-01-01 10:00", *AFTER)
    told = remarks(frame)
    assert told[0].startswith("4 rows from a clock that had started anew")
    assert told[1].startswith("1 row from a clock that was ahead")
    skipped = to_utc(
        pl.DataFrame({"wall": [datetime.fromisoformat(spring)], "site": ["S"]}).with_columns(
            pl.col("wall").cast(pl.Datetime("us")), time_zone=pl.lit("Europe/London")
        ),
        now=NOW,
    )
    assert remarks(skipped)[0].startswith("1 row inside an hour that the clock skips")
    assert remarks(read(*BEFORE)) == ()
