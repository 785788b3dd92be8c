"""A whole column of dates: forms, problems of single rows, two columns, the question."""

# ruff: noqa: DTZ001 - wall times have no zone

from datetime import date, datetime, timedelta

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eventlab.errors import UsageError
from eventlab.meaning import dated as words
from eventlab.meaning.date_cells import could_be_dates, could_be_moments, could_be_times
from eventlab.meaning.dates import read_dates

TODAY = date(2026, 6, 30)
YEAR = [datetime(2025, 1, 1, 6, 15, 9) + timedelta(hours=31 * n) for n in range(280)]


def read(cells, times=None, **more):
    column = pl.Series(cells, dtype=pl.String)
    other = None if times is None else pl.Series(times, dtype=pl.String)
    return read_dates(column, other, today=TODAY, **more)


def written(form):
    plain = form.replace("%-", "%")
    found = [when.strftime(plain) for when in YEAR]
    if "%-d/%-m" in form:
        found = [f"{w.day}/{w.month}/{w:%Y} {w.hour % 12 or 12}:{w:%M:%S %p}" for w in YEAR]
    return found


FORMS = {
    "%d/%m/%Y %H:%M:%S": ("day-first", "day first, 24-hour clock"),
    "%d.%m.%Y %H.%M.%S": ("day-first", "day first, 24-hour clock"),
    "%-d/%-m/%Y %-I:%M:%S %p": ("day-first", "day first, 12-hour clock"),
    "%d-%m-%y %H:%M:%S": ("day-first", "day first, 24-hour clock"),
    "%m/%d/%Y %I:%M:%S %p": ("month-first", "month first, 12-hour clock"),
    "%m/%d/%y, %H:%M:%S": ("month-first", "month first, 24-hour clock"),
    "%Y-%m-%dT%H:%M:%S": ("year-first", "year first, 24-hour clock"),
    "%Y/%m/%d %H:%M:%S": ("year-first", "year first, 24-hour clock"),
    "%y/%m/%d %H:%M:%S": ("year-first", "year first, 24-hour clock"),
    "%Y%m%d%H%M%S": ("year-first", "year first, without signs, 24-hour clock"),
    "%Y%m%d %H%M%S": ("year-first", "year first, without signs, 24-hour clock"),
    "%d %b %Y %H:%M:%S": ("day-first", "month names, 24-hour clock"),
    "%A, %B %d, %Y %I:%M:%S %p": ("day-first", "month names, 12-hour clock"),
    "%a %b %d %H:%M:%S %Y": ("day-first", "month names, 24-hour clock"),
    "%H:%M:%S %d/%m/%Y": ("day-first", "day first, 24-hour clock"),
    "%a %d/%m/%y %H:%M:%S": ("day-first", "day first, 24-hour clock"),
}


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("turned", [False, True])
def test_forms(form, turned):
    cells, when = written(form), YEAR
    if turned:
        cells, when = cells[::-1], when[::-1]
    dated = read(cells)
    assert dated.question is None
    assert dated.wall.to_list() == when
    assert dated.wall.dtype == pl.Datetime("us")
    assert (dated.form.key, dated.form.text) == FORMS[form]
    assert (dated.grain, dated.problem, dated.offset_s) == (1, None, None)


def test_date_and_time_in_two_columns():
    days = [f"{w:%d/%m/%Y}" for w in YEAR]
    clocks = [f"{w:%H:%M:%S}" for w in YEAR]
    assert read(days, clocks).wall.to_list() == YEAR
    # As spreadsheets write them out again.
    midnights = [day + " 00:00:00" for day in days]
    noughts = ["30/12/1899 " + clock for clock in clocks]
    assert read(midnights, noughts).wall.to_list() == YEAR


def test_a_blank_time_falls_back_on_the_clock_beside_the_date():
    dated = read(["13/02/2025 10:00:00", "13/02/2025 00:00:00"], [None, "11:00:00"])
    assert [w.hour for w in dated.wall] == [10, 11]


