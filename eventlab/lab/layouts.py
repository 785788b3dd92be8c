"""Layouts of exports: what those that look the same have in common, and what people said of them.

A layout is known by its headings, by what divides its cells and by how its times are written. Each
export that was taken shows one; further ones may have come from another store.
"""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import polars as pl

from eventlab.errors import NotFound, UsageError, WrongContext
from eventlab.lab.answers import checked
from eventlab.lab.identity import ANSWERED, LAYOUT, LOOK
from eventlab.meaning import COLUMN_KEYS
from eventlab.schema import UTC as UTC_TIME
from eventlab.schema import Schema
from eventlab.store import Export, Store

KEYS = ("dates", "row-order", "midnight", "time-zone", *COLUMN_KEYS)
"""Questions whose answer holds for exports that look the same."""

_TABLE = "layouts"
_KEPT: Schema = {
    "key": pl.String(),
    "name": pl.String(),
    "taken": UTC_TIME,
    "columns": pl.String(),
    "answers": pl.String(),
    "removed": UTC_TIME,
}
"""Layouts from elsewhere, and those that were removed: what was taken up to then is forgotten."""


@dataclass(frozen=True)
class Layout:
    """What exports that look the same have in common.

    Parameters
    ----------
    key : str
        Stands for their look.
    name : str
        The file that shows it: the newest, of those that a person answered for where there are any.
    taken : datetime
        When it was taken.
    columns : str
        What divides its cells, and what its columns are read as.
    answers : mapping of str to str
        What people answered, by question; not what they answered differently.
    exports : tuple of (Export, tuple of str)
        Those in this store, with the sites of their rows; empty for a layout from elsewhere.
    """

    key: str
    name: str
    taken: datetime
    columns: str
    answers: Mapping[str, str]
    exports: tuple[tuple[Export, tuple[str, ...]], ...] = field(default=(), repr=False)

    @property
    def sites(self) -> tuple[str, ...]:
        """The sites of its exports."""
        return tuple(sorted({site for _, sites in self.exports for site in sites}))

    @property
    def day(self) -> str:
        """The day when it was taken, in words: ``3 March 2026``."""
        return f"{self.taken.day} {self.taken:%B %Y}"

    def shows_only(self, sha256: str) -> bool:
        """Tell whether an export is the one that shows this layout, and no other is known."""
        return bool(self.exports) and all(export.sha256 == sha256 for export, _ in self.exports)

    def as_dict(self) -> dict[str, Any]:
        """Return the public JSON form."""
        return {
            "key": self.key,
            "name": self.name,
            "taken": f"{self.taken.astimezone(UTC):%Y-%m-%dT%H:%M:%SZ}",
            "columns": self.columns,
            "answers": dict(self.answers),
            "exports": len(self.exports),
            "sites": list(self.sites),
        }


def layouts(store: Store) -> dict[str, Layout]:
    """Return the layouts that a store knows, by key, the newest first.

    Parameters
    ----------
    store : Store
        Where exports were taken.
    """
    kept = {row["key"]: row for row in store.table(_TABLE, _KEPT).iter_rows(named=True)}
    when: dict[str, datetime] = dict(store.exports().select("sha256", "taken_at").iter_rows())
    by_look: dict[str, list[tuple[Export, tuple[str, ...]]]] = {}
    for export, sites in store.takings():
        look = export.notes.get(LOOK)
        removed = kept[look]["removed"] if look in kept else None
        if look and (removed is None or when[export.sha256] > removed):
            by_look.setdefault(look, []).append((export, sites))
    found = [_of_exports(look, some, when, kept.get(look)) for look, some in by_look.items()]
    found += [
        Layout(key, row["name"], row["taken"], row["columns"], json.loads(row["answers"]))
        for key, row in kept.items()
        if row["answers"] is not None and key not in by_look
    ]
    return {one.key: one for one in sorted(found, key=lambda one: one.taken, reverse=True)}


