"""Events as files of the table: written here, several at once, and named in the commit.

The table library writes one file after the other and looks at every text anew. Most columns of
an export hold few distinct texts, which the frames carry as enums; written as such they cost a
quarter of the time. To every reader they are text: the types noted in the file say so.
"""

import time
import uuid
from collections.abc import Iterable
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from io import BytesIO
from typing import TYPE_CHECKING, Any

import orjson
import polars as pl

from eventlab.errors import StoreError
from eventlab.schema import STORED
from eventlab.store.folders import Folder
from eventlab.store.sums import stamped
from eventlab.store.table import BUCKET, SKIPPING

if TYPE_CHECKING:
    from deltalake.transaction import AddAction

_TYPES = "ARROW:schema"
_WRITERS = 2
_PIECE = 1 << 18
# Frames in memory at most: those being written and one that waits.
_AHEAD = _WRITERS + 1


@dataclass(frozen=True, slots=True)
class File:
    """A file that was written: what a commit has to name, and its rows."""

    action: "AddAction"
    rows: int


def write(folder: Folder, frames: Iterable[pl.DataFrame]) -> list[File]:
    """Write frames of one bucket each as files of the table; no version of it knows them yet.

    Parameters
    ----------
    folder : Folder
        Folder of the event table.
    frames : iterable of polars.DataFrame
        Columns of ``TABLE``; text may be an enum. Made one by one while others are written.

    Returns
    -------
    list of File
        In the order of the frames.

    Raises
    ------
    StoreError
        Where a file cannot be written.
    """
    waiting: list[Future[File]] = []
    with ThreadPoolExecutor(_WRITERS) as writers:
        for frame in frames:
            waiting.append(writers.submit(_write, folder, frame))
            if len(waiting) >= _AHEAD:
                waiting[-_AHEAD].result()
    return [done.result() for done in waiting]


def _write(folder: Folder, frame: pl.DataFrame) -> File:
    from deltalake.transaction import AddAction

    bucket = int(frame[BUCKET][0])
    inside = f"{BUCKET}={bucket}"
    try:
        made = BytesIO()
        frame.drop(BUCKET).write_parquet(
            made,
            compression="zstd",
            compression_level=1,
            # Of a file in one piece all that can be asked for stands in the log.
            statistics=frame.height > _PIECE,
            row_group_size=_PIECE,
            metadata={_TYPES: _types()},
        )
        content = made.getbuffer()
        name = f"{inside}/{stamped(uuid.uuid4().hex, content)}"
        with folder.written(name) as file:
            file.write(content)
    except (pl.exceptions.PolarsError, OSError) as error:
        raise StoreError(
            f"a file of the table cannot be written ({error})", where=f"{folder.uri}/{inside}"
        ) from error
    action = AddAction(
        path=name,
        size=len(content),
        partition_values={BUCKET: str(bucket)},
        modification_time=int(time.time() * 1000),
        data_change=True,
        stats=orjson.dumps(_figures(frame)).decode(),
    )
    return File(action, frame.height)


@cache
def _types() -> str:
    """Return the stored types as they are noted in a file."""
    with BytesIO() as file:
        pl.DataFrame(schema=STORED).write_parquet(file)
        file.seek(0)
        return str(pl.read_parquet_metadata(file)[_TYPES])


def _figures(frame: pl.DataFrame) -> dict[str, Any]:
    """Return what the log keeps of a file, so that it is opened only where it can matter."""
    # An enum is ordered by its list, a text by its letters.
    columns = [
        frame[name].unique().cast(STORED[name]) if name == "site" else frame[name]
        for name in SKIPPING
    ]
    low = {column.name: _told(column.min()) for column in columns}
    high = {column.name: _told(column.max()) for column in columns}
    return {
        "numRecords": frame.height,
        "minValues": {name: value for name, value in low.items() if value is not None},
        "maxValues": {name: value for name, value in high.items() if value is not None},
        "nullCount": {column.name: column.null_count() for column in columns},
    }


def _told(value: object) -> str | None:
    """Write a text or a time as the log writes it."""
    if isinstance(value, datetime):
        return value.replace(tzinfo=None).isoformat() + "Z"
    return None if value is None else str(value)
