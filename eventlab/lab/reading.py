"""Reading one log with all that is known: lists, what a person said, what earlier exports tell."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import polars as pl

from eventlab.context import Context
from eventlab.errors import InputError
from eventlab.intake import Sheet
from eventlab.lab.identity import ZONE_SAID
from eventlab.lab.layouts import Layout, layouts, recognised
from eventlab.lab.recalling import cannot, recall, told
from eventlab.lab.result import FileResult
from eventlab.meaning import SAID_ZONES, Known, Reading, Roles, read_log
from eventlab.schema import empty
from eventlab.store import Export, Store


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
    layouts : mapping of str to Layout
        What is known of earlier exports, by their look.
    """

    site: str | None = None
    time_zone: str | None = None
    answers: Mapping[str, str] = field(default_factory=dict)
    zones: pl.DataFrame = field(default_factory=lambda: empty(SAID_ZONES))
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
    if layout is None or layout.shows_only(sheet.sha256):
        return reading, {}, ()
    recalled: dict[str, str] = {}
    more, notes = recall(layout, sheet.sha256, reading)
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
        more, _ = recall(layout, sheet.sha256, reading)
    if recalled:
        reading = replace(reading, evidence=(*reading.evidence, *told(recalled)))
    return reading, recalled, (recognised(layout, recalled), *notes)


def result_of(blank: FileResult, sheet: Sheet, reading: Reading) -> FileResult:
    """Tell what a reading found, before anything of it is stored."""
    return replace(
        blank,
        site=reading.sites[0] if len(reading.sites) == 1 else None,
        sha256=sheet.sha256,
        lines=sheet.lines,
        rows=sheet.rows,
        other=sheet.other,
        read=reading.read,
        unread=reading.unread,
        events=reading.events.height - reading.unread,
        doubtful=reading.doubtful,
        questions=reading.questions,
        not_understood=reading.not_understood,
        evidence=reading.evidence,
    )
