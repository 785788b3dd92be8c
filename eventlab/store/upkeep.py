"""Looking after a store: finding what is wrong, joining small files, removing old ones."""

from collections.abc import Iterator
from contextlib import suppress
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import polars as pl

from eventlab.errors import DamagedStore, EventlabError
from eventlab.schema import UTC as UTC_TIME
from eventlab.schema import Schema
from eventlab.store import ledger, sums
from eventlab.store.folders import told
from eventlab.store.log import faults
from eventlab.store.place import Place
from eventlab.store.shown import KEY, key
from eventlab.store.table import (
    BRING_BACK,
    BUCKET,
    COPY,
    fetch,
    files,
    filled_buckets,
    names,
    opened,
    refusal,
    scan,
)
from eventlab.store.values import Problem, Tidied

if TYPE_CHECKING:
    from deltalake import DeltaTable

KEEP_HOURS = 24 * 7
"""Files that no version needs any more stay this long: longer than the longest intake."""

HISTORY: Schema = {
    "version": pl.Int64(),
    "at": UTC_TIME,
    "what": pl.String(),
    "rows": pl.Int64(),
    "readable": pl.Boolean(),
}
"""Columns of the history; ``readable`` tells whether all files of that version are still there."""

_REBUILD = "Rebuild the site with 'eventlab retake'."


def check(place: Place) -> list[Problem]:
    """Find what is wrong; see ``Store.check``."""
    with suppress(DamagedStore):
        place.look()
    found = [Problem(what, where, BRING_BACK) for what, where in faults(place.events)]
    if not found:
        table = place.look()
        found += _files(table) or _changed(place, table)
        found += _records(place, table)
        if not any("table" in problem.what for problem in found):
            found += _contents(place, table)
    found += _originals(place)
    for name in place.context.folders():
        small = place.small(name)
        broken = [Problem(what, where, BRING_BACK) for what, where in faults(small)]
        found += broken or _files(opened(small.uri))
    return found


def _changed(place: Place, table: "DeltaTable") -> list[Problem]:
    return [
        Problem("a file of the table is not what it was", f"{place.events.uri}/{name}", COPY)
        for name in sums.changed(place.root, place.events, names(table))
    ]


def _files(table: "DeltaTable") -> list[Problem]:
    return list(_unreadable(table))


def _unreadable(table: "DeltaTable") -> Iterator[Problem]:
    for path in files(table):
        try:
            pl.scan_parquet(path, glob=False).select(pl.len()).collect()
            pl.read_parquet(path, glob=False)
        except FileNotFoundError:
            yield Problem("a file of the table is missing", path, COPY)
        except (pl.exceptions.PolarsError, pl.exceptions.PanicException, OSError) as error:
            yield Problem(f"a file of the table is damaged ({told(error)})", path, COPY)


def _records(place: Place, table: "DeltaTable") -> Iterator[Problem]:
    originals = place.originals
    numbers = originals.numbers()
    for sha256 in sorted({*originals.hashes(), *numbers}):
        name = originals.kept(sha256).name
        try:
            taken = ledger.find(originals, table, sha256)
        except DamagedStore as error:
            yield Problem(error.found, error.where, error.do)
            continue
        if taken is not None and not originals.holds(sha256):
            yield Problem("the original of an export is missing", f"{name} ({sha256})", COPY)
        elif -ledger.in_force(table, sha256) in numbers.get(sha256, []):
            yield Problem(
                "files of a dropped export were left behind",
                f"{name} ({sha256})",
                "Run 'eventlab store tidy'.",
            )
        elif taken is None and originals.holds(sha256):
            yield Problem(
                "an export was kept but not taken, or not to the end",
                f"{name} ({sha256})",
                "Take it again, or answer its question.",
                waits=True,
            )


def _originals(place: Place) -> Iterator[Problem]:
    for sha256 in place.originals.hashes():
        try:
            place.originals.read(sha256)
        except DamagedStore as error:
            yield Problem(error.found, error.where, error.do)


