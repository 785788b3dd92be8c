"""How time went on while a clock was lost: by the wall clock that started anew."""

import polars as pl

from eventlab.schema import Timing

_TOGETHER_US = 1_000_000
"""Rows without a time are placed a microsecond apart; further apart they are two stretches."""


def paced(events: pl.DataFrame) -> pl.DataFrame:
    """Space rows of a lost clock as far apart as their own wall times say.

    Rows of no known time are placed by order, all at one moment after the last sure row. A disarm
    in the morning would then follow an alarm of the night at once. Their clock was wrong, but it
    ran: each stretch of such rows keeps its first place and goes on by its wall clock, up to the
    next sure row of the same export. A clock that starts again within the stretch adds nothing.

    Parameters
    ----------
    events : polars.DataFrame
        EVENT columns, any order.

    Returns
    -------
    polars.DataFrame
        The same rows in the same order, with ``placed`` changed where the time is doubtful.
    """
    lost = (pl.col("timing") == Timing.DOUBTFUL) & pl.col("wall").is_not_null()
    rows = events.with_row_index("paced_row").filter(lost.fill_null(value=False))
    if rows.height < 2:
        return events
    own = ["site", "source"]
    step = (pl.col("placed") - pl.col("placed").shift(1).over(own)).dt.total_microseconds()
    gone = (pl.col("wall") - pl.col("wall").shift(1).over([*own, "stretch"])).clip(pl.duration())
    sure = (
        events.join(rows.select(own).unique(), on=own, how="semi")
        .filter(~lost.fill_null(value=False))
        .select(*own, next_sure="placed")
        .sort("next_sure")
    )
    rows = (
        rows.select("paced_row", *own, "row", "piece", "placed", "wall")
        .sort(*own, "placed", "row", "piece")
        .with_columns(stretch=(step.fill_null(0) > _TOGETHER_US).cum_sum().over(own))
        .with_columns(since=gone.fill_null(pl.duration()).cum_sum().over([*own, "stretch"]))
        .with_columns(
            start=pl.col("placed").first().over([*own, "stretch"]),
            last=pl.col("placed").last().over([*own, "stretch"]),
            left=pl.len().over([*own, "stretch"]) - pl.int_range(pl.len()).over([*own, "stretch"]),
        )
        .sort("last")
        .join_asof(
            sure,
            left_on="last",
            right_on="next_sure",
            by=own,
            strategy="forward",
            allow_exact_matches=False,
            check_sortedness=False,
        )
        .with_columns(
            before=(pl.col("next_sure") - pl.duration(microseconds="left")).fill_null(
                pl.col("start") + pl.col("since")
            )
        )
        .select(
            "paced_row",
            paced=pl.max_horizontal(
                "placed", pl.min_horizontal(pl.col("placed") + pl.col("since"), "before")
            ),
        )
    )
    return (
        events.with_row_index("paced_row")
        .join(rows, on="paced_row", how="left", maintain_order="left")
        .with_columns(placed=pl.coalesce("paced", "placed"))
        .drop("paced", "paced_row")
    )
