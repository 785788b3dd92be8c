"""The fenced commit: the only place that writes to a table of the store.

Every try loads a table object of its own, lets the caller read through exactly that object and
commits with it. The commit carries application transactions, ``site:<id>`` for every site it
touches and ``export:<hash>``; where another commit since the load carries one of them, the
library refuses it, and everything is done again on a fresh table. Two things would break this
(tests hold both): giving the table by its path, which fences nothing, and moving the loaded
object forward, which moves the fence.

The number of a ``site:`` transaction is always 1; the library does not compare numbers. The
number of an ``export:`` transaction is no fence either but a fact that becomes true with the
commit: which record of the export is in force (see ``ledger``).
"""

import random
import time
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import ExitStack, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Generic, TypeVar

import polars as pl

from eventlab.errors import StoreBusy, StoreError
from eventlab.schema import Schema
from eventlab.store.files import File
from eventlab.store.folders import Folder
from eventlab.store.log import log_of, number
from eventlab.store.table import BUCKET, refusal, stream, writer

if TYPE_CHECKING:
    from deltalake import CommitProperties, DeltaTable, PostCommitHookProperties

Result = TypeVar("Result")

TRIES = 60
"""A writer that lost this often gives up; eight writers on one site needed 37 at worst."""

LOCK_AFTER = 3
"""Lost races after which writers of one machine queue up; the fence stays the guarantee."""

LOCK_WAIT_S = 60.0
FIRST_PAUSE_S = 0.02
LONGEST_PAUSE_S = 1.0

CHECKPOINT_COMMITS = 10
CHECKPOINT_BYTES = 4_000_000
"""Commits or bytes of log since the last checkpoint after which loading would be slow."""


@dataclass(frozen=True, slots=True)
class Replacement:
    """Rows to put in place of others.

    Parameters
    ----------
    schema : dict
        Columns of the frames.
    frames : iterable of polars.DataFrame
        Made one by one while they are written.
    predicate : str, optional
        What they replace; all where left out.
    new_schema : bool
        Whether they may change the columns.
    """

    schema: Schema
    frames: Iterable[pl.DataFrame]
    predicate: str | None = None
    new_schema: bool = False


@dataclass(frozen=True, slots=True)
class Write(Generic[Result]):
    """What one try wants to commit, and what to return once it is committed.

    Parameters
    ----------
    transactions : mapping of str to int
        Application transactions by name.
    result : object
        Returned when the commit has gone through.
    made : sequence of File
        Files of events, written already, that become part of the table.
    replacement : Replacement, optional
        Rows to put in place of others.
    """

    transactions: Mapping[str, int]
    result: Result
    made: Sequence[File] = ()
    replacement: Replacement | None = None


@dataclass(frozen=True, slots=True)
class Done(Generic[Result]):
    """What one try returns when there is nothing to write."""

    result: Result


def fenced(
    open_table: Callable[[], "DeltaTable"],
    attempt: Callable[["DeltaTable"], Write[Result] | Done[Result]],
    *,
    table_in: Folder,
    lock: Path | None,
) -> Result:
    """Read, decide and commit as one step, again and again until no other writer came between.

    Parameters
    ----------
    open_table : callable
        Loads the table as it is now, in an object of its own.
    attempt : callable
        Reads through the table it is given and says what to write.
    table_in : Folder
        The table's folder.
    lock : Path or None
        File that writers of this machine queue up at after lost races.

    Returns
    -------
    object
        The result of the try that went through.

    Raises
    ------
    StoreBusy
        Where other writers never left a turn.
    DamagedStore
        Where a file of the table is missing or is not what it was.
    StoreError
        Where the library refuses for another reason.
    """
    with ExitStack() as queue:
        for lost in range(TRIES):
            if lost == LOCK_AFTER and lock is not None:
                _queue_up(queue, lock)
            table = open_table()
            asked = attempt(table)
            if isinstance(asked, Done):
                return asked.result
            try:
                _write(table, asked)
            except Exception as error:
                if not _from_library(error):
                    raise
                if not _lost_race(error):
                    raise refusal(error, table_in.uri) from error
                pause = min(LONGEST_PAUSE_S, FIRST_PAUSE_S * 2**lost)
                time.sleep(random.uniform(0, pause))  # noqa: S311  # only spreads the writers
                continue
            _checkpoint(open_table, table_in)
            return asked.result
    raise StoreBusy(
        f"other writers came between {TRIES} times; nothing was written",
        do="Try again when they are done.",
    )


def _write(table: "DeltaTable", asked: Write[Result]) -> None:
    from deltalake import CommitProperties, PostCommitHookProperties, Transaction

    transactions = [Transaction(*each) for each in asked.transactions.items()]
    hooks = PostCommitHookProperties(create_checkpoint=False)
    if asked.replacement is None:
        table.create_write_transaction(
            [file.action for file in asked.made],
            "append",
            table.schema(),
            [BUCKET],
            commit_properties=CommitProperties(
                custom_metadata={
                    "operationMetrics": {"num_added_rows": sum(file.rows for file in asked.made)}
                },
                app_transactions=transactions,
            ),
            post_commithook_properties=hooks,
        )
        return
    _replace(table, asked.replacement, CommitProperties(app_transactions=transactions), hooks)


def _replace(
    table: "DeltaTable",
    asked: Replacement,
    properties: "CommitProperties",
    hooks: "PostCommitHookProperties",
) -> None:
    from deltalake import write_deltalake

    failed: list[Exception] = []

    def frames() -> Iterator[pl.DataFrame]:
        try:
            yield from asked.frames
        except Exception as error:
            failed.append(error)
            raise

    try:
        write_deltalake(
            table,
            stream(asked.schema, frames()),
            mode="overwrite",
            predicate=asked.predicate,
            schema_mode="overwrite" if asked.new_schema else None,
            writer_properties=writer(),
            commit_properties=properties,
            post_commithook_properties=hooks,
        )
    except Exception:
        if failed:
            raise failed[0] from None
        raise


def _from_library(error: Exception) -> bool:
    """Tell whether the table library raised this; it uses plain exceptions too."""
    from deltalake.exceptions import DeltaError

    return isinstance(error, (DeltaError, OSError)) or type(error) is Exception


def _lost_race(error: Exception) -> bool:
    """Tell whether another writer came between; a log cleaned meanwhile counts as one."""
    from deltalake.exceptions import CommitFailedError

    return isinstance(error, CommitFailedError) or "Invalid table version" in str(error)


def _queue_up(queue: ExitStack, lock: Path) -> None:
    from filelock import FileLock, Timeout

    with suppress(Timeout, OSError):
        queue.enter_context(FileLock(lock, timeout=LOCK_WAIT_S))


def _checkpoint(open_table: Callable[[], "DeltaTable"], table: Folder) -> None:
    """Write a checkpoint when much has gathered since the last; what is written stays written."""
    from deltalake.exceptions import DeltaError

    with suppress(DeltaError, OSError, StoreError):
        found = log_of(table).files()
        last = max((number(f) for f in found if ".checkpoint" in f.name), default=-1)
        since = [f.size for f in found if f.name.endswith(".json") and number(f) > last]
        if len(since) >= CHECKPOINT_COMMITS or sum(since) >= CHECKPOINT_BYTES:
            open_table().create_checkpoint()