def _contents(place: Place, table: "DeltaTable") -> Iterator[Problem]:
    try:
        rows = {e.export.sha256: e.export.rows for e in ledger.entries(place.originals, table)}
    except EventlabError:
        rows = {}  # told already
    for source, read, unread in ledger.contributions(table).iter_rows():
        if source not in rows:
            yield Problem("events came from an export that has no record", source, COPY)
        elif read + unread > rows[source]:
            yield Problem(
                f"an export of {rows[source]} rows has {read + unread} in the table",
                source,
                _REBUILD,
            )
    for bucket in sorted(filled_buckets(table)):
        stored = scan(table).filter(pl.col(BUCKET) == bucket)
        reader = pl.col("reading").str.split("+").list.first().n_unique()
        mixed = fetch(stored.group_by("site").agg(reader).filter(pl.col("reading") > 1))
        for site in mixed["site"].sort():
            yield Problem("a site holds rows of two versions of the reader", site, _REBUILD)
        keys = stored.select(*key(unread=True), "nth")
        double = fetch(keys.group_by(*KEY, "nth").len().filter(pl.col("len") > 1))
        for site in double["site"].unique().sort():
            yield Problem("a site holds rows twice", site, _REBUILD)


def tidy(place: Place) -> Tidied:
    """Join small files, remove old ones; see ``Store.tidy``."""
    from deltalake.exceptions import CommitFailedError, DeltaError

    joined, problem = 0, None
    table = place.open()
    try:
        joined = int(table.optimize.compact()["numFilesRemoved"])
    except CommitFailedError as error:
        problem = f"small files were left as they are, other writers came between ({told(error)})"
    except (DeltaError, OSError) as error:
        raise refusal(error, place.events.uri) from error
    table = place.open()
    # Files of writers that were killed are found only by looking at every file there is.
    removed = table.vacuum(retention_hours=KEEP_HOURS, dry_run=False, full=True)
    table = place.open()
    table.create_checkpoint()
    table.cleanup_metadata()
    sums.note(place.root, place.events, names(table))
    return Tidied(joined, len(removed), _leftovers(place, table), problem)


def _leftovers(place: Place, table: "DeltaTable") -> int:
    """Remove half-written files and records, and what is left of dropped exports."""
    originals, count = place.originals, 0
    for sha256 in ledger.half_dropped(originals, table):
        originals.remove(sha256)
        count += 1
    for name in originals.forgotten(
        lambda sha256: ledger.in_force(table, sha256), older_than_s=KEEP_HOURS * 3600
    ):
        originals.folder.remove(name)
        count += 1
    return count


def history(place: Place, limit: int = 100) -> pl.DataFrame:
    """List what was done to the event table; see ``Store.history``."""
    rows = []
    there = {file.name for file in place.events.files()}
    for done in place.look().history(limit):
        metrics = done.get("operationMetrics") or {}
        rows.append(
            {
                "version": done.get("version"),
                "at": datetime.fromtimestamp(done["timestamp"] / 1000, UTC),
                "what": _what(done),
                "rows": metrics.get("num_added_rows"),
                "readable": _readable(place, done.get("version"), there),
            }
        )
    return pl.DataFrame(rows, schema=HISTORY)


_DONE = {
    "CREATE TABLE": "the store was made",
    "WRITE": "rows were added",
    "OPTIMIZE": "small files were joined",
    "VACUUM START": "old files are removed",
    "VACUUM END": "old files were removed",
    "ADD COLUMN": "columns of a newer format were added",
    "SET TBLPROPERTIES": "the store was brought to a newer format",
}


def _what(done: dict[str, Any]) -> str:
    """Say in plain words what a commit did."""
    if str((done.get("operationParameters") or {}).get("mode", "")).lower() == "overwrite":
        return "sites were made anew"
    name = str(done.get("operation"))
    return _DONE.get(name, name.lower())


def _readable(place: Place, version: int | None, there: set[str]) -> bool:
    from deltalake import DeltaTable
    from deltalake.exceptions import DeltaError

    try:
        needed = pl.DataFrame(
            DeltaTable(place.events.uri, version=version).get_add_actions(flatten=True)
        )
        return set(needed["path"]) <= there
    except DeltaError:
        return False
