"""Several sites in one file, in blocks or mixed, some rows out of order: never a wrong date."""

# ruff: noqa: DTZ001 - wall times have no zone; seeded numbers are no secret

import random
from datetime import date, datetime, timedelta

import polars as pl
import pytest

from eventlab.meaning import dated as words
from eventlab.meaning.dates import read_dates

TODAY = date(2026, 11, 27)
FORMS = ("%d/%m/%Y", "%m/%d/%Y", "%d.%m.%y", "%m/%d/%y", "%d/%m", "%m-%d", "%d %b", "%a %d %b")
PRINTED = {"%d %b": "%d %b %Y", "%a %d %b": "%d %B %Y", "%d/%m": "%d/%m/%Y", "%m-%d": "%m-%d-%Y"}


def rows_of_sites(draw):
    gap = draw.choice([600, 7200, 40_000, 200_000])
    start = datetime(2015, 1, 1) + timedelta(days=draw.randrange(3900))
    newest, found = draw.random() < 0.5, []
    for site in range(draw.choice([1, 2, 3, 6])):
        when, moments = start + timedelta(seconds=draw.randrange(1, 3 * gap)), []
        for _ in range(draw.choice([2, 5, 20, 60])):
            when += timedelta(seconds=int(draw.expovariate(1 / gap)) + 1)
            moments.append(when)
        if draw.random() < 0.3:
            at = draw.randrange(len(moments) - 1)
            moments[at], moments[at + 1] = moments[at + 1], moments[at]
        found += [(moment, str(site)) for moment in (moments[::-1] if newest else moments)]
    if draw.random() < 0.5:
        found.sort(key=lambda row: row[0], reverse=newest)
    return [row for row in found if row[0] < datetime(2026, 11, 1)]


@pytest.mark.parametrize("seed", [*range(40), 63, 294, 321, 567])
def test_dates_of_several_sites(seed):
    draw = random.Random(seed)
    rows = rows_of_sites(draw)
    form = draw.choice(FORMS)
    end = max(when for when, _ in rows)
    printed = end + timedelta(hours=draw.randrange(1, 72))
    told = draw.random() < 0.6
    hints = ["Printed " + printed.strftime(PRINTED.get(form, form))] if told else []
    cells = pl.Series([f"{when.strftime(form)} {when:%H:%M:%S}" for when, _ in rows])
    site = pl.Series([name for _, name in rows])
    answers = {}
    for _ in range(4):
        dated = read_dates(cells, None, hints=hints, site=site, answers=answers, today=TODAY)
        if dated.question is None:
            break
        key = dated.question.key
        meant = [when for when, _ in rows if when.strftime(form) in dated.question.text]
        answers[key] = {
            "dates": "month-first" if form.startswith("%m") else "day-first",
            "year": str((meant or [end])[-1].year),
            "first-year": str(rows[0][0].year),
        }[key]
    assert dated.question is None
    for number, ((when, _), wall) in enumerate(zip(rows, dated.wall, strict=True)):
        assert wall == when or (wall is None and dated.problem[number] == words.NO_YEAR_TOLD)
