"""Places that are armed by force, with points left out, as a habit."""

import polars as pl

from eventlab.analysis.conditions import most_within
from eventlab.analysis.found import (
    ends,
    evidence,
    figures,
    found,
    line,
    number,
    seconds,
    user,
    wall,
)
from eventlab.analysis.overruns import acts, goes_on
from eventlab.context import Context
from eventlab.ground import Ground
from eventlab.schema import Kind, Mode, Pattern, Phase, Subject
from eventlab.settings import Settings
from eventlab.stats import share_interval


def find(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """Find sites that are armed by force again and again, and what was left out.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        Not needed.
    settings : Settings
        ``forced_min`` within ``forced_days``, ``left_out_s`` [s], ``still_days``.

    Returns
    -------
    polars.DataFrame
        FOUND columns, one row per site. ``rate`` is the share of the armings. Which points were
        left out is told where the log tells a bypass, or why arming failed, near the arming.
    """
    del context
    own = forced(ground)
    out = left_out(ground, settings)
    counted = (
        own.with_columns(most=most_within(own, ["site"], settings.forced_days * 86400))
        .group_by("site", maintain_order=True)
        .agg(
            since=pl.col("at").first(),
            until=pl.col("at").last(),
            events=pl.len().cast(pl.Int64),
            most=pl.col("most").max(),
            days=pl.col("local").dt.date().n_unique().cast(pl.Int64),
            who=user(pl.col("person")).mode().sort().first(),
            latest=line(
                pl.lit("armed by force ") + wall(pl.col("local")),
                user(pl.col("person")),
                "arming rows",
            ).tail(3),
        )
        .filter(pl.col("most") >= settings.forced_min, pl.col("days") >= settings.forced_min)
    )
    if counted.is_empty():
        return found(counted, Pattern.FORCED_ARMING)
    points = (
        out.group_by("site", "zone")
        .agg(times=pl.col("act").n_unique().cast(pl.Int64), name=pl.col("name").first())
        .sort("site", "times", "zone", descending=[False, True, False])
        .group_by("site", maintain_order=True)
        .agg(
            points=pl.len().cast(pl.Int64),
            worst=pl.col("zone").first(),
            worst_name=pl.col("name").first(),
            worst_times=pl.col("times").first(),
            listed=line(
                pl.lit("left out: point ") + pl.col("zone"),
                number(pl.col("times")) + " times",
                "bypass or refusal rows near the arming",
            ).head(5),
        )
    )
    every = acts(ground, Kind.ARM).group_by("site").agg(armings=pl.len().cast(pl.Int64))
    full = (
        counted.join(points, on="site", how="left", maintain_order="left")
        .join(every, on="site", how="left", maintain_order="left")
        .join(ends(ground), on="site", how="left", maintain_order="left")
    )
    share = share_interval(
        full["events"].to_numpy(), full.select(pl.max_horizontal("armings", "events")).to_series()
    )
    full = full.with_columns(
        share=pl.Series(share.estimate), low=pl.Series(share.low), high=pl.Series(share.high)
    )
    return found(
        full.with_columns(
            evidence(
                line(
                    "armed by force",
                    number(pl.col("events")) + " of " + number(pl.col("armings")) + " armings",
                    "arming rows that say so",
                ),
                pl.col("listed").fill_null([]),
                line(
                    "which points were left out",
                    "not recorded",
                    "no bypass and no refusal stands near these armings",
                    when=pl.col("points").is_null(),
                ),
                "latest",
            ),
            figures(
                {
                    "n": pl.col("events"),
                    "armings": pl.col("armings"),
                    "share": pl.col("share"),
                    "share_low": pl.col("low"),
                    "share_high": pl.col("high"),
                    "points": pl.col("points"),
                    "worst": pl.col("worst"),
                    "worst_name": pl.col("worst_name"),
                    "worst_times": pl.col("worst_times"),
                    "who": pl.col("who"),
                }
            ),
            standing=goes_on(settings),
            rate=pl.col("share"),
            subject_kind=pl.lit(str(Subject.SITE)),
            subject="site",
        ),
        Pattern.FORCED_ARMING,
    )


def forced(ground: Ground) -> pl.DataFrame:
    """Return the armings by force, one act each: ``site, area, person, at, local, act``."""
    return (
        ground.occurrences.lazy()
        .filter(
            (pl.col("kind") == Kind.ARM)
            & (pl.col("mode") == Mode.FORCED)
            & ~pl.col("aside")
            & (pl.col("act") == pl.col("occurrence"))
        )
        .select("site", "area", "person", "local", "act", at="placed")
        .collect()
        .sort("site", "at")
    )


def left_out(ground: Ground, settings: Settings) -> pl.DataFrame:
    """Return the points that armings by force left out.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    settings : Settings
        ``left_out_s`` [s].

    Returns
    -------
    polars.DataFrame
        ``site``, ``zone``, ``name``, ``act`` (the arming), ``at``: points bypassed within
        ``left_out_s`` of it, or named as what kept the site from arming just before.
    """
    rows = (
        ground.occurrences.lazy()
        .filter(
            ((pl.col("kind") == Kind.BYPASS) & (pl.col("phase") == Phase.BEGIN))
            | (pl.col("kind") == Kind.ARM_FAILED),
            pl.col("zone").is_not_null(),
        )
        .select("site", "zone", "within", "placed")
        .collect()
    )
    names = ground.points.select("site", "zone", "within", "name")
    return (
        forced(ground)
        .join(rows, on="site")
        .filter(seconds(pl.col("placed") - pl.col("at")).abs() <= settings.left_out_s)
        .join(names, on=["site", "zone", "within"], how="left", nulls_equal=True)
        .select("site", "zone", "name", "act", "at")
        .unique(["site", "zone", "act"], keep="first", maintain_order=True)
    )
