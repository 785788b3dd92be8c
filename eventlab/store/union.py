"""Exports unite as multisets: which rows of an export are new beside those that are stored.

The count of rows with one key is the largest that any one export shows: the rows of an export
are numbered among their equals, and a row is new where its key and number are not stored.
"""

from collections.abc import Callable
from typing import TYPE_CHECKING

import polars as pl

from eventlab.schema import UTC, Kind
from eventlab.store.loose import coarser, may_differ, told_otherwise
from eventlab.store.seam import EXTENT, edges, extent, seam_rows, step_us, steps
from eventlab.store.shown import KEY, KEY_SOURCES, Flags, Shown, key
from eventlab.store.table import BUCKET, fetch, filled_buckets, scan

if TYPE_CHECKING:
    from deltalake import DeltaTable

_MANY = 4

_MINUTE = 60_000_000
"""The coarsest clock that is common [us]: rows told by it may equal finer ones."""

ExtentOf = Callable[[str], pl.DataFrame]
"""Gives the extent of a stored export, by its hash."""


def compare(
    shown: Shown, table: "DeltaTable", extent_of: ExtentOf
) -> tuple[Flags, pl.DataFrame, list[int], set[str]]:
    """Find what of an export is new beside the rows of exactly this table object.

    Parameters
    ----------
    shown : Shown
        What the export shows.
    table : DeltaTable
        The table, loaded for this purpose.
    extent_of : callable
        Extent of an export that is stored.

    Returns
    -------
    fresh : array of bool
        By position in the file: the event is not stored yet.
    mine : polars.DataFrame
        The export's own extent, one row for each site in ``shown.sites``.
    seam : list of int
        For each site, the rows whose count stays open.
    rough : set of str
        Sites where a coarser clock tells stored rows of the same times: to be made anew.
    """
    fresh = ~shown.again
    rough: set[str] = set()
    mine = extent(shown)
    filled = filled_buckets(table)
    ends = edges(mine, step_us(shown))
    met = []
    for bucket in shown.bounds:
        if bucket in filled:
            stored = _stored_beside(shown, table, bucket, filled[bucket])
            if stored.height:
                _strike_known(shown, bucket, stored, fresh)
                rough |= _strike_told_otherwise(shown, bucket, stored, fresh)
                met.append(_met_at(ends, stored, step_us(shown)))
    if not met:
        return fresh, mine, [0] * len(shown.sites), rough
    pairs = pl.concat(met)
    others = [
        extent_of(source).join(pairs.filter(pl.col("source") == source), on="site", how="semi")
        for source in pairs["source"].unique().sort()
    ]
    known = pl.concat(others) if others else pl.DataFrame(schema=EXTENT)
    return fresh, mine, seam_rows(shown, mine, known), rough


def unite(frames: list[pl.DataFrame]) -> pl.DataFrame:
    """Unite the numbered rows of several exports, given in the order of their taking.

    Parameters
    ----------
    frames : list of polars.DataFrame
        Stored columns; of each export no key and number twice.

    Returns
    -------
    polars.DataFrame
        Of each key and number the row that came first; of rows told otherwise the finer one.
    """
    frames = sorted(frames, key=_grain)
    rows = pl.concat(frames)
    names = [*KEY, "nth"]
    keys = rows.select(*key(unread=_any_unread(rows)), "nth")
    first = keys.select(pl.struct(names).is_first_distinct()).to_series()
    if not may_differ(rows.filter(first)):
        return rows.filter(first)
    held = frames[0]
    for frame in frames[1:]:
        mine = frame.select(*KEY_SOURCES, "nth", "grain")
        known = mine.select(*key(unread=_any_unread(mine)), "nth").join(
            held.select(*key(unread=_any_unread(held)), "nth").with_columns(
                known=pl.lit(value=True)
            ),
            on=names,
            how="left",
            nulls_equal=True,
            maintain_order="left",
        )
        fresh = known["known"].is_null().to_numpy().copy()
        fresh &= ~told_otherwise(mine, held.select(mine.columns), fresh)
        held = pl.concat([held, frame.filter(pl.Series(fresh))])
    return held


def _grain(frame: pl.DataFrame) -> int:
    grain = frame["grain"].max()
    return grain if isinstance(grain, int) else 0


def _stored_beside(shown: Shown, table: "DeltaTable", bucket: int, rows: int) -> pl.DataFrame:
    """Read the stored rows that rows of the export could equal, or meet in a step."""
    part = shown.order[shown.bounds[bucket]]
    placed = shown.events["placed"].to_physical().to_numpy()[part]
    step = max(step_us(shown), _MINUTE)
    low = pl.lit(int(placed.min()) // step * step).cast(UTC)
    high = pl.lit((int(placed.max()) // step + 1) * step).cast(UTC)
    # The place of a row without a sure time is an estimate and no reason to leave it out.
    near = pl.col("placed").is_between(low, high) | pl.col("at").is_null()
    stored = scan(table).filter(pl.col(BUCKET) == bucket).filter(near)
    if len(part) * _MANY < rows:
        # Looking at names row by row is worth it only where most rows are of other sites.
        numbers = pl.Series(shown.code[part]).unique()
        stored = stored.filter(pl.col("site").is_in([shown.sites[n] for n in numbers]))
    return fetch(stored.select(*KEY_SOURCES, "nth", "grain", "source"))


def _strike_known(shown: Shown, bucket: int, stored: pl.DataFrame, fresh: Flags) -> None:
    positions = shown.order[shown.bounds[bucket]]
    positions = positions[fresh[positions]]
    known = (
        shown.keys(positions)
        .with_row_index("index")
        .join(
            stored.select(*key(unread=_any_unread(stored)), "nth"),
            on=[*KEY, "nth"],
            how="semi",
            nulls_equal=True,
        )["index"]
    )
    fresh[positions[known.to_numpy()]] = False


def _strike_told_otherwise(
    shown: Shown, bucket: int, stored: pl.DataFrame, fresh: Flags
) -> set[str]:
    """Strike rows that are stored in another way of telling; name the sites to be made anew."""
    positions = shown.order[shown.bounds[bucket]]
    positions = positions[~shown.again[positions]]
    grain = shown.events["grain"].gather(pl.Series(positions))
    uneven = stored["grain"].n_unique() > 1 or stored["grain"].max() != grain.max()
    if not uneven and not fresh[positions].any():
        return set()
    at = pl.Series(positions)
    mine = shown.events.select(pl.col(name).gather(at) for name in (*KEY_SOURCES, "grain"))
    mine = mine.with_columns(nth=pl.Series(shown.nth[positions]))
    fresh[positions] &= ~told_otherwise(mine, stored, fresh[positions])
    if not uneven:
        return set()
    return set(coarser(mine.filter(pl.Series(~fresh[positions])), stored))


def _met_at(ends: pl.DataFrame, stored: pl.DataFrame, step: int) -> pl.DataFrame:
    """Return which exports have rows in the first or last step of this one, by site."""
    return (
        stored.lazy()
        .select("site", "source", step=steps("at", step))
        .join(ends.lazy(), on=["site", "step"], how="semi")
        .select("site", "source")
        .unique()
        .collect()
    )


def _any_unread(rows: pl.DataFrame) -> bool:
    return bool((rows["kind"] == Kind.UNREAD).any())
