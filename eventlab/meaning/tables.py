"""The tables of this room as they stand in ``data/``: codes, words, rules."""

import csv
import hashlib
from functools import cache
from importlib import resources
from importlib.resources.abc import Traversable

import polars as pl


def _folder() -> Traversable:
    return resources.files("eventlab.meaning") / "data"


@cache
def rows(name: str) -> tuple[dict[str, str], ...]:
    """Return the rows of one table.

    Parameters
    ----------
    name : str
        File name without ``.csv``.

    Returns
    -------
    tuple of dict
        Column to cell; empty cells are empty strings.
    """
    text = (_folder() / f"{name}.csv").read_text(encoding="utf-8")
    return tuple(csv.DictReader(text.splitlines()))


@cache
def frame(name: str) -> pl.DataFrame:
    """Return one table as text columns; empty cells are null."""
    table = pl.DataFrame(rows(name), schema=dict.fromkeys(rows(name)[0], pl.String))
    return table.with_columns(pl.all().replace("", None))


@cache
def data_version() -> str:
    """Return a short hash over all tables of the room: it changes when any of them does."""
    total = hashlib.sha256()
    for path in sorted(_folder().iterdir(), key=lambda path: path.name):
        if path.name.endswith(".csv"):
            # Line ends are folded: a checkout on another system reads the same.
            body = path.read_bytes().replace(b"\r\n", b"\n")
            total.update(path.name.encode() + b"\0" + body + b"\0")
    return total.hexdigest()[:12]
