"""Points that alarm in the days after visits: something that the work touched."""

import polars as pl

from eventlab.analysis.daily import POINT, alarm_days, by_night, home_night
from eventlab.analysis.found import days, ends, evidence, figures, found, line, number
from eventlab.context import Context
from eventlab.ground import Ground, Reason
from eventlab.schema import Pattern, Subject
from eventlab.settings import Settings
from eventlab.stats import binomial_tail

_NIGHTS = (3, 7, 14)
"""Nights at risk after a visit, of which the most telling is taken."""
_WORK = (Reason.ON_SITE_WORK, Reason.VISIT)
_SHOWN = 4
_BASE = ("site", "base")


def find(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """Find points that alarmed after visit upon visit, as if those had set them off.

    Needed: visits from a visits file, or work that the log tells; when each point was at risk.
    Where a visit names its points, it counts for those only. Visits soon after alarms are called
    for by them: of a point that had alarmed before as many visits nothing is said. One or two
    visits show nothing, however many alarms come after; a lasting rise from one on is told by
    `rate_change`.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        Visits.
    settings : Settings
        ``visits_least``, ``visits_apart``, ``visits_share``, ``visits_before``,
        ``visits_chance``, ``still_days``.

    Returns
    -------
    polars.DataFrame
        FOUND columns, one row per point; ``events`` are visits followed by an alarm, ``q_value``
        the chance times ``looks``, three windows for each point of the site.

    Notes
    -----
    The visit is the unit, since alarms come in spells. By chance a visit is followed within w
    nights at risk as often as any night is: the sum over alarm nights of the smaller of w and the
    nights at risk since the one before, over all nights at risk. Visits followed are binomial.
    """
    visits = _visits(ground, context, settings)
    if visits.is_empty():
        return found(visits, Pattern.AFTER_VISIT)
    told = _tested(_counted(visits, ground), settings)
    if told.is_empty():
        return found(told, Pattern.AFTER_VISIT)
    followed = number(pl.col("followed")) + " of " + number(pl.col("visits")) + " visits"
    return found(
        told.join(ends(ground), on="site", how="left").with_columns(
            evidence(
                line(
                    pl.lit("visits after which it alarmed"),
                    followed + ", within " + number(pl.col("wide")) + " nights at risk",
                    "visits file, or work that the log tells; one alarm a night",
                ),
                line(
                    pl.lit("nights after which it alarmed as soon"),
                    number(100 * pl.col("share"), 1) + " of 100",
                    "all nights at risk of the log",
                ),
                line(
                    pl.lit("visits before which it had alarmed as shortly"),
                    number(pl.col("before")),
                    "a visit soon after an alarm may have been called for by it",
                ),
                line(
                    pl.lit("by chance so many"),
                    "about " + number(pl.col("q_value"), 6),
                    "exact test with the visit as the unit, for all points and windows",
                ),
                line(pl.lit("the last of these visits"), pl.col("when"), "local dates"),
            ),
            figures({n: pl.col(n) for n in ("followed", "visits", "before", "wide", "share")}),
            events=pl.col("followed"),
            standing=pl.col("end") - pl.col("until") <= days(settings.still_days),
            subject_kind=pl.lit(str(Subject.ZONE)),
            subject="zone",
        ),
        Pattern.AFTER_VISIT,
    )


def _visits(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """List visits by date; those in a row count once, and sites with few are left out."""
    told = context.visits.select("site", "zones", placed="at").drop_nulls("placed")
    work = ground.aside.filter(pl.col("reason").is_in(list(_WORK))).select(
        "site", pl.lit(None, pl.List(pl.String)).alias("zones"), placed="since"
    )
    both = home_night(pl.concat([told, work]), ground).with_columns(date=pl.col("local").dt.date())
    by_date = (
        both.group_by("site", "date")
        .agg(
            # Work that names no points counts for all of them.
            all=pl.col("zones").is_null().any(),
            zones=pl.col("zones").list.explode().drop_nulls().unique().sort(),
        )
        .sort("site", "date")
    )
    apart = (pl.col("date") - pl.col("date").shift(1).over("site")).dt.total_days()
    first = by_date.filter((apart >= settings.visits_apart).fill_null(value=True))
    return first.filter(pl.len().over("site") >= settings.visits_least)


def _counted(visits: pl.DataFrame, ground: Ground) -> pl.DataFrame:
    """Count, by point and window, visits followed and preceded by alarms, and how usual that is."""
    here = visits.select("site").unique()
    at_risk = by_night(ground.bases.join(here, on="site", how="semi"), ground, _BASE)
    nights = at_risk.select(
        *_BASE, "night",
        rank=pl.int_range(pl.len()).over(_BASE), whole=pl.len().over(_BASE),
    ).sort("night")  # fmt: skip
    alarms = (
        alarm_days(ground)
        .join(here, on="site", how="semi")
        .join(ground.exposure.select(*POINT, "base"), on=list(POINT), nulls_equal=True)
        .join(nights, on=[*_BASE, "night"])
        .sort(*POINT, "night", nulls_last=True)
        .with_columns(gap=(pl.col("rank") - pl.col("rank").shift(1).over(POINT)))
    )
    each = pl.struct(POINT)
    points = alarms.group_by(*POINT, "base", maintain_order=True).agg(
        pl.col("area").drop_nulls().first(), pl.col("whole").first()
    )
    came = points.select(*POINT, "base").join(visits, on="site")
    named = pl.col("all") | pl.col("zones").list.contains(pl.col("zone"))
    placed = (
        came.filter(named)
        .sort("date")
        .join_asof(nights.drop("whole").rename({"rank": "start"}), left_on="date",
                   right_on="night", by=list(_BASE), strategy="forward", coalesce=False,
                   check_sortedness=False)
        .drop_nulls("start")
    )  # fmt: skip
    own = alarms.select(each.alias("point"), rank_of="rank", at="at")
    parts = []
    for wide in _NIGHTS:
        usual = alarms.group_by(POINT).agg(
            share=pl.min_horizontal(pl.col("gap").fill_null(pl.col("rank") + 1), wide).sum()
            / pl.col("whole").first()
        )
        pairs = placed.select(*POINT, "date", "start", point=each).join(own, on="point")
        away = pl.col("rank_of") - pl.col("start")
        hit = away.is_between(0, wide - 1)
        seen = pairs.group_by(*POINT, "date").agg(
            after=hit.any(), early=away.is_between(-wide, -1).any(),
            first=pl.col("at").filter(hit).min(), last=pl.col("at").filter(hit).max(),
        )  # fmt: skip
        parts.append(
            seen.sort("date")
            .group_by(POINT)
            .agg(
                visits=pl.len().cast(pl.Int64),
                followed=pl.col("after").sum().cast(pl.Int64),
                before=pl.col("early").sum().cast(pl.Int64),
                since=pl.col("first").min(),
                until=pl.col("last").max(),
                when=pl.col("date")
                .filter("after")
                .tail(_SHOWN)
                .dt.strftime("%-d %b %Y")
                .str.join(", "),
            )
            .join(usual, on=list(POINT), nulls_equal=True)
            .with_columns(wide=pl.lit(wide))
        )
    return pl.concat(parts).join(
        points.select(*POINT, "area", looks=(len(_NIGHTS) * pl.len().over("site")).cast(pl.Int64)),
        on=list(POINT),
        nulls_equal=True,
    )


def _tested(each: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Keep the points of which chance is no explanation, each by its most telling window."""
    followed, visits = each["followed"].to_numpy(), each["visits"].to_numpy()
    tail = binomial_tail(followed, visits, each["share"].clip(0, 1).to_numpy())
    return (
        each.with_columns(p_value=pl.Series(tail))
        .with_columns(q_value=(pl.col("p_value") * pl.col("looks")).clip(0, 1))
        .filter(
            (pl.col("followed") >= settings.visits_least)
            & (pl.col("followed") >= settings.visits_share * pl.col("visits"))
            & (pl.col("before") <= settings.visits_before * pl.col("followed"))
            & (pl.col("q_value") <= settings.visits_chance)
        )
        .sort(*POINT, "p_value", "wide", nulls_last=True)
        .unique(list(POINT), keep="first", maintain_order=True)
    )
