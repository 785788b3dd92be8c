"""Dates that stand once: in lines of their own between the rows, or above the table."""

# ruff: noqa: DTZ001 - wall times have no zone

from datetime import datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.meaning.exports import reading

NIGHTS = [datetime(2025, 3, 3, 6, 15) + timedelta(hours=5 * n, seconds=n) for n in range(60)]
FORMS = {
    "words": lambda w: f"{w:%A} {w.day} {w:%B %Y}",
    "figures": lambda w: f"--- {w:%d/%m/%Y} ---",
    "named": lambda w: f"Date: {w:%d/%m/%Y}",
    "a cell": lambda w: f"{w:%d/%m/%Y},,",
    "brackets": lambda w: f"[{w:%Y-%m-%d}]",
    "again": lambda w: f"{w:%A} {w.day} {w:%B %Y} (continued)",
}


def listing(moments, form=FORMS["words"], head="Time,Zone,Event"):
    lines, day = [head], None
    for number, when in enumerate(moments):
        if when.date() != day:
            day = when.date()
            lines.append(form(when))
        lines.append(f"{when:%H:%M:%S},{number % 4 + 1},Zone alarm")
    return "\n".join(lines) + "\n"


def walls(found):
    assert not found.questions, found.questions
    return found.events["wall"].to_list()


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("turned", [False, True])
def test_a_date_stands_above_the_rows_of_its_day(form, turned):
    moments = NIGHTS[::-1] if turned else NIGHTS
    found = reading(listing(moments, FORMS[form]))
    assert walls(found) == moments
    assert found.unread == 0
    assert found.heads == len({when.date() for when in moments})
    assert any("line of its own" in line for line in found.evidence)


def test_the_date_in_a_row_of_its_own_date_column():
    lines = ["Date,Time,Zone,Event"]
    for when in NIGHTS:
        if f"{when:%d/%m/%Y},,," not in lines:
            lines.append(f"{when:%d/%m/%Y},,,")
        lines.append(f",{when:%H:%M:%S},1,Zone alarm")
    assert walls(reading("\n".join(lines) + "\n")) == NIGHTS


@pytest.mark.parametrize("turned", [False, True])
def test_the_date_only_in_the_first_stamp_of_each_day(turned):
    lines, day = ["When,Zone,Event"], None
    shown = NIGHTS[::-1] if turned else NIGHTS
    for when in shown:
        stamp = f"{when:%H:%M:%S}" if when.date() == day else f"{when:%d/%m/%Y %H:%M:%S}"
        day = when.date()
        lines.append(f"{stamp},1,Zone alarm")
    assert walls(reading("\n".join(lines) + "\n")) == shown


def test_pages_repeat_the_heading_and_the_date():
    lines = ["Tarn Valley Libraries and Museums", "Page 1", "Monday 3 March 2025"]
    page, day = 1, NIGHTS[0].date()
    lines.append("Time,Zone,Event")
    for number, when in enumerate(NIGHTS):
        if number and number % 10 == 0:
            page += 1
            lines += [f"Page {page}", f"{when:%A} {when.day} {when:%B %Y}", "Time,Zone,Event"]
        elif when.date() != day:
            lines.append(f"{when:%A} {when.day} {when:%B %Y}")
        day = when.date()
        lines.append(f"{when:%H:%M:%S},{number % 4 + 1},Zone alarm")
    assert walls(reading("\n".join(lines) + "\n")) == NIGHTS


def test_lines_like_those_above_the_table_are_dates_all_the_same():
    # "03/03/2025" above the table makes "04/03/2025" look like what a page repeats.
    text = "03/03/2025\n" + listing(NIGHTS, lambda w: f"{w:%d/%m/%Y}").replace(
        "Event\n03/03/2025\n", "Event\n"
    )
    assert walls(reading(text)) == NIGHTS


def test_figures_in_such_lines_are_asked_about_like_others():
    few = [when for when in NIGHTS if when.day in {4, 5}]
    found = reading(listing(few, FORMS["figures"]))
    assert [question.key for question in found.questions] == ["dates"]
    assert walls(reading(listing(few, FORMS["figures"]), answers={"dates": "day-first"})) == few


def test_rows_above_the_first_date_are_unread():
    found = reading(listing(NIGHTS).replace("Monday 3 March 2025\n", ""))
    assert found.unread == sum(when.day == 3 for when in NIGHTS)
    assert found.read + found.unread == len(NIGHTS)
    assert "there is no date" in found.events["problem"].to_list()


