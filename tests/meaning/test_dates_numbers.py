"""Times told as one number: days of spreadsheets, seconds since 1970.

Serial numbers are checked against published examples of the OpenFormula standard (OASIS
OpenDocument 1.2, part 2, 4.3.2: 1899-12-30 is day 0 for dates after February 1900) and of its
second date system (1 January 1904 is day 0); from memory. POSIX: seconds since the epoch.
"""

# ruff: noqa: DTZ001 - wall times have no zone

from datetime import UTC, date, datetime, timedelta

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eventlab.meaning import dated as words
from eventlab.meaning.date_cells import could_be_numbers
from eventlab.meaning.date_stored import STORED
from eventlab.meaning.dates import read_dates
from tests.meaning.exports import reading

TODAY = date(2026, 6, 30)
BEGIN = {"serial-1900": datetime(1899, 12, 30), "serial-1904": datetime(1904, 1, 1)}
HOURS = [datetime(2025, 3, 3, 22, 15, 7) + timedelta(hours=7, seconds=n) * n for n in range(60)]
OLD = [when.replace(year=2019) for when in HOURS]


def read(cells, times=None, **more):
    column = pl.Series(cells, dtype=pl.String)
    other = None if times is None else pl.Series(times, dtype=pl.String)
    return read_dates(column, other, **{"today": TODAY, **more})


def serial(when, system="serial-1900", figures=6, mark="."):
    return f"{(when - BEGIN[system]) / timedelta(days=1):.{figures}f}".replace(".", mark)


def test_a_known_day():
    # 1 January 2025 is day 45658 counted from 1900 (the function DATE of any spreadsheet).
    assert read(["45658.5"]).wall.to_list() == [datetime(2025, 1, 1, 12)]


@pytest.mark.parametrize("mark", [".", ","])
@pytest.mark.parametrize("figures", [5, 6, 9, 11])
def test_serial_numbers_of_the_last_years_are_counted_from_1900(mark, figures):
    dated = read([serial(when, figures=figures, mark=mark) for when in HOURS])
    assert dated.question is None
    assert dated.wall.to_list() == HOURS
    assert (dated.form.key, dated.grain) == ("serial-1900", 1)


def test_older_ones_are_asked_about_unless_a_line_tells():
    cells = [serial(when) for when in OLD]
    dated = read(cells)
    assert [choice.value for choice in dated.question.choices] == ["serial-1900", "serial-1904"]
    assert "3 March 2019 or 4 March 2023" in dated.question.text
    assert read(cells, answers={"dates": "serial-1900"}).wall.to_list() == OLD
    assert read(cells, hints=["Printed 25/03/2019"]).wall.to_list() == OLD


def test_counted_from_1904():
    cells = [serial(when, "serial-1904") for when in OLD]
    assert read(cells).question.key == "dates"
    assert read(cells, hints=["Exported 25 March 2019"]).wall.to_list() == OLD
    assert read(cells, answers={"dates": "serial-1904"}).wall.to_list() == OLD
    far = [serial(when, "serial-1904") for when in HOURS]  # from 1900 they would be of 2021
    stored = pl.DataFrame({"site": "A", "wall": HOURS[:20]}, schema=STORED)
    assert read(far, stored=stored).wall.to_list() == HOURS
    one = read([serial(datetime(2006, 5, 5, 10), "serial-1904")])  # from 1900 it would be of 2002
    assert one.wall.to_list() == [datetime(2006, 5, 5, 10)]


def test_days_and_times_in_two_columns():
    days = [serial(when).split(".")[0] for when in HOURS]
    clocks = [f"{when:%H:%M:%S}" for when in HOURS]
    parts = [f"0.{serial(when).split('.')[1]}" for when in HOURS]
    assert read(days, clocks).wall.to_list() == HOURS
    assert read(days, parts).wall.to_list() == HOURS
    alone = read(days)
    assert alone.problem.unique().to_list() == [words.NO_TIME_OF_DAY]


def test_whole_minutes():
    whole = [when.replace(second=0) for when in HOURS]
    dated = read([serial(when, figures=5) for when in whole])
    assert dated.wall.to_list() == whole
    assert dated.grain == 60


@pytest.mark.parametrize("scale", [1, 1_000, 1_000_000, 1_000_000_000])
def test_since_1970(scale):
    cells = [str(int(when.replace(tzinfo=UTC).timestamp()) * scale) for when in HOURS]
    dated = read(cells)
    assert dated.wall.to_list() == HOURS
    assert dated.offset_s.unique().to_list() == [0]
    assert dated.form.key == "epoch"


def test_fractions_of_seconds_since_1970():
    assert read(["1741040107.25"]).wall.to_list() == [datetime(2025, 3, 3, 22, 15, 7, 250_000)]
    assert read(["1741040107250"]).wall.to_list() == [datetime(2025, 3, 3, 22, 15, 7, 250_000)]


def test_a_few_cells_that_are_no_numbers_are_unread():
    cells = [serial(when) for when in HOURS]
    cells[3], cells[4] = "lost", None
    dated = read(cells)
    assert [dated.problem[row] for row in (3, 4)] == [words.NOT_A_DATE, words.NO_DATE]
    assert dated.wall.null_count() == 2


def test_a_reset_clock_stays_what_it_says():
    assert read(["0", *(str(int(w.replace(tzinfo=UTC).timestamp())) for w in HOURS)]).wall[
        0
    ] == datetime(1970, 1, 1)


def test_numbers_are_times_only_under_a_heading_that_says_so():
    rows = "".join(f"{serial(when)},1,Zone alarm\n" for when in HOURS)
    found = reading("Date/Time,Zone,Event\n" + rows)
    assert found.events["wall"].to_list() == HOURS
    assert could_be_numbers(pl.Series(["4107", "4108", "12"])) is None
    assert could_be_numbers(pl.Series(["45719", "45720"])) == "dates"
    assert could_be_numbers(pl.Series(["45719.5", "45720"])) == "moments"


def test_epoch_needs_no_time_zone():
    rows = "".join(f"{int(w.replace(tzinfo=UTC).timestamp())},1,Zone alarm\n" for w in HOURS)
    found = reading("Time,Zone,Event\n" + rows, time_zone=None)
    assert found.questions == ()
    assert found.events["at"].to_list() == [when.replace(tzinfo=UTC) for when in HOURS]


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.datetimes(datetime(2006, 1, 1), datetime(2026, 6, 1)), min_size=1, max_size=40),
    st.sampled_from(["serial-1900", "serial-1904"]),
    st.sampled_from([".", ","]),
)
def test_never_a_wrong_day(moments, system, mark):
    moments = [when.replace(microsecond=0) for when in moments]
    cells = [serial(when, system, 8, mark) for when in moments]
    dated = read(cells)
    if dated.question is not None:
        dated = read(cells, answers={"dates": system})
    assert dated.wall.to_list() == moments
