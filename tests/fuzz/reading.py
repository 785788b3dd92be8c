"""The whole reading path over bytes: to a sheet, and on to events or to a list; and its sums."""

from functools import cache
from pathlib import Path

import polars as pl

from eventlab.context import Context, parse, recognise
from eventlab.errors import EventlabError
from eventlab.intake import read_bytes
from eventlab.meaning import Known, as_log, read_log
from eventlab.schema import Kind, Role

SAMPLES = Path(__file__).parents[2] / "sample_logs"
TOLD = ["row", "piece", "at", "wall", "kind", "phase", "area", "zone", "person", "text", "code"]


@cache
def known():
    """Give what the sample lists tell."""
    blank = Context.empty()
    sheet = read_bytes((SAMPLES / "sites.csv").read_bytes(), name="sites.csv")
    sites = parse(Role.SITES, sheet, sites=blank.sites)
    return Known(sites=sites.frame, zones=blank.zones, time_zone="Europe/London")


@cache
def named():
    """Give the same for files that name no site."""
    return Known(sites=known().sites, zones=known().zones, site="TV01", time_zone="Europe/London")


def read_whole(data, name, *, sheet_only=False):
    """Read bytes to the end and check that every row is accounted for.

    Returns the sheet, and the reading or the parsed list; (None, None) where an error of ours
    says why it cannot be read, (sheet, None) where only the rows cannot be told.
    """
    sheet = read_sheet(data, name)
    return sheet, None if sheet is None or sheet_only else read_rows(sheet)


def read_sheet(data, name):
    """Read bytes as a sheet; None where an error of ours says why that cannot be."""
    try:
        sheet = read_bytes(data, name=name)
    except EventlabError as error:
        if not str(error):
            raise
        return None
    assert sheet.lines == sheet.rows + sheet.other, "lines = rows + other"
    rows = pl.concat([sheet.cells["row"], sheet.broken["row"]])
    assert rows.n_unique() == len(rows), "no row twice"
    assert not len(rows) or (rows.min() >= 1 and rows.max() <= sheet.lines)
    return sheet


def read_rows(sheet):
    """Read the rows of a sheet; None where an error of ours says why that cannot be."""
    rows = pl.concat([sheet.cells["row"], sheet.broken["row"]])
    try:
        role = recognise(sheet.header)
        if role is not None:
            parsed = parse(role, sheet, sites=known().sites)
            assert parsed.frame.height or not sheet.rows or parsed.problems.height
            return parsed
        roles = as_log(sheet)
        if roles is None:
            return None  # no log, and told so
        reading = read_log(sheet, known(), roles)
        if any(question.key == "site" for question in reading.questions):
            reading = read_log(sheet, named(), roles)
    except EventlabError as error:
        if not str(error):
            raise
        return None
    if reading.questions or not sheet.rows:
        return reading
    # A line that only tells the date of those below it is no row.
    left = sheet.rows - reading.heads
    assert reading.read + reading.unread == left, "rows = read + unread"
    events = reading.events
    assert set(events["row"]) <= set(rows), "each event has its row"
    assert events["row"].n_unique() == left, "each row has its event"
    unread = events.filter(pl.col("kind") == Kind.UNREAD)
    assert unread["row"].n_unique() == reading.unread
    assert unread["problem"].null_count() == unread["raw"].null_count() == 0
    return reading
