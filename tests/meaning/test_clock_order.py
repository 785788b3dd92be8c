"""Repeated hours told apart by the order of rows; and what order cannot tell stays doubtful.

Sydney puts its clock back from 03:00 to 02:00 on 2025-04-06 (IANA tzdata 2026f).
"""

from datetime import UTC, datetime, timedelta

import numpy as np
import polars as pl
import pytest

from eventlab.meaning import order
from eventlab.meaning.clock import to_utc, to_wall
from eventlab.meaning.rows import Rows
from eventlab.schema import Timing

NOW = datetime(2031, 1, 1, tzinfo=UTC)
SYDNEY = "Australia/Sydney"


def read(*clocks, site="S1", zone=SYDNEY):
    """Read rows ``[site] HH:MM[:SS]`` of 2025-04-06, or of a day given before them."""
    rows = []
    for clock in clocks:
        *before, time = clock.split()
        day = next((word for word in before if word.startswith("20")), "2025-04-06")
        of = next((word for word in before if not word.startswith("20")), site)
        rows.append((of, datetime.fromisoformat(f"{day} {time}")))
    frame = pl.DataFrame(rows, schema={"site": pl.String, "wall": pl.Datetime("us")}, orient="row")
    return to_utc(frame.with_columns(time_zone=pl.lit(zone)), now=NOW)


def told(frame):
    """Return 1, 2 or 0 for each row of the repeated hour: its pass, or not told."""
    first = datetime(2025, 4, 5, 16, tzinfo=UTC)
    rows = frame.filter(pl.col("wall").dt.hour() == 2)
    return [0 if row["at"] is None else 1 if row["at"] < first else 2 for row in rows.to_dicts()]


def test_a_step_back_parts_the_two_passes():
    rows = ["01:50", "02:10", "02:40", "02:05", "02:50", "03:10"]
    assert told(read(*rows)) == [1, 1, 2, 2]
    assert told(read(*rows[::-1])) == [2, 2, 1, 1]
    assert read(*rows)["timing"][1] == Timing.BY_ORDER


def test_without_a_step_back_nothing_is_told():
    rows = ["01:50", "02:10", "02:40", "03:10"]
    for frame in (read(*rows), read(*rows[::-1])):
        assert told(frame) == [0, 0]
        assert frame["timing"].eq(Timing.DOUBTFUL).sum() == 2
    # They stand in the first pass, so that sorting keeps their order.
    assert read(*rows)["placed"][1] == datetime(2025, 4, 5, 15, 10, tzinfo=UTC)


@pytest.mark.parametrize("turn", [1, -1])
def test_a_file_cut_inside_the_repeated_hour(turn):
    rows = ["02:30", "02:50", "02:10", "02:20", "2025-04-07 10:00", "2025-04-08 10:00"][::turn]
    assert told(read(*rows)) == [1, 1, 2, 2][::turn]
    rows = ["2025-04-01 10:00", "2025-04-02 10:00", "02:30", "02:50", "02:10"][::turn]
    assert told(read(*rows)) == [1, 1, 2][::turn]


def test_a_file_that_lies_inside_the_repeated_hour():
    # Only oldest first is there a single step back.
    assert told(read("02:10", "02:40", "02:05", "02:30")) == [1, 1, 2, 2]
    assert told(read("02:30", "02:05", "02:40", "02:10")) == [2, 2, 1, 1]
    # 02:10 then 02:40, or newest first 02:40 and again 02:10: both may be.
    assert told(read("02:10", "02:40")) == [0, 0]
    assert told(read("02:10", "02:40", "02:05")) == [0, 0, 0]


def test_same_second_is_no_step_back():
    assert told(read("01:50", "02:10", "02:10", "03:00")) == [0, 0]


def test_jitter_is_no_step_back():
    assert told(read("01:50", "02:10:05", "02:10:02", "02:40", "03:10")) == [0, 0, 0]
    rows = ["01:50", "02:40:05", "02:40:02", "02:10", "03:10"]
    assert told(read(*rows)) == [1, 1, 2]


def test_a_small_step_counts_in_a_long_orderly_log():
    before = [f"2025-04-0{day} {hour:02}:00" for day in (1, 2, 3, 4, 5) for hour in range(24)]
    assert told(read(*before, "02:10:05", "02:10:02", "03:10"))[-2:] == [1, 2]


def test_several_steps_back_tell_nothing():
    assert told(read("01:50", "02:40", "02:10", "02:30", "02:05", "03:10")) == [0] * 4


@pytest.mark.parametrize("turn", [1, -1])
def test_glued_exports_are_judged_part_by_part(turn):
    part = ["2025-04-01 09:00", "01:50", "02:40", "02:10", "2025-04-09 08:00"]
    assert told(read(*(part + part)[::turn])) == [1, 2, 1, 2][::turn]


def test_several_years():
    zone = "Europe/London"
    rows = [
        f"{day} {clock}"
        for day in ("2023-10-29", "2024-10-27", "2025-10-26")
        for clock in ("00:30", "01:40", "01:20", "02:30")
    ]
    for frame in (read(*rows, zone=zone), read(*rows[::-1], zone=zone).reverse()):
        assert frame["timing"].ne(Timing.DOUBTFUL).all()
        gaps = frame["at"].diff().drop_nulls().dt.total_minutes().to_list()
        assert [gap for gap in gaps if gap < 1000] == [70, 40, 70] * 3


