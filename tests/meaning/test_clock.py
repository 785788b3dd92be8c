"""Wall time to UTC and back, against published changes and by round trips through every zone."""

# ruff: noqa: DTZ001 - wall times have no zone

from datetime import UTC, datetime, timedelta
from importlib import resources

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eventlab.errors import UsageError
from eventlab.meaning.clock import (
    known_zone,
    to_utc,
    to_wall,
    transitions,
    tz_version,
    zone_names,
)
from eventlab.schema import TIMING, Timing
from eventlab.schema import UTC as UTC_TYPE

NOW = datetime(2031, 1, 1, tzinfo=UTC)
WALL = pl.Datetime("us")

# IANA tzdata 2026f, recomputed from the package with zoneinfo: instant, wall before, wall after.
PUBLISHED = """
Australia/Sydney     2025-04-05T16:00 2025-04-06T03:00 2025-04-06T02:00
Australia/Sydney     2025-10-04T16:00 2025-10-05T02:00 2025-10-05T03:00
Australia/Adelaide   2025-04-05T16:30 2025-04-06T03:00 2025-04-06T02:00
Australia/Lord_Howe  2025-04-05T15:00 2025-04-06T02:00 2025-04-06T01:30
Australia/Lord_Howe  2025-10-04T15:30 2025-10-05T02:00 2025-10-05T02:30
Pacific/Chatham      2025-04-05T14:00 2025-04-06T03:45 2025-04-06T02:45
Pacific/Chatham      2025-09-27T14:00 2025-09-28T02:45 2025-09-28T03:45
Europe/London        2025-03-30T01:00 2025-03-30T01:00 2025-03-30T02:00
Europe/London        2025-10-26T01:00 2025-10-26T02:00 2025-10-26T01:00
Europe/Dublin        2025-10-26T01:00 2025-10-26T02:00 2025-10-26T01:00
America/St_Johns     2025-03-09T05:30 2025-03-09T02:00 2025-03-09T03:00
America/St_Johns     2025-11-02T04:30 2025-11-02T02:00 2025-11-02T01:00
America/Havana       2025-03-09T05:00 2025-03-09T00:00 2025-03-09T01:00
America/Santiago     2025-09-07T04:00 2025-09-07T00:00 2025-09-07T01:00
"""


def at(text):
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


@pytest.mark.parametrize("line", PUBLISHED.strip().splitlines())
def test_published_changes(line):
    zone, instant, before, after = line.split()
    found = transitions(zone, at(instant), at(instant) + timedelta(seconds=1)).row(0, named=True)
    assert found["at"] == at(instant)
    assert at(instant) + timedelta(seconds=found["before_s"]) == at(before)
    assert at(instant) + timedelta(seconds=found["after_s"]) == at(after)


@pytest.mark.parametrize(
    ("zone", "count"),
    [("Australia/Brisbane", 0), ("Asia/Kolkata", 0), ("Pacific/Apia", 0), ("Europe/London", 6)],
)
def test_number_of_changes_in_three_years(zone, count):
    """Of 2024 to 2026, IANA tzdata 2026f."""
    assert transitions(zone, at("2024-01-01"), at("2027-01-01")).height == count


def test_back_before_forward():
    """Casablanca turns back for a month and forward again; its dates change too often to pin."""
    year = transitions("Africa/Casablanca", at("2019-01-01"), at("2026-01-01"))
    assert (year["after_s"] - year["before_s"]).to_list() == [-3600, 3600] * 7


def test_shift_of_two_hours():
    """Troll; IANA tzdata 2026f."""
    year = transitions("Antarctica/Troll", at("2025-01-01"), at("2026-01-01"))
    assert (year["after_s"] - year["before_s"]).to_list() == [7200, -7200]


@pytest.mark.parametrize(
    ("zone", "day", "hours"),
    [
        ("Australia/Sydney", "2025-04-06", 25),
        ("Australia/Sydney", "2025-10-05", 23),
        ("Australia/Lord_Howe", "2025-04-06", 24.5),
        ("Australia/Lord_Howe", "2025-10-05", 23.5),
        ("Australia/Sydney", "2025-06-01", 24),
    ],
)
def test_length_of_days(zone, day, hours):
    """IANA tzdata 2026f."""
    start = datetime.fromisoformat(day)
    placed = utc([start, start + timedelta(days=1)], zone)["at"]
    assert (placed[1] - placed[0]) / timedelta(hours=1) == hours


