"""The order in which things happened, and the numbers that stand for it.

Inside this room ``n`` is the place of a row in that order over all sites and ``s`` the number of
its site; both grow together, so that looking back along ``n`` inside ``s`` is looking back in time
even where many rows bear the same second.
"""

import numpy as np
import polars as pl

from eventlab.schema import WITNESS, Kind

WAYS = ("site", "placed", "source", "row")
"""Columns that tell which way an export runs."""

ORDER = ("site", "placed", "source", "row", "piece")


def in_order(events: pl.DataFrame, *, ways: pl.DataFrame | None = None) -> pl.DataFrame:
    """Sort events by site and time; inside one moment as their export told them.

    An export that runs newest first is followed from its end, so that an alarm and a disarm of
    one second, or of one minute of a coarse clock, stay the right way round.

    Parameters
    ----------
    events : polars.DataFrame
        EVENT columns, any order; the order of the store costs least.
    ways : polars.DataFrame, optional
        ``WAYS`` columns of more rows of the same exports, to tell by which way each runs, where
        ``events`` are a few of theirs.

    Returns
    -------
    polars.DataFrame
        The same rows, sorted by site, placed, source and row (downwards in newest-first exports).
    """
    if events.height < 2:
        return events
    backward = newest_first(events if ways is None else ways)
    step = pl.col("row")
    if backward:
        step = pl.when(pl.col("source").is_in(backward)).then(-step).otherwise(step)
    keyed = events.select(*ORDER[:3], step.alias("row"), "piece")
    place = _place(keyed)
    return events if place is None else events[place]


def _place(keyed: pl.DataFrame) -> pl.Series | None:
    """Say from where each row is taken; None where all stand in order.

    Each site's rows come together, and of most by time: then whole sites are put in order, and only
    rows of one moment, and the sites whose times turn back, are sorted.
    """
    site = keyed["site"]
    heads = site.ne_missing(site.shift(1))
    heads[0] = True
    names = site.filter(heads)
    run, first = heads.cum_sum(), heads.arg_true()
    if names.n_unique() < names.len():
        names = names.unique().sort()
        run = site.replace_strict(names, pl.int_range(names.len(), eager=True))
        some, turn = pl.int_range(keyed.height, eager=True), None
    else:
        some = _loose(keyed, heads, run)
        turn = None if names.is_sorted() else _by_name(names, first, keyed.height)
    place = turn
    if not some.is_empty():
        rows = keyed[some].with_columns(run=run.gather(some))
        files = pl.Enum(rows["source"].drop_nulls().unique().sort())
        source = pl.col("source").cast(files).to_physical()
        order = rows.select(pl.arg_sort_by("run", "placed", source, "row", "piece")).to_series()
        if not order.is_sorted():
            place = pl.int_range(keyed.height, eager=True).scatter(some, some.gather(order))
            place = place if turn is None else place.gather(turn)
    return place


def _loose(keyed: pl.DataFrame, heads: pl.Series, run: pl.Series) -> pl.Series:
    """Name the rows that may not stand in order: moments turned round, sites that turn back."""
    placed = keyed["placed"]
    earlier = (placed < placed.shift(1)).fill_null(value=False) & ~heads
    tied = (placed == placed.shift(1)).fill_null(value=False) & ~heads
    some = _turned(keyed, tied)
    if earlier.any():
        some |= run.is_in(run.filter(earlier).unique().implode())
    return some.arg_true()


def _by_name(names: pl.Series, first: pl.Series, height: int) -> pl.Series:
    """Put whole sites in the order of their names; the store has them bucket by bucket."""
    sizes = np.diff(first.to_numpy(), append=height)
    order = names.arg_sort().to_numpy()
    moved = first.to_numpy()[order] - np.concatenate([[0], np.cumsum(sizes[order])[:-1]])
    return pl.Series(np.repeat(moved, sizes[order]) + np.arange(height))


def _turned(keyed: pl.DataFrame, tied: pl.Series) -> pl.Series:
    """Find the rows of moments whose rows do not stand as their exports told them."""
    place = (tied | tied.shift(-1, fill_value=False)).arg_true()
    rows = keyed.select(ORDER[2:])[place].with_columns(tied=tied.gather(place))
    wrong = pl.lit(value=False)
    for name in reversed(ORDER[2:]):
        now, before = pl.col(name), pl.col(name).shift(1)
        wrong = (now < before) | ((now == before) & wrong)
    named = rows.select(moment=(~pl.col("tied")).cum_sum(), turned=pl.col("tied") & wrong)
    turned = named["moment"].filter(named["turned"].fill_null(value=False))
    none = pl.repeat(value=False, n=keyed.height, eager=True, dtype=pl.Boolean)
    if turned.is_empty():
        return none
    return none.scatter(place.filter(named["moment"].is_in(turned.unique().implode())), True)


def numbered(events: pl.DataFrame) -> pl.DataFrame:
    """Take the rows that say something of a known site and number them.

    Parameters
    ----------
    events : polars.DataFrame
        EVENT columns as ``in_order`` gives them.

    Returns
    -------
    polars.DataFrame
        Without unread rows and rows of no site; with ``n`` (Int64) and ``s`` (Int32, from 0).
    """
    told = pl.col("site").is_not_null() & (pl.col("kind") != Kind.UNREAD)
    said = events.lazy().filter(told).collect()
    return said.with_columns(
        n=pl.int_range(pl.len(), dtype=pl.Int64),
        s=(pl.col("site") != pl.col("site").shift(1))
        .fill_null(value=False)
        .cum_sum()
        .cast(pl.Int32),
    )


def speaking(rows: pl.DataFrame) -> pl.DataFrame:
    """Say who tells of which site.

    Parameters
    ----------
    rows : polars.DataFrame
        Numbered events.

    Returns
    -------
    polars.DataFrame
        ``s``, ``witness``, one row for each pair, sorted.
    """
    size = len(WITNESS.categories)
    pair = pl.col("s") * size + pl.col("witness").to_physical().cast(pl.Int32)
    return (
        rows.select(pair=pair)
        .unique()
        .sort("pair")
        .select(
            s=pl.col("pair") // size,
            witness=pl.lit(WITNESS.categories).gather(pl.col("pair") % size).cast(WITNESS),
        )
    )


def newest_first(events: pl.DataFrame) -> list[str]:
    """Name the exports in which later events stand higher up.

    Parameters
    ----------
    events : polars.DataFrame
        ``WAYS`` columns, by site, export or time.

    Returns
    -------
    list of str
        Values of ``source``.
    """
    same = (pl.col("source") == pl.col("source").shift(1)) & (
        pl.col("site") == pl.col("site").shift(1)
    )
    later = pl.col("placed") > pl.col("placed").shift(1)
    earlier = pl.col("placed") < pl.col("placed").shift(1)
    lower = pl.col("row") > pl.col("row").shift(1)
    higher = pl.col("row") < pl.col("row").shift(1)
    falling = same & ((later & higher) | (earlier & lower))
    rising = same & ((later & lower) | (earlier & higher))
    if not events.select(falling.any()).item():
        return []
    votes = (
        events.lazy()
        .select("source", vote=falling.cast(pl.Int32) - rising.cast(pl.Int32))
        .group_by("source")
        .agg(pl.col("vote").sum())
        .filter(pl.col("vote") > 0)
        .collect()
    )
    return votes["source"].to_list()
