"""Questions about dates, each with an example from the file."""

from collections.abc import Mapping, Sequence
from datetime import date, timedelta

import numpy as np

from eventlab.meaning.date_column import NO_DAY, Column, Longs
from eventlab.meaning.evidence import WORDS
from eventlab.meaning.question import Choice, Question

_MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)

_MOST = 6
"""Years that are shown as choices; older ones may be answered too."""

LOOKED = "row order, the lines around the table and the span of time do not decide"


def spoken(day: int, *, year: bool = True) -> str:
    """Write a day since 1970 in words."""
    when = date(1970, 1, 1) + timedelta(days=day)
    return f"{when.day} {_MONTHS[when.month - 1]}" + (f" {when.year}" if year else "")


def ask_order(column: Column, orders: Sequence[str], evidence: Sequence[str]) -> Question:
    """Put the readings that are left as a question, with a date of the file read each way."""
    read = {order: column.days(order) for order in orders}
    days = list(read.values())
    differ = np.logical_or.reduce([found != days[0] for found in days[1:]])
    whole = differ & np.logical_and.reduce([found != NO_DAY for found in days])
    shown = whole if whole.any() else differ
    first = column.code[int(np.argmax(shown[column.code]))]
    text = column.dates["text"][int(first)].strip()
    choices = []
    for order, found in read.items():
        one = int(found[first])
        told = "no date" if one == NO_DAY else spoken(one, year=not column.yearless)
        choices.append(Choice(order, f"{WORDS[order]}: {text} is {told}"))
    either = " or ".join(choice.text.split(" is ", 1)[1] for choice in choices)
    return Question("dates", f"Is {text} {either}?", tuple(choices), (*evidence, LOOKED))


def ask_year(key: str, text: str, spans: Mapping[int, Longs], evidence: Sequence[str]) -> Question:
    """Ask in which year the last row is, or the first.

    Parameters
    ----------
    key : str
        ``year`` for the last row, ``first-year`` for the first.
    text : str
        The date of that row as it stands.
    spans : mapping of int to int64 array
        For each year that is left, the days of all rows.
    evidence : sequence of str
        What was looked at.
    """
    choices = []
    for year in sorted(spans, reverse=True)[:_MOST]:
        days = spans[year][spans[year] != NO_DAY]
        told = f"from {spoken(int(days.min()))} to {spoken(int(days.max()))}"
        choices.append(Choice(str(year), f"{year}: the rows run {told}"))
    which = "last" if key == "year" else "first"
    more = () if len(spans) <= _MOST else ("earlier years may be answered too",)
    return Question(
        key,
        f"The dates tell no year. In which year is the {which} row, {text}?",
        tuple(choices),
        (*evidence, *more, "order, weekdays and the lines around the table do not decide the year"),
    )
