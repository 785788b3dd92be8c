"""The event table: its shape, its properties, how it is made, opened and scanned."""

import os
import zlib
from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, Any
from urllib.parse import unquote

import polars as pl
from polars.datatypes import DataType, DataTypeClass

from eventlab.errors import DamagedStore, NewerStore, NoStore, StoreError
from eventlab.schema import STORED, UTC, WALL, Schema
from eventlab.store.folders import folder, is_remote, told, unreachable
from eventlab.store.log import faults

if TYPE_CHECKING:
    from arro3.core import RecordBatchReader
    from deltalake import DeltaTable, Field, WriterProperties

FORMAT = 1
"""Number of the store's format; a program refuses a store with a higher one."""

BUCKET = "bucket"
TABLE: Schema = {**STORED, BUCKET: pl.Int32()}
"""Columns of the event table: the events, and the bucket it is partitioned by.

There is no hash of the union key among them: it would be eight bytes a row that nothing
compresses (half as much again), and joining on the key itself, bucket by bucket, is as fast.
"""

_HELD: dict[DataType | DataTypeClass, str] = {
    pl.String(): "string",
    pl.Int32(): "integer",
    pl.Int64(): "long",
    UTC: "timestamp",
    WALL: "timestamp_ntz",
}
COPY = "Bring it back from a copy of the store."
BRING_BACK = "Bring the store back from a copy, or take the exports into a new one."
_ENCODED = "%"
_FORMAT_KEY = "eventlab.store_format"
_BUCKETS_KEY = "eventlab.buckets"
# Numbers that climb: their differences are small, a dictionary of them is not.
_CLIMBING = ("at", "placed", "wall", "row")


SKIPPING = ("site", "at", "placed")
"""Columns whose least and greatest values in each file stand in the log: what is asked for."""


def bucket_of(site: str, buckets: int) -> int:
    """Return the bucket of a site: CRC-32 of its UTF-8 bytes, which never changes."""
    return zlib.crc32(site.encode()) % buckets


def create_table(uri: str, buckets: int) -> None:
    """Make an empty event table; nothing happens where there is one."""
    from deltalake import DeltaTable
    from deltalake import Schema as DeltaSchema

    DeltaTable.create(
        uri,
        schema=DeltaSchema([field_of(name) for name in TABLE]),
        mode="ignore",
        partition_by=[BUCKET],
        configuration={
            _FORMAT_KEY: str(FORMAT),
            _BUCKETS_KEY: str(buckets),
            # Figures of the other columns would only swell the log.
            "delta.dataSkippingStatsColumns": ",".join(SKIPPING),
        },
        raise_if_key_not_exists=False,
    )


def field_of(name: str) -> "Field":
    """Return a column of the event table as the table library describes it."""
    from deltalake import Field
    from deltalake.schema import PrimitiveType

    return Field(name, PrimitiveType(_HELD[TABLE[name]]))


def format_of(table: "DeltaTable") -> int:
    """Return the number of the store's format; -1 where the table is no store of events."""
    return int(table.metadata().configuration.get(_FORMAT_KEY, "-1"))


def set_format(table: "DeltaTable") -> None:
    """Note that the table has the format of this program."""
    table.alter.set_table_properties({_FORMAT_KEY: str(FORMAT)}, raise_if_not_exists=False)


def load(uri: str) -> "DeltaTable":
    """Return the event table as it is now, in an object of its own.

    Raises
    ------
    NoStore
        Where there is no table, or one that is no store of events.
    NewerStore
        Where a newer program wrote it.
    DamagedStore
        Where its list of commits cannot be read.
    """
    table = opened(uri)
    number = format_of(table)
    if number < 0:
        raise NoStore("this table is no store of events", where=uri)
    if number > FORMAT:
        raise NewerStore(
            f"the store has format {number}, this program knows {FORMAT}",
            where=uri,
            do="Install the newer program.",
        )
    return table


def opened(uri: str) -> "DeltaTable":
    """Return any table as it is now; raises as ``load``."""
    from deltalake import DeltaTable
    from deltalake.exceptions import DeltaError, TableNotFoundError

    try:
        return DeltaTable(uri)
    except TableNotFoundError:
        raise NoStore(
            "there is no store here", where=uri, do="Name the folder of a store, or make one."
        ) from None
    except OSError as error:
        raise unreachable(error, uri) from error
    except DeltaError as error:
        what, where = next(faults(folder(uri)), ("the list of what was taken cannot be read", uri))
        raise DamagedStore(f"{what} ({told(error)})", where=where, do=BRING_BACK) from error


def files_by_bucket(table: "DeltaTable") -> dict[int, frozenset[str]]:
    """Return the files of each bucket by name."""
    told = pl.DataFrame(table.get_add_actions(flatten=True))
    if told.is_empty():
        return {}
    by_bucket = told.group_by(f"partition.{BUCKET}").agg("path")
    return {int(bucket): frozenset(paths) for bucket, paths in by_bucket.iter_rows()}


def names(table: "DeltaTable") -> list[str]:
    """Return the files of a table by their names below its folder."""
    told = pl.DataFrame(table.get_add_actions(flatten=True))
    return [unquote(name) for name in told["path"]] if told.height else []


