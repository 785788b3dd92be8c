"""What a row that a clock was set tells of the old time and the new.

Wordings are common practice of panels' logs; none is that of a product.
"""

from datetime import datetime, timedelta

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eventlab.meaning.clock_told import plain_setting, set_by


def told(text, wall):
    return set_by(pl.Series([text]), pl.Series([datetime.fromisoformat(wall)])).to_list()[0]


@pytest.mark.parametrize(
    ("text", "wall", "seconds"),
    [
        ("Time changed 09:32:00 -> 09:28:10", "2024-03-03 09:32", -230),
        ("Time changed (was 23:59:00)", "2024-03-03 00:01", 120),
        ("Clock set to 12:00", "2024-03-04 11:50", 600),
        ("Clock adjusted by -120 s", "2024-03-04 11:50", -120),
        ("Clock adjusted +2 min", "2024-03-04 11:50", 120),
        ("new 04/03/2024 09:33 old 04/03/2024 09:35", "2024-03-04 09:33", -120),
        ("Uhr gestellt von 23:58 auf 00:03", "2024-03-04 00:03", 300),
        (
            "Clock set from 2000-01-01 00:20:00 to 2024-03-02 09:31:00",
            "2024-03-02 09:31",
            762685860,
        ),
    ],
)
def test_by_how_much(text, wall, seconds):
    assert told(text, wall) == [seconds]


def test_day_and_month_that_can_be_read_both_ways_stay_open():
    both = told("Clock set from 01/01/2000 00:20:00 to 02/03/2024 09:31:00", "2000-01-01 00:20")
    assert len(both) == 2
    # The row's own time decides where it bears the new one.
    one = told("Clock set from 01/01/2000 00:20:00 to 02/03/2024 09:31:00", "2024-03-02 09:31")
    assert one == [762685860]


@pytest.mark.parametrize(
    "text",
    ["Clock set", "Clock set 12:00", "Clock set from 25:99 to 31/02/2024 10:00", "", None,
     "Clock set from 01/01/2001 00:20:00 to 02/03/2011 09:31:00", "10:00 11:00 12:00"],
)  # fmt: skip
def test_what_does_not_tell_both_tells_nothing(text):
    assert told(text, "2024-03-04 11:50") == []


@given(
    st.datetimes(datetime(2001, 1, 1), datetime(2030, 1, 1)),  # noqa: DTZ001 - wall times
    st.integers(-40_000, 40_000),
    st.booleans(),
)
def test_any_setting_is_read_back(old, seconds, bears_new):
    old = old.replace(microsecond=0)
    new = old + timedelta(seconds=seconds)
    text = f"Clock set from {old:%d/%m/%Y %H:%M:%S} to {new:%d/%m/%Y %H:%M:%S}"
    found = told(text, (new if bears_new else old).isoformat())
    assert seconds in found


@settings(max_examples=50)
@given(st.text(max_size=60))
def test_no_text_stops_it(text):
    assert isinstance(told(text, "2024-03-04 11:50"), list)


def test_the_times_of_a_setting_are_no_part_of_its_wording():
    texts = pl.Series([
        "Clock set from 01/01/2000 00:20:00 to 02/03/2024 09:31:00",
        "Time/date changed (was 03/03/2024 09:35:00)",
        "Zone 12 alarm 10:20",
        "Clock set",
        None,
    ])  # fmt: skip
    assert plain_setting(texts).to_list() == [
        *("Clock set", "Time/date changed", "Zone 12 alarm 10:20", "Clock set", None)
    ]
