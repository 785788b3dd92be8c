"""Reading one log with all that is known: lists, what a person said, what earlier exports tell."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import timedelta

import polars as pl

from eventlab.context import Context
from eventlab.intake import Sheet
from eventlab.lab.identity import ZONE_SAID
from eventlab.lab.recalling import recall, told
from eventlab.lab.result import FileResult
from eventlab.meaning import SAID_ZONES, STORED, Known, Reading, Roles, Wanted, read_log
from eventlab.schema import conform, empty
from eventlab.store import Export, Store, fetch


@dataclass(frozen=True)
class Said:
    """What a person said of a log, now or with earlier exports.

    Parameters
    ----------
    site, time_zone : str or None
        Named for this file.
    answers : mapping of str to str
        Answer by question key.
    zones : polars.DataFrame
        Columns of ``SAID_ZONES``: named with earlier exports.
    beside : mapping of str to frozenset of str
        By look, how the dates of other exports of this intake are read.
    """

    site: str | None = None
    time_zone: str | None = None
    answers: Mapping[str, str] = field(default_factory=dict)
    zones: pl.DataFrame = field(default_factory=lambda: empty(SAID_ZONES))
    beside: Mapping[str, frozenset[str]] = field(default_factory=dict)

    def after(self, before: Export) -> "Said":
        """Return what holds for bytes that were taken before, unless something else is said now."""
        answers = {**before.answers, **self.answers}
        if self.time_zone is not None and "time-zone" in before.answers:
            answers["time-zone"] = self.answers.get("time-zone", self.time_zone)
        kept = before.time_zone or ""
        return replace(
            self,
            site=self.site or before.site,
            time_zone=self.time_zone
            or before.notes.get(ZONE_SAID)
            or (kept if kept and "," not in kept else None),
            answers=answers,
        )


def read_with_memory(
    store: Store | None,
    sheet: Sheet,
    context: Context,
    said: Said,
    roles: Roles | None = None,
) -> tuple[Reading, dict[str, str]]:
    """Read a log; what it leaves open may be known from other exports that look the same.

    Parameters
    ----------
    store : Store or None
        Where the others are.
    sheet : Sheet
        The file.
    context : Context
        Site list and zone schedules.
    said : Said
        What a person said of it.
    roles : Roles, optional
        Its columns, where they were found before.

    Returns
    -------
    tuple of Reading and dict
        The reading, and the answers that were recalled for it.
    """
    known = Known(
        sites=context.sites,
        zones=context.zones,
        answers=said.answers,
        site=said.site,
        time_zone=said.time_zone,
        said_zones=said.zones,
    )
    reading = read_log(sheet, known, roles)
    if not reading.questions:
        return reading, {}
    recalled = recall(store, sheet.sha256, reading, said.beside)
    if store is not None and reading.wanted is not None:
        known = replace(known, stored=_moments(store, reading.wanted))
        if known.stored.height:
            first, reading = reading, read_log(sheet, known, roles)
            by_rows = reading.settled.get("dates", "")
            if "dates" in recalled and by_rows not in {"", recalled["dates"]}:
                return _torn(first, by_rows, recalled["dates"]), {}
    if recalled:
        reading = read_log(sheet, replace(known, answers={**recalled, **said.answers}), roles)
    while reading.questions:
        more = recall(store, sheet.sha256, reading, said.beside)
        if not more.keys() - recalled.keys():
            break
        # What is known now may open the next question: which column, then what its signs mean.
        recalled |= more
        reading = read_log(sheet, replace(known, answers={**recalled, **said.answers}), roles)
    if recalled:
        reading = replace(reading, evidence=(*reading.evidence, *told(recalled)))
    return reading, recalled


def _torn(reading: Reading, by_rows: str, by_look: str) -> Reading:
    """Leave a question open where stored rows stand against exports that look the same."""
    why = (f"rows that are stored already say {by_rows}, exports that look the same say {by_look}",)
    return replace(
        reading,
        questions=tuple(
            replace(one, evidence=(*one.evidence, *why)) if one.key == "dates" else one
            for one in reading.questions
        ),
    )


def _moments(store: Store, wanted: Wanted) -> pl.DataFrame:
    """List the moments of some sites that are stored, by their own clocks."""
    day = timedelta(days=1)  # a clock may be that far from UTC
    found = store.events(
        sites=wanted.sites,
        since=(wanted.since - day).date(),
        until=(wanted.until + 2 * day).date(),
        columns=list(STORED),
    )
    return conform(fetch(found.drop_nulls().unique()), STORED)


def result_of(blank: FileResult, sheet: Sheet, reading: Reading) -> FileResult:
    """Tell what a reading found, before anything of it is stored."""
    return replace(
        blank,
        site=reading.sites[0] if len(reading.sites) == 1 else None,
        sha256=sheet.sha256,
        lines=sheet.lines,
        rows=sheet.rows - reading.heads,
        other=sheet.other + reading.heads,
        read=reading.read,
        unread=reading.unread,
        events=reading.events.height - reading.unread,
        doubtful=reading.doubtful,
        questions=reading.questions,
        not_understood=reading.not_understood,
        evidence=reading.evidence,
        dates_told=_dates_told(reading),
    )


def _dates_told(reading: Reading) -> tuple[str, str] | None:
    """Return the look of an export and how its dates are read, where it decides for others."""
    order = reading.settled.get("dates")
    return (reading.look, order) if order and reading.look and "dates" in reading.decided else None
