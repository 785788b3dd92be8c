"""Which evidence decides between day first and month first, one kind at a time.

Each column holds only days 1 to 12, so that no date is impossible in either order, unless said.
"""

# ruff: noqa: DTZ001 - wall times have no zone

from datetime import date, datetime, timedelta

import polars as pl
import pytest

from eventlab.meaning.dates import read_dates

TODAY = date(2026, 6, 30)
BOTH = {"day-first", "month-first"}
# The 3rd and 4th of each month of 2025: in both readings the years are the same.
SPREAD = [datetime(2025, month, day, 10, 0, day) for month in range(1, 13) for day in (3, 4)]


def read(cells, **more):
    return read_dates(pl.Series(cells, dtype=pl.String), None, **{"today": TODAY, **more})


def cells(moments, form="%d/%m/%Y"):
    return [m.strftime(form + " %H:%M:%S") for m in moments]


def shuffled(moments):
    return sorted(moments, key=lambda m: (m.day * 7 + m.month * 5) % 12)


def left(dated):
    return {c.value for c in dated.question.choices} if dated.question else {dated.form.key}


def test_without_evidence_it_is_asked():
    dated = read(cells(shuffled(SPREAD)))
    assert left(dated) == BOTH
    assert any("do not decide" in line for line in dated.question.evidence)


@pytest.mark.parametrize("form", ["%d/%m/%Y", "%m/%d/%Y"])
def test_one_day_above_twelve_decides_in_a_short_log(form):
    dated = read(cells([*shuffled(SPREAD), datetime(2025, 5, 13)], form))
    assert left(dated) == {"day-first" if form[1] == "d" else "month-first"}
    assert "is no date" in dated.evidence[0]


def test_one_broken_cell_does_not_beat_the_order_of_a_long_log():
    moments = [datetime(2025, 3, 1) + timedelta(minutes=8 * n) for n in range(2000)]
    dated = read([*cells(moments), "12/31/2025 10:00:00"])
    assert left(dated) == {"day-first"}
    assert dated.wall.null_count() == 1


def test_in_the_end_even_one_cell_decides():
    many = cells([m + timedelta(minutes=n) for n in range(100) for m in shuffled(SPREAD)])
    dated = read([*many, "12/31/2025 10:00:00"])
    assert left(dated) == {"month-first"}


@pytest.mark.parametrize("order", ["day-first", "month-first"])
def test_weekday_names(order):
    form = "%a %d/%m/%Y" if order == "day-first" else "%a %m/%d/%Y"
    dated = read(cells(shuffled(SPREAD), form))
    assert left(dated) == {order}
    assert "weekdays" in dated.evidence[0]


def test_a_weekday_that_contradicts_its_date_is_told():
    column = cells([datetime(2025, 3, n) for n in range(10, 31)], "%a %d/%m/%Y")
    column[4] = "Mon 20/03/2025 10:00:00"
    dated = read(column)
    assert left(dated) == {"day-first"}
    assert "rows that name another weekday than their date has: 1" in dated.evidence


@pytest.mark.parametrize("newest_first", [False, True])
@pytest.mark.parametrize("form", ["%d/%m/%Y", "%m/%d/%Y", "%d-%m-%y"])
def test_row_order(newest_first, form):
    moments = SPREAD[::-1] if newest_first else SPREAD
    dated = read(cells(moments, form))
    assert left(dated) == {"month-first" if form[1] == "m" else "day-first"}
    assert dated.wall.to_list() == moments
    assert any("order of time" in line for line in dated.evidence)


def test_row_order_bears_a_file_glued_together():
    moments = [datetime(2024, 1, 1) + timedelta(days=n) for n in range(300)]
    few = [m for m in moments if m.day <= 12]
    assert left(read(cells(few + few))) == {"day-first"}


def test_same_rows_in_other_orders_never_give_other_dates():
    """The first cell decides nothing: as in pandas issue 3341, from memory."""
    for turn in range(len(SPREAD)):
        turned = SPREAD[turn:] + SPREAD[:turn]
        dated = read(cells(turned, "%m/%d/%Y"))
        assert left(dated) in ({"month-first"}, BOTH)


