"""What is written is read again: forms, time zones, both directions; exports made up by the dozen.

Zones against the tz database through ``zoneinfo``.
"""

# ruff: noqa: DTZ001 - wall times have no zone

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eventlab.meaning.clock import to_utc
from eventlab.meaning.dates import read_dates
from tests.benchmarks.dates import exports, judge
from tests.meaning.exports import reading

TODAY = date(2026, 6, 30)
FORMS = {
    "%d/%m/%Y %H:%M:%S": "day-first",
    "%m/%d/%Y %I:%M:%S %p": "month-first",
    "%d.%m.%y %H.%M.%S": "day-first",
    "%y-%m-%d %H:%M:%S": "year-first",
    "%Y-%m-%dT%H:%M:%S": "year-first",
    "%Y%m%d%H%M%S": "year-first",
    "%A %d/%m/%Y %H:%M:%S": "day-first",
    "%a, %b %d %Y %H:%M:%S": "day-first",
    "%H:%M:%S %d-%b-%y": "day-first",
    "%d/%m/%Y %H:%M:%S,%f": "day-first",
}
ZONES = ("Europe/London", "Australia/Lord_Howe", "America/St_Johns", "Asia/Kathmandu", "UTC")

instants = st.datetimes(datetime(2006, 1, 1), datetime(2026, 6, 1))


@settings(max_examples=25, deadline=None)
@given(
    st.lists(instants, min_size=1, max_size=40, unique=True),
    st.sampled_from(sorted(FORMS)),
    st.sampled_from(ZONES),
    st.sampled_from(["forward", "backward"]),
)
def test_forms_zones_directions(instants, form, zone, direction):
    if not form.endswith("%f"):
        instants = [when.replace(microsecond=0) for when in instants]
    ordered = sorted(when.replace(tzinfo=UTC) for when in instants)
    if direction == "backward":
        ordered.reverse()
    local = [when.astimezone(ZoneInfo(zone)) for when in ordered]
    cells = pl.Series([when.strftime(form) for when in local])
    dated = read_dates(cells, None, today=TODAY)
    if dated.question is not None:
        dated = read_dates(cells, None, today=TODAY, answers={"dates": FORMS[form]})
    assert dated.wall.to_list() == [when.replace(tzinfo=None) for when in local]
    frame = dated.wall.to_frame("wall").with_columns(time_zone=pl.lit(zone), site=pl.lit("A"))
    placed = to_utc(frame, now=datetime(2026, 6, 30, tzinfo=UTC))
    for found, true in zip(placed["at"], ordered, strict=True):
        assert found is None or found == true  # a repeated hour may stay doubtful


@settings(max_examples=20, deadline=None)
@given(
    st.lists(instants, min_size=1, max_size=40),
    st.integers(-14 * 4, 14 * 4),
    st.sampled_from(["", ":"]),
)
def test_shifts_told_in_the_text(moments, quarters, colon):
    sign = "-" if quarters < 0 else "+"
    hours, minutes = divmod(abs(quarters) * 15, 60)
    tail = f"{sign}{hours:02}{colon}{minutes:02}"
    dated = read_dates(
        pl.Series([f"{m:%Y-%m-%d %H:%M:%S.%f}{tail}" for m in moments]), None, today=TODAY
    )
    assert dated.wall.to_list() == moments
    assert dated.offset_s.unique().to_list() == [quarters * 900]


@settings(max_examples=15, deadline=None)
@given(
    st.lists(instants, min_size=20, max_size=60),
    st.sampled_from(["31/04/2025", "30/02/2025", "29/02/2025", "31/11/2024", "00/05/2025"]),
    st.sampled_from(["25:61:00", "24:30:00", "12:60:00"]),
)
def test_impossible_dates_and_times_are_unread_and_move_nothing(moments, day, clock):
    moments = [when.replace(microsecond=0) for when in moments]
    cells = [f"{when:%d/%m/%Y %H:%M:%S}" for when in moments]
    cells[5], cells[9] = f"{day} 10:00:00", f"13/02/2025 {clock}"
    dated = read_dates(pl.Series(cells), None, today=TODAY, answers={"dates": "day-first"})
    assert dated.wall[5] is None
    assert dated.wall[9] is None
    assert dated.problem[5].startswith("there is no such date")
    assert dated.problem[9].startswith("there is no such time")
    rest = [n for n in range(len(moments)) if n not in {5, 9}]
    assert [dated.wall[n] for n in rest] == [moments[n] for n in rest]


def test_evidence_against_evidence_is_asked():
    # Rows in order of time month first only; the line above is written day first.
    moments = [datetime(2025, 3, 2, 10) + timedelta(days=3 * n) for n in range(60)]
    moments = [when for when in moments if when.day <= 12]
    cells = pl.Series([f"{when:%m/%d/%Y %H:%M:%S}" for when in moments])
    sure = read_dates(cells, None, today=TODAY)
    assert sure.form.key == "month-first"
    torn = read_dates(cells, None, today=TODAY, hints=["Printed 25/09/2025"])
    assert torn.question.key == "dates"
    assert any("against the other" in line for line in torn.question.evidence)


@pytest.mark.slow
@pytest.mark.timeout(1200)
def test_made_up_exports_are_never_read_wrong():
    verdicts = [judge(export)[0] for _, _, _, export in exports(12, 5_000)]
    assert len(verdicts) > 300
    assert {"wrong", "unread"}.isdisjoint(verdicts)
    assert verdicts.count("right") > 0.7 * len(verdicts)


@pytest.mark.parametrize("form", ["%d/%m/%Y", "%m/%d/%Y"])
def test_a_column_of_weekdays_is_evidence(form):
    days = [date(2025, month, day) for month in (3, 1, 2) for day in (4, 7, 2)]
    rows = "".join(f"{day:%a},{day.strftime(form)},10:00:00,1,Zone alarm\n" for day in days)
    found = reading("Day,Date,Time,Zone,Event\n" + rows)
    assert not found.questions
    assert [wall.date() for wall in found.events["wall"]] == days