def test_each_row_that_cannot_be_read_says_why():
    cells = written("%d/%m/%Y %H:%M:%S")
    odd = {
        3: (None, words.NO_DATE),
        4: ("  ", words.NO_DATE),
        5: ("31/04/2025 10:00:00", words.NO_SUCH_DATE),
        6: ("13/02/2025", words.NO_TIME_OF_DAY),
        7: ("13/02/2025 25:00:00", words.NO_SUCH_TIME_OF_DAY),
        8: ("13/02/2025 10:0x:00", words.NOT_A_TIME),
        9: ("*** printer fault", words.NOT_A_DATE),
        10: ("02/13/2025 10:00:00", words.OTHER_ORDER),
    }
    for row, (cell, _) in odd.items():
        cells[row] = cell
    dated = read(cells)
    assert dated.form.key == "day-first"
    for row, when in enumerate(YEAR):
        problem = odd[row][1] if row in odd else None
        assert dated.problem[row] == problem
        assert dated.wall[row] == (None if problem else when)


def test_unreadable_clock_beside_a_date():
    dated = read(["13/02/2025", "14/02/2025"], ["10:00", "noon"])
    assert dated.problem.to_list() == [None, words.NOT_A_TIME]


def test_dates_alone_are_not_the_time_of_an_event():
    dated = read([f"{w:%d/%m/%Y}" for w in YEAR])
    assert dated.wall.null_count() == len(YEAR)
    assert dated.problem.unique().to_list() == [words.NO_TIME_OF_DAY]


def test_many_broken_cells_do_not_lose_the_file():
    cells = written("%m/%d/%Y %H:%M:%S")
    cells[::3] = ["-- page break --"] * len(cells[::3])
    dated = read(cells)
    assert dated.form.key == "month-first"
    assert dated.wall.null_count() == len(cells[::3])


def test_a_column_of_two_orders_is_read_in_neither():
    cells = written("%d/%m/%Y %H:%M:%S")[:140] + written("%m/%d/%Y %H:%M:%S")[140:]
    dated = read(cells)
    assert dated.form is None
    assert dated.wall.null_count() == len(cells)
    assert words.NO_ONE_ORDER in dated.problem.to_list()


def test_iso_rows_among_others_are_read_too():
    cells = written("%d/%m/%Y %H:%M:%S")
    cells[::2] = written("%Y-%m-%d %H:%M:%S")[::2]
    assert read(cells).wall.to_list() == YEAR


def test_shift_told_by_some_rows():
    dated = read(["2025-03-01T10:00:00+11:00", "2025-03-01 10:00:00", "2025-03-01T10:00:00.5Z"])
    assert dated.offset_s.to_list() == [39600, None, 0]
    assert [w.microsecond for w in dated.wall] == [0, 0, 500_000]
    assert "the times themselves tell their shift from UTC" in dated.evidence


def test_fractions_beside_broken_cells():
    cells = [f"{w:%Y-%m-%dT%H:%M:%S}.{n:03}Z" for n, w in enumerate(YEAR)]
    cells[7] = "2025-02-01T10:15 a.m. Z"
    cells[8] = "lost power 10:1x"
    dated = read(cells)
    known = [n for n in range(len(YEAR)) if n != 8]
    assert dated.wall.null_count() == 1
    assert all(dated.wall[n].microsecond == n * 1000 for n in known if n != 7)
    assert dated.wall[7] == datetime(2025, 2, 1, 10, 15)
    assert dated.offset_s[0] == dated.offset_s[7] == 0


def test_end_of_day_and_noon():
    cells = ["13/02/2025 24:00:00", "13/02/2025 12:00 AM", "13/02/2025 12:00 PM"]
    walls = read(cells).wall
    assert [w.isoformat() for w in walls] == [
        "2025-02-14T00:00:00",
        "2025-02-13T00:00:00",
        "2025-02-13T12:00:00",
    ]


def test_grain():
    assert read(written("%d/%m/%Y %H:%M:%S")).grain == 1
    assert read(written("%d/%m/%Y %H:%M")).grain == 60
    assert read([f"{w:%d/%m/%Y %H:%M}:00" for w in YEAR]).grain == 60
    few = [f"{w:%d/%m/%Y %H:%M}:00" for w in YEAR[:40:2]]  # may well be chance
    assert read(few).grain == 1
    mostly = written("%d/%m/%Y %H:%M:%S")
    mostly[0] = "01/01/2025 06:15"
    assert read(mostly).grain == 1


