"""Dates in words, in eight languages, against the names that CLDR has for them (through Babel)."""

# ruff: noqa: DTZ001 - wall times have no zone

from datetime import date, datetime, timedelta

import polars as pl
import pytest
from babel.dates import format_date, get_day_names, get_month_names

from eventlab.meaning.date_forms import ORDERS, read_clock_texts, read_date_texts
from eventlab.meaning.date_hints import look_around
from eventlab.meaning.dates import read_dates

LANGUAGES = ("en", "de", "fr", "es", "it", "nl", "pl", "sv")
TODAY = date(2026, 6, 30)


def read_days(texts):
    frame = read_date_texts(pl.Series(texts))
    assert frame.select(pl.any_horizontal(pl.col(o).is_null() for o in ORDERS)).sum().item() == 0
    return [date(1970, 1, 1) + timedelta(days=n) for n in frame["day-first"]]


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("width", ["wide", "abbreviated"])
@pytest.mark.parametrize("context", ["format", "stand-alone"])
def test_every_month_of_cldr(language, width, context):
    names = get_month_names(width, context, language)
    for form in ("{0} {1} 2025", "{0}. {1} 2025", "{0}-{1}-25", "{1} {0}, 2025"):
        for change in (str, str.upper, lambda name: name.rstrip(".")):
            texts = [form.format(n + 1, change(names[n])) for n in range(1, 13)]
            assert read_days(texts) == [date(2025, n, n + 1) for n in range(1, 13)], texts


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("width", ["wide", "abbreviated"])
def test_every_weekday_of_cldr(language, width):
    names = get_day_names(width, "format", language)
    frame = read_date_texts(pl.Series([f"{names[n]} {n + 3:02}/03/2025" for n in range(7)]))
    # 3 March 2025 was a Monday.
    for number, mask in enumerate(frame["weekdays"]):
        assert mask >> number & 1, names[number]


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("form", ["full", "long", "medium"])
def test_dates_as_cldr_writes_them(language, form):
    days = [date(2024, 1, 1) + timedelta(days=5 * n) for n in range(73)]
    texts = [format_date(day, form, language) for day in days]
    dated = read_dates(pl.Series([f"{text} 22:15:00" for text in texts]), None, today=TODAY)
    assert dated.problem is None
    assert dated.question is None
    assert [wall.date() for wall in dated.wall] == days


def test_a_weekday_that_means_two_days_is_no_evidence_against_either():
    # Dutch dinsdag and French dimanche, German Donnerstag and Spanish domingo.
    masks = read_date_texts(pl.Series(["di 04/03/2025", "do 04/03/2025", "ma 04/03/2025"]))
    assert masks["weekdays"].to_list() == [0b1000010, 0b1001000, 0b11]


@pytest.mark.parametrize(
    "text", ["3 marzec 2025", "3 marca 2025", "3 MARCA 2025 r.", "3. marca 2025 roku"]
)
def test_polish_months_in_both_cases(text):
    assert read_days([text]) == [date(2025, 3, 3)]


@pytest.mark.parametrize(
    "text",
    [
        "1er mars 2025",
        "le 1 mars 2025",
        "samedi 1er mars 2025",
        "1º de marzo de 2025",
        "sábado, 1 de marzo de 2025",
        "Samstag, den 1. März 2025",
        "1 MAERZ 2025",
        "lördagen den 1 mars 2025",
        "zaterdag 1 maart 2025",
        "1º marzo 2025",
        "sobota, 1 marca 2025 r.",
    ],
)
def test_words_around_a_date(text):
    """From memory."""
    assert read_days([text]) == [date(2025, 3, 1)]


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("22:15 Uhr", 80100),
        ("um 22:15:03 Uhr", 80103),
        ("kl. 22.15", 80100),
        ("22h15", 80100),
        ("om 22:15 uur", 80100),
        ("o godz. 22:15", 80100),
        ("10:15 em", 80100),
        ("10:15 f.m.", 36900),
        ("10:15 p. m.", 80100),
        ("10:15\u202fPM", 80100),
        ("22:15:03:250", 80103.25),
    ],
)
def test_words_around_a_time_of_day(text, seconds):
    """From memory."""
    assert read_clock_texts(pl.Series([text]))["clock"].to_list() == [seconds * 1e6]


def test_a_line_is_known_to_tell_the_day_of_printing():
    lines = [
        "Printed 13/03/2025 14:22",
        "Ereignisprotokoll, gedruckt am 13. März 2025",
        "Imprimé le 13 mars 2025 à 14:22",
        "Fecha de impresión: 13 de marzo de 2025",
        "13/03/2025",
        "Utskrivet den 13 mars 2025",
    ]
    found = look_around(lines).stamps
    assert [stamp.text for stamp in found] == lines
    thirteenth = (date(2025, 3, 13) - date(1970, 1, 1)).days
    assert all(stamp.high["day-first"].to_list() == [thirteenth] for stamp in found)
    # A date without a year, of installing or of a version, is none.
    other = ["Printed 13 Mar 14:22", "Installed 13/03/2012", "Version 4.2 of 13/03/2012"]
    assert look_around(other).stamps == ()


@pytest.mark.parametrize(
    "line",
    [
        "Period: 01/03/2025 - 31/03/2025",
        "Zeitraum 01.03.2025 00:00 bis 31.03.2025 23:59",
        "du 1er mars 2025 au 31 mars 2025",
        "od 01.03.2025 do 31.03.2025",
        "2025-03-01 to 2025-03-31",
    ],
)
def test_a_line_is_known_to_tell_a_period(line):
    (stamp,) = look_around([line]).stamps
    ends = [date(1970, 1, 1) + timedelta(days=d["day-first"][0]) for d in (stamp.low, stamp.high)]
    assert ends == [date(2025, 3, 1), date(2025, 3, 31)]


def test_a_column_may_mix_accents_and_none():
    cells = ["3 févr. 2025 10:00", "4 FEVR 2025 10:00", "5 février 2025 10:00"]
    walls = read_dates(pl.Series(cells), None, today=TODAY).wall
    assert walls.to_list() == [datetime(2025, 2, day, 10) for day in (3, 4, 5)]
