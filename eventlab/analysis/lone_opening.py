"""Openings of the outer skin that alarmed by themselves and shut again."""

import polars as pl

from eventlab.analysis.core import awake
from eventlab.analysis.found import (
    clock,
    evidence,
    figures,
    found,
    line,
    number,
    seconds,
    told_s,
)
from eventlab.analysis.intrusion_rules import counting
from eventlab.analysis.losses import label
from eventlab.analysis.skin import openings
from eventlab.context import Context
from eventlab.ground import Ground
from eventlab.schema import Pattern, Subject
from eventlab.settings import Settings

_RULE = "a door or window of the outer skin, nobody disarmed at once: the rule of this tool"
_MOST_LINES, _MOST_TIMES = 10, 5


def find(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """Find single openings of the outer skin that nobody disarmed at once, and that shut again.

    One that was forced and pulled to tells no more than one that rattled. So each such night is
    told, by point, the points that hardly ever alarm first, in one finding of the site; it says
    no more than that nobody can know from here.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        Not needed: points tell what they are for.
    settings : Settings
        ``confirmation_window_s`` [s], and those of `skin.openings`.

    Returns
    -------
    polars.DataFrame
        FOUND columns, one row per site; its figures give the ``dates`` of all nights. Openings
        that stayed open, and those with another point near, are `intrusion`'s.
    """
    del context
    own = awake(ground, settings)
    lone = _unaccompanied(openings(own, ground, settings).filter(~pl.col("stays")), own, settings)
    if lone.is_empty():
        return found(lone, Pattern.LONE_OPENING)
    points = _points(lone)
    dates = pl.col("dates").list.explode().unique().sort()
    sites = points.group_by("site", maintain_order=True).agg(
        since=pl.col("since").min(),
        until=pl.col("until").max(),
        events=pl.col("nights").sum().cast(pl.Int64),
        points=pl.len().cast(pl.Int64),
        once=(pl.col("nights") == 1).sum().cast(pl.Int64),
        why=line(pl.col("what"), pl.col("told"), _RULE).head(_MOST_LINES),
        dates=dates.cast(pl.String),
        nights=dates.len().cast(pl.Int64),
    )
    return found(
        sites.with_columns(
            evidence("why"),
            figures({name: pl.col(name) for name in ("nights", "points", "once", "dates")}),
            standing=pl.lit(value=False),
            subject_kind=pl.lit(str(Subject.SITE)),
            subject="site",
        ),
        Pattern.LONE_OPENING,
    )


def _unaccompanied(lone: pl.DataFrame, own: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Leave out openings beside which another point alarmed: both together are told elsewhere."""
    counted = counting(own).sort("site", "at", "occurrence")
    counted = counted.with_columns(run=pl.struct("site", "point").rle_id())
    runs = (
        counted.group_by("run", "site", maintain_order=True)
        .agg(first=pl.col("at").min(), last=pl.col("at").max())
        .with_columns(
            before=pl.col("last").shift(1).over("site"),
            after=pl.col("first").shift(-1).over("site"),
        )
    )
    near = counted.select("site", "occurrence", "run").join(
        runs.select("run", "before", "after"), on="run"
    )
    apart = pl.min_horizontal(
        seconds(pl.col("at") - pl.col("before")), seconds(pl.col("after") - pl.col("at"))
    )
    beside = (apart <= settings.confirmation_window_s).fill_null(value=False)
    with_runs = lone.join(near, on=["site", "occurrence"], how="left", maintain_order="left")
    return with_runs.filter(~beside)


def _points(lone: pl.DataFrame) -> pl.DataFrame:
    """Gather the nights of each point, the first alarm of each, and write its line."""
    shut = pl.col("live") & (pl.col("closed") == pl.col("stop"))
    heads = lone.unique(["site", "night", "point"], keep="first", maintain_order=True)
    heads = heads.with_columns(
        what=label() + " alarmed by itself",
        time=clock(pl.col("local"), pl.col("grain"))
        + pl.when(shut)
        .then(
            pl.lit(", shut again after ")
            + told_s(seconds(pl.col("stop") - pl.col("at")), pl.col("grain"))
        )
        .otherwise(pl.lit(", no row tells when it shut")),
    )
    nights, last = pl.len(), pl.col("time").sort_by("at").tail(_MOST_TIMES).str.join("; ")
    return (
        heads.group_by("site", "point", maintain_order=True)
        .agg(
            since=pl.col("at").min(),
            until=pl.col("at").max(),
            nights=nights,
            dates=pl.col("night"),
            what=pl.col("what").first(),
            told=pl.when(nights > _MOST_TIMES)
            .then(number(nights) + " nights, the last ones ")
            .otherwise(pl.lit(""))
            + last,
        )
        .sort("site", "nights", "until", descending=[False, False, True], maintain_order=True)
    )
