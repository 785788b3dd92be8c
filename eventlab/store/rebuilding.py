"""Rebuilding: the originals of some sites read again, united, and put in place of their rows.

The one way to drop an export, change an answer or read with a better reader. Rows are never
patched: a row that was dropped as a repeat lives only in the originals, and a kind that is read
differently has another union key.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import polars as pl

from eventlab.errors import DamagedStore, NotFound
from eventlab.store import ledger, sums
from eventlab.store.commit import Done, Replacement, Write, fenced
from eventlab.store.formats import bring_up
from eventlab.store.ledger import Entry
from eventlab.store.originals import Originals
from eventlab.store.place import Place
from eventlab.store.seam import EXTENT, extent, seam_rows
from eventlab.store.shown import Shown, show
from eventlab.store.table import BUCKET, TABLE, bucket_count, bucket_of, fetch, names, scan
from eventlab.store.taking import witness
from eventlab.store.union import unite
from eventlab.store.values import Export, Rebuilt

if TYPE_CHECKING:
    from deltalake import DeltaTable

Read = Callable[[Export, bytes], pl.DataFrame]
"""Reads an original again: the export as it shall be read, its bytes; gives its events."""


class Again:
    """Exports read again, each once, however often the commit has to be tried.

    Parameters
    ----------
    originals : Originals
        Where the bytes are.
    read : callable
        Reads them.
    change : mapping
        By hash, exports that shall be read with other answers.
    """

    def __init__(self, originals: Originals, read: Read, change: Mapping[str, Export]) -> None:
        self._originals = originals
        self._read = read
        self._change = change
        self._shown: dict[str, tuple[Export, Shown]] = {}

    def __call__(self, entry: Entry, buckets: int) -> tuple[Export, Shown]:
        """Return the export as it is read now, and what it shows."""
        sha256 = entry.export.sha256
        if sha256 not in self._shown:
            export = self._change.get(sha256, entry.export)
            events = self._read(export, self._originals.read(sha256))
            reading = events["reading"].drop_nulls()
            if len(reading):
                export = replace(export, reading=str(reading[0]))
            self._shown[sha256] = export, show(events, export, buckets)
        return self._shown[sha256]


def rebuild(
    place: Place,
    sites: Sequence[str],
    read: Read,
    *,
    drop: frozenset[str],
    change: Mapping[str, Export],
) -> Rebuilt:
    """Rebuild sites from their originals; see ``Store.rebuild``."""
    bring_up(place)
    originals = place.originals
    again = Again(originals, read, change)
    numbers: dict[str, int] = {}
    last: tuple[dict[str, int], Rebuilt] | None = None

    def attempt(table: "DeltaTable") -> Write[Rebuilt] | Done[Rebuilt]:
        nonlocal last
        if last is not None and all(
            table.transaction_version(name) == number for name, number in last[0].items()
        ):
            return Done(last[1])  # the commit had gone through after all
        entries = ledger.entries(originals, table)
        _all_known(entries, {*drop, *change})
        buckets = bucket_count(table)
        touched, used = _closure(
            entries,
            set(sites),
            drop=drop,
            change=change,
            shown_of=lambda entry: again(entry, buckets)[1],
        )
        if not used:
            return Done(Rebuilt((), (), (), 0, 0))
        _nothing_else_there(table, touched, entries)
        kept = [entry for entry in used if entry.export.sha256 not in drop]
        rows = _united([again(entry, buckets) for entry in kept], touched)
        records = {
            entry.export.sha256: ledger.said(entry)
            for entry in _as_read(kept, touched, [again(entry, buckets) for entry in kept])
        }
        for entry in used:
            sha256 = entry.export.sha256
            record = records.get(sha256, {"dropped": True})
            if numbers.get(sha256, 0) > entry.number:
                originals.write_record(sha256, numbers[sha256], record)
            else:
                numbers[sha256] = originals.add_record(sha256, record, after=entry.number)
        result = Rebuilt(
            sites=tuple(sorted(touched)),
            exports=tuple(entry.export.sha256 for entry in kept),
            dropped=tuple(sorted(drop)),
            before=_count(table, touched),
            after=rows.height,
        )
        fences = {
            ledger.fence(entry.export.sha256): numbers[entry.export.sha256]
            * (-1 if entry.export.sha256 in drop else 1)
            for entry in used
        }
        last = fences, result
        return Write(
            # An export without a row touches no site; its record changes all the same.
            replacement=Replacement(
                schema=TABLE,
                frames=_by_bucket(rows, touched, buckets),
                predicate=predicate(touched, buckets),
            )
            if touched
            else None,
            transactions={**{f"site:{site}": 1 for site in touched}, **fences},
            result=result,
        )

    result = fenced(place.open, attempt, table_in=place.events, lock=place.lock)
    sums.note(place.root, place.events, names(place.look()))
    for sha256 in result.dropped:
        originals.remove(sha256)
    return result


def predicate(sites: set[str], buckets: int) -> str:
    """Return the rows of these sites as the table library's SQL; texts are quoted."""
    names = ", ".join("'" + site.replace("'", "''") + "'" for site in sorted(sites))
    numbers = ", ".join(str(b) for b in sorted({bucket_of(site, buckets) for site in sites}))
    return f"{BUCKET} IN ({numbers}) AND site IN ({names})"


