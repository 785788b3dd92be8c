"""Reading one log with all that is known: lists, what a person said, what earlier exports tell."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import timedelta

import polars as pl

from eventlab.context import Context
from eventlab.errors import InputError
from eventlab.intake import Sheet
from eventlab.lab.identity import ZONE_SAID
from eventlab.lab.layouts import Layout, layouts, recognised
from eventlab.lab.recalling import cannot, recall, told
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
    layouts : mapping of str to Layout
        What is known of earlier exports, by their look.
    """

    site: str | None = None
    time_zone: str | None = None
    answers: Mapping[str, str] = field(default_factory=dict)
    zones: pl.DataFrame = field(default_factory=lambda: empty(SAID_ZONES))
    beside: Mapping[str, frozenset[str]] = field(default_factory=dict)
    layouts: Mapping[str, Layout] = field(default_factory=dict)

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
) -> tuple[Reading, dict[str, str], tuple[str, ...]]:
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
    tuple of Reading, dict and tuple
        The reading, the answers that were recalled for it, and sentences that say so.
    """
    known = Known(
        sites=context.sites,
        zones=context.zones,
        taught=context.taught,
        answers=said.answers,
        site=said.site,
        time_zone=said.time_zone,
        said_zones=said.zones,
    )
    reading = read_log(sheet, known, roles)
    # What is open may be known from a file that was taken a moment ago.
    fresh = store is not None and bool(reading.questions) and bool(reading.look)
    layout = (layouts(store) if store and fresh else said.layouts).get(reading.look)
    if layout is not None and layout.shows_only(sheet.sha256):
        layout = None
    more, notes = recall(layout, sheet.sha256, reading, said.beside)
    if store is not None and reading.questions and reading.wanted is not None:
        known = replace(known, stored=_moments(store, reading.wanted))
        if known.stored.height:
            first, reading = reading, read_log(sheet, known, roles)
            by_rows = reading.settled.get("dates", "")
            if "dates" in more and by_rows not in {"", more["dates"]}:
                return _torn(first, by_rows, more["dates"]), {}, ()
    recalled: dict[str, str] = {}
    while more.keys() - recalled.keys():
        # What is known now may open the next question: which column, then what its signs mean.
        try:
            answers = {**recalled, **more, **said.answers}
            reading = read_log(sheet, replace(known, answers=answers), roles)
        except InputError:
            # The file itself speaks against it.
            notes += [cannot(key, answer) for key, answer in more.items()]
            break
        recalled |= more
        more, _ = recall(layout, sheet.sha256, reading, said.beside)
    if recalled:
        reading = replace(reading, evidence=(*reading.evidence, *told(recalled)))
    alike = () if layout is None else (recognised(layout, recalled),)
    return reading, recalled, (*alike, *notes)


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
