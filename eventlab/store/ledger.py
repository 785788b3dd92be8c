"""Which exports are in the store, and how each was taken.

Nothing is kept for this alone. The table says which record of an export is in force (the number
of its ``export:`` transaction, committed together with its rows); the record, written before
that commit, says how it was read. A number below zero says that the export was dropped. What
each export contributed is counted in the table.
"""

from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import orjson
import polars as pl

from eventlab.errors import DamagedStore, StoreError
from eventlab.schema import UTC as UTC_TIME
from eventlab.schema import Kind, Schema
from eventlab.store.originals import Originals
from eventlab.store.seam import EXTENT
from eventlab.store.table import BUCKET, fetch, filled_buckets, scan
from eventlab.store.values import Export

if TYPE_CHECKING:
    from deltalake import DeltaTable

LEDGER: Schema = {
    "sha256": pl.String(),
    "name": pl.String(),
    "taken_at": UTC_TIME,
    "sites": pl.List(pl.String()),
    "rows": pl.Int64(),
    "lines": pl.Int64(),
    "read": pl.Int64(),
    "repeated": pl.Int64(),
    "unread": pl.Int64(),
    "seam": pl.Int64(),
    "answers": pl.String(),
    "site": pl.String(),
    "time_zone": pl.String(),
    "witness": pl.String(),
    "reading": pl.String(),
    "first": UTC_TIME,
    "last": UTC_TIME,
}
"""Columns of the list of exports; ``answers`` is a JSON object."""

_CACHE = "ledger.parquet"
_CACHE_FROM = 50


@dataclass(frozen=True, slots=True)
class Entry:
    """A taking of an export.

    Parameters
    ----------
    export : Export
        What was taken, and with which answers.
    number : int
        Number of its record.
    order : int
        Version of the table it was first taken on. Of two exports that share a site the later
        one has the higher number, whatever the clocks of their machines said.
    taken_at : datetime
        When.
    witness : str
        Which logs are in it.
    extent : polars.DataFrame
        ``EXTENT`` and ``seam`` of each of its sites.
    """

    export: Export
    number: int
    order: int
    taken_at: datetime
    witness: str
    extent: pl.DataFrame

    @property
    def sites(self) -> frozenset[str]:
        """The sites it has rows of; an empty name is "site not known"."""
        return frozenset(self.extent["site"])

    @property
    def place_in_order(self) -> tuple[int, datetime, str]:
        """What exports are sorted by."""
        return self.order, self.taken_at, self.export.sha256


def fence(sha256: str) -> str:
    """Return the name of an export's transaction."""
    return f"export:{sha256}"


def in_force(table: "DeltaTable", sha256: str) -> int:
    """Return the number of the record in force; 0 where never taken, below 0 where dropped."""
    return table.transaction_version(fence(sha256)) or 0


def said(entry: Entry) -> dict[str, Any]:
    """Return what the record of a taking says."""
    export = entry.export
    return {
        "name": export.name,
        "answers": dict(export.answers),
        "site": export.site,
        "time_zone": export.time_zone,
        "reading": export.reading,
        "rows": export.rows,
        "lines": export.lines,
        "notes": dict(export.notes),
        "order": entry.order,
        "taken_at": entry.taken_at.isoformat(),
        "witness": entry.witness,
        "sites": entry.extent["site"].to_list(),
        "first": entry.extent["first"].to_physical().to_list(),
        "last": entry.extent["last"].to_physical().to_list(),
        "seam": entry.extent["seam"].to_list(),
    }


def entry(sha256: str, number: int, record: dict[str, Any]) -> Entry:
    """Return the taking that a record tells of."""
    return Entry(
        export=Export(
            sha256=sha256,
            name=record["name"],
            answers=record["answers"],
            site=record["site"],
            time_zone=record["time_zone"],
            reading=record["reading"],
            rows=record["rows"],
            lines=record["lines"],
            notes=record.get("notes", {}),
        ),
        number=number,
        order=record["order"],
        taken_at=datetime.fromisoformat(record["taken_at"]),
        witness=record["witness"],
        extent=pl.DataFrame(
            {
                "site": pl.Series(record["sites"], dtype=pl.String),
                "first": pl.Series(record["first"], dtype=pl.Int64).cast(EXTENT["first"]),
                "last": pl.Series(record["last"], dtype=pl.Int64).cast(EXTENT["last"]),
                "seam": pl.Series(record["seam"], dtype=pl.Int64),
            }
        ),
    )


def find(originals: Originals, table: "DeltaTable", sha256: str) -> Entry | None:
    """Return how an export was taken; None where it is not in the store.

    Raises
    ------
    DamagedStore
        Where the record is missing or cannot be read.
    """
    number = in_force(table, sha256)
    return entry_of(originals, sha256, number) if number > 0 else None


def entry_of(originals: Originals, sha256: str, number: int) -> Entry:
    """Return a taking by the number of its record.

    Raises
    ------
    DamagedStore
        Where the record is missing or cannot be read.
    """
    return entry(sha256, number, originals.record(sha256, number))


