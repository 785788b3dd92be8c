"""Ways of writing a date and a time of day, one text at a time.

ISO 8601 and POSIX ``%y`` from memory; the other ways are common practice.
"""

import itertools
import zoneinfo
from datetime import date, datetime, timedelta
from importlib import resources

import polars as pl
import pytest

from eventlab.meaning.date_cuts import cut, cut_alike, cut_with_care
from eventlab.meaning.date_forms import ORDERS, read_clock_texts, read_date_texts
from eventlab.meaning.date_screens import may_be_clock, may_hold_date

D, M, Y = ORDERS


def days(text):
    row = read_date_texts(pl.Series([text])).row(0, named=True)
    read = [None if row[o] is None else date(1970, 1, 1) + timedelta(days=row[o]) for o in ORDERS]
    return (*read, row["native"], row["weekdays"])


@pytest.mark.parametrize(
    "text",
    [
        "2025-03-01",
        "2025/3/1",
        "2025.03.01",
        "2025-03-01T",
        "20250301",
        "2025-Mar-01",
        "1 March 2025",
        "01-Mar-25",
        "1. Mar 2025",
        "1mar2025",
        "1st March 2025",
        "Mar 1, 2025",
        "March 1 2025",
        "Mar  1 2025",
        " 01 MAR 2025 ,",
    ],
)
def test_one_meaning_in_every_order(text):
    assert days(text)[:3] == (date(2025, 3, 1),) * 3


@pytest.mark.parametrize("text", ["01/03/2025", "1.3.2025", "1-3-2025", "01 03 2025", "1/3/2025 -"])
def test_figures_have_two_meanings(text):
    assert days(text) == (date(2025, 3, 1), date(2025, 1, 3), None, "figures", None)


def test_two_figure_years_have_three():
    assert days("01/02/03")[:4] == (date(2003, 2, 1), date(2003, 1, 2), date(2001, 2, 3), "short")


@pytest.mark.parametrize(("text", "year"), [("1/1/68", 2068), ("1/1/69", 1969), ("1/1/00", 2000)])
def test_two_figure_years_turn_as_posix_says(text, year):
    assert days(text)[0] == date(year, 1, 1)


@pytest.mark.parametrize(
    "text",
    ["Sat 01/03/2025", "Saturday, 01/03/2025", "01/03/2025 (Sat)", "sat. 1/3/25", "SA 1.3.25"],
)
def test_weekday_is_taken_apart(text):
    assert days(text)[0] == date(2025, 3, 1)
    assert days(text)[4] == 1 << 5


@pytest.mark.parametrize(
    "text",
    ["", "foo", "1/2/3", "12", "March 2025", "5 2025", "1 foo 2025", "zone 1/3/2025", "1.1.1.1"],
)
def test_what_is_no_date(text):
    assert days(text)[3] is None


@pytest.mark.parametrize(
    ("text", "read"),
    [
        ("31/04/2025", (None, None)),
        ("29/02/2023", (None, None)),
        ("29/02/2024", (date(2024, 2, 29), None)),
        ("29/02/1900", (None, None)),
        ("29/02/2000", (date(2000, 2, 29), None)),
        ("00/00/0000", (None, None)),
        ("12/31/2025", (None, date(2025, 12, 31))),
    ],
)
def test_days_that_do_not_exist(text, read):
    assert days(text)[:2] == read
    assert days(text)[3] == "figures"


def test_every_day_of_four_years_is_read():
    all_days = [date(2023, 1, 1) + timedelta(days=n) for n in range(4 * 366)]
    for form, order in (("%d/%m/%Y", D), ("%m/%d/%y", M), ("%y.%m.%d", Y), ("%d %b %y", D)):
        frame = read_date_texts(pl.Series([d.strftime(form) for d in all_days]))
        assert frame[order].to_list() == [(d - date(1970, 1, 1)).days for d in all_days]


