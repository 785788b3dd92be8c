"""Which stretches of time the logs of a site cover."""

from datetime import datetime, timedelta

import polars as pl

from eventlab.ground import intervals
from eventlab.settings import Settings

SPAN = ("s", "witness", "since", "until")


def covered(
    rows: pl.DataFrame,
    settings: Settings,
    *,
    now: datetime | None = None,
    spans: pl.DataFrame | None = None,
) -> pl.DataFrame:
    """Give the covered stretches of every site and witness.

    An export covers the time from its first to its last placed row. Two exports of one witness
    that do not meet leave a gap; where only the rows are known, and overlaps with them have been
    united away, a gap is told only where it is longer than every silence inside the exports.

    Parameters
    ----------
    rows : polars.DataFrame
        Numbered events.
    settings : Settings
        ``seam_gap_h`` and ``tail_days``.
    now : datetime, optional
        When the newest logs were exported (UTC); a last row at most ``tail_days`` older is taken
        to be the last thing that happened, not the end of the log.
    spans : polars.DataFrame, optional
        What each export covered: ``site``, ``source``, ``since``, ``until``; decides where given.

    Returns
    -------
    polars.DataFrame
        ``s``, ``witness``, ``since``, ``until``, apart and sorted.
    """
    runs = _runs(rows)
    spoken = (
        runs.group_by("s", "witness", "source")
        .agg(pl.col("since").min(), pl.col("until").max())
        .sort("s", "witness", "since")
    )
    if spans is not None and spans.height:
        spoken = _as_exported(spoken, rows, spans)
        bridge = pl.lit(timedelta(0), dtype=pl.Duration("us"))
    else:
        quiet = runs.group_by("s").agg(pl.col("quiet").max())
        spoken = spoken.join(quiet, on="s", how="left")
        bridge = pl.max_horizontal(
            pl.col("quiet"), pl.lit(timedelta(hours=settings.seam_gap_h), dtype=pl.Duration("us"))
        )
    reach = pl.col("until").cum_max().shift(1).over("s", "witness")
    joined = spoken.sort("s", "witness", "since").with_columns(
        since=pl.when(pl.col("since") - reach <= bridge)
        .then(pl.min_horizontal("since", reach))
        .otherwise("since")
    )
    if now is not None:
        tail = timedelta(days=settings.tail_days)
        end = pl.lit(now).cast(pl.Datetime("us", "UTC"))
        newest = pl.col("until") == pl.col("until").max().over("s", "witness")
        near = (end > pl.col("until")) & (end - pl.col("until") <= tail)
        joined = joined.with_columns(
            until=pl.when(newest & near).then(end).otherwise(pl.col("until"))
        )
    return intervals.unite(joined.select(SPAN), ["s", "witness"])


def doubtful(rows: pl.DataFrame, cover: pl.DataFrame) -> pl.DataFrame:
    """Give the stretches in which rows stand whose time is not known.

    Each runs from the last sure row of that witness before to the first one after.

    Parameters
    ----------
    rows : polars.DataFrame
        Numbered events.
    cover : polars.DataFrame
        As ``covered`` gives it.

    Returns
    -------
    polars.DataFrame
        ``s``, ``since``, ``until``, apart and sorted.
    """
    unsure = rows.lazy().filter(pl.col("at").is_null()).select("s", "witness").unique().collect()
    if unsure.is_empty():
        return cover.select("s", "since", "until").clear()
    ends = cover.group_by("s", "witness").agg(
        first=pl.col("since").min(), last=pl.col("until").max()
    )
    sure = pl.when(pl.col("at").is_not_null()).then("placed")
    around = (
        rows.lazy()
        .select("s", "witness", "at", "placed")
        .join(unsure.lazy(), on=["s", "witness"], how="semi")
        .sort("s", "witness", maintain_order=True)
        .with_columns(
            since=sure.forward_fill().over("s", "witness"),
            until=sure.backward_fill().over("s", "witness"),
        )
        .filter(pl.col("at").is_null())
        .join(ends.lazy(), on=["s", "witness"], how="left")
        .select("s", pl.coalesce("since", "first"), pl.coalesce("until", "last"))
        .drop_nulls()
        .collect()
    )
    return intervals.unite(around, ["s"])


def _runs(rows: pl.DataFrame) -> pl.DataFrame:
    """Cut the order into runs of one export, with the longest silence inside each."""
    keys = ("s", "source", "witness")
    turn = pl.any_horizontal(pl.col(k).ne_missing(pl.col(k).shift(1)) for k in keys)
    return (
        rows.lazy()
        .select("s", "source", "witness", "at", "placed")
        .filter(pl.col("at").is_not_null())
        .with_columns(turn=turn)
        .with_columns(
            run=pl.col("turn").cum_sum(),
            quiet=pl.when(~pl.col("turn")).then(pl.col("placed") - pl.col("placed").shift(1)),
        )
        .group_by("run")
        .agg(
            pl.col("s", "witness", "source").first(),
            since=pl.col("placed").min(),
            until=pl.col("placed").max(),
            quiet=pl.col("quiet").max(),
        )
        .collect()
    )


def _as_exported(spoken: pl.DataFrame, rows: pl.DataFrame, spans: pl.DataFrame) -> pl.DataFrame:
    """Take the span of each export as told; exports without one keep that of their rows."""
    heads = pl.col("s").ne_missing(pl.col("s").shift(1))
    sites = rows.lazy().select("site", "s").filter(heads).unique().collect()
    told = (
        spans.join(sites, on="site")
        .group_by("s", "source")
        .agg(told_since=pl.col("since").min(), told_until=pl.col("until").max())
    )
    return spoken.join(told, on=["s", "source"], how="left").select(
        "s",
        "witness",
        pl.min_horizontal("since", "told_since").alias("since"),
        pl.max_horizontal("until", "told_until").alias("until"),
    )


def bounded(cover: pl.DataFrame, rows: pl.DataFrame, values: pl.DataFrame) -> pl.DataFrame:
    """Add the first and last row in order that each covered stretch holds.

    Parameters
    ----------
    cover : polars.DataFrame
        ``s``, ``since``, ``until``.
    rows : polars.DataFrame
        Numbered events.
    values : polars.DataFrame
        ``s``, ``first``, ``last``, ``first_n``, ``last_n`` of each site.

    Returns
    -------
    polars.DataFrame
        With ``first`` and ``last`` (values of n); stretches without rows are left out.
    """
    ends = values.select("s", "first_n", "last_n", start="first", stop="last")
    joined = cover.join(ends, on="s")
    whole = (pl.col("since") <= pl.col("start")) & (pl.col("until") >= pl.col("stop"))
    plain = joined.filter(whole).select("s", "since", "until", first="first_n", last="last_n")
    cut = cover.join(plain.select("s"), on="s", how="anti")
    if cut.is_empty():
        return plain.sort("first")
    held = (
        rows.lazy()
        .select("s", "n", "placed")
        .filter(pl.col("s").is_in(cut["s"].unique().implode()))
        .sort("n")
        .join_asof(
            cut.lazy().sort("since").with_columns(start="since"),
            left_on="placed",
            right_on="since",
            by="s",
            check_sortedness=False,
        )
        .filter(pl.col("placed") <= pl.col("until"))
        .group_by("s", "start")
        .agg(pl.col("until").first(), first=pl.col("n").min(), last=pl.col("n").max())
        .select("s", "until", "first", "last", since="start")
        .collect()
    )
    return pl.concat([plain, held.select(plain.columns)]).sort("first")