def _closure(
    entries: list[Entry],
    sites: set[str],
    *,
    drop: frozenset[str],
    change: Mapping[str, Export],
    shown_of: Callable[[Entry], Shown],
) -> tuple[set[str], list[Entry]]:
    """Find all sites that must be made anew, and the exports that are needed for it.

    A site that an export gains or loses by being read again is touched too. So are all sites of
    an export with rows of an unknown site: such a row may have found its site.
    """
    touched = set(sites)
    while True:
        used = [
            entry
            for entry in entries
            if entry.sites & touched or entry.export.sha256 in {*drop, *change}
        ]
        more: set[str] = set()
        for entry in used:
            sha256 = entry.export.sha256
            now = set() if sha256 in drop else set(shown_of(entry).sites)
            if sha256 in drop or sha256 in change or "" in entry.sites | now:
                more |= entry.sites | now
            else:
                more |= entry.sites ^ now
        if more <= touched:
            known = set().union(*(entry.sites for entry in used), more)
            return touched & known, used
        touched |= more


def _all_known(entries: list[Entry], named: set[str]) -> None:
    missing = named - {entry.export.sha256 for entry in entries}
    if missing:
        raise NotFound(f"no such export: {', '.join(sorted(each[:12] for each in missing))}")


def _nothing_else_there(table: "DeltaTable", sites: set[str], entries: list[Entry]) -> None:
    """Refuse where rows came from an export that is not known any more: they would be lost."""
    sources = fetch(_rows_of(table, sites).select(pl.col("source").unique()))["source"]
    lost = set(sources) - {entry.export.sha256 for entry in entries}
    if lost:
        raise DamagedStore(
            "rows came from an export whose original is not known; nothing was changed",
            where=min(lost),
            do="'eventlab store check' names what is wrong.",
        )


def _united(exports: list[tuple[Export, Shown]], sites: set[str]) -> pl.DataFrame:
    wanted = pl.Series(sorted(sites), dtype=pl.String).implode()
    frames = [pl.DataFrame(schema={k: v for k, v in TABLE.items() if k != BUCKET})]
    for export, shown in exports:
        positions = shown.order[~shown.again[shown.order]]
        rows = shown.rows(positions, export.sha256)
        frames.append(rows.filter(pl.col("site").is_in(wanted)))
    return unite(frames)


def _by_bucket(rows: pl.DataFrame, sites: set[str], buckets: int) -> list[pl.DataFrame]:
    numbers = pl.DataFrame(
        {"site": sorted(sites), BUCKET: [bucket_of(site, buckets) for site in sorted(sites)]},
        schema={"site": pl.String, BUCKET: pl.Int32},
    )
    placed = rows.join(numbers, on="site", how="left", maintain_order="left").select(TABLE.keys())
    return placed.sort(BUCKET, "site", "placed", maintain_order=True).partition_by(
        BUCKET, maintain_order=True
    )


def _as_read(
    entries: list[Entry], touched: set[str], read: list[tuple[Export, Shown]]
) -> Iterator[Entry]:
    """Yield the takings as they are now: what each shows, its seams with the exports before.

    Sites that are not made anew keep the seams that were counted for them.
    """
    covered = [pl.DataFrame(schema=EXTENT).with_columns(turn=pl.lit(0))]
    covered += [
        extent(shown).with_columns(turn=pl.lit(turn)) for turn, (_, shown) in enumerate(read)
    ]
    all_covered = pl.concat(covered)
    anew = pl.col("site").is_in(sorted(touched))
    for turn, (entry, (export, shown)) in enumerate(zip(entries, read, strict=True)):
        mine = covered[turn + 1].select(EXTENT.keys())
        before = all_covered.filter(pl.col("turn") < turn)
        now = pl.Series("now", seam_rows(shown, mine, before), dtype=pl.Int64)
        counted = mine.with_columns(now).join(
            entry.extent.select("site", "seam"), on="site", how="left", maintain_order="left"
        )
        seam = pl.when(anew).then("now").otherwise(pl.col("seam").fill_null(0))
        yield replace(
            entry,
            export=export,
            witness=", ".join(witness(shown.events)),
            extent=counted.select(*EXTENT, seam=seam),
        )


def _rows_of(table: "DeltaTable", sites: set[str]) -> pl.LazyFrame:
    count = bucket_count(table)
    return (
        scan(table)
        .filter(pl.col(BUCKET).is_in(sorted({bucket_of(site, count) for site in sites})))
        .filter(pl.col("site").is_in(sorted(sites)))
    )


def _count(table: "DeltaTable", sites: set[str]) -> int:
    return int(fetch(_rows_of(table, sites).select(pl.len())).item())