def test_each_language_names_all_months_and_weekdays():
    place = resources.files("eventlab.meaning") / "data" / "calendar.csv"
    table = pl.read_csv(place.read_bytes())
    assert table.select("language", "what", "word").is_unique().all()
    # A month has one number in all languages; a weekday may be another day in another one.
    meanings = table.filter(pl.col("what") != "weekday").group_by("what", "word")
    assert meanings.agg(pl.col("number").n_unique())["number"].to_list().count(1) == len(
        list(meanings)
    )
    assert table["word"].str.to_lowercase().eq(table["word"]).all()
    for what, count in (("month", 12), ("weekday", 7)):
        numbers = table.filter(what=what).group_by("language").agg(pl.col("number").unique().sort())
        assert all(row == list(range(1, count + 1)) for row in numbers["number"].to_list())


def clock(text):
    row = read_clock_texts(pl.Series([text])).row(0, named=True)
    return None if row["clock"] is None else row["clock"] / 1e6


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("22:15:03", 80103),
        ("9:05", 32700),
        ("T22:15:00", 80100),
        ("22.15.03", 80103),
        ("22h15", 80100),
        ("221503", 80103),
        ("2215", 80100),
        ("12:00 AM", 0),
        ("12:00:00 a.m.", 0),
        ("12:30 pm", 45000),
        ("12:30 p. m.", 45000),
        ("1:05:09PM", 47109),
        ("11:59:59 P", 86399),
        ("13:05 PM", 47100),
        ("00:05 AM", 300),
        ("22:15:00.25", 80100.25),
        ("22:15:00,250000999", 80100.25),
        ("24:00:00", 86400),
        ("23:59:60", 86400),
        ("1899-12-30 22:15:00", 80100),
    ],
)
def test_times_of_day(text, seconds):
    assert clock(text) == seconds


@pytest.mark.parametrize(
    "text", ["", "foo", "25:00", "24:01", "22:60", "22:15:61", "13:00 AM", "1"]
)
def test_what_is_no_time_of_day(text):
    assert clock(text) is None


@pytest.mark.parametrize(
    ("text", "offset"),
    [
        ("22:15:00Z", 0),
        ("22:15 UTC", 0),
        ("22:15:00+11:00", 39600),
        ("22:15:00.5-0330", -12600),
        ("22:15:00+10", 36000),
        ("22:15:00 \u221205:00", -18000),
        ("22:15:00", None),
    ],
)
def test_shift_that_the_text_tells(text, offset):
    row = read_clock_texts(pl.Series([text])).row(0, named=True)
    assert row["offset_s"] == offset
    assert row["clock"] is not None


CUTS = [
    ("01/03/2025 22:15:00", "01/03/2025", "22:15:00"),
    ("1/3/2025 9:05:00 AM", "1/3/2025", "9:05:00 AM"),
    ("2025-03-01T22:15:00.5+11:00", "2025-03-01T", "22:15:00.5+11:00"),
    ("20250301221500", "20250301", "221500"),
    ("20250301 2215", "20250301", "2215"),
    ("01 March 2025", "01 March 2025", ""),
    ("", "", ""),
]


@pytest.mark.parametrize(("cell", "day", "time"), CUTS)
def test_cheap_cut(cell, day, time):
    row = cut(pl.Series([cell])).row(0, named=True)
    assert (row["date"].strip(), row["clock"].strip()) == (day, time)
    assert row["date"] + row["clock"] == cell


@pytest.mark.parametrize(
    ("cell", "day", "time"),
    [
        ("Sat Mar  1 22:15:00 2025", "Sat Mar  1 2025", "22:15:00"),
        ("22:15:00 01/03/2025", "01/03/2025", "22:15:00"),
        ("10:15 PM, Sat 1 Mar 2025", "Sat 1 Mar 2025", "10:15 PM"),
        ("01.03.2025 22.15.00", "01.03.2025", "22.15.00"),
        ("01.03.25 22.15", "01.03.25", "22.15"),
        ("20250301_221500", "20250301", "221500"),
        ("01/03/2025", "01/03/2025", ""),
        *[case for case in CUTS if ":" in case[0]],
    ],
)
def test_careful_cut(cell, day, time):
    row = cut_with_care(pl.Series([cell])).row(0, named=True)
    assert (row["date"].strip(" T"), row["clock"].strip()) == (day.strip(" T"), time)
    alike = cut_alike(pl.Series([cell] * 3))
    if not (day and cell.endswith("2025") and "Mar  1" in cell):  # the date stands in two places
        assert alike.unique().row(0) == (row["date"], row["clock"])


