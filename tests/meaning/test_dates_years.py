"""Dates that tell no year: where it turns, which one it is, and when it must be asked."""

# ruff: noqa: DTZ001 - wall times have no zone

from datetime import date, datetime, timedelta

import polars as pl
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from eventlab.meaning import dated as words
from eventlab.meaning.dates import read_dates

TODAY = date(2026, 6, 30)
WINTER = [datetime(2024, 11, 20, 6, 15) + timedelta(hours=31 * n) for n in range(90)]


def read(cells, **more):
    return read_dates(pl.Series(cells, dtype=pl.String), None, **{"today": TODAY, **more})


def cells(moments, form="%d/%m"):
    return [m.strftime(form + " %H:%M:%S") for m in moments]


def years(dated):
    return [choice.value for choice in dated.question.choices]


@pytest.mark.parametrize("form", ["%d/%m", "%m-%d", "%d %b", "%b %d", "%A %d.%m."])
@pytest.mark.parametrize("turned", [False, True])
def test_the_day_of_printing_tells_the_year_and_rows_where_it_turns(form, turned):
    moments = WINTER[::-1] if turned else WINTER
    dated = read(cells(moments, form), hints=["Printed 20/03/2025 09:00"])
    assert dated.question is None
    assert dated.wall.to_list() == moments
    assert dated.settled == {"year": str(moments[-1].year)}
    assert dated.form.text.endswith("no year, 24-hour clock")


@pytest.mark.parametrize("turned", [False, True])
def test_without_evidence_it_is_asked_and_the_answer_decides(turned):
    moments = WINTER[::-1] if turned else WINTER
    dated = read(cells(moments))
    assert dated.question.key == "year"
    assert dated.question.text.endswith(f"In which year is the last row, {moments[-1]:%d/%m}?")
    assert years(dated)[0] == ("2025" if turned else "2026")
    assert dated.wall.null_count() == len(moments)
    told = str(moments[-1].year)
    again = read(cells(moments), answers={"year": told})
    assert again.wall.to_list() == moments
    assert again.answered == {"year"}
    # What was settled is the same when it is read again, later.
    later = read(cells(moments), answers=again.settled, today=date(2031, 1, 1))
    assert later.wall.to_list() == moments


def test_an_older_year_than_the_choices_may_be_answered():
    dated = read(cells(WINTER), answers={"year": "2013"})
    assert dated.wall[-1].year == 2013
    assert read(cells(WINTER), answers={"year": "1999"}).question.key == "year"


def test_no_row_is_in_the_future():
    # On 30 June 2026 a December can only be of 2025 or before.
    dated = read(cells([datetime(2025, 12, 3, 10), datetime(2025, 12, 4, 10)], "%d %b"))
    assert years(dated)[0] == "2025"


def test_a_period_tells_the_year():
    told = ["Period: 20/11/2024 - 20/03/2025"]
    assert read(cells(WINTER), hints=told).wall.to_list() == WINTER


def test_a_date_of_another_thing_tells_nothing():
    for line in ("Installed 20/03/2025", "Firmware 2.1 (20/03/2025)"):
        assert read(cells(WINTER), hints=[line]).question.key == "year"


def test_a_log_printed_long_after_is_not_moved_by_it():
    # Printed in March, the last row in November: of the year before.
    moments = [datetime(2024, 11, day, 10) for day in range(1, 29)]
    dated = read(cells(moments, "%d %b"), hints=["Printed 13 March 2025"])
    assert dated.wall.to_list() == moments


def test_weekdays_leave_the_years_that_have_them():
    # 3 March was a Monday in 2025, 2014 and 2008 (a perpetual calendar, from memory).
    moments = [datetime(2025, 3, 3, 10), datetime(2025, 3, 4, 10), datetime(2025, 3, 5, 10)]
    dated = read(cells(moments, "%a %d %b"))
    assert years(dated) == ["2025", "2014", "2008"]
    assert any("weekdays" in line for line in dated.question.evidence)
    answered = read(cells(moments, "%a %d %b"), answers={"year": "2014"})
    assert answered.wall[0] == datetime(2014, 3, 3, 10)


def test_29_february_leaves_leap_years_and_with_its_weekday_one():
    moments = [datetime(2024, 2, day, 10) for day in (27, 28, 29)] + [datetime(2024, 3, 1, 10)]
    assert years(read(cells(moments))) == ["2024", "2020", "2016", "2012", "2008"]
    dated = read(cells(moments, "%A %d/%m"))
    assert dated.wall.to_list() == moments
    assert read(cells(moments), answers={"year": "2023"}).question.key == "year"