@pytest.mark.parametrize(
    ("hint", "order"),
    [
        ("Printed 13/03/2026 09:00", {"day-first"}),
        ("Printed: 3/13/2026 9:00 AM", {"month-first"}),
        ("Period 01/02/2025 - 28/02/2026", {"day-first"}),
        ("Software 4.10.22, 24 points", BOTH),
        ("Installed 25/12/2019", BOTH),
        ("Notes: relay changed 12/25/2019", BOTH),
        ("Tarn Valley Libraries and Museums", BOTH),
    ],
)
def test_dates_around_the_table(hint, order):
    assert left(read(cells(shuffled(SPREAD)), hints=["Event log", hint])) == order


def test_date_of_printing_bounds_the_rows():
    # 1 to 5 March, or the 3rd of January to May; printed on 6 March.
    moments = [datetime(2025, 3, day, 10) for day in (4, 1, 5, 2, 3)]
    assert left(read(cells(moments))) == BOTH
    dated = read(cells(moments), hints=["Printed 6 March 2025"])
    assert left(dated) == {"day-first"}
    assert "beside the table" in dated.evidence[0]


def test_period_bounds_the_rows_on_both_sides():
    moments = [datetime(2025, 2, day, 10) for day in (4, 7, 5, 6, 3)]
    dated = read(cells(moments), hints=["From 1 Feb 2025 to 28 Feb 2025"])
    assert left(dated) == {"day-first"}


def test_nothing_lies_in_the_future():
    # 1 to 9 June 2026, or the 6th of January to September.
    moments = [datetime(2026, 6, day, 10) for day in (4, 9, 1, 8)]
    dated = read(cells(moments))
    assert left(dated) == {"day-first"}
    assert "future" in dated.evidence[0]
    assert left(read(cells(moments), today=date(2027, 6, 1))) == BOTH


def test_two_figure_years_are_not_read_years_back():
    # Year first these would be days of 2001 to 2012.
    moments = [datetime(2025, 3, day, 10) for day in (4, 1, 12, 2, 3)]
    assert left(read(cells(moments, "%d/%m/%y"))) == BOTH


def test_reset_clocks_are_no_evidence():
    moments = [datetime(2026, 6, day, 10) for day in (4, 9, 1, 8)]
    resets = [datetime(2000, 1, 1)] * 3
    assert left(read(cells(moments + resets))) == {"day-first"}


def test_days_that_follow_each_other():
    # 1 to 12 March, ten rows a day; month first the 3rd of each month.
    moments = [datetime(2025, 3, day, hour) for day in range(1, 13) for hour in range(8, 18)]
    dated = read(cells(moments))
    assert left(dated) == {"day-first"}
    assert any("follow each other" in line for line in dated.evidence)
    # One row on each date may as well be a monthly test: it is asked.
    assert left(read(cells(moments[::10]))) == BOTH


def test_a_stray_cell_in_an_iso_column_is_no_question():
    moments = [datetime(2025, 3, 1) + timedelta(hours=7 * n) for n in range(100)]
    dated = read([*cells(moments, "%Y-%m-%d"), "05/06/2025 10:00:00"])
    assert left(dated) == {"year-first"}
    assert dated.wall.null_count() == 1


@pytest.mark.parametrize("form", ["%d/%m/%Y", "%m/%d/%Y", "%y/%m/%d"])
@pytest.mark.parametrize("sites", [1, 7])
def test_whole_years_of_logs(form, sites):
    """Site after site in one export: the order turns back at each."""
    year = [datetime(2025, 1, 1) + timedelta(hours=11 * n) for n in range(700)]
    dated = read(cells(year * sites, form))
    assert dated.wall.to_list() == year * sites


def test_the_day_of_installing_bounds_no_rows():
    # Two-figure years: year first they would be of 2010, before the day of installing.
    rows = cells([datetime(2025, 11, 10, 18, minute) for minute in range(8)], "%d.%m.%y")
    assert len(left(read(rows, hints=["System 4.2, installed 17/10/2023"]))) > 1
