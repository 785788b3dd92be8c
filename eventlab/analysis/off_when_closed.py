"""A supply or a path that is switched off with the lights: lost at closing, back at opening."""

import polars as pl

from eventlab.analysis.conditions import spells
from eventlab.analysis.found import (
    asof,
    days,
    ends,
    evidence,
    figures,
    found,
    line,
    number,
    seconds,
    wall,
)
from eventlab.analysis.kept import kept
from eventlab.context import Context
from eventlab.ground import Ground
from eventlab.schema import Kind, Pattern, Subject
from eventlab.settings import Settings

KINDS = (Kind.MAINS_LOSS, Kind.COMMS_FAIL)


def find(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """Find sites that lose mains or a path from a closing to the next opening, again and again.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        Not needed.
    settings : Settings
        ``off_before_s``, ``off_after_s`` [s], ``off_min``, ``off_share``, ``still_days``.

    Returns
    -------
    polars.DataFrame
        FOUND columns, one row per site and what is lost, of logs that tell all arming and ends.
        What begins nearer to one clock time than to the closings is by the clock, and not this.
    """
    del context
    told = nightly(ground, settings)
    grouped = (
        told.group_by("site", "kind", maintain_order=True)
        .agg(
            since=pl.col("since").filter("off").first(),
            until=pl.col("until").filter("off").last(),
            losses=pl.len().cast(pl.Int64),
            events=pl.col("off").sum().cast(pl.Int64),
            half_min=pl.col("lag_s").filter("off").median() / 60,
            hours=pl.col("hours").filter("off").sum(),
            by_arming=pl.col("by_arming").first(),
            by_clock=pl.col("by_clock").first(),
            latest=line(
                pl.lit("lost ") + wall(pl.col("local")),
                number(pl.col("lag_s") / 60) + " min after the closing, back at the opening",
                "begin and end of that loss, arming rows",
            )
            .filter("off")
            .tail(5),
        )
        .filter(pl.col("events") >= 1)
    )
    if grouped.is_empty():
        return found(grouped, Pattern.OFF_WHEN_CLOSED)
    what = (
        pl.when(pl.col("kind") == Kind.MAINS_LOSS).then(pl.lit("mains")).otherwise(pl.lit("path"))
    )
    return found(
        grouped.join(ends(ground), on="site", how="left", maintain_order="left").with_columns(
            evidence(
                line(
                    "lost from a closing to the next opening",
                    number(pl.col("events")) + " of " + number(pl.col("losses")) + " losses",
                    f"begins within {settings.off_after_s / 60:.0f} min of a closing and ends "
                    "with the opening (a setting; panels tell losses late)",
                ),
                line(
                    "spread of the begin",
                    number(pl.col("by_arming"))
                    + " min about the closing, "
                    + number(pl.col("by_clock"))
                    + " min about its usual hour",
                    pl.when(pl.col("by_arming") < pl.col("by_clock"))
                    .then(pl.lit("it moves with the closing, not with the clock"))
                    .otherwise(pl.lit("closings are too even here to tell a switch from a timer")),
                ),
                "latest",
            ),
            figures(
                {
                    "n": pl.col("events"),
                    "losses": pl.col("losses"),
                    "what": what,
                    "half_min": pl.col("half_min"),
                    "hours": pl.col("hours"),
                }
            ),
            standing=pl.col("end") - pl.col("until") <= days(settings.still_days),
            subject_kind=pl.lit(str(Subject.SITE)),
            subject="site",
        ),
        Pattern.OFF_WHEN_CLOSED,
    )


@kept
def nightly(ground: Ground, settings: Settings) -> pl.DataFrame:
    """Return the losses of mains and paths at sites that switch them off at closing.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    settings : Settings
        As `find` needs them.

    Returns
    -------
    polars.DataFrame
        As `conditions.spells`, with ``lag_s`` from the closing to the begin, ``off`` (this loss
        lasted from a closing to an opening), ``by_arming`` and ``by_clock`` (half of the begins
        lie within so many minutes of their middle). Only sites and kinds that reach the bar.
    """
    reliable = ground.sites.filter(pl.col("arming_reliable").fill_null(value=False))
    lost = (
        spells(ground, list(KINDS), settings)
        .filter(~pl.col("aside"))
        .join(reliable.select("site"), on="site", how="semi")
    )
    if lost.is_empty():
        return lost.with_columns(
            lag_s=pl.lit(None, pl.Float64), off=pl.lit(value=False),
            by_arming=pl.lit(None, pl.Float64), by_clock=pl.lit(None, pl.Float64),
        )  # fmt: skip
    periods = (
        ground.armed.filter("known")
        .select("site", armed="since", opened="until", ready=pl.col("since"))
        .sort("site", "armed")
    )
    periods = periods.with_columns(
        ready=pl.col("armed") - pl.duration(seconds=int(settings.off_before_s))
    )
    near = asof(lost, periods, "since", "ready")
    lag = seconds(pl.col("since") - pl.col("armed"))
    back = seconds(pl.col("until") - pl.col("opened"))
    off = (
        (lag <= settings.off_after_s)
        & back.is_between(-settings.off_before_s, settings.off_after_s)
        & ~pl.col("open")
        & (seconds(pl.col("opened") - pl.col("armed")) > 2 * 3600)
    ).fill_null(value=False)
    minute = pl.col("local").dt.hour().cast(pl.Float64) * 60 + pl.col("local").dt.minute()
    # Counted from noon: closings stand about the evening.
    minute = (minute - 720) % 1440
    key = ["site", "kind"]
    own = near.with_columns(lag_s=lag, off=off, minute=minute)
    middle = own.group_by(key).agg(
        lag_mid=pl.col("lag_s").filter("off").median(),
        minute_mid=pl.col("minute").filter("off").median(),
        nights=pl.col("off").sum(),
        share=pl.col("off").mean(),
    )
    told = own.join(middle, on=key, how="left", maintain_order="left")
    wide = told.group_by(key).agg(
        by_arming=(pl.col("lag_s") - pl.col("lag_mid")).abs().filter("off").median() / 60,
        by_clock=(pl.col("minute") - pl.col("minute_mid")).abs().filter("off").median(),
    )
    return (
        told.join(wide, on=key, how="left", maintain_order="left")
        .filter(
            pl.col("nights") >= settings.off_min,
            pl.col("share") >= settings.off_share,
            pl.col("by_arming") <= pl.col("by_clock") + 1,
        )
        .select(*lost.columns, "lag_s", "off", "by_arming", "by_clock")
    )
