"""How a place is used: the charts of its page, their rows as tables and as files."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import polars as pl

from dashboards import words
from dashboards.rates import DAYS

if TYPE_CHECKING:
    from eventlab.lab import PeopleView, UsualHours

MOST_MARKS = 1500
"""Entries drawn: the newest; the file to take away has all."""

MOST_ROWS = 40
"""Rows of a table on the page."""


@dataclass(frozen=True)
class Used:
    """All that the page of use shows: what the lab tells of people, and of usual hours."""

    view: "PeopleView"
    hours: "UsualHours"


@dataclass(frozen=True, slots=True)
class Part:
    """One chart of the page.

    Parameters
    ----------
    key : str
        Its name in addresses.
    title : str
        Its heading.
    heads : tuple of str
        Headings of its table.
    numeric : tuple of int
        Columns set to the right.
    frame : callable
        From what is used to the frame behind it, the newest or largest first.
    row : callable
        From a row of the frame to the cells of the table.
    """

    key: str
    title: str
    heads: tuple[str, ...]
    numeric: tuple[int, ...]
    frame: Callable[[Used], pl.DataFrame]
    row: Callable[[dict[str, Any]], tuple[str, ...]]


def clock(hour: float | None) -> str:
    """Write hours after midnight as a clock does: ``18:05``, ``01:30 the next day``."""
    if hour is None:
        return "–"
    minutes = round(hour * 60)
    later = " the next day" if minutes >= 1440 else ""
    return f"{minutes // 60 % 24:02d}:{minutes % 60:02d}{later}"


def seconds(value: float | None) -> str:
    """Write seconds, or that they are not recorded."""
    return "not recorded" if value is None else f"{words.number(value)} s"


def _share(one: dict[str, Any], name: str) -> str:
    low, high = (words.number(100 * one[f"{name}_{edge}"]) for edge in ("low", "high"))
    return f"{words.number(100 * one[f'{name}_share'])} % ({low} to {high})"


def _hours(one: dict[str, Any]) -> tuple[str, ...]:
    return (
        DAYS[one["weekday"] - 1],
        one["area"] or "all",
        one["what"],
        clock(one["middle_h"]),
        f"{clock(one['low_h'])} to {clock(one['high_h'])}",
        f"{one['days']} of {one['of']}",
        "opening hours given" if one["basis"] == "schedule" else "learned from this log",
    )


def _entry(one: dict[str, Any]) -> tuple[str, ...]:
    return (
        words.moment(one["local"]),
        one["who"],
        one["steps"] or "not recorded",
        seconds(one["entry_s"]),
        f"{words.number(one['delay_s'])} s",
        f"{words.number(one['over_s'])} s after the alarm" if one["late"] else "no alarm",
    )


def _door(one: dict[str, Any]) -> tuple[str, ...]:
    return (
        one["label"],
        "yes" if one["on_route"] else "no",
        words.number(one["entries"]),
        seconds(one["half_s"]),
        words.number(one["late"]),
        _share(one, "late"),
    )


def _person(one: dict[str, Any]) -> tuple[str, ...]:
    told = one["expected"] is not None
    low, high = (
        (words.number(one[f"expected_{edge}"], 1) for edge in ("low", "high")) if told else ("", "")
    )
    return (
        one["label"],
        words.number(one["entries"]),
        words.number(one["late_entries"]) if told else "not told",
        words.number(one["exits"]),
        words.number(one["late_exits"]) if told else "not told",
        f"{words.number(one['expected'], 1)} ({low} to {high})" if told else "not told",
        words.moment(one["last"]),
    )


def _bypass(one: dict[str, Any]) -> tuple[str, ...]:
    return (
        one["label"],
        words.moment(one["since"]),
        "not shown lifted" if one["open"] else words.moment(one["until"]),
        words.number(one["hours"], 1 if one["hours"] < 10 else 0),
        "a forced arming" if one["forced"] else "a person",
    )


PARTS: dict[str, Part] = {
    one.key: one
    for one in (
        Part(
            "hours",
            "When it is opened and closed",
            ("Day", "Area", "What", "Usually", "9 in 10 between", "Days", "Known from"),
            (),
            lambda used: used.hours.bands,
            _hours,
        ),
        Part(
            "entries",
            "How long people take to disarm",
            ("When", "Who", "Way in, in order", "First door to disarm", "Delay", "Alarm"),
            (3, 4),
            lambda used: used.view.entries.sort("local", descending=True),
            _entry,
        ),
        Part(
            "doors",
            "Which door comes first",
            ("Door", "On the entry route", "Entries", "Half within", "Late", "Late of all"),
            (2, 3, 4, 5),
            lambda used: used.view.doors,
            _door,
        ),
        Part(
            "people",
            "Alarms by code",
            ("Code", "Entries", "Late", "Closings", "Late at exit", "To be expected in 100",
             "Last used"),
            (1, 2, 3, 4, 5),
            lambda used: used.view.people,
            _person,
        ),
        Part(
            "bypasses",
            "Points left out",
            ("Point", "From", "To", "Hours", "By"),
            (3,),
            lambda used: used.view.bypasses,
            _bypass,
        ),
    )
}  # fmt: skip


def table(used: Used, key: str) -> pl.DataFrame:
    """Write the rows behind a chart, as a file for a spreadsheet holds them.

    Parameters
    ----------
    used : Used
        Of a site.
    key : str
        Which chart.

    Returns
    -------
    polars.DataFrame
        All rows; people by number, names of none.
    """
    frame = PARTS[key].frame(used)
    hidden = [name for name in ("person", "zone") if name in frame.columns]
    return frame.drop(hidden)


def entries_drawn(entries: pl.DataFrame) -> tuple[pl.DataFrame, bool]:
    """Give the entries that can be drawn, and whether their way in is told.

    Parameters
    ----------
    entries : polars.DataFrame
        As ``PeopleView.entries``.

    Returns
    -------
    tuple of polars.DataFrame and bool
        With ``s``: from the first door to the disarm where the log tells it; else, of late
        entries only, from the alarm to the disarm.
    """
    timed = entries.filter(pl.col("entry_s").is_not_null())
    if timed.height >= 3:
        return timed.with_columns(s="entry_s").sort("local").tail(MOST_MARKS), True
    late = entries.filter("late").with_columns(s="over_s")
    return late.sort("local").tail(MOST_MARKS), False