def test_question_with_both_readings_of_a_cell():
    dated = read(["05/05/2025 10:00:00", "03/04/2025 10:00:00"])
    question = dated.question
    assert question.key == "dates"
    assert question.text == "Is 03/04/2025 3 April 2025 or 4 March 2025?"
    assert [c.value for c in question.choices] == ["day-first", "month-first"]
    assert question.choices[0].text == "day first: 03/04/2025 is 3 April 2025"
    assert (dated.form, dated.wall.null_count()) == (None, 2)


def test_the_answer_decides():
    cells = ["05/05/2025 10:00:00", "03/04/2025 10:00:00"]
    assert read(cells, answers={"dates": "day-first"}).wall[1].month == 4
    dated = read(cells, answers={"dates": "month-first"})
    assert dated.wall[1].month == 3
    assert dated.question is None
    assert "as answered" in dated.evidence[0]
    with pytest.raises(UsageError, match="day-first, month-first, year-first"):
        read(cells, answers={"dates": "dmy"})


def test_an_answer_does_not_beat_dates_that_do_not_exist():
    dated = read(written("%d/%m/%Y %H:%M:%S"), answers={"dates": "month-first"})
    assert dated.wall.to_list() == YEAR
    assert any("cannot be" in line for line in dated.evidence)
    quiet = read(
        written("%Y-%m-%d %H:%M:%S"), answers={"dates": "month-first"}
    )  # a remembered answer
    assert not any("cannot be" in line for line in quiet.evidence)


def test_readings_that_agree_are_no_question():
    dated = read(["05/05/2025 10:00:00", "06/06/2025 11:00:00"])
    assert dated.question is None
    assert [w.month for w in dated.wall] == [5, 6]


def test_nothing_to_read():
    for cells in ([], [None, None], ["", " "]):
        dated = read(cells)
        assert (dated.form, dated.question) == (None, None)
        assert dated.wall.null_count() == len(dated.wall) == len(cells)


def test_spaces_and_quotes_around_cells():
    assert read([" 13/02/2025 10:00:00 ", "'14/02/2025 9:00:00'"]).wall.null_count() == 0


def test_what_a_column_could_be():
    moments = pl.Series(written("%d/%m/%Y %H:%M:%S"))
    days = pl.Series([f"{w:%d/%m/%Y}" for w in YEAR] + [None, " "])
    clocks = pl.Series([f"{w:%I:%M %p}" for w in YEAR])
    accounts = pl.Series([f"{n:04}" for n in range(1000, 1060)])
    names = pl.Series(["Front door", "Boathouse 2", "Hall PIR 10:30"])
    assert [could_be_dates(c) for c in (moments, days, clocks, names)] == [1, 1, 0, 0]
    assert [could_be_moments(c) for c in (moments, days, clocks, names)] == [1, 0, 0, 0]
    assert [could_be_times(c) for c in (moments, days, clocks, names)] == [0, 0, 1, 0]
    assert could_be_times(accounts) == could_be_dates(accounts) == 0
    assert could_be_times(accounts, compact=True) == 1
    assert could_be_dates(pl.Series(["13/02/2025", "x", "y", "32/02/2025"])) == 0.25
    assert could_be_dates(pl.Series([None, ""], dtype=pl.String)) == 0


@settings(max_examples=60, deadline=None)
@given(st.lists(st.text(max_size=24) | st.sampled_from(written("%d/%m/%y %H:%M")), max_size=12))
def test_any_text_is_read_or_has_its_problem(cells):
    dated = read(cells)
    if dated.question is None:
        for row, wall in enumerate(dated.wall):
            assert (wall is None) == (dated.problem is not None and dated.problem[row] is not None)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.datetimes(datetime(2006, 1, 1), datetime(2026, 6, 29)), min_size=1, max_size=40),
    st.sampled_from(["%d/%m/%Y", "%m/%d/%Y", "%d.%m.%y", "%y-%m-%d", "%m-%d-%y"]),
)
def test_never_a_wrong_date_by_weekday_evidence(moments, form):
    """With its weekday beside each date no other reading may win."""
    cells = [f"{m:%a} {m.strftime(form)} {m:%H:%M:%S}" for m in moments]
    dated = read(cells)
    if dated.question is None:
        assert dated.wall.to_list() == [m.replace(microsecond=0) for m in moments]
