"""What a centre hears at once when a path comes back: events of before, told as if of now."""

from datetime import timedelta

import polars as pl

from eventlab.schema import TIMING, Kind, Phase, Timing, Witness
from eventlab.settings import Settings

OWN = (Kind.COMMS_FAIL, Kind.TEST_REPORT, Kind.MANUAL_TEST, Kind.HANDLING, Kind.ON_TEST)
"""Kinds that speak of the path itself, or that the centre writes: never late."""

_GAP = timedelta(seconds=60)
NONE = {"n": pl.Int64(), "into": pl.Int64()}


def late(rows: pl.DataFrame, settings: Settings) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Find bursts that a centre received just after a path came back, and what the panel dates.

    Many rows with no more than a minute between two of them, begun within ``late_burst_s`` of the
    restore, were sent when the path was back and happened while it was down. Where the panel's log
    tells the same kind at the same point, by the same person, between the loss and the burst, in
    the same order, it dates them. What nothing dates is doubtful in time.

    Parameters
    ----------
    rows : polars.DataFrame
        Numbered events.
    settings : Settings
        ``late_burst_s`` [s], ``late_burst_min`` rows, ``same_occurrence_s`` [s].

    Returns
    -------
    tuple of polars.DataFrame
        ``n`` of a receiver's row and ``into`` the ``n`` of the panel's that dates it; and ``n``
        of the rows that nothing dates.
    """
    none = pl.DataFrame(schema=NONE)
    ends = rows.filter(pl.col("kind") == Kind.COMMS_FAIL)
    if ends.is_empty():
        return none, none.select("n")
    burst = _bursts(rows, _outages(ends), settings)
    if burst.is_empty():
        return none, none.select("n")
    dated = _dated(rows, burst, settings)
    unsure = burst.join(dated, on="n", how="anti").select("n")
    return dated, unsure


def doubted(rows: pl.DataFrame, unsure: pl.DataFrame) -> pl.DataFrame:
    """Take the time from rows whose time nothing tells.

    Parameters
    ----------
    rows : polars.DataFrame
        Events with ``n``.
    unsure : polars.DataFrame
        ``n`` of the rows.

    Returns
    -------
    polars.DataFrame
        The same rows; those are ``doubtful``, without ``at``, and stay where they are placed.
    """
    if unsure.is_empty():
        return rows
    hit = pl.col("n").is_in(unsure["n"].implode())
    return rows.with_columns(
        at=pl.when(~hit).then("at"),
        timing=pl.when(hit)
        .then(pl.lit(Timing.DOUBTFUL.value))
        .otherwise(pl.col("timing").cast(pl.String))
        .cast(TIMING),
    )


def _outages(ends: pl.DataFrame) -> pl.DataFrame:
    """Give when each path was lost and when it came back, whoever tells it."""
    begin = pl.col("phase") == Phase.BEGIN
    return (
        ends.sort("s", "path", "n")
        .with_columns(
            down=pl.when(begin).then("placed").forward_fill().over("s", "path"),
        )
        .filter(~begin & pl.col("down").is_not_null())
        .select("s", "down", back="placed")
        .sort("back")
    )


def _bursts(rows: pl.DataFrame, outages: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Find the runs of a centre's rows that begin just after a restore and hold many."""
    soon = timedelta(seconds=settings.late_burst_s)
    heard = rows.filter(
        (pl.col("witness") == Witness.RECEIVER)
        & ~pl.col("kind").is_in(list(OWN))
        & pl.col("at").is_not_null()
        & pl.col("s").is_in(outages["s"].unique().implode())
    ).select("n", "s", "placed", "kind", "phase", "zone", "person")
    apart = (pl.col("placed") - pl.col("placed").shift(1).over("s")) > _GAP
    runs = heard.sort("s", "n").with_columns(run=apart.fill_null(value=True).cum_sum())
    near = (
        runs.with_columns(began=pl.col("placed").first().over("run"), many=pl.len().over("run"))
        .filter(pl.col("many") >= settings.late_burst_min)
        .with_columns(slack=pl.col("began") + timedelta(seconds=30))
        .sort("slack")
        .join_asof(outages, left_on="slack", right_on="back", by="s", coalesce=False,
                   check_sortedness=False)
    )  # fmt: skip
    return near.filter(
        (pl.col("began") - pl.col("back") <= soon) & (pl.col("back") - pl.col("down") > soon)
    ).drop("slack", "began", "many")


def _dated(rows: pl.DataFrame, burst: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Pair the rows of a burst with the panel's, kind by kind, in their order."""
    reach = timedelta(seconds=settings.same_occurrence_s)
    spans = burst.group_by("s", "run").agg(
        pl.col("down").min() - reach, last=pl.col("placed").max() + reach
    )
    key = ["s", "run", "family", "phase", "point", "who"]
    alarm = pl.col("kind").is_in([Kind.INTRUSION_ALARM, Kind.ENTRY_EXIT_ALARM])
    told = {
        "family": pl.when(alarm)
        .then(pl.lit(Kind.INTRUSION_ALARM.value))
        .otherwise(pl.col("kind").cast(pl.String)),
        "point": pl.col("zone").fill_null(""),
        "who": pl.col("person").fill_null(""),
    }
    mine = (
        rows.filter((pl.col("witness") == Witness.PANEL) & pl.col("at").is_not_null())
        .select("n", "s", "placed", "kind", "phase", "zone", "person")
        .join(spans, on="s")
        .filter(pl.col("placed").is_between("down", "last"))
        .with_columns(**told)
    )
    nth = pl.int_range(pl.len()).over(key)
    left = burst.with_columns(**told).sort("n").with_columns(nth=nth)
    right = mine.sort("n").with_columns(nth=nth).select(*key, "nth", into="n", dated="placed")
    return (
        left.join(right, on=[*key, "nth"])
        .filter(pl.col("dated") <= pl.col("placed") + reach)
        .select("n", "into")
        .unique("n", keep="first", maintain_order=True)
        .unique("into", keep="first", maintain_order=True)
    )
