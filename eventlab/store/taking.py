"""Taking an export: its rows, united with what is stored, in one fenced commit."""

from dataclasses import replace
from typing import TYPE_CHECKING

import polars as pl

from eventlab.errors import DamagedStore, OtherAnswers, StoreError
from eventlab.store import ledger
from eventlab.store.commit import Done, Write, fenced
from eventlab.store.ledger import Entry
from eventlab.store.place import Place
from eventlab.store.reading import readings
from eventlab.store.seam import EXTENT
from eventlab.store.shown import Shown, show
from eventlab.store.table import TABLE, bucket_count
from eventlab.store.union import compare
from eventlab.store.values import Export, Taken

if TYPE_CHECKING:
    from deltalake import DeltaTable


def take(place: Place, events: pl.DataFrame, export: Export) -> Taken:
    """Take an export; see ``Store.take``."""
    originals = place.originals
    if not originals.holds(export.sha256):
        raise StoreError("the original of this export was not kept first", where=export.name)
    shown: Shown | None = None
    mine: tuple[int, Taken] | None = None

    def attempt(table: "DeltaTable") -> Write[Taken] | Done[Taken]:
        nonlocal shown, mine
        before = ledger.in_force(table, export.sha256)
        if mine is not None and before == mine[0]:
            return Done(mine[1])  # the commit had gone through after all
        if before > 0:
            return Done(_already(ledger.entry_of(originals, export.sha256, before), export))
        shown = shown or show(events, export, bucket_count(table))
        _one_reading(table, shown, export)
        fresh, extent, seam, rough = compare(
            shown, table, lambda source: _extent_of(place, table, source)
        )
        entry = Entry(
            export=export,
            number=0,
            order=table.version(),
            taken_at=ledger.now(),
            witness=witness(shown.events),
            extent=extent.with_columns(seam=pl.Series(seam, dtype=pl.Int64)),
        )
        number = mine[0] if mine else 0
        if number > abs(before):
            originals.write_record(export.sha256, number, ledger.said(entry))
        else:
            number = originals.add_record(export.sha256, ledger.said(entry), after=abs(before))
        taken = replace(shown.counts(export, fresh, sum(seam)), rough=tuple(sorted(rough)))
        mine = number, taken
        return Write(
            schema=TABLE,
            frames=shown.stored(fresh, export.sha256),
            transactions={
                **{f"site:{site}": 1 for site in shown.sites},
                ledger.fence(export.sha256): number,
            },
            result=taken,
        )

    taken = fenced(place.open, attempt, table_in=place.events, lock=place.lock)
    if mine is not None and taken.already:
        originals.drop_record(export.sha256, mine[0])  # another writer took it meanwhile
    return taken


def witness(events: pl.DataFrame) -> str:
    """Return which logs are in an export."""
    return ", ".join(events["witness"].cast(pl.String).drop_nulls().unique().sort())


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
