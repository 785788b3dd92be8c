"""Very large logs: read some sites after others, so that memory stays small; taken in one commit.

How the file is to be read is decided once, by the lines of it that tell (``splitting``); each
part is then read by what was settled, as a retake reads an export again. Memory is that of one
part, whatever the file holds.
"""

import tempfile
import zlib
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path

import polars as pl

from eventlab.context import Context
from eventlab.errors import InputError, OtherAnswers
from eventlab.intake import Sheet, read_bytes
from eventlab.lab.identity import as_known, settled
from eventlab.lab.reading import Said, read_with_memory
from eventlab.lab.rebuilding import rebuild, refresh
from eventlab.lab.result import FileResult, refused
from eventlab.lab.splitting import Split, split
from eventlab.meaning import NOT_UNDERSTOOD, READER, Known, Reading, as_log, read_log
from eventlab.meaning.roles import Part, Roles
from eventlab.store import Export, SitesMeet, Store

BULK = 400_000_000
"""Bytes from which a log is read in parts: five million rows are 290 MB and need some 2 GB."""

PART = 96_000_000
"""Bytes of text in a part, about; reading it takes six times as much memory."""

_START = 4 << 20
_UTF8 = ("utf-8", "utf-8-sig")


class _Unlike(InputError):
    """A part does not look like the whole."""


@dataclass(frozen=True)
class _Read:
    """What was read of one part."""

    rows: int
    read: int
    unread: int
    events: int
    not_understood: pl.DataFrame
    said_zones: pl.DataFrame


@dataclass
class _Tally:
    """What was read so far, by part: a part may be read again."""

    parts: dict[int, _Read] = field(default_factory=dict)

    def add(self, number: int, rows: int, reading: Reading) -> None:
        self.parts[number] = _Read(
            rows=rows,
            read=reading.read,
            unread=reading.unread,
            events=reading.events.height - reading.unread,
            not_understood=reading.not_understood,
            said_zones=reading.said_zones,
        )

    def told(self, blank: FileResult) -> FileResult:
        every = list(self.parts.values())
        rows = sum(one.rows for one in every)
        counted = (
            pl.concat([one.not_understood for one in every])
            .group_by("text", "problem")
            .agg(pl.col("count").sum())
            .sort("count", "text", descending=[True, False])
        )
        said = pl.concat([one.said_zones for one in every])
        return replace(
            blank,
            rows=rows,
            read=sum(one.read for one in every),
            unread=sum(one.unread for one in every),
            events=sum(one.events for one in every),
            other=blank.lines - rows,
            not_understood=counted.select(NOT_UNDERSTOOD.keys()),
            said_zones=said.unique("site", maintain_order=True),
        )


def take_bulk(
    store: Store | None,
    blank: FileResult,
    path: Path,
    context: Context,
    said: Said,
    *,
    memory: Store | None = None,
) -> FileResult | None:
    """Take a very large log part by part.

    Parameters
    ----------
    store : Store or None
        Where to; with None it is read and nothing is kept.
    blank : FileResult
        What is known of the file before.
    path : Path
        The file.
    context : Context
        Site list and zone schedules.
    said : Said
        What a person said of it.
    memory : Store, optional
        Where answers of before are, when nothing is to be kept.

    Returns
    -------
    FileResult or None
        Taken, or with its questions; None where it is small, or is no file that can be cut by its
        sites: then it has to be read whole.
    """
    if path.stat().st_size < BULK:
        return None
    with path.open("rb") as file:
        head = file.read(_START)
    start = read_bytes(head[: head.rfind(b"\n") + 1], name=path.name)
    roles = as_log(start)
    columns = _columns(start, roles)
    if columns is None or roles is None:
        return None
    with tempfile.TemporaryDirectory(prefix="eventlab-") as folder:
        buckets = store.buckets() if store is not None else 64
        parts = min(buckets, path.stat().st_size // PART + 1)
        cut = split(
            path,
            start,
            account=columns[0],
            date=columns[1],
            parts=parts,
            part_of=lambda account: zlib.crc32(account.encode()) % buckets * parts // buckets,
            folder=Path(folder),
        )
        if cut is None:
            return None
        try:
            return _take(store, blank, path, cut, context, said, roles, memory or store)
        except (SitesMeet, _Unlike):
            return None


def _columns(start: Sheet, roles: Roles | None) -> tuple[str, str] | None:
    """Return the columns with the account and the date of a file whose lines are its rows."""
    if roles is None or start.encoding not in _UTF8 or start.delimiter is None:
        return None
    account = roles.one(Part.SITE)
    date = roles.one(Part.WHEN) or roles.one(Part.DATE)
    if account is None or date is None or start.cells.is_empty():
        return None
    # A date that stands for the rows below it would be lost from them.
    carried = roles.one(Part.TIME) is not None and start.cells[date].null_count()
    return None if carried else (account, date)


def _take(
    store: Store | None,
    blank: FileResult,
    path: Path,
    cut: Split,
    context: Context,
    said: Said,
    roles: Roles,
    memory: Store | None,
) -> FileResult:
    before = store.export(cut.sha256) if store is not None else None
    if before is not None:
        said = said.after(before)
    if store is not None:
        store.keep(path, sha256=cut.sha256, name=path.name)
    telling = read_bytes(cut.evidence, name=path.name)
    reading, recalled, _ = read_with_memory(memory, telling, context, said, roles)
    blank = replace(
        blank, sha256=cut.sha256, lines=cut.lines, other=cut.lines, evidence=reading.evidence
    )
    if reading.questions:
        return replace(blank, questions=reading.questions)
    export = Export(
        sha256=cut.sha256,
        name=path.name,
        reading=READER,
        lines=cut.lines,
        **settled(reading, recalled=recalled),
    )
    known = replace(as_known(context, export), said_zones=said.zones)
    tally = _Tally()
    readers = [
        partial(_read, cut, number, known, roles, telling, path.name, tally)
        for number in range(cut.parts)
    ]
    if store is None:
        for read in readers:
            read()
        return tally.told(blank)
    refresh(store, context, reading.sites)
    try:
        taken = store.take_parts(readers, export)
    except OtherAnswers as error:
        return refused(blank, error)
    if taken.rough:
        rebuild(store, context, taken.rough)
    if taken.already:
        blank = replace(blank, already=True, rows=taken.rows, other=cut.lines - taken.rows)
    else:
        blank = tally.told(blank)
    return replace(
        blank,
        read=taken.read,
        repeated=taken.repeated,
        unread=taken.unread,
        events=taken.events,
        doubtful=taken.doubtful,
        seam=taken.seam,
    )


def _read(
    cut: Split,
    number: int,
    known: Known,
    roles: Roles,
    telling: Sheet,
    name: str,
    tally: _Tally,
) -> tuple[pl.DataFrame, int]:
    """Read one part; its rows are numbered as in the whole."""
    data, lines = cut.part(number)
    if data == cut.head:
        return pl.DataFrame(schema=Reading().events.schema), 0
    sheet = read_bytes(data, name=name)
    alike = (sheet.delimiter, sheet.header) == (telling.delimiter, telling.header)
    if not alike or sheet.cells.columns != telling.cells.columns:
        raise _Unlike("a part of the file does not look like the rest", where=name)
    reading = read_log(sheet, known, roles)
    if reading.questions:
        raise _Unlike("a part of the file leaves open what the rest tells", where=name)
    tally.add(number, sheet.rows, reading)
    whole = pl.Series("row", lines)
    return reading.events.with_columns(
        row=whole.gather(reading.events["row"] - 1).cast(pl.Int64)
    ), sheet.rows