def whole(table: "DeltaTable") -> "DeltaTable":
    """Return the table when its files are there in full length; only files of this machine.

    Raises
    ------
    DamagedStore
        Where one is missing or has another length than its commit says.
    """
    if is_remote(table.table_uri.removeprefix("file://")):
        return table
    told = pl.DataFrame(table.get_add_actions(flatten=True))
    if told.height:
        root = unquote(table.table_uri.removeprefix("file://"))
        for name, size in told.select("path", "size_bytes").iter_rows():
            path = os.path.join(root, name)  # noqa: PTH118  # ten times as fast, for each file
            found = os.stat(path).st_size if os.path.exists(path) else None  # noqa: PTH110, PTH116  # as above
            if found != size:
                what = "missing" if found is None else "damaged: its length has changed"
                raise DamagedStore(f"a file of the table is {what}", where=path, do=COPY)
    return table


def bucket_count(table: "DeltaTable") -> int:
    """Return the number of buckets, fixed when the store was made."""
    return int(table.metadata().configuration[_BUCKETS_KEY])


def filled_buckets(table: "DeltaTable") -> dict[int, int]:
    """Return the number of rows in each bucket that has any."""
    files = pl.DataFrame(table.get_add_actions(flatten=True))
    if files.is_empty():
        return {}
    rows = files.group_by(f"partition.{BUCKET}").agg(pl.col("num_records").sum())
    return {int(bucket): int(count) for bucket, count in rows.iter_rows()}


def scan(table: "DeltaTable") -> pl.LazyFrame:
    """Return the rows of exactly this table object; columns of a newer format are null."""
    rows = pl.scan_delta(table)
    paths = files(table) if _ENCODED in table.table_uri else []
    if paths:
        rows = _by_name(table, rows, paths)
    if format_of(table) in {-1, FORMAT}:
        return rows
    there = rows.collect_schema()
    return rows.with_columns(
        pl.lit(None, dtype).alias(name) for name, dtype in TABLE.items() if name not in there
    )


def _by_name(table: "DeltaTable", rows: pl.LazyFrame, paths: list[str]) -> pl.LazyFrame:
    # The library looks for a folder such as "My store" under its encoded name, "My%20store".
    shape = rows.collect_schema()
    parts = {name: shape[name] for name in table.metadata().partition_columns}
    held = {name: dtype for name, dtype in shape.items() if name not in parts}
    found = pl.scan_parquet(
        paths, schema=held, hive_partitioning=bool(parts), hive_schema=parts or None
    )
    return found.select(shape.names())


def files(table: "DeltaTable") -> list[str]:
    """Return the files of a table under the names that they really have."""
    return [unquote(uri.removeprefix("file://")) for uri in table.file_uris()]


def fetch(rows: pl.LazyFrame) -> pl.DataFrame:
    """Collect rows of a table, or rows worked out from them.

    Raises
    ------
    DamagedStore
        Where a file of the table is missing or is not what it was.
    """
    try:
        return rows.collect()
    except (FileNotFoundError, pl.exceptions.ComputeError) as error:
        raise refusal(error) from error
    except pl.exceptions.PanicException as error:
        # So the library answers a file that is shorter than its commit says.
        raise refusal(FileNotFoundError(str(error))) from error


def refusal(error: Exception, where: str = "") -> StoreError:
    """Return the error for people that a library's error stands for."""
    text = told(error)
    signs = ("not found", "no such file", "parquet", "corrupt", "magic")
    if isinstance(error, FileNotFoundError) or any(sign in text.lower() for sign in signs):
        return DamagedStore(
            f"a file of the table is missing or damaged ({text})",
            where=where,
            do="'eventlab store check' names what is wrong.",
        )
    return StoreError(f"the table refused ({text})", where=where)


def storable(frame: pl.DataFrame) -> pl.DataFrame:
    """Cast enums to text and unsigned to signed numbers; the table holds neither.

    Raises
    ------
    StoreError
        Where a column has a type that the table cannot hold.
    """
    casts: list[pl.Expr] = []
    for name, dtype in frame.schema.items():
        if isinstance(dtype, (pl.Enum, pl.Categorical, pl.Null)):
            casts.append(pl.col(name).cast(pl.String))
        elif dtype.is_unsigned_integer():
            casts.append(pl.col(name).cast(pl.Int64))
        elif isinstance(dtype, (pl.Duration, pl.Time, pl.Object)):
            raise StoreError(f"a column of type {dtype} cannot be stored", where=name)
    return frame.with_columns(casts)


def stream(schema: Schema, frames: Iterable[pl.DataFrame]) -> "RecordBatchReader":
    """Turn frames into a stream that is made while it is written: one frame in memory."""
    from arro3.core import RecordBatchReader, Table

    def batches() -> Iterator[Any]:
        for frame in frames:
            yield from Table.from_arrow(frame).to_batches()

    start = Table.from_arrow(pl.DataFrame(schema=schema)).schema
    return RecordBatchReader.from_batches(start, batches())


def writer() -> "WriterProperties":
    """Return how files are written."""
    from deltalake import ColumnProperties, WriterProperties

    climbing = ColumnProperties(
        dictionary_enabled=False, encoding="DELTA_BINARY_PACKED", statistics_enabled="CHUNK"
    )
    return WriterProperties(
        compression="ZSTD",
        compression_level=1,
        column_properties=dict.fromkeys(_CLIMBING, climbing),
    )