def test_evidence_against_evidence_is_asked():
    moments = [datetime(2024, 2, day, 10) for day in (26, 27, 28, 29)]
    dated = read(cells(moments, "%A %d/%m"), hints=["Printed 03/03/2021"])
    assert dated.question.key == "year"
    assert any("against the other" in line for line in dated.question.evidence)


def test_rows_that_tell_their_year_tell_that_of_the_others():
    texts = cells(WINTER)
    texts[3] = f"{WINTER[3]:%d/%m/%Y %H:%M:%S}"
    assert read(texts).wall.to_list() == WINTER


def test_a_long_silence_over_new_year_is_asked():
    # Forwards: from November to March, or silent from March to November?
    moments = [datetime(2024, 3, day, 10) for day in range(1, 20)]
    moments += [datetime(2024, 11, day, 10) for day in range(20, 29)]
    dated = read(cells(moments), hints=["Printed 01/12/2024"])
    assert (dated.question.key, years(dated)) == ("year", ["2024", "2023"])
    answered = read(cells(moments), hints=["Printed 01/12/2024"], answers={"year": "2024"})
    assert answered.wall.to_list() == moments
    assert answered.settled == {"year": "2024", "first-year": "2024"}


def test_day_and_month_are_told_by_order_also_without_years():
    moments = [datetime(2025, 3, day, hour) for day in range(1, 13) for hour in range(8, 18)]
    dated = read(cells(moments, "%m/%d"), answers={"year": "2025"})
    assert dated.wall.to_list() == moments
    few = [datetime(2025, 3, 4, 10)]
    assert read(cells(few), answers={"year": "2025"}).question.key == "dates"
    both = read(cells(few), answers={"year": "2025", "dates": "month-first"})
    assert both.wall.to_list() == [datetime(2025, 4, 3, 10)]


def test_sites_one_below_the_other():
    site = pl.Series(["A"] * len(WINTER) + ["B"] * len(WINTER) + ["C"])
    odd = datetime(2024, 8, 1, 10)  # silent since August
    moments = [*WINTER, *WINTER, odd]
    dated = read(cells(moments), hints=["Printed 20/03/2025"], site=site)
    assert dated.wall.to_list() == moments
    # Without the day of printing its year may be any: the answer is for the others.
    dated = read(cells(moments), answers={"year": "2025"}, site=site)
    assert dated.wall[:-1].to_list() == [*WINTER, *WINTER]
    assert dated.problem[-1] == words.NO_YEAR_TOLD


def test_a_cell_without_a_year_among_others_is_unread():
    texts = [f"{m:%d/%m/%Y %H:%M:%S}" for m in WINTER]
    texts[5] = f"{WINTER[5]:%d/%m %H:%M:%S}"
    dated = read(texts)
    assert dated.problem[5] == words.NO_YEAR_TOLD
    assert dated.wall.null_count() == 1


def test_days_that_do_not_exist_are_unread():
    texts = cells(WINTER)
    texts[7], texts[8] = "31/04 10:00:00", "30/02 10:00:00"
    dated = read(texts, hints=["Printed 20/03/2025"])
    assert [dated.problem[row] for row in (7, 8)] == [words.NO_SUCH_DATE] * 2
    assert dated.wall.null_count() == 2


@settings(max_examples=25, deadline=None)
@given(
    first=st.datetimes(datetime(2006, 1, 1), datetime(2024, 1, 1)),
    hours=st.lists(st.integers(0, 24 * 90), min_size=1, max_size=60),
    form=st.sampled_from(["%d/%m", "%m-%d", "%d %b", "%a %d %b"]),
    turned=st.booleans(),
    printed=st.integers(0, 60),
)
def test_never_a_wrong_year(first, hours, form, turned, printed):
    moments = [first.replace(microsecond=0)]
    for step in hours:
        moments.append(moments[-1] + timedelta(hours=step))
    assume(moments[-1] < datetime(2026, 5, 1))
    line = f"Printed {moments[-1] + timedelta(days=printed):%d %B %Y}"
    shown = moments[::-1] if turned else moments
    dated = read(cells(shown, form), hints=[line])
    if dated.question is None:
        known = [wall for wall in dated.wall if wall is not None]
        assert known == shown
    else:
        order = "month-first" if form == "%m-%d" else "day-first"
        said = {"dates": order, "year": str(shown[-1].year), "first-year": str(shown[0].year)}
        assert read(cells(shown, form), hints=[line], answers=said).wall.to_list() == shown