def test_where_rows_tell_their_dates_a_date_alone_is_a_damaged_row():
    rows = [f"{when:%Y-%m-%d %H:%M:%S},1,Zone alarm" for when in NIGHTS]
    text = "\n".join(["When,Zone,Event", *rows[:9], "2025-03-05,,", "2025-03-05", *rows[9:]])
    found = reading(text + "\n")
    assert (found.heads, found.unread, found.read) == (0, 2, len(NIGHTS))


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize(
    "line", ["Date: 3 March 2025", "Monday 3 March 2025", "Datum: 3. März 2025"]
)
def test_one_date_above_the_table_and_rows_past_midnight(turned, line):
    night = [datetime(2025, 3, 3, 19) + timedelta(minutes=47 * n) for n in range(14)]
    shown = night[::-1] if turned else night
    rows = [f"{when:%H:%M:%S},1,Zone alarm" for when in shown]
    found = reading("\n".join([line, "Time,Zone,Event", *rows]) + "\n")
    assert walls(found) == shown
    assert any("of the next day" in line for line in found.evidence)


def test_a_period_around_one_night_gives_the_dates():
    night = [datetime(2025, 3, 3, 19) + timedelta(minutes=47 * n) for n in range(14)]
    rows = [f"{when:%H:%M:%S},1,Zone alarm" for when in night]
    told = "Events from 03.03.2025 18:00 to 04.03.2025 08:00"
    other = "Period: 3 March 2025 18:00 - 4 March 2025 08:00"
    body = "\n".join(["Time,Zone,Event", *rows]) + "\n"
    assert walls(reading(f"{other}\n{body}")) == night
    assert [q.key for q in reading(f"{told}\n{body}").questions] == ["date"]  # or 3 April


@pytest.mark.parametrize("turned", [False, True])
def test_times_without_any_date_are_asked_for_it(turned):
    night = [datetime(2025, 3, 3, 19) + timedelta(minutes=47 * n) for n in range(14)]
    shown = night[::-1] if turned else night
    rows = [f"{when:%H:%M:%S},1,Zone alarm" for when in shown]
    text = "\n".join(["Time,Zone,Event", *rows]) + "\n"
    (question,) = reading(text).questions
    assert question.key == "date"
    assert f"the last row, {shown[-1]:%H:%M:%S}?" in question.text
    found = reading(text, answers={"date": shown[-1].date().isoformat()})
    assert walls(found) == shown
    assert found.answered == {"date"}
    assert walls(reading(text, answers=found.settled)) == shown


def test_two_rows_at_night_may_run_either_way():
    text = "Date: 3 March 2025\nTime,Zone,Event\n23:10:00,1,Zone alarm\n01:15:00,2,Zone alarm\n"
    assert [question.key for question in reading(text).questions] == ["row-order"]
    oldest = walls(reading(text, answers={"row-order": "oldest-first"}))
    assert oldest == [datetime(2025, 3, 3, 23, 10), datetime(2025, 3, 4, 1, 15)]
    newest = walls(reading(text, answers={"row-order": "newest-first"}))
    assert newest == [datetime(2025, 3, 3, 23, 10), datetime(2025, 3, 3, 1, 15)]


def test_a_time_that_turns_back_by_hours_is_asked_about():
    clocks = ["08:00", "09:00", "10:00", "11:00", "16:00", "12:30", "13:00", "14:00"]
    rows = "".join(f"{clock}:07,1,Zone alarm\n" for clock in clocks)
    text = f"Date: 3 March 2025\nTime,Zone,Event\n{rows}"
    (question,) = reading(text).questions
    assert question.key == "midnight"
    assert "from 16:00:07 to 12:30:07" in question.text
    same = walls(reading(text, answers={"midnight": "same-day"}))
    assert {when.day for when in same} == {3}
    following = walls(reading(text, answers={"midnight": "next-day"}))
    assert [when.day for when in following] == [3] * 5 + [4] * 3


def test_impossible_times_of_day_are_unread_where_they_stand():
    text = listing(NIGHTS).replace("06:15:00,", "25:61:00,", 1)
    found = reading(text)
    assert found.unread == 1
    assert "there is no such time of day" in found.events["problem"].to_list()


@settings(max_examples=8, deadline=None)
@given(
    st.lists(st.integers(1, 40), min_size=1, max_size=50),
    st.sampled_from(["words", "brackets"]),
    st.booleans(),
)
def test_never_another_day(hours, form, turned):
    moments = [datetime(2025, 3, 3, 6, 15)]
    for step in hours:
        moments.append(moments[-1] + timedelta(hours=step))
    shown = moments[::-1] if turned else moments
    found = reading(listing(shown, FORMS[form]))
    if not found.questions:
        assert found.events["wall"].to_list() == shown