def test_names_of_shifts_are_those_of_the_tz_database():
    # tz database: since 2000 each of these names has stood for one shift from UTC only.
    place = resources.files("eventlab.meaning") / "data" / "calendar.csv"
    table = pl.read_csv(place.read_bytes()).filter(what="shift")
    held = {}
    for zone in zoneinfo.available_timezones():
        for year, month in itertools.product(range(2000, 2031), (1, 4, 7, 10)):
            told = datetime(year, month, 15, 12, tzinfo=zoneinfo.ZoneInfo(zone))
            held.setdefault(told.tzname().lower(), set()).add(told.utcoffset().total_seconds())
    for name, seconds in table.select("word", "number").rows():
        assert name == "z" or held[name] == {seconds}, name


@pytest.mark.parametrize(
    ("text", "us", "shift"),
    [
        ("22:15:03 BST", 80103e6, 3600),
        ("10:00 AEST", 36000e6, 36000),
        ("10:00 A EET", 36000e6, 7200),
        ("10:00 PM CEST", 79200e6, 7200),
        ("22:15 XYZ", None, None),
        ("22:15 IST", None, None),
        ("22:15 EST", None, None),
    ],
)
def test_a_named_shift_is_read_where_it_says_one_thing(text, us, shift):
    row = read_clock_texts(pl.Series([text])).row(0, named=True)
    assert (row["clock"], row["offset_s"]) == (us, shift)


@pytest.mark.parametrize("text", ["\u0661\u0662:\u0663\u0664", "2:\u0663\u0664"])
def test_figures_of_other_scripts_are_no_time_of_day_and_stop_nothing(text):
    assert read_clock_texts(pl.Series([text]))["clock"][0] is None  # Arabic-Indic


def test_a_text_is_read_the_same_alone_and_among_others():
    texts = ["03/02/2026", "3 mars 2026", "zone 3", "", "22:15", "20260203", "Mo 3.2.", "3 of 2 26"]
    for read in (read_date_texts, read_clock_texts, cut, cut_with_care):
        alone = pl.concat([read(pl.Series("text", [text])) for text in texts])
        again = read(pl.Series("text", texts[::-1]))[::-1]
        assert read(pl.Series("text", texts)).equals(again)
        assert again.equals(alone)


@pytest.mark.parametrize(
    "way", ["%d/%m/%Y %H:%M:%S", "%d.%m.%y", "%Y%m%d%H%M", "%a %b %d %H:%M:%S %Y", "%d %B", "%m-%d"]
)
def test_a_cell_with_a_date_may_hold_one(way):
    # Wall times, which carry no zone.
    for when in (datetime(2026, 2, 3, 22, 15, 9), datetime(2025, 12, 31, 0, 5)):  # noqa: DTZ001 - wall
        cell = when.strftime(way)
        assert may_hold_date(cell), cell
        assert may_hold_date(f"  {cell.upper()} "), cell


def test_the_cheap_looks_tell_most_cells_without_dates_and_times():
    for cell in ("1er février 2025", "3 de marzo de 2025", "3 of 2 2026", "3ème?1/2"):
        assert may_hold_date(cell), cell
    for cell in ("22:15", " kl. 22.15", "t2215", "10:15 PM", "22h15", "01/01/1900 22:15:00"):
        assert may_be_clock(cell), cell
    for cell in ("Zone 3 alarm", "Kitchen", "07", "E130", ""):
        assert not may_hold_date(cell), cell
        assert not may_be_clock(cell), cell