def entries(originals: Originals, table: "DeltaTable") -> list[Entry]:
    """List the exports in the store, in the order of their taking.

    Raises
    ------
    DamagedStore
        Where a record is missing or cannot be read.
    """
    cached = _cached(originals)
    found, looked_up = [], 0
    for sha256, numbers in originals.numbers().items():
        # A record is written before anything can change, so the newest one known to be in force
        # still is.
        if (record := cached.get((sha256, numbers[-1]))) is not None:
            found.append(entry(sha256, numbers[-1], record))
            continue
        looked_up += 1
        try:
            one = find(originals, table, sha256)
        except DamagedStore:
            if sha256 in originals.numbers():
                raise
            continue  # another process has dropped it since the table was loaded
        if one is not None:
            found.append(one)
    if looked_up >= _CACHE_FROM:
        _cache(originals, found)
    return sorted(found, key=lambda one: one.place_in_order)


def waiting(originals: Originals, table: "DeltaTable") -> list[Export]:
    """List the originals that were kept but not taken, or not to the end; name and hash only."""
    taken = {one.export.sha256 for one in entries(originals, table)}
    gone = set(half_dropped(originals, table))
    return [
        Export(sha256=sha256, name=originals.kept(sha256).name)
        for sha256 in originals.hashes()
        if sha256 not in taken and sha256 not in gone
    ]


def half_dropped(originals: Originals, table: "DeltaTable") -> list[str]:
    """List exports that were dropped while their files were left behind; records go last."""
    return [
        sha256
        for sha256, numbers in originals.numbers().items()
        if -in_force(table, sha256) in numbers
    ]


def listed(originals: Originals, table: "DeltaTable") -> pl.DataFrame:
    """List the exports with what each contributed: columns of ``LEDGER``.

    A row counts for the first export that showed it; the others repeat it.
    """
    found = entries(originals, table)
    rows = [
        {
            "sha256": one.export.sha256,
            "name": one.export.name,
            "taken_at": one.taken_at,
            "sites": sorted(one.sites),
            "rows": one.export.rows,
            "lines": one.export.lines,
            "seam": one.extent["seam"].sum(),
            "answers": orjson.dumps(dict(one.export.answers), option=orjson.OPT_SORT_KEYS).decode(),
            "site": one.export.site,
            "time_zone": one.export.time_zone,
            "witness": one.witness,
            "reading": one.export.reading,
            "first": one.extent["first"].min(),
            "last": one.extent["last"].max(),
        }
        for one in found
    ]
    contributed = contributions(table)
    return (
        pl.DataFrame(rows, schema={k: v for k, v in LEDGER.items() if k not in _COUNTED})
        .join(contributed, left_on="sha256", right_on="source", how="left", maintain_order="left")
        .with_columns(pl.col("read", "unread").fill_null(0))
        .with_columns(repeated=pl.col("rows") - pl.col("read") - pl.col("unread"))
        .select(pl.col(name).cast(dtype) for name, dtype in LEDGER.items())
    )


_COUNTED = ("read", "repeated", "unread")

SPAN: Schema = {
    "site": pl.String(),
    "source": pl.String(),
    "since": UTC_TIME,
    "until": UTC_TIME,
}


def spans(originals: Originals, table: "DeltaTable") -> pl.DataFrame:
    """Say from when to when each export reaches, for each of its sites: columns of ``SPAN``."""
    rows = [
        (sorted(one.sites), one.export.sha256, one.extent["first"].min(), one.extent["last"].max())
        for one in entries(originals, table)
    ]
    schema = {**SPAN, "site": pl.List(pl.String())}
    return pl.DataFrame(rows, schema=schema, orient="row").explode("site").drop_nulls()


def contributions(table: "DeltaTable") -> pl.DataFrame:
    """Count the rows that each export was the first to show: source, read, unread.

    A row tells of one site, so it is counted in one bucket; one that tells two things, one of
    them not understood, is unread.
    """
    counted = [pl.DataFrame(schema=_CONTRIBUTED)]
    for bucket in filled_buckets(table):
        rows = scan(table).filter(pl.col(BUCKET) == bucket)
        unread = pl.col("kind") == Kind.UNREAD
        by_source = rows.group_by("source").agg(
            rows=pl.col("row").n_unique(), unread=pl.col("row").filter(unread).n_unique()
        )
        counted.append(
            fetch(
                by_source.select(
                    "source",
                    (pl.col("rows").cast(pl.Int64) - pl.col("unread")).alias("read"),
                    pl.col("unread").cast(pl.Int64),
                )
            )
        )
    return pl.concat(counted).group_by("source").sum()


_CONTRIBUTED: Schema = {"source": pl.String(), "read": pl.Int64(), "unread": pl.Int64()}


def now() -> datetime:
    """Return the time of a taking."""
    return datetime.now(UTC)


def _cached(originals: Originals) -> dict[tuple[str, int], dict[str, Any]]:
    """Return the records known to be in force; only a shortcut, and may be deleted."""
    try:
        with originals.folder.read(_CACHE) as file:
            rows = pl.read_parquet(file).iter_rows()
    except (OSError, pl.exceptions.PolarsError):
        return {}
    return {(sha256, number): orjson.loads(record) for sha256, number, record in rows}


def _cache(originals: Originals, found: list[Entry]) -> None:
    frame = pl.DataFrame(
        [(one.export.sha256, one.number, orjson.dumps(said(one)).decode()) for one in found],
        schema=["sha256", "number", "record"],
        orient="row",
    )
    with suppress(OSError, StoreError), originals.folder.written(_CACHE) as out:
        frame.write_parquet(out)
