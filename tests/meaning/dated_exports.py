"""Exports made up to measure how dates are read: many forms, languages, both directions.

Shares no code with the reader. Names of months and weekdays are CLDR's, through Babel.
"""

# ruff: noqa: DTZ001 - wall times have no zone; seeded numbers are no secret

import random
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from babel.dates import get_day_names, get_month_names

LANGUAGES = ("en", "de", "fr", "es", "it", "nl", "pl", "sv")

PRINTED = {
    "en": "Printed",
    "de": "Gedruckt am",
    "fr": "Imprimé le",
    "es": "Impreso el",
    "it": "Stampato il",
    "nl": "Afgedrukt op",
    "pl": "Wydrukowano dnia",
    "sv": "Utskrivet den",
}

FILLED = {
    "en": "{d} {m} {y}",
    "de": "{d}. {m} {y}",
    "fr": "{d} {m} {y}",
    "es": "{d} de {m} de {y}",
    "it": "{d} {m} {y}",
    "nl": "{d} {m} {y}",
    "pl": "{d} {m} {y} r.",
    "sv": "den {d} {m} {y}",
}
"""A date in words as each language writes it (CLDR's long form; ``r.`` and ``den`` from memory)."""

Write = Callable[[datetime, str], str]


def month(when: datetime, language: str, width: str = "wide") -> str:
    return str(get_month_names(width, "format", language)[when.month])


def weekday(when: datetime, language: str, width: str = "wide") -> str:
    return str(get_day_names(width, "format", language)[when.weekday()])


def worded(when: datetime, language: str) -> str:
    return FILLED[language].format(d=when.day, m=month(when, language), y=when.year)


def strf(form: str) -> Write:
    return lambda when, _: when.strftime(form)


SERIAL = date(1899, 12, 30)


def serial(mark: str, begin: date) -> Write:
    def write(when: datetime, _: str) -> str:
        of_day = (when.hour * 3600 + when.minute * 60 + when.second) / 86400
        return f"{(when.date() - begin).days}{mark}{round(of_day * 10**8):08d}"

    return write


def epoch(scale: int) -> Write:
    return lambda when, _: str(int((when - datetime(1970, 1, 1)).total_seconds()) * scale)


@dataclass(frozen=True)
class Form:
    """One way to write when rows happened; ``order`` answers the question about dates."""

    day: Write
    clock: Write | None = None
    order: str = "day-first"
    year: bool = True
    layout: str = "rows"
    joined: bool = True
    minutes: bool = False
    named: bool = False
    bad: tuple[str, ...] = ()


H24, H12, HM = strf("%H:%M:%S"), strf("%I:%M:%S %p"), strf("%H:%M")

FORMS: dict[str, Form] = {
    "d/m/Y": Form(strf("%d/%m/%Y"), H24, bad=("31/04/2025", "30/02/2024", "29/02/2023")),
    "d.m.y": Form(strf("%d.%m.%y"), H24),
    "d-m-Y minutes": Form(strf("%d-%m-%Y"), HM, minutes=True),
    "m/d/Y": Form(strf("%m/%d/%Y"), H24, "month-first"),
    "m/d/y 12 h": Form(strf("%m/%d/%y"), H12, "month-first"),
    "two columns": Form(strf("%d/%m/%Y"), H24, joined=False),
    "two columns, m/d": Form(strf("%m/%d/%Y"), H12, "month-first", joined=False),
    "Y-m-d": Form(strf("%Y-%m-%d"), H24, "year-first", bad=("2025-02-30", "2024-13-01")),
    "iso Z": Form(strf("%Y-%m-%dT%H:%M:%SZ"), None, "year-first"),
    "iso shift, fraction": Form(strf("%Y-%m-%dT%H:%M:%S,%f+02:00"), None, "year-first"),
    "compact": Form(strf("%Y%m%d%H%M%S"), None, "year-first"),
    "y/m/d": Form(strf("%y/%m/%d"), H24, "year-first"),
    "words": Form(worded, H24, named=True),
    "short words": Form(
        lambda w, la: f"{w.day:02} {month(w, la, 'abbreviated')} {w.year}", H24, named=True
    ),
    "weekday d/m/Y": Form(lambda w, la: f"{weekday(w, la)} {w:%d/%m/%Y}", H24),
    "short weekday m/d/y": Form(
        lambda w, la: f"{weekday(w, la, 'abbreviated')} {w:%m/%d/%y}", H24, "month-first"
    ),
    "weekday, words": Form(
        lambda w, la: f"{weekday(w, la)} {worded(w, la)}", H24, named=True, joined=False
    ),
    "serial dot": Form(serial(".", SERIAL), None, "serial-1900"),
    "serial comma": Form(serial(",", SERIAL), None, "serial-1900"),
    "serial 1904": Form(serial(".", date(1904, 1, 1)), None, "serial-1904"),
    "epoch": Form(epoch(1), None, "epoch"),
    "epoch ms": Form(epoch(1000), None, "epoch"),
    "d/m no year": Form(strf("%d/%m"), H24, year=False, bad=("31/04", "30/02")),
    "m-d no year": Form(strf("%m-%d"), H24, "month-first", year=False),
    "words no year": Form(
        lambda w, la: f"{w.day} {month(w, la, 'abbreviated')}", H24, year=False, named=True
    ),
    "weekday d.m. no year": Form(lambda w, la: f"{weekday(w, la)} {w:%d.%m.}", H24, year=False),
    "month d no year": Form(lambda w, _: f"{w:%b} {w.day:2}", H24, year=False, named=True),
    "head words": Form(
        lambda w, la: f"{weekday(w, la)} {worded(w, la)}", H24, layout="heads", named=True
    ),
    "head figures": Form(lambda w, _: f"--- {w:%d/%m/%Y} ---", H24, layout="heads"),
    "head in a cell": Form(strf("%d.%m.%Y"), H24, layout="cells"),
    "head no year": Form(
        lambda w, la: f"{weekday(w, la)} {w.day} {month(w, la)}",
        H24,
        layout="heads",
        year=False,
        named=True,
    ),
    "date above": Form(worded, H24, layout="above", named=True),
    "no date": Form(worded, H24, layout="none", named=True),
}


