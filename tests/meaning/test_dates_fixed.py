"""Stamps that are all alike are read the short way; it gives what the long way gives."""

from datetime import datetime

import numpy as np
import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eventlab.intake.distinct import distinct, numbered
from eventlab.meaning import date_texts
from eventlab.meaning.date_fixed import cut_fixed
from eventlab.meaning.dates import read_dates

FORMS = ["%Y-%m-%d %H:%M:%S", "%d/%m/%Y %H:%M:%S", "%d.%m.%y, %H:%M:%S", "%a %d %b %Y %H:%M:%S"]
FIRST, LAST = datetime(2020, 1, 1), datetime(2030, 1, 1)  # noqa: DTZ001 - wall times


def both(cells):
    """Read cells the short way if it can be gone, and the long way."""
    short = read_dates(cells, None, answers={"dates": "day-first"})
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(date_texts, "cut_fixed", lambda _: None)
        return short, read_dates(cells, None, answers={"dates": "day-first"})


def assert_alike(cells):
    short, long = both(cells)
    assert short.wall.equals(long.wall, null_equal=True)
    assert (short.grain, short.form, short.evidence) == (long.grain, long.form, long.evidence)
    if short.problem is None:
        assert long.problem is None
    else:
        assert short.problem.equals(long.problem, null_equal=True)


@settings(deadline=None, max_examples=60)
@given(
    form=st.sampled_from(FORMS),
    times=st.lists(st.datetimes(FIRST, LAST), min_size=1, max_size=60),
    ordered=st.booleans(),
    minutes=st.booleans(),
)
def test_short_and_long_way_give_the_same(form, times, ordered, minutes):
    if ordered:
        times = sorted(times)
    if minutes:
        times = [time.replace(second=0) for time in times]
    cells = pl.Series([time.strftime(form) for time in times])
    assert cut_fixed(cells) is not None
    assert_alike(cells)


@pytest.mark.parametrize(
    "odd",
    [
        None,
        "",
        "2025-03-01 24:00:00",
        "2025-03-01 22:15:60",
        "2025-03-01 22:15:0x",
        "2025-03-01 22:15-00",
        "2025-03-01 2:15:001",
        "2025:03-01 22:15:00",
        "2025-03-0122:15:000",
        "2025-03-01T22:15:00",
        "x025-03-01 22:15:00",
        "2025-02-30 22:15:00",
        "2025-03-01 22:15:0é",
    ],
)
def test_one_cell_that_is_otherwise_changes_nothing(odd):
    good = [f"2025-03-{day:02} 22:{day + 10}:{day + 20}" for day in range(1, 29)]
    for place in (0, 14, 28):
        assert_alike(pl.Series([*good[:place], odd, *good[place:]], dtype=pl.String))


def test_a_date_glued_to_the_time_is_not_read_the_short_way():
    glued = pl.Series(["2025-03-0122:15:00", "2025-03-0222:15:00"])
    assert cut_fixed(glued) is not None
    assert_alike(glued)


def test_every_second_of_a_day_is_read():
    second = np.arange(86_400)
    cells = pl.Series(
        [f"2025-03-01 {s // 3600:02}:{s // 60 % 60:02}:{s % 60:02}" for s in second.tolist()]
    )
    found = cut_fixed(cells)
    assert found is not None
    assert (found[2] == second * 1_000_000).all()
    for byte in range(256):  # no other byte passes for a figure or a colon
        for place in range(11, 19):
            text = bytearray(b"2025-03-01 11:11:11")
            text[place] = byte
            cell = pl.Series([bytes(text)], dtype=pl.Binary)
            try:
                cell = cell.cast(pl.String)
            except pl.exceptions.PolarsError:
                continue
            figure = chr(byte).isdigit() and byte < 128
            fits = byte == ord(":") if place in {13, 16} else figure
            if fits and place == 11:
                fits = byte <= ord("2")
            if fits and place in {14, 17}:
                fits = byte <= ord("5")
            assert (cut_fixed(cell) is not None) == fits


@given(st.lists(st.sampled_from([None, "", "a", "ä", "b" * 40]), max_size=40))
def test_numbers_of_distinct_texts(cells):
    series = pl.Series("c", cells, dtype=pl.String)
    assert numbered(series).cast(pl.String).equals(series, null_equal=True)
    texts, code = distinct(series)
    assert texts.gather(code).equals(series, null_equal=True)
    assert texts.n_unique() == len(texts) == len({*cells} - {None})


def test_texts_that_the_sample_missed_are_found(monkeypatch):
    monkeypatch.setattr("eventlab.intake.distinct._SAMPLE", 2)
    series = pl.Series([str(n) for n in range(50)])
    assert numbered(series).cast(pl.String).equals(series)
    assert numbered(series, most=49) is None
    assert numbered(series, most=50) is not None
