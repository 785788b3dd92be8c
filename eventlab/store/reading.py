"""Reading events back: only the buckets asked for, in order, with their types."""

from collections.abc import Sequence
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING

import polars as pl

from eventlab.schema import EVENT
from eventlab.schema import UTC as UTC_TIME
from eventlab.store.table import BUCKET, bucket_count, bucket_of, fetch, filled_buckets, scan

if TYPE_CHECKING:
    from deltalake import DeltaTable

_ORDER = ("site", "placed")


def events(
    table: "DeltaTable",
    *,
    sites: Sequence[str] | None = None,
    since: date | None = None,
    until: date | None = None,
    kinds: Sequence[str] | None = None,
    columns: Sequence[str] | None = None,
) -> pl.LazyFrame:
    """Return events, bucket after bucket, sorted by site and place inside; see ``Store.events``.

    The filters stand directly on the scan of each bucket: files of other buckets and times are
    not opened. Files are written in order, so rows are sorted only where files have to be
    merged. Of some kinds there are few rows, which one scan and one sort give sooner.
    """
    names = list(columns) if columns is not None else list(EVENT)
    read = [name for name in EVENT if name in {*names, *_ORDER}]
    filled = set(filled_buckets(table))
    if sites is not None:
        count = bucket_count(table)
        filled = filled & {bucket_of(site, count) for site in sites}
    each = [[bucket] for bucket in sorted(filled)] if kinds is None else [sorted(filled)]
    parts = []
    for buckets in each:
        rows = scan(table).filter(pl.col(BUCKET).is_in(buckets))
        if sites is not None:
            rows = rows.filter(pl.col("site").is_in(list(sites)))
        if since is not None:
            rows = rows.filter(pl.col("placed") >= moment(since))
        if until is not None:
            rows = rows.filter(pl.col("placed") < moment(until))
        if kinds is not None:
            rows = rows.filter(pl.col("kind").is_in([str(kind) for kind in kinds]))
        typed = [pl.col(name).cast(EVENT[name]) for name in read]
        if kinds is None:
            parts.append(rows.select(typed).map_batches(_in_order))
        else:
            parts.append(
                rows.select(BUCKET, *typed).sort(BUCKET, *_ORDER, maintain_order=True).drop(BUCKET)
            )
    whole = pl.concat(parts) if parts else pl.LazyFrame(schema={n: EVENT[n] for n in read})
    return whole.select(names)


def sizes(table: "DeltaTable") -> pl.DataFrame:
    """Return how many events each site has, in the order of ``events``: columns site, events."""
    counted = scan(table).group_by(BUCKET, "site").agg(events=pl.len())
    return fetch(counted.sort(BUCKET, "site").select("site", "events"))


def readings(table: "DeltaTable", sites: Sequence[str]) -> pl.DataFrame:
    """Return which readings the rows of these sites have: columns site, reading."""
    count = bucket_count(table)
    buckets = set(filled_buckets(table)) & {bucket_of(site, count) for site in sites}
    return fetch(
        scan(table)
        .filter(pl.col(BUCKET).is_in(sorted(buckets)))
        .filter(pl.col("site").is_in(list(sites)))
        .select("site", "reading")
        .unique()
        .sort("site", "reading")
    )


def moment(when: date) -> pl.Expr:
    """Return a date (its first instant) or time in UTC; one without a zone is UTC."""
    if not isinstance(when, datetime):
        when = datetime(when.year, when.month, when.day, tzinfo=UTC)
    if when.tzinfo is None:
        when = when.replace(tzinfo=UTC)
    return pl.lit(when.astimezone(UTC)).cast(UTC_TIME)


def _in_order(rows: pl.DataFrame) -> pl.DataFrame:
    """Sort rows where they are not sorted yet."""
    site, placed = rows["site"], rows["placed"]
    fresh = site.ne_missing(site.shift())
    fine = fresh | (placed >= placed.shift()).fill_null(value=False)
    # Only the first row of each site is compared by name: of a text that takes long.
    named = fine.all() and site.filter(fresh).is_sorted()
    return rows if named else rows.sort(_ORDER, maintain_order=True)
