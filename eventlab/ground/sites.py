"""The values of each site: its clock, its ends, whether its arming can be rested on."""

from datetime import datetime, timedelta

import polars as pl

from eventlab.context import Context
from eventlab.ground import intervals
from eventlab.ground.words import ArmAt, State
from eventlab.schema import SITE, Kind, Phase, Timing
from eventlab.settings import Settings


def site_values(
    rows: pl.DataFrame,
    context: Context,
    settings: Settings,
    arm_at: pl.DataFrame,
    cover: pl.DataFrame,
    now: datetime | None,
) -> pl.DataFrame:
    """Gather what is known of each site before anything is counted.

    Parameters
    ----------
    rows : polars.DataFrame
        Numbered events.
    context : Context
        What is known from outside.
    settings : Settings
        ``exit_delay_s``, ``exit_unsettled_s``.
    arm_at : polars.DataFrame
        As ``powers.arm_at`` gives it.
    cover : polars.DataFrame
        ``s``, ``since``, ``until``.
    now : datetime or None
        When the newest logs were exported.

    Returns
    -------
    polars.DataFrame
        ``s`` (0, 1, 2, ...), ``site``, ``time_zone``, ``first``, ``last``,
        ``first_n``, ``last_n`` (their place in order), ``now``,
        ``covered_hours``, ``settle_s`` (seconds after an arm until exit time is over).
    """
    edge = pl.col("s") != pl.col("s").shift(1)
    brief = rows.select("s", "n", "site", "placed")
    starts = brief.filter(edge.fill_null(value=True))
    stops = brief.filter(edge.shift(-1).fill_null(value=True))
    spans = starts.select("s", "site", first="placed", first_n="n").with_columns(
        stops.select(last="placed", last_n="n")
    )
    decided = (
        arm_at.filter(pl.col("value") != ArmAt.UNKNOWN)
        .sort("s", "witness")
        .unique("s", keep="first", maintain_order=True)
        .select("s", arm_at="value")
    )
    hours = cover.group_by("s").agg(
        covered_hours=intervals.hours(),
        covered_until=pl.col("until").max(),
    )
    known = context.sites.select(list(SITE)).unique("site", keep="last")
    at = pl.col("arm_at")
    exit_s = pl.coalesce("exit_delay_s", pl.lit(settings.exit_delay_s))
    return (
        spans.join(known, on="site", how="left", maintain_order="left")
        .join(decided, on="s", how="left", maintain_order="left")
        .join(hours, on="s", how="left", maintain_order="left")
        .select(
            *("s", "site", "time_zone", "first", "last", "first_n", "last_n"),
            now=pl.lit(now).cast(pl.Datetime("us", "UTC"))
            if now is not None
            else pl.max_horizontal("last", "covered_until"),
            covered_hours=pl.col("covered_hours").fill_null(0.0),
            settle_s=pl.when(at == ArmAt.START)
            .then(exit_s)
            .when(at == ArmAt.END)
            .then(0.0)
            .otherwise(settings.exit_unsettled_s),
        )
    )


def contradictions(
    values: pl.DataFrame,
    told: pl.DataFrame,
    points: pl.DataFrame,
    arming: pl.DataFrame,
    settings: Settings,
) -> pl.DataFrame:
    """Measure how wrong the armed state is, and decide whether anything rests on it.

    Counted are intrusion alarms of points that are neither 24-hour nor life-safety points, not
    set aside, with sure times. One just after a disarm may only be told late.

    Parameters
    ----------
    values : polars.DataFrame
        As ``site_values`` gives it.
    told : polars.DataFrame
        Occurrences.
    points : polars.DataFrame
        ``point``, ``all_hours``.
    arming : polars.DataFrame
        ``s``: sites where a witness tells all arming.
    settings : Settings
        ``late_alarm_s``, ``contradiction_min``, ``contradiction_share``.

    Returns
    -------
    polars.DataFrame
        ``values`` with ``contradiction_share`` (null where no alarm tells) and
        ``arming_reliable``.
    """
    always = points.filter("all_hours")["point"]
    disarms = told.filter(pl.col("kind") == Kind.DISARM).select("s", "n", disarmed="placed")
    alarms = (
        told.filter(
            (pl.col("kind") == Kind.INTRUSION_ALARM)
            & (pl.col("phase") == Phase.BEGIN)
            & (pl.col("state") != State.UNKNOWN)
            & (pl.col("timing") != Timing.DOUBTFUL)
            & ~pl.col("aside")
            & ~pl.col("life_safety")
            & ~pl.col("point").is_in(always.to_list()).fill_null(value=False)
        )
        .select("s", "n", "placed", "state")
        .join_asof(disarms, on="n", by="s", check_sortedness=False)
    )
    late = pl.col("placed") - pl.col("disarmed") <= timedelta(seconds=settings.late_alarm_s)
    wrong = (pl.col("state") == State.UNARMED) & ~late.fill_null(value=False)
    counts = alarms.group_by("s").agg(contradictions=wrong.sum(), share=wrong.mean())
    above = (pl.col("contradictions") >= settings.contradiction_min) & (
        pl.col("share") > settings.contradiction_share
    )
    return values.join(counts, on="s", how="left", maintain_order="left").with_columns(
        contradiction_share=pl.col("share"),
        arming_reliable=pl.col("s").is_in(arming["s"].unique().to_list())
        & ~above.fill_null(value=False),
    )
