"""Algebra of time intervals, many groups at once: unite, intersect, subtract, add up.

A set of intervals is a frame with ``since`` and ``until`` and key columns; an interval runs from
``since`` up to but not at ``until``, and empty ones vanish. All results are apart from each other
and sorted by key and time. The method is a sweep over sorted edges: each group's edges sum to
nothing, so that one running sum over the whole frame serves all groups.
"""

from collections.abc import Sequence

import polars as pl

HOUR = 1 / 3.6e9
"""One microsecond [h]; a product comes out the same in long and short columns."""


def unite(frame: pl.DataFrame, by: Sequence[str]) -> pl.DataFrame:
    """Join what overlaps or touches.

    Parameters
    ----------
    frame : polars.DataFrame
        ``since``, ``until`` and the key columns, any order.
    by : sequence of str
        Key columns.

    Returns
    -------
    polars.DataFrame
        Keys, ``since``, ``until``.
    """
    return depth(frame, by, 1)


def depth(frame: pl.DataFrame, by: Sequence[str], at_least: int | pl.Expr) -> pl.DataFrame:
    """Keep the time over which at least so many intervals of a group lie.

    Parameters
    ----------
    frame : polars.DataFrame
        ``since``, ``until`` and the key columns, any order.
    by : sequence of str
        Key columns.
    at_least : int or polars.Expr
        How many; an expression may use the key columns.

    Returns
    -------
    polars.DataFrame
        Keys, ``since``, ``until``.
    """
    return _sweep(_edges(frame, by, 1, 0), by, pl.col("left") >= at_least)


def intersect(left: pl.DataFrame, right: pl.DataFrame, by: Sequence[str]) -> pl.DataFrame:
    """Keep the time that lies in both sets.

    Parameters
    ----------
    left, right : polars.DataFrame
        ``since``, ``until`` and the key columns, any order.
    by : sequence of str
        Key columns.

    Returns
    -------
    polars.DataFrame
        Keys, ``since``, ``until``.
    """
    edges = pl.concat([_edges(left, by, 1, 0), _edges(right, by, 0, 1)])
    return _sweep(edges, by, (pl.col("left") > 0) & (pl.col("right") > 0))


def subtract(left: pl.DataFrame, right: pl.DataFrame, by: Sequence[str]) -> pl.DataFrame:
    """Keep the time that lies in the first set and not in the second.

    Parameters
    ----------
    left, right : polars.DataFrame
        ``since``, ``until`` and the key columns, any order.
    by : sequence of str
        Key columns.

    Returns
    -------
    polars.DataFrame
        Keys, ``since``, ``until``.
    """
    edges = pl.concat([_edges(left, by, 1, 0), _edges(right, by, 0, 1)])
    return _sweep(edges, by, (pl.col("left") > 0) & (pl.col("right") == 0))


def total(frame: pl.DataFrame, by: Sequence[str], into: str = "hours") -> pl.DataFrame:
    """Add up the hours of each group; intervals must be apart.

    Parameters
    ----------
    frame : polars.DataFrame
        ``since``, ``until`` and the key columns.
    by : sequence of str
        Key columns.
    into : str, optional
        Name of the sum [h].

    Returns
    -------
    polars.DataFrame
        Keys and the sum.
    """
    return frame.group_by(*by, maintain_order=True).agg(hours().alias(into))


def hours() -> pl.Expr:
    """Return the summed length of intervals [h]; exact, so in any order the same."""
    return (pl.col("until") - pl.col("since")).dt.total_microseconds().sum() * HOUR


def _edges(frame: pl.DataFrame, by: Sequence[str], left: int, right: int) -> pl.DataFrame:
    some = frame.select(*by, "since", "until").filter(pl.col("since") < pl.col("until"))
    step = [pl.lit(left, pl.Int32).alias("left"), pl.lit(right, pl.Int32).alias("right")]
    begin = some.select(*by, pl.col("since").alias("edge"), *step)
    end = some.select(*by, pl.col("until").alias("edge"), *(-s for s in step))
    return pl.concat([begin, end])


def _sweep(edges: pl.DataFrame, by: Sequence[str], keep: pl.Expr) -> pl.DataFrame:
    last = pl.any_horizontal(pl.col(c).ne_missing(pl.col(c).shift(-1)) for c in (*by, "edge"))
    return (
        edges.lazy()
        .sort(*by, "edge")
        .with_columns(pl.col("left", "right").cum_sum())
        .filter(last | (pl.int_range(pl.len()) == pl.len() - 1))
        .with_columns(on=keep)
        .filter(pl.col("on") != pl.col("on").shift(1, fill_value=False))
        .select(*by, "on", since="edge", until=pl.col("edge").shift(-1))
        .filter("on")
        .drop("on")
        .collect()
    )
