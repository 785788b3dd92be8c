"""Mains lost for long, or until the panel died."""

import polars as pl

from eventlab.analysis.conditions import lasted, spells
from eventlab.analysis.found import asof, count, evidence, figures, found, hours, line, number, wall
from eventlab.analysis.kept import kept
from eventlab.analysis.off_when_closed import nightly
from eventlab.context import Context
from eventlab.ground import Ground
from eventlab.schema import Kind, Pattern, Phase, Subject
from eventlab.settings import Settings

_LOG = "mains-loss rows; a panel tells them late, so short outages are not seen"


def find(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """Find sites whose mains was out for long, or out until the panel died.

    What people switch off at every closing is told as that (`off_when_closed`), and not here.

    Mains lost, battery low, silence and restart are one outage. A battery that is low before a
    short outage is over is a weak battery, no long outage.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        The grade of a site tells the standby time asked of its battery.
    settings : Settings
        ``mains_out_h``, ``mains_outlived_h``, ``standby_h``, ``standby_high_h``,
        ``log_dead_h`` [h].

    Returns
    -------
    polars.DataFrame
        FOUND columns, one row per site. Short outages that were restored are left out; one that
        still stands where the log ends is not.

    Notes
    -----
    Standby 12 h (EN 50131-1 grades 1 and 2) or 30 h (3 and 4, reported to a centre; from memory).
    ``unprotected_h``: the longest time without mains in which the panel told nothing before it
    started again, or told nothing more; else that beyond the standby of its grade.
    """
    switched = nightly(ground, settings).filter("off", pl.col("kind") == Kind.MAINS_LOSS)
    lost = outages(ground, settings).join(
        switched.select("site", "since"), on=["site", "since"], how="anti", maintain_order="left"
    )
    short = pl.col("hours") <= settings.mains_out_h
    died = pl.col("silent_h").is_not_null()
    kept = lost.filter(pl.col("open") | ~short | (died & ~pl.col("aside"))).join(
        _standby(context, settings), on="site", how="left"
    )
    if kept.is_empty():
        return found(kept, Pattern.MAINS_OUT)
    told = line(
        pl.lit("mains lost ") + wall(pl.col("local")),
        lasted(pl.lit("not restored when the log ends, ") + number(pl.col("hours"), 1) + " h"),
        _LOG,
    )
    silent = pl.col("silent_h").max()
    grouped = kept.group_by("site", maintain_order=True).agg(
        since=pl.col("since").filter(pl.col("open")).first().fill_null(pl.col("since").first()),
        until=pl.col("until").last(),
        standing=pl.col("open").any(),
        events=pl.len().cast(pl.Int64),
        longest=pl.col("hours").max(),
        ends_told=pl.col("ends_told").first(),
        open_h=pl.col("hours").filter(pl.col("open")).max(),
        lows=pl.col("battery_low").sum().cast(pl.Int64),
        silent_h=silent,
        quiet_h=pl.col("quiet_h").filter(pl.col("open")).max(),
        standby=pl.col("standby").first().fill_null(settings.standby_h),
        first=pl.col("local").filter(pl.col("open")).first().fill_null(pl.col("local").first()),
        outages=told.head(8),
    )
    beyond = pl.col("longest") > pl.col("standby")
    over = pl.when(beyond).then(pl.col("longest") - pl.col("standby"))
    return found(
        grouped.with_columns(
            unprotected_h=pl.coalesce(pl.max_horizontal("silent_h", "quiet_h"), over)
        ).with_columns(
            evidence(
                "outages",
                line(
                    "battery low while the mains was out",
                    number(pl.col("lows")) + " of " + count(pl.col("events"), "outage"),
                    "system-battery-low rows",
                    when=pl.col("lows") > 0,
                ),
                line(
                    "silence before the system started again",
                    pl.lit("up to ") + number(pl.col("silent_h"), 1) + " h",
                    "from the last row before the restart to the restart",
                    when=pl.col("silent_h").is_not_null(),
                ),
                line(
                    "nothing told by the panel since",
                    number(pl.col("quiet_h"), 1) + " h",
                    "from the last row to the end of the log: it may be dead",
                    when=pl.col("quiet_h").is_not_null(),
                ),
                line(
                    "standby asked of the battery",
                    number(pl.col("standby")) + " h",
                    "EN 50131-1, from memory; a setting",
                    when=beyond,
                ),
            ),
            figures(
                {
                    "outages": pl.col("events"),
                    "longest_h": pl.col("longest"),
                    "open_h": pl.col("open_h"),
                    "battery_low": pl.col("lows"),
                    "silent_h": pl.col("silent_h"),
                    "quiet_h": pl.col("quiet_h"),
                    "unprotected_h": pl.col("unprotected_h"),
                    "standby_h": pl.col("standby"),
                    "beyond": beyond,
                    "ends_told": pl.col("ends_told"),
                }
            ),
            subject_kind=pl.lit(str(Subject.SITE)),
            subject="site",
        ),
        Pattern.MAINS_OUT,
    )


@kept
def outages(ground: Ground, settings: Settings) -> pl.DataFrame:
    """Return each outage with what the battery did.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    settings : Settings
        As in `conditions.spells`, and ``log_dead_h`` [h].

    Returns
    -------
    polars.DataFrame
        As `conditions.spells`, with ``battery_low`` (a low system battery was told from the loss
        to an hour after its end), ``low_at``, ``low_after_h`` [h], ``silent_h`` (longest time
        that the panel may have been dead before it started again, null where it did not restart)
        and ``quiet_h`` (time since its last row of one that still stands; null below
        ``log_dead_h``).
    """
    lost = _outlived(spells(ground, [Kind.MAINS_LOSS], settings), ground, settings)
    lost = lost.with_row_index("outage")
    low = (
        ground.occurrences.lazy()
        .filter((pl.col("kind") == Kind.SYSTEM_BATTERY_LOW) & (pl.col("phase") == Phase.BEGIN))
        .select("site", low="placed")
        .collect()
    )
    lows = (
        asof(lost, low, "since", "low", strategy="forward")
        .filter(pl.col("low") <= pl.col("until") + pl.duration(hours=1))
        .select("outage", low_at="low", low_after_h=hours(pl.col("low") - pl.col("since")))
    )
    restarted = lost.filter(pl.col("ended_by") == "restart")
    told = ground.occurrences.lazy().select("site", "placed")
    before = told.join(
        restarted.lazy().select("site"), on="site", how="semi", maintain_order="left"
    )
    silent = asof(restarted, before.collect(), "until", "placed", strict=True).select(
        "outage", silent_h=hours(pl.col("until") - pl.col("placed"))
    )
    heard = (
        told.join(lost.lazy().filter("open").select("site"), on="site", how="semi")
        .group_by("site")
        .agg(heard=pl.col("placed").max())
        .collect()
    )
    quiet = hours(pl.col("until") - pl.max_horizontal("since", "heard"))
    return (
        lost.join(lows, on="outage", how="left")
        .join(silent, on="outage", how="left")
        .join(heard, on="site", how="left")
        .with_columns(quiet_h=pl.when(pl.col("open") & (quiet >= settings.log_dead_h)).then(quiet))
        .drop("heard")
        .with_columns(battery_low=pl.col("low_after_h").is_not_null())
        .sort("outage")
        .drop("outage")
    )


def dead(ground: Ground, settings: Settings) -> pl.DataFrame:
    """Return when a panel told nothing in an outage of its mains: ``site``, ``start``, ``stop``.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    settings : Settings
        As for `outages`.

    Returns
    -------
    polars.DataFrame
        A row for each outage that a panel did not outlast.
    """
    length = pl.coalesce("silent_h", "quiet_h")
    return (
        outages(ground, settings)
        .filter(length.is_not_null())
        .select(
            "site",
            start=pl.col("until") - pl.duration(microseconds=(length * 3.6e9).cast(pl.Int64)),
            stop="until",
        )
    )


def _outlived(lost: pl.DataFrame, ground: Ground, settings: Settings) -> pl.DataFrame:
    """Close outages that a panel outlived by more than any battery holds.

    In logs without ends, and where only a restart much later closes it: its end got lost. One that
    stands in a log that tells ends may be a dead supply beside the panel's own.
    """
    may = pl.col("open") & ~pl.col("ends_told")
    sites = lost.filter(may)["site"].unique()
    lived = (
        ground.events.lazy()
        .filter(pl.col("site").is_in(sites.implode()) & (pl.col("kind") != Kind.ON_TEST))
        .group_by("site")
        .agg(heard=pl.col("placed").max())
        .collect()
    )
    past = lost.join(lived, on="site", how="left", maintain_order="left")
    longest = pl.duration(seconds=int(settings.mains_outlived_h * 3600))
    lived_on = may & (pl.col("heard") - pl.col("since") > longest)
    closed = past.with_row_index("outage").filter(pl.col("ended_by") == "restart")
    rows = (
        ground.occurrences.lazy()
        .filter(pl.col("site").is_in(closed["site"].unique().implode()))
        .select("site", before="placed")
        .collect()
    )
    late = asof(closed, rows, "until", "before", strict=True).filter(
        pl.col("before") - pl.col("since") > longest
    )
    over = lived_on | pl.int_range(pl.len()).is_in(late["outage"].implode())
    return past.with_columns(
        open=pl.col("open") & ~over,
        until=pl.when(over).then("since").otherwise("until"),
        ended_by=pl.when(over).then(pl.lit("untold")).otherwise("ended_by"),
        hours=pl.when(~over).then("hours"),
    ).drop("heard")


def _standby(context: Context, settings: Settings) -> pl.DataFrame:
    high = pl.col("grade").str.contains(r"[34]")
    return context.sites.select(
        "site",
        standby=pl.when(high.fill_null(value=False))
        .then(settings.standby_high_h)
        .otherwise(settings.standby_h),
    ).unique("site", keep="first")
