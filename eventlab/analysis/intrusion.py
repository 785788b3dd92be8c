"""What may have been a real intrusion: a rule that no probability outvotes."""

import polars as pl

from eventlab.analysis.core import trips
from eventlab.analysis.found import (
    SECOND,
    asof,
    evidence,
    figures,
    found,
    line,
    number,
    seconds,
    user,
    wall,
)
from eventlab.analysis.intrusion_rules import anchors
from eventlab.context import Context
from eventlab.ground import Ground
from eventlab.schema import EVIDENCE, Kind, Pattern, Subject
from eventlab.settings import Settings

_NIGHT = ("site", "night")


def find(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """Find nights that may have been a real intrusion.

    The whole site is looked at, across areas and witnesses, over the confirmation window. A night
    is found where several points alarmed with no disarm at once; one point of the outer skin
    stayed open; tamper, path, power or a device was lost while armed and nothing explains it; an
    alarm followed days of masking, tamper, bypass or trials from outside; the last point that
    could still report did; or the system confirmed the alarm. Neither a storm, nor a reset clock,
    nor a keyholder who disarms later takes a night away.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        Where the sites stand.
    settings : Settings
        As the rules name them.

    Returns
    -------
    polars.DataFrame
        FOUND columns, one row per site and night.
    """
    own = trips(ground, settings)
    told = anchors(own, ground, context, settings)
    if told.is_empty():
        return found(told, Pattern.POSSIBLE_INTRUSION)
    nights = told.group_by(_NIGHT, maintain_order=True).agg(
        first=pl.col("at").min(),
        last=pl.col("at").max(),
        rules=pl.col("rule").unique(maintain_order=True),
        standing=pl.col("open").any(),
        why=line(pl.col("what"), pl.col("figure"), "possible intrusion: the rules of this tool")
        .unique(maintain_order=True)
        .head(10),
    )
    nights = nights.join(_alarms(nights, own, settings), on=list(_NIGHT), how="left")
    nights = _attended(nights, ground).sort("first", descending=True)
    return found(
        nights.with_columns(
            evidence(
                "why",
                pl.col("told").fill_null(pl.lit([], dtype=EVIDENCE)),
                line(
                    "disarmed after the first alarm",
                    number(pl.col("disarm_min"), 0)
                    + " min later"
                    + pl.when(pl.col("by").is_not_null())
                    .then(" by " + user(pl.col("by")))
                    .otherwise(pl.lit("")),
                    "a later disarm is an attendance and says nothing about cause",
                    when=pl.col("disarm_min").is_not_null(),
                ),
            ),
            figures(
                {
                    "points": pl.col("points").fill_null(0),
                    "alarms": pl.col("alarms").fill_null(0),
                    "rules": pl.col("rules"),
                    "disarm_min": pl.col("disarm_min"),
                    "why": pl.col("why").list.eval(pl.element().struct.field("what")),
                }
            ),
            since=pl.min_horizontal("first", "first_alarm"),
            until=pl.max_horizontal("last", "last_alarm"),
            events=pl.col("alarms").fill_null(0),
            subject_kind=pl.lit(str(Subject.SITE)),
            subject="site",
            area=pl.lit(None, dtype=pl.String),
        ),
        Pattern.POSSIBLE_INTRUSION,
    )


def _alarms(nights: pl.DataFrame, own: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Gather the alarms of each night that lie around what made it one."""
    window = pl.duration(seconds=int(settings.confirmation_window_s))
    near = own.join(nights.select(*_NIGHT, "first", "last"), on=list(_NIGHT)).filter(
        (pl.col("at") >= pl.col("first") - window) & (pl.col("at") <= pl.col("last") + window)
    )
    label = pl.lit("point ") + pl.col("zone").fill_null("not told")
    named = pl.when(pl.col("name").is_not_null()).then(" (" + pl.col("name") + ")")
    return (
        near.sort("site", "at", "occurrence")
        .group_by(_NIGHT, maintain_order=True)
        .agg(
            first_alarm=pl.col("at").min(),
            last_alarm=pl.col("at").max(),
            alarms=pl.len().cast(pl.Int64),
            points=pl.col("point").drop_nulls().n_unique().cast(pl.Int64),
            told=line(
                label + named.fill_null(""), wall(pl.col("local"), SECOND), "alarm rows"
            ).head(10),
        )
    )


def _attended(nights: pl.DataFrame, ground: Ground) -> pl.DataFrame:
    """Say when the place was next disarmed, and by whom."""
    disarms = ground.occurrences.filter(pl.col("kind") == Kind.DISARM).select(
        "site", by="person", disarmed="placed"
    )
    start = nights.with_columns(start=pl.min_horizontal("first", "first_alarm"))
    return asof(start, disarms, "start", "disarmed", strategy="forward").with_columns(
        disarm_min=(seconds(pl.col("disarmed") - pl.col("start")) / 60).round(3)
    )
