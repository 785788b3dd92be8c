"""Small tables beside the events: sites, zones, weather and what else is known from outside."""

import re
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import polars as pl

from eventlab.errors import UsageError
from eventlab.schema import Schema, conform, empty
from eventlab.store.commit import Done, Replacement, Write, fenced
from eventlab.store.folders import Folder, is_remote
from eventlab.store.place import Place
from eventlab.store.table import fetch, opened, scan, storable, whole

if TYPE_CHECKING:
    from deltalake import DeltaTable

_NAME = re.compile(r"[a-z][a-z0-9_-]*")


def put(
    place: Place,
    name: str,
    frame: pl.DataFrame,
    *,
    key: Sequence[str],
    replaces: Sequence[str] | None = None,
) -> None:
    """Put rows into a small table; see ``Store.put``."""
    from deltalake import DeltaTable, write_deltalake

    folder = _folder(place, name)
    group = list(replaces or key)
    # Of rows with the same key the last one counts.
    rows = storable(frame).unique(list(key), keep="last", maintain_order=True)

    def open_table() -> "DeltaTable":
        if not DeltaTable.is_deltatable(folder.uri):
            if not is_remote(folder.uri):
                Path(folder.uri).parent.mkdir(parents=True, exist_ok=True)
            write_deltalake(folder.uri, rows.clear(), mode="ignore")
        return whole(opened(folder.uri))

    def attempt(table: "DeltaTable") -> Write[None] | Done[None]:
        before = fetch(scan(table))
        if not before.width:
            before = rows.clear()
        kept = before.join(rows, on=group, how="anti", nulls_equal=True)
        after = pl.concat([kept, rows], how="diagonal_relaxed").sort(
            list(replaces or key), maintain_order=True
        )
        if after.equals(before):
            return Done(None)
        return Write(
            replacement=Replacement(schema=dict(after.schema), frames=[after], new_schema=True),
            transactions={f"put:{name}": 1},
            result=None,
        )

    fenced(open_table, attempt, table_in=folder, lock=place.lock)


def get(place: Place, name: str, schema: Schema) -> pl.DataFrame:
    """Return a small table in the shape of a schema; no rows where there is none."""
    from deltalake import DeltaTable

    folder = _folder(place, name)
    if not DeltaTable.is_deltatable(folder.uri):
        return empty(schema)
    table = whole(opened(folder.uri))
    return conform(fetch(scan(table)), schema)


def versions(place: Place) -> dict[str, int]:
    """Return the version of each small table."""
    from deltalake import DeltaTable

    found = {name: place.small(name) for name in place.context.folders()}
    return {
        name: opened(folder.uri).version()
        for name, folder in found.items()
        if DeltaTable.is_deltatable(folder.uri)
    }


def _folder(place: Place, name: str) -> Folder:
    if not _NAME.fullmatch(name):
        raise UsageError(f"{name!r} is no name of a table")
    return place.small(name)
