"""Taking an export: its rows, united with what is stored, in one fenced commit."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import polars as pl

from eventlab.errors import DamagedStore, OtherAnswers, StoreError
from eventlab.store import ledger
from eventlab.store.commit import Done, Write, fenced
from eventlab.store.files import File, write
from eventlab.store.formats import bring_up
from eventlab.store.ledger import Entry
from eventlab.store.place import Place
from eventlab.store.reading import readings
from eventlab.store.seam import EXTENT
from eventlab.store.shown import Shown, show
from eventlab.store.table import bucket_count, files_by_bucket
from eventlab.store.union import compare
from eventlab.store.values import Export, Taken

if TYPE_CHECKING:
    from deltalake import DeltaTable


@dataclass(frozen=True, slots=True)
class _Done:
    """A part of an export whose new rows are written, and the files they were compared with."""

    beside: dict[int, frozenset[str]]
    sites: tuple[str, ...]
    made: list[File]
    taken: Taken
    extent: pl.DataFrame
    witness: tuple[str, ...]


class SitesMeet(StoreError):
    """Two parts of an export tell of one site."""


Part = Callable[[], tuple[pl.DataFrame, int]]
"""Reads a part of an export: its events, and how many rows they account for."""


def take(place: Place, parts: Sequence[Part], export: Export) -> Taken:
    """Take an export in one part or in several, in one commit; see ``Store.take``."""
    originals = place.originals
    if not originals.holds(export.sha256):
        raise StoreError("the original of this export was not kept first", where=export.name)
    bring_up(place)
    shown: dict[int, Shown] = {}
    done: dict[int, _Done] = {}
    mine: tuple[int, Taken] | None = None

    def attempt(table: "DeltaTable") -> Write[Taken] | Done[Taken]:
        nonlocal mine
        before = ledger.in_force(table, export.sha256)
        if mine is not None and before == mine[0]:
            return Done(mine[1])  # the commit had gone through after all
        if before > 0:
            return Done(_already(ledger.entry_of(originals, export.sha256, before), export))
        files_now = files_by_bucket(table)
        for number, part in enumerate(parts):
            held = done.get(number)
            if held and all(files_now.get(b, frozenset()) == f for b, f in held.beside.items()):
                continue  # nothing came between: what was written beside these files still holds
            rows = shown.get(number) or _show(part, export, bucket_count(table))
            if len(parts) == 1:
                shown[number] = rows
            done[number] = _compared(place, table, rows, export, files_now)
        every = [done[number] for number in range(len(parts))]
        taken = _sum([one.taken for one in every])
        entry = Entry(
            export=replace(export, rows=taken.rows),
            number=0,
            order=table.version(),
            taken_at=ledger.now(),
            witness=", ".join(sorted({name for one in every for name in one.witness})),
            extent=pl.concat([one.extent for one in every]),
        )
        if entry.extent["site"].n_unique() < entry.extent.height:
            raise SitesMeet("two parts of an export tell of one site", where=export.name)
        record = ledger.said(entry)
        number = mine[0] if mine else 0
        if number > abs(before):
            originals.write_record(export.sha256, number, record)
        else:
            number = originals.add_record(export.sha256, record, after=abs(before))
        mine = number, taken
        return Write(
            made=[file for one in every for file in one.made],
            transactions={
                **{f"site:{site}": 1 for one in every for site in one.sites},
                ledger.fence(export.sha256): number,
            },
            result=taken,
        )

    taken = fenced(place.open, attempt, table_in=place.events, lock=place.lock)
    if mine is not None and taken.already:
        originals.drop_record(export.sha256, mine[0])  # another writer took it meanwhile
    return taken


def _show(part: Part, export: Export, buckets: int) -> Shown:
    events, rows = part()
    return show(events, replace(export, rows=rows), buckets)


def _compared(
    place: Place,
    table: "DeltaTable",
    shown: Shown,
    export: Export,
    files_now: dict[int, frozenset[str]],
) -> _Done:
    """Find what is new of a part, and write it; no version of the table knows it yet."""
    _one_reading(table, shown, export)
    fresh, extent, seam, rough = compare(
        shown, table, lambda source: _extent_of(place, table, source)
    )
    taken = shown.counts(fresh, sum(seam))
    return _Done(
        beside={bucket: files_now.get(bucket, frozenset()) for bucket in shown.bounds},
        sites=shown.sites,
        made=write(place.events, shown.stored(fresh, export.sha256)),
        taken=replace(taken, rough=tuple(sorted(rough))),
        extent=extent.with_columns(seam=pl.Series(seam, dtype=pl.Int64)),
        witness=witness(shown.events),
    )


def _sum(parts: list[Taken]) -> Taken:
    counts = {
        name: sum(getattr(one, name) for one in parts)
        for name in ("rows", "read", "events", "repeated", "unread", "doubtful", "seam")
    }
    return Taken(**counts, rough=tuple(sorted({site for one in parts for site in one.rough})))


def witness(events: pl.DataFrame) -> tuple[str, ...]:
    """Return which logs are in an export."""
    return tuple(events["witness"].cast(pl.String).drop_nulls().unique().sort())


def _already(before: Entry, export: Export) -> Taken:
    if not before.export.same_question(export):
        raise OtherAnswers(
            "these bytes were taken before with other answers; nothing was changed",
            where=export.name,
            do="To correct them use 'eventlab retake'.",
        )
    return Taken(
        rows=before.export.rows,
        read=0,
        events=0,
        repeated=before.export.rows,
        unread=0,
        doubtful=0,
        seam=0,
        already=True,
    )


def _one_reading(table: "DeltaTable", shown: Shown, export: Export) -> None:
    """Refuse to put rows of one reader beside rows of another in a site."""
    stale = readings(table, list(shown.sites)).filter(
        pl.col("reading").str.split("+").list.first() != export.reading.split("+")[0]
    )
    if stale.height:
        raise StoreError(
            f"site {stale['site'][0]!r} and {stale['site'].n_unique() - 1} more were read by "
            "another version of the reader",
            where=export.name,
            do="Read them again first, with 'eventlab retake'.",
        )


def _extent_of(place: Place, table: "DeltaTable", source: str) -> pl.DataFrame:
    """Return what another export covers; without its record only the seam is counted less."""
    try:
        found = ledger.find(place.originals, table, source)
    except DamagedStore:
        found = None
    return found.extent.select(EXTENT.keys()) if found else pl.DataFrame(schema=EXTENT)