def _of_exports(
    look: str,
    some: Sequence[tuple[Export, tuple[str, ...]]],
    when: Mapping[str, datetime],
    elsewhere: Mapping[str, Any] | None,
) -> Layout:
    told = [export for export, _ in some if export.notes.get(ANSWERED)]
    shown = max(told or [export for export, _ in some], key=lambda one: when[one.sha256])
    said = json.loads(elsewhere["answers"]) if elsewhere and elsewhere["answers"] else {}
    answers = {key: answer for key in KEYS if (answer := _said(some, key, said.get(key)))}
    columns = next((e.notes[LAYOUT] for e, _ in reversed(some) if LAYOUT in e.notes), "")
    return Layout(look, shown.name, when[shown.sha256], columns, answers, tuple(some))


def _said(
    some: Sequence[tuple[Export, tuple[str, ...]]], key: str, elsewhere: str | None
) -> str | None:
    """Return what people answered for these exports; None where nobody did, or not the same."""
    answers = {
        export.answers[key]
        for export, _ in some
        if key in export.notes.get(ANSWERED, "").split() and export.answers.get(key)
    }
    answers |= {elsewhere} if elsewhere and not answers else set()
    return answers.pop() if len(answers) == 1 else None


def remove(store: Store, key: str, *, now: datetime) -> Layout:
    """Forget what was answered for exports that look the same; what they told stays.

    Parameters
    ----------
    store : Store
        Where they are.
    key : str
        Of the layout, or its first characters.
    now : datetime
        When, UTC; exports taken later are remembered again.

    Raises
    ------
    NotFound
        Where there is no such layout.
    """
    found = [one for one in layouts(store).values() if one.key.startswith(key)]
    if len(found) != 1 or not key:
        what = "no layout starts" if not found else f"{len(found)} layouts start"
        raise NotFound(f"{what} with {key!r}", do="'eventlab layouts' lists them.")
    # The clock of the takings may be ahead of the one that is told.
    last = max([now, found[0].taken, *store.exports()["taken_at"].drop_nulls().to_list()])
    _keep(store, [{"key": found[0].key, "answers": None, "removed": last}])
    return found[0]


def write(store: Store, to: Path) -> int:
    """Write the layouts of a store to a file that another store can take; how many there are."""
    told = [
        {k: v for k, v in one.as_dict().items() if k not in {"exports", "sites"}}
        for one in layouts(store).values()
    ]
    to.write_text(json.dumps({"layouts": told}, indent=2, ensure_ascii=False), encoding="utf-8")
    return len(told)


def read(store: Store, source: Path) -> int:
    """Take the layouts of another store; how many there are.

    Raises
    ------
    WrongContext
        Where the file holds none, or an answer that cannot be.
    """
    try:
        rows = [_row(one) for one in json.loads(source.read_text(encoding="utf-8"))["layouts"]]
    except (ValueError, TypeError, KeyError, AttributeError) as error:
        raise WrongContext(
            "it holds no layouts",
            where=source.name,
            do="'eventlab layouts --export FILE' writes such a file.",
        ) from error
    except UsageError as error:
        raise WrongContext(error.found, where=source.name, do=error.do) from error
    _keep(store, rows)
    return len(rows)


def _row(one: Mapping[str, Any]) -> dict[str, Any]:
    answers = {key: str(value) for key, value in one["answers"].items() if key in KEYS}
    return {
        "key": str(one["key"]),
        "name": str(one["name"]),
        "taken": datetime.fromisoformat(one["taken"]).astimezone(UTC),
        "columns": str(one["columns"]),
        "answers": json.dumps(checked(answers)),
    }


def _keep(store: Store, rows: Sequence[Mapping[str, Any]]) -> None:
    if rows:
        frame = pl.DataFrame(
            rows, schema_overrides={k: v for k, v in _KEPT.items() if k in rows[0]}
        )
        missing = [pl.lit(None, dtype).alias(n) for n, dtype in _KEPT.items() if n not in frame]
        store.put(_TABLE, frame.with_columns(missing).select(_KEPT.keys()), key=("key",))


def recognised(layout: Layout, recalled: Mapping[str, str]) -> str:
    """Return the sentence that an export is read like others that look the same."""
    told = f"read like “{layout.name}” of {layout.day}"
    said = ", ".join(f"{key.replace('-', ' ')} {value}" for key, value in recalled.items())
    return f"{told}; answers: {said}" if said else told
