"""Reading one log with all that is known: lists, what a person said, what earlier exports tell."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import polars as pl

from eventlab.context import Context
from eventlab.intake import Sheet
from eventlab.lab.identity import ZONE_SAID
from eventlab.lab.recalling import recall, told
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
    """

    site: str | None = None
    time_zone: str | None = None
    answers: Mapping[str, str] = field(default_factory=dict)
    zones: pl.DataFrame = field(default_factory=lambda: empty(SAID_ZONES))

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
        taught=context.taught,
        answers=said.answers,
        site=said.site,
        time_zone=said.time_zone,
        said_zones=said.zones,
    )
    reading = read_log(sheet, known, roles)
    if store is None or not reading.questions:
        return reading, {}
    recalled = recall(store, sheet.sha256, reading)
    if recalled:
        again = read_log(sheet, replace(known, answers={**recalled, **said.answers}), roles)
        reading = replace(again, evidence=(*again.evidence, *told(recalled)))
    return reading, recalled


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
