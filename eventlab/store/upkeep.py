"""Looking after a store: finding what is wrong, joining small files, removing old ones."""

from collections.abc import Iterator
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import polars as pl

from eventlab.errors import DamagedStore, EventlabError
from eventlab.schema import UTC as UTC_TIME
from eventlab.schema import Schema
from eventlab.store import ledger
from eventlab.store.place import Place
from eventlab.store.shown import KEY, key
from eventlab.store.table import BUCKET, fetch, files, filled_buckets, scan
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

_COPY = "Bring it back from a copy of the store."
_REBUILD = "Rebuild the site with 'eventlab retake'."


def check(place: Place) -> list[Problem]:
    """Find what is wrong; see ``Store.check``."""
    table = place.open()
    found = list(_files(table))
    found += _records(place, table)
    found += _originals(place)
    if not any("table" in problem.what for problem in found):
        found += _contents(place, table)
    return found


def _files(table: "DeltaTable") -> Iterator[Problem]:
    for path in files(table):
        if not path.exists():
            yield Problem("a file of the table is missing", str(path), _COPY)
            continue
        try:
            pl.scan_parquet(path).select(pl.len()).collect()
            pl.read_parquet(path, columns=["site", "placed"])
        except (pl.exceptions.PolarsError, pl.exceptions.PanicException, OSError) as error:
            told = " ".join(str(error).split())[:120]
            yield Problem(f"a file of the table is damaged ({told})", str(path), _COPY)


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
            yield Problem("the original of an export is missing", f"{name} ({sha256})", _COPY)
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
            yield Problem("events came from an export that has no record", source, _COPY)
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
    from deltalake.exceptions import DeltaError

    joined, problem = 0, None
    table = place.open()
    try:
        joined = int(table.optimize.compact()["numFilesRemoved"])
    except DeltaError as error:
        told = " ".join(str(error).split())[:200]
        problem = f"small files were left as they are, other writers came between ({told})"
    table = place.open()
    # Files of writers that were killed are found only by looking at every file there is.
    removed = table.vacuum(retention_hours=KEEP_HOURS, dry_run=False, full=True)
    table = place.open()
    table.create_checkpoint()
    table.cleanup_metadata()
    return Tidied(joined, len(removed), _leftovers(place, table), problem)


def _leftovers(place: Place, table: "DeltaTable") -> int:
    """Remove half-written files and records, and what is left of dropped exports."""
    originals, count = place.originals, 0
    for sha256 in ledger.half_dropped(originals, table):
        originals.remove(sha256)
        count += 1
    for path in originals.forgotten(
        lambda sha256: ledger.in_force(table, sha256), older_than_s=KEEP_HOURS * 3600
    ):
        path.unlink(missing_ok=True)
        count += 1
    return count


def history(place: Place, limit: int = 100) -> pl.DataFrame:
    """List what was done to the event table; see ``Store.history``."""
    rows = []
    for done in place.open().history(limit):
        metrics = done.get("operationMetrics") or {}
        rows.append(
            {
                "version": done.get("version"),
                "at": datetime.fromtimestamp(done["timestamp"] / 1000, UTC),
                "what": done.get("operation"),
                "rows": metrics.get("num_added_rows"),
                "readable": _readable(place, done.get("version")),
            }
        )
    return pl.DataFrame(rows, schema=HISTORY)


def _readable(place: Place, version: int | None) -> bool:
    from deltalake import DeltaTable
    from deltalake.exceptions import DeltaError

    try:
        table = DeltaTable(str(place.events), version=version, storage_options=place.options)
        return all(path.exists() for path in files(table))
    except DeltaError:
        return False