def utc(walls, zone, *, offsets=None, sites=None):
    frame = pl.DataFrame({"wall": pl.Series(walls, dtype=WALL)}).with_columns(
        time_zone=pl.lit(zone, dtype=pl.String), site=pl.lit("S1")
    )
    if offsets is not None:
        frame = frame.with_columns(offset_s=pl.Series(offsets, dtype=pl.Int32))
    if sites is not None:
        frame = frame.with_columns(site=pl.Series(sites))
    return to_utc(frame, now=NOW)


def test_shape():
    frame = utc([datetime(2025, 1, 1)], "Europe/London")
    assert frame.schema["at"] == frame.schema["placed"] == UTC_TYPE
    assert frame.schema["timing"] == TIMING
    assert utc([], "Europe/London").schema == frame.schema


def test_versions_and_names():
    assert tz_version() >= "2025b"
    assert known_zone("Australia/Lord_Howe")
    assert known_zone("UTC")
    assert len(zone_names()) > 400
    for name in ("Mars/Phobos", "", "../secrets", "australia/sydney", "Factory"):
        assert not known_zone(name)
    with pytest.raises(UsageError, match="Mars"):
        utc([datetime(2025, 1, 1)], "Mars/Phobos")


def test_skipped_hour():
    walls = [datetime(2025, 10, 5, h, 30) for h in (1, 2, 3)]
    frame = utc(walls, "Australia/Sydney")
    assert frame["timing"].to_list() == [Timing.SURE, Timing.DOUBTFUL, Timing.SURE]
    assert frame["at"].to_list() == [at("2025-10-04T15:30"), None, at("2025-10-04T16:30")]
    assert frame["placed"][1] == at("2025-10-04T16:30")
    midnight = utc([datetime(2025, 3, 9)], "America/Havana")
    assert midnight["at"][0] is None


def test_shift_in_the_text_decides():
    walls = [datetime(2025, 4, 6, 2, 30)] * 2 + [datetime(2025, 10, 5, 2, 30)]
    frame = utc(walls, "Australia/Sydney", offsets=[39600, 36000, 0])
    assert frame["timing"].unique().to_list() == [Timing.SURE]
    assert frame["at"].to_list() == [
        at("2025-04-05T15:30"),
        at("2025-04-05T16:30"),
        at("2025-10-05T02:30"),
    ]
    alone = utc(walls[:2], None, offsets=[39600, None])
    assert alone["at"].to_list() == [at("2025-04-05T15:30"), None]


@pytest.mark.parametrize("newest_first", [False, True])
def test_clocks_that_lost_the_time_stand_where_their_rows_stand(newest_first):
    walls = [
        None,
        datetime(2025, 1, 1, 10),
        datetime(2000, 1, 1),
        datetime(1970, 1, 1, 0, 5),
        None,
        datetime(2025, 1, 1, 11),
        datetime(2099, 1, 1),
        datetime(2025, 1, 1, 12),
    ]
    turn = slice(None, None, -1) if newest_first else slice(None)
    frame = utc(walls[turn], "Europe/London")[turn]
    assert frame["placed"].is_sorted()
    assert frame["placed"].n_unique() == len(walls)
    assert frame["wall"].to_list() == walls
    odd = [0, 2, 3, 4, 6]
    for row in range(len(walls)):
        assert (frame["at"][row] is None) == (row in odd)
        assert (frame["timing"][row] == Timing.DOUBTFUL) == (row in odd)
    assert frame["placed"][4] - at("2025-01-01T10:00") < timedelta(milliseconds=1)
    assert at("2025-01-01T10:00") - frame["placed"][0] < timedelta(milliseconds=1)


def test_rows_without_any_time_beside_them():
    frame = utc([None, None], "Europe/London")
    assert frame["placed"].to_list() == [at("1970-01-01T00:00")] * 2
    # A row of no site stands by its neighbours in the file.
    walls = [datetime(2025, 1, 1, 10), None, datetime(2025, 1, 1, 11)]
    mixed = utc(walls, "Europe/London", sites=["A", None, "A"])
    assert at("2025-01-01T10:00") < mixed["placed"][1] < at("2025-01-01T10:01")