@dataclass(frozen=True)
class Export:
    """A made-up export and when its rows happened; None where the row tells no such time."""

    text: str
    truth: list[datetime | None]
    answers: dict[str, str] = field(default_factory=dict)


def moments(draw: random.Random, rows: int, gap: float, *, night: bool) -> list[datetime]:
    when = datetime(2012, 1, 1) + timedelta(days=draw.randrange(14 * 365), hours=18)
    last = datetime(2026, 10, 1)
    found: list[datetime] = []
    for _ in range(rows):
        step = gap if not night else min(gap, 12 * 3600 / (rows + 1))
        when += timedelta(seconds=1 + int(draw.expovariate(1 / step)))
        if night and (found and when - found[0] > timedelta(hours=20)):
            break
        if when > last:
            break
        found.append(when)
    return found or [datetime(2025, 3, 3, 22, 15, 9)]


def make(seed: int, form: Form, language: str) -> Export:
    draw = random.Random(seed)
    rows = draw.choice([1, 2, 3, 5, 8, 13, 30, 80, 200, 500])
    gap = draw.choice([300, 3600, 6 * 3600, 86400, 5 * 86400])
    night = form.layout in {"above", "none"}
    times = moments(draw, rows, gap, night=night)
    if form.minutes:
        times = [when.replace(second=0) for when in times]
    newest = draw.random() < 0.5
    printed = draw.choice(["none", "none", "printed", "period"])
    shown = times[::-1] if newest else times
    truth: list[datetime | None] = [*shown]
    lines = _around(form, language, printed, times, draw)
    clock = form.clock or H24
    if form.layout == "above":
        lines.append("Date: " + form.day(times[0], language))
    if form.layout == "rows":
        joined = form.clock is None or form.joined
        lines.append("Date/Time;Zone;Event" if joined else "Date;Time;Zone;Event")
        bad = draw.randrange(len(shown)) if form.bad and len(shown) > 20 else -1
        for number, when in enumerate(shown):
            day = form.day(when, language)
            if number == bad:  # a day that does not exist is unread, and moves no other
                day, truth[number] = draw.choice(form.bad), None
            stamp = day if form.clock is None else f"{day}{' ' if joined else ';'}"
            stamp += "" if form.clock is None else clock(when, language)
            lines.append(f"{stamp};{number % 7 + 1};Zone alarm")
    else:
        lines.append("Time;Zone;Event")
        before = None
        for number, when in enumerate(shown):
            if form.layout in {"heads", "cells"} and when.date() != before:
                before = when.date()
                lines.append(form.day(when, language) + (";;" if form.layout == "cells" else ""))
            lines.append(f"{clock(when, language)};{number % 7 + 1};Zone alarm")
    last = shown[-1]
    answers = {
        "dates": form.order,
        "year": str(last.year),
        "first-year": str(shown[0].year),
        "date": last.date().isoformat(),
        "row-order": "newest-first" if newest else "oldest-first",
        "midnight": "next-day",
    }
    return Export("\n".join(lines) + "\n", truth, answers)


def _around(
    form: Form, language: str, printed: str, times: list[datetime], draw: random.Random
) -> list[str]:
    lines = ["Event log"]
    if draw.random() < 0.3:
        made = times[0] - timedelta(days=draw.randrange(4000))
        lines.append(f"System 4.2, installed {made:%d/%m/%Y}")
    plain = {"day-first": "%d/%m/%Y", "month-first": "%m/%d/%Y"}.get(form.order, "%Y-%m-%d")
    write = (lambda when: worded(when, language)) if form.named else (lambda w: w.strftime(plain))
    if printed == "printed":
        at = times[-1] + timedelta(hours=draw.randrange(1, 200))
        lines.append(f"{PRINTED[language]} {write(at)} {at:%H:%M}")
    elif printed == "period":
        lines.append(f"{write(times[0])} - {write(times[-1])}")
    return lines