def test_each_site_has_its_own_order():
    # Together they step back; neither does alone.
    rows = ["A 01:50", "A 02:40", "A 03:10", "B 01:50", "B 02:10", "B 03:10"]
    assert told(read(*rows)) == [0, 0]


def test_rows_of_many_sites_in_one_orderly_file_help_each_other():
    rows = ["A 01:50", "B 01:55", "A 02:40", "B 02:45", "A 02:05", "B 02:10", "A 03:10", "B 03:20"]
    assert told(read(*rows)) == [1, 1, 2, 2]  # each alone would do
    rows = ["A 01:50", "B 01:55", "A 02:40", "B 02:05", "A 03:10", "B 03:20"]
    assert told(read(*rows)) == [1, 2]
    assert told(read(*rows[::-1])) == [2, 1]


def test_a_site_of_few_rows_runs_as_the_file_runs():
    rows = ["A 2025-03-01 10:00", "A 2025-03-02 10:00", "B 02:40", "B 02:10"]
    assert told(read(*rows)) == [1, 2]
    rows = ["A 2025-03-02 10:00", "A 2025-03-01 10:00", "B 02:10", "B 02:40"]
    assert told(read(*rows)) == [2, 1]


@pytest.mark.parametrize("newest_first", [False, True])
@pytest.mark.parametrize("mixed", [False, True])
def test_many_sites_in_three_zones(newest_first, mixed):
    rng = np.random.default_rng(3)
    count = 60_000
    seconds = rng.integers(0, 86_400 * 10, count)
    sites = rng.integers(0, 40, count)
    zones = np.array(["Australia/Sydney", "Australia/Brisbane", "Australia/Lord_Howe"])[sites % 3]
    start = datetime(2025, 4, 1, tzinfo=UTC)
    truth = pl.Series(seconds).cast(pl.Int64) * 1_000_000 + int(start.timestamp()) * 1_000_000
    frame = pl.DataFrame({"site": [f"S{n}" for n in sites], "time_zone": zones}).with_columns(
        truth=truth.cast(pl.Datetime("us", "UTC"))
    )
    frame = frame.sort("truth") if mixed else frame.sort("site", "truth")
    frame = frame.reverse() if newest_first else frame
    got = to_utc(to_wall(frame, "truth", "time_zone", "wall"), now=NOW)
    given = got.filter(pl.col("at").is_not_null())
    assert (given["at"] == given["truth"]).all()
    assert got.height - given.height < 20
    assert given["timing"].eq(Timing.BY_ORDER).sum() > 50


def test_rows_are_placed_just_after_those_before_them():
    code = np.array([0, 0, 0, 0, 1, 1, 2])
    placed = np.array([0, 100, 0, 200, 0, 500, 0])
    known = np.array([False, True, False, True, False, True, False])
    forward = np.array([1, -1, 1])
    times, has = order.place(code, placed, known, forward)
    assert times[:6].tolist() == [99, 100, 101, 200, 501, 500]
    assert has.tolist() == [True] * 6 + [False]


def test_way_of_rows():
    wall = np.array([1, 2, 3, 2, 1, 5, 5]) * order.MINUTE
    code = np.array([0, 0, 0, 1, 1, 2, 2])
    way = order.direction(order.Run(code, wall, np.full(7, -1), 3))
    assert way.forward.tolist() == [1, -1, 0]
    assert not way.strict.any()


def test_rows_just_outside_the_repeated_hour_are_sure():
    frame = read("01:59:59", "03:00:00")
    assert frame["timing"].eq(Timing.SURE).all()
    assert frame["at"][1] - frame["at"][0] == timedelta(hours=2, seconds=1)


def walls(rng, count):
    """Wall times of two sites around the change, with gaps and now and then jitter."""
    start = int(datetime(2025, 4, 5, 13, tzinfo=UTC).timestamp())
    steps = rng.choice([0, 1, 30, 900, 3600], count, p=[0.1, 0.1, 0.3, 0.4, 0.1])
    at = pl.Series((start + np.cumsum(steps)) * 1_000_000).cast(pl.Datetime("us", "UTC"))
    wall = at.dt.convert_time_zone(SYDNEY).dt.replace_time_zone(None)
    kept = pl.Series(rng.random(count) < rng.choice([0.2, 1.0]))
    return pl.DataFrame({"wall": wall}).filter(kept)


@pytest.mark.parametrize("seed", range(40))
def test_a_file_in_order_is_judged_as_any_other(monkeypatch, seed):
    """Files of one direction take a shorter way; it gives the same."""
    rng = np.random.default_rng(seed)
    frame = walls(rng, int(rng.integers(2, 160)))
    sites = pl.Series(rng.choice(["S1", "S2"][: int(rng.integers(1, 3))], frame.height))
    frame = frame.with_columns(site=sites, time_zone=pl.lit(SYDNEY))
    for turned in (frame, frame.reverse()):
        short = to_utc(turned, now=NOW)
        with monkeypatch.context() as patch:
            patch.setattr(Rows, "_way", 0)
            assert to_utc(turned, now=NOW).equals(short)