def test_the_future_begins_in_two_days():
    frame = pl.DataFrame(
        {"wall": [datetime(2025, 6, 2, 23), datetime(2025, 6, 3, 1)], "time_zone": ["UTC"] * 2}
    )
    timing = to_utc(frame, now=at("2025-06-01"))["timing"]
    assert timing.to_list() == [Timing.SURE, Timing.DOUBTFUL]


def test_wall_of_each_row_in_its_own_zone_eager_and_lazy():
    frame = pl.DataFrame(
        {
            "at": [at("2025-07-01T00:00"), at("2025-07-01T00:00"), None, at("2025-07-01T00:00")],
            "zone": ["Australia/Sydney", "Asia/Kathmandu", "UTC", None],
        },
        schema_overrides={"at": UTC_TYPE},
    )
    walls = [datetime(2025, 7, 1, 10), datetime(2025, 7, 1, 5, 45), None, None]
    assert to_wall(frame, "at", "zone", "local")["local"].to_list() == walls
    lazy = to_wall(frame.lazy(), "at", "zone", "local")
    assert lazy.collect_schema()["local"] == WALL
    assert lazy.filter(pl.col("local").dt.hour() == 10).collect().height == 1
    assert lazy.select("local").collect()["local"].to_list() == walls


def _own_zones():
    """Return one name for each zone; the rest are other names of the same."""
    folder = resources.files("tzdata") / "zoneinfo"
    return list({folder.joinpath(*n.split("/")).read_bytes(): n for n in zone_names()}.values())


def test_every_change_of_every_zone_there_and_back():
    """2005 to 2030 (older times are those of a clock reset): six hours around each change."""
    around = pl.int_range(-10_800, 10_800, 593, eager=True, dtype=pl.Int64)
    parts = []
    for name in _own_zones():
        changes = transitions(name, at("2005-02-01"), at("2031-01-01"))
        parts += [
            pl.DataFrame({"at": pl.Series([instant]).cast(UTC_TYPE)})
            .join(around.to_frame("s"), how="cross")
            .select(
                (pl.col("at") + pl.duration(seconds="s")).cast(UTC_TYPE),
                time_zone=pl.lit(name),
                site=pl.lit(f"{name} {instant}"),
            )
            for instant in changes["at"]
        ]
    oldest_first = to_wall(pl.concat(parts), "at", "time_zone", "wall").rename({"at": "truth"})
    assert oldest_first["site"].n_unique() > 3000
    for frame in (oldest_first, oldest_first.reverse()):
        read = to_utc(frame, now=NOW)
        assert read["timing"].ne(Timing.DOUBTFUL).all()
        assert (read["at"] == read["truth"]).all()
        assert (to_wall(read, "at", "time_zone", "again")["again"] == read["wall"]).all()


@settings(max_examples=150, deadline=None)
@given(
    st.sampled_from(
        ["Australia/Sydney", "Australia/Lord_Howe", "Antarctica/Troll", "Europe/London"]
    ),
    st.lists(st.integers(0, 9 * 3600), min_size=1, max_size=30),
    st.booleans(),
)
def test_a_time_that_is_given_is_true(zone, seconds, newest_first):
    """Whatever few rows there are around a change: no row is ever put in the wrong pass."""
    change = transitions(zone, at("2025-01-01"), at("2026-01-01"))
    back = change.filter(pl.col("after_s") < pl.col("before_s"))["at"][0]
    truth = sorted(back - timedelta(hours=4) + timedelta(seconds=s) for s in seconds)
    truth = truth[::-1] if newest_first else truth
    frame = pl.DataFrame({"truth": pl.Series(truth).cast(UTC_TYPE)}).with_columns(
        time_zone=pl.lit(zone), site=pl.lit("S1")
    )
    # The way of the file is known from its other rows.
    day = pl.duration(days=30)
    ends = [frame.with_columns(pl.col("truth") - day), frame.with_columns(pl.col("truth") + day)]
    ends = ends[::-1] if newest_first else ends
    whole = pl.concat([ends[0], frame, ends[1]])
    read = to_utc(to_wall(whole, "truth", "time_zone", "wall"), now=NOW)
    told = read.filter(pl.col("at").is_not_null())
    assert (told["at"] == told["truth"]).all()
    assert read.filter(pl.col("at").is_null())["timing"].eq(Timing.DOUBTFUL).all()
    assert (read["at"].is_null() | (read["at"] == read["placed"])).all()
