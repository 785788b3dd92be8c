"""Seams: the step of the clock in which one export ends and another begins."""

import numpy as np
import polars as pl

from eventlab.schema import UTC, Schema
from eventlab.store.shown import Shown

EXTENT: Schema = {"site": pl.String(), "first": UTC, "last": UTC}
"""First and last sure time that an export shows of a site; null where it shows none."""


def extent(shown: Shown) -> pl.DataFrame:
    """Return the ``EXTENT`` of an export, one row for each site in ``shown.sites``."""
    if not shown.sites:
        return pl.DataFrame(schema=EXTENT)
    starts = np.cumsum(np.bincount(shown.code))[:-1]
    none, never = np.iinfo(np.int64).min, np.iinfo(np.int64).max
    times = shown.events["at"].to_physical().fill_null(none).to_numpy()[shown.order]
    last = np.maximum.reduceat(times, np.r_[0, starts])
    first = np.minimum.reduceat(np.where(times == none, never, times), np.r_[0, starts])
    return pl.DataFrame(
        {
            "site": pl.Series(shown.sites, dtype=pl.String),
            "first": pl.Series(first).replace(never, None).cast(UTC),
            "last": pl.Series(last).replace(none, None).cast(UTC),
        }
    )


def step_us(shown: Shown) -> int:
    """Return the step of the export's clock in microseconds, one second at least."""
    grain = shown.events["grain"].max()
    return max(grain, 1) * 1_000_000 if isinstance(grain, int) else 1_000_000


def steps(time: str, step: int) -> pl.Expr:
    """Return the number of the step that a time lies in."""
    return pl.col(time).to_physical() // step


def edges(mine: pl.DataFrame, step: int) -> pl.DataFrame:
    """Return the first and last step of each site: columns site, step."""
    ends = [mine.select("site", step=steps(end, step)) for end in ("first", "last")]
    return pl.concat(ends).drop_nulls().unique()


def open_edges(mine: pl.DataFrame, others: pl.DataFrame, step: int) -> pl.DataFrame:
    """Find the steps in which the count of equal rows stays open.

    That is where this export begins and another ends, or the other way round, and no export
    shows the step with rows on both sides.

    Parameters
    ----------
    mine : polars.DataFrame
        ``EXTENT`` of this export.
    others : polars.DataFrame
        ``EXTENT`` of other exports.
    step : int
        Step of the clock, microseconds.

    Returns
    -------
    polars.DataFrame
        Columns site, step.
    """
    ranges = others.select("site", from_=steps("first", step), to=steps("last", step)).drop_nulls()
    met = edges(mine, step).join(ranges, on="site")
    own = mine.select("site", own_from=steps("first", step), own_to=steps("last", step))
    met = met.join(own, on="site")
    step_ = pl.col("step")
    meets = ((step_ == pl.col("own_from")) & (step_ == pl.col("to"))) | (
        (step_ == pl.col("own_to")) & (step_ == pl.col("from_"))
    )
    inside = (pl.col("from_") < step_) & (step_ < pl.col("to"))
    return (
        met.group_by("site", "step")
        .agg(meets=meets.any(), inside=inside.any())
        .filter(pl.col("meets") & ~pl.col("inside"))
        .select("site", "step")
    )


def seam_rows(shown: Shown, mine: pl.DataFrame, others: pl.DataFrame) -> list[int]:
    """Count the export's rows in open steps, for each site in ``shown.sites``."""
    step = step_us(shown)
    found = open_edges(mine, others, step)
    if found.is_empty():
        return [0] * len(shown.sites)
    number = pl.DataFrame(
        {"site": shown.sites, "code": range(len(shown.sites))}, schema_overrides={"code": pl.UInt32}
    )
    open_at = found.join(number, on="site").select("code", "step")
    rows = (
        shown.events.lazy()
        .select("row", step=steps("at", step), code=pl.Series(shown.code))
        .join(open_at.lazy(), on=["code", "step"], how="semi")
        .group_by("code")
        .agg(rows=pl.col("row").n_unique())
        .collect()
    )
    counted = number.join(rows, on="code", how="left", maintain_order="left")
    return [int(count) for count in counted["rows"].fill_null(0)]
