"""What came in, and was it understood: exports, unread rows, wordings, files that wait."""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import polars as pl

if TYPE_CHECKING:
    from dashboards.remember import Remembered
    from eventlab.lab import FileResult

EXAMPLES = 5
"""Rows shown of each reason."""


@dataclass(frozen=True)
class Reason:
    """Rows that could not be read for one reason.

    Parameters
    ----------
    problem : str
        The reason.
    rows : int
        How many rows.
    sites : tuple of str
        Sites they belong to, where known.
    examples : tuple of (int, str)
        Row number and row, as it stood.
    """

    problem: str
    rows: int
    sites: tuple[str, ...]
    examples: tuple[tuple[int | None, str], ...]


def unread(lab: "Remembered") -> list[Reason]:
    """Group all unread rows by their reason, most rows first.

    Parameters
    ----------
    lab : Remembered
        The open store.

    Returns
    -------
    list of Reason
        Empty where every row was read.
    """
    grouped = (
        lab.unread()
        .with_columns(problem=pl.col("problem").fill_null("no reason was kept"))
        .group_by("problem")
        .agg(
            rows=pl.len(),
            sites=pl.col("site").drop_nulls().unique().sort(),
            row=pl.col("row").head(EXAMPLES),
            raw=pl.col("raw").fill_null("").head(EXAMPLES),
        )
        .sort("rows", "problem", descending=[True, False])
    )
    return [
        Reason(
            problem=one["problem"],
            rows=one["rows"],
            sites=tuple(one["sites"]),
            examples=tuple(zip(one["row"], one["raw"], strict=True)),
        )
        for one in grouped.iter_rows(named=True)
    ]


def waiting(lab: "Remembered") -> dict[str, "FileResult"]:
    """Return the files that were kept but not taken yet, by the hash of their bytes."""
    return {one.sha256: one for one in lab.waiting()}


def ledger(lab: "Remembered") -> list[dict[str, Any]]:
    """Return all exports taken, the newest first.

    Parameters
    ----------
    lab : Remembered
        The open store.

    Returns
    -------
    list of dict
        ``name``, ``taken_at``, ``sites``, ``lines``, ``rows``, ``read``, ``repeated``,
        ``unread``, ``seam``, ``first``, ``last``.
    """
    return lab.logs().sort("taken_at", descending=True, nulls_last=True).to_dicts()
