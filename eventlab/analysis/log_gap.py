"""What a log itself does not cover."""

from datetime import timedelta

import polars as pl

from eventlab.analysis.found import (
    asof,
    count,
    days,
    evidence,
    figures,
    found,
    hours,
    line,
    number,
    wall,
)
from eventlab.analysis.kept import kept
from eventlab.analysis.mains import outages
from eventlab.context import Context
from eventlab.ground import Ground
from eventlab.meaning.clock import to_wall
from eventlab.schema import Kind, Pattern, Subject, Witness
from eventlab.settings import Settings

RINGS = (100, 200, 250, 256, 500, 512, 1000, 1024, 2000, 2048, 4096, 5000, 8192, 10000)
"""Sizes of event memories: EN 50131-1 asks for 250, 500 or 1000 by grade (100, 200, 500 in its
first edition); the others are common practice."""


def find(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """Find what the log of a site does not cover.

    Exports that do not meet; a panel that was dead before it started again, outside of a mains
    outage, which is told as that; and a memory that was full, so that older events were
    overwritten, where it reaches back only for days.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        Not needed.
    settings : Settings
        ``log_gap_h``, ``log_dead_h`` [h], ``log_short_days`` [days].

    Returns
    -------
    polars.DataFrame
        FOUND columns, one row per site; ``standing`` where the memory is being overwritten still.
        No figure elsewhere counts the time that is not covered.
    """
    del context
    told = pl.concat(
        [_gaps(ground, settings), restarted(ground, settings), _ring(ground, settings)]
    )
    if told.is_empty():
        return found(told, Pattern.LOG_GAP)
    zones = ground.sites.select("site", pl.col("time_zone").fill_null("UTC"))
    told = told.join(zones, on="site", how="left")
    for column in ("since", "until"):
        told = to_wall(told, column, "time_zone", f"{column}_wall")
    ring = pl.col("what") == "ring"
    shown = (
        pl.when(ring)
        .then(
            line(
                count(pl.col("rows"), "row") + pl.lit(" in the panel's oldest export"),
                pl.lit("from ") + wall(pl.col("since_wall")) + " on",
                "so round a number is a full memory: older events were overwritten",
            )
        )
        .when(pl.col("what") == "dead")
        .then(
            line(
                pl.lit("nothing told from ") + wall(pl.col("since_wall")),
                pl.lit("to the restart, ") + number(pl.col("hours"), 1) + " h",
                "longer than any other silence of this log: the panel may have been dead",
            )
        )
        .otherwise(
            line(
                pl.lit("not covered from ") + wall(pl.col("since_wall")),
                pl.lit("to ")
                + wall(pl.col("until_wall"))
                + ", "
                + number(pl.col("hours"), 1)
                + " h",
                "no export holds this time",
            )
        )
    )

    def most(what: str, column: str) -> pl.Expr:
        return pl.col(column).filter(pl.col("what") == what)

    one = told.sort("site", "since").group_by("site", maintain_order=True).agg(
        pl.col("since").min(),
        pl.col("until").max(),
        standing=ring.any(),
        events=pl.len().cast(pl.Int64),
        gaps=(pl.col("what") == "gap").sum().cast(pl.Int64),
        gap_h=most("gap", "hours").sum(),
        dead=(pl.col("what") == "dead").sum().cast(pl.Int64),
        dead_h=most("dead", "hours").max(),
        rows=most("ring", "rows").max(),
        covers_h=most("ring", "hours").max(),
        lines=shown.head(8),
    )  # fmt: skip
    return found(
        one.with_columns(
            evidence("lines"),
            figures(
                {k: pl.col(k) for k in ("gaps", "gap_h", "dead", "dead_h", "rows", "covers_h")}
            ),
            subject_kind=pl.lit(str(Subject.SITE)),
            subject="site",
        ),
        Pattern.LOG_GAP,
    )


def overwritten(
    events: pl.DataFrame,
    rings: tuple[int, ...] = RINGS,
    *,
    within: timedelta | None = None,
) -> pl.DataFrame:
    """Find the panels whose oldest export holds a round number of rows.

    Parameters
    ----------
    events : polars.DataFrame
        EVENT rows, unread ones too.
    rings : tuple of int, optional
        Numbers of rows at which an event memory is taken to be full.
    within : datetime.timedelta, optional
        Only those that reach back for less than that.

    Returns
    -------
    polars.DataFrame
        ``site``, ``rows``, ``since``, ``until`` (first and last placed row of that export).
    """
    told = events.lazy().filter(pl.col("witness") == Witness.PANEL)
    export = ["site", "source"]
    oldest = (
        told.group_by(export)
        .agg(since=pl.col("placed").min(), until=pl.col("placed").max(), told=pl.len())
        .sort("site", "since", "source")
        .unique("site", keep="first", maintain_order=True)
        .filter(pl.col("told") >= min(rings))
        .collect()
    )
    if within is not None:
        oldest = oldest.filter(pl.col("until") - pl.col("since") < within)
    # A row may tell several events.
    rows = (
        told.join(oldest.lazy().select(export), on=export, how="semi")
        .group_by(export)
        .agg(rows=pl.col("row").n_unique().cast(pl.Int64))
        .filter(pl.col("rows").is_in(list(rings)))
        .collect()
    )
    return oldest.join(rows, on=export, maintain_order="left").select(
        "site", "rows", "since", "until"
    )


_PART = ("site", "what", "since", "until", "hours", "rows")


def _gaps(ground: Ground, settings: Settings) -> pl.DataFrame:
    """Return the time between stretches that the logs cover."""
    between = ground.coverage.sort("site", "since").with_columns(
        stop=pl.col("until"), next=pl.col("since").shift(-1).over("site")
    )
    return (
        between.filter(pl.col("next").is_not_null())
        .with_columns(
            what=pl.lit("gap"),
            since="stop",
            until="next",
            hours=hours(pl.col("next") - pl.col("stop")),
            rows=pl.lit(None, pl.Int64),
        )
        .filter(pl.col("hours") >= settings.log_gap_h)
        .select(_PART)
    )


@kept
def restarted(ground: Ground, settings: Settings) -> pl.DataFrame:
    """Return the silences before a restart that are longer than any other of the log.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    settings : Settings
        ``log_dead_h`` [h].

    Returns
    -------
    polars.DataFrame
        ``site``, ``what`` (``dead``), ``since``, ``until``, ``hours``, ``rows`` (null); those in an
        outage of the mains left out.
    """
    told = ground.occurrences.lazy().filter(pl.col("at").is_not_null())
    restart = pl.col("kind") == Kind.SYSTEM_RESTART
    rows = (
        told.select("site", "placed", "kind")
        .join(told.filter(restart).select("site"), on="site", how="semi", maintain_order="left")
        .collect()
    )
    before = pl.col("placed").shift(1).over("site")
    quiet = rows.sort("site", "placed").with_columns(
        since=before, hours=hours(pl.col("placed") - before)
    )
    longest = quiet.filter(~restart).group_by("site").agg(other=pl.col("hours").max())
    silent = (
        quiet.filter(restart & (pl.col("hours") >= settings.log_dead_h))
        .join(longest, on="site", how="left")
        .filter(pl.col("hours") > pl.col("other").fill_null(0))
        .with_columns(until="placed")
    )
    ended = outages(ground, settings).filter(pl.col("ended_by") == "restart")
    cover = ground.coverage.select("site", start="since", stop="until")
    return (
        silent.join(ended.select("site", "until"), on=["site", "until"], how="anti")
        .pipe(asof, cover, "since", "start")
        .filter(pl.col("stop") >= pl.col("until"))
        .with_columns(what=pl.lit("dead"), rows=pl.lit(None, pl.Int64))
        .select(_PART)
    )


def _ring(ground: Ground, settings: Settings) -> pl.DataFrame:
    """Return the memories that are full and reach back only for days."""
    reach = hours(pl.col("until") - pl.col("since"))
    return (
        overwritten(ground.events, within=days(settings.log_short_days))
        .with_columns(what=pl.lit("ring"), hours=reach)
        .select(_PART)
    )
