"""Every entry and every closing: how long it took, by which way, and what went wrong."""

import polars as pl

from eventlab.analysis import entry_overrun, exit_overrun
from eventlab.analysis.armed_on_people import inside
from eventlab.analysis.found import asof, grains, seconds
from eventlab.context import Context
from eventlab.ground import ArmAt, Ground, Power, State
from eventlab.schema import TRIPS, Kind, Mode, Phase
from eventlab.settings import Settings

STEPS = 4
"""Points of a way in that are told."""


def entries(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """Return every opening, one row for each act of a person.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        Entry delays of the sites.
    settings : Settings
        ``entry_delay_s``, ``entry_overrun_s`` [s], and as `entry_overrun.overruns` needs them.

    Returns
    -------
    polars.DataFrame
        By site and time: ``site``, ``area``, ``person``, ``at``, ``local``, ``keypad`` (the point
        that the opening names, if any), ``delay_s``, ``delay_listed``, ``door`` (the point that
        opened or alarmed first on the way in; null where nothing of it is told), ``steps`` (the
        first points, in order), ``on_route`` (the first of them stands on the entry route),
        ``entry_s`` (from the first opening of a door or movement to the disarm; null where the
        log tells alarms only), ``over_s`` (from the alarm of a late entry to the disarm),
        ``late``, ``grain`` [s].

    Notes
    -----
    Only what happened while the place was armed counts, from so long before the disarm as the
    delay and ``entry_overrun_s`` are together.
    """
    opened = (
        ground.occurrences.lazy()
        .filter(
            (pl.col("kind") == Kind.DISARM)
            & ~pl.col("aside")
            & (pl.col("act") == pl.col("occurrence"))
        )
        .select("site", "area", "person", "local", keypad="zone", at="placed")
        .collect()
    )
    delays = context.sites.select("site", told="entry_delay_s").unique("site", keep="first")
    opened = (
        opened.join(delays, on="site", how="left", maintain_order="left")
        .join(grains(ground), on="site", how="left", maintain_order="left")
        .with_columns(
            delay_s=pl.col("told").fill_null(settings.entry_delay_s),
            delay_listed=pl.col("told").is_not_null(),
        )
        .drop("told")
        .sort("site", "at")
        .with_row_index("entry")
    )
    late = entry_overrun.overruns(ground, context, settings).filter(~pl.col("aside"))
    late = late.select(
        "site",
        "over_s",
        at=pl.col("at") + pl.duration(microseconds=(pl.col("over_s") * 1e6).cast(pl.Int64)),
    ).unique(["site", "at"], keep="first")
    way = _ways(opened, ground, settings)
    return (
        opened.join(late, on=["site", "at"], how="left", maintain_order="left")
        .join(way, on="entry", how="left", maintain_order="left")
        .with_columns(
            late=pl.col("over_s").is_not_null(),
            steps=pl.col("steps").fill_null([]),
            on_route=pl.col("on_route"),
        )
        .drop("entry")
    )


def _ways(opened: pl.DataFrame, ground: Ground, settings: Settings) -> pl.DataFrame:
    """Give the way in of each opening: what opened, moved or alarmed just before it."""
    known = ground.points.group_by("site", "zone").agg(pl.col("entry_route").any())
    rows = (
        ground.occurrences.lazy()
        .filter(
            pl.col("kind").is_in([Kind.ACTIVATION, *TRIPS]),
            pl.col("phase") == Phase.BEGIN,
            pl.col("state").is_in([State.ARMED, State.EXIT]),
            pl.col("zone").is_not_null(),
            ~pl.col("life_safety"),
        )
        .select("site", "zone", "kind", "occurrence", moved="placed")
        .collect()
        .join(known, on=["site", "zone"], how="left", maintain_order="left")
    )
    # Each thing belongs to the next opening after it.
    after = asof(rows, opened.select("entry", "site", "at", "delay_s"), "moved", "at",
                 strategy="forward")  # fmt: skip
    before = seconds(pl.col("at") - pl.col("moved"))
    return (
        after.with_columns(before=before)
        .filter(pl.col("before") <= pl.col("delay_s") + settings.entry_overrun_s)
        .sort("entry", "moved", "occurrence")
        .group_by("entry", maintain_order=True)
        .agg(
            door=pl.col("zone").first(),
            on_route=pl.col("entry_route").first().fill_null(value=False),
            steps=pl.col("zone").unique(maintain_order=True).head(STEPS),
            entry_s=pl.col("before").filter(pl.col("kind") == Kind.ACTIVATION).max(),
        )
    )


def closings(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """Return every closing, one row for each act, and what went wrong with it.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        Exit delays of the sites.
    settings : Settings
        ``exit_delay_s``, ``exit_unsettled_s``, ``exit_again_s``, ``recent_closing_s`` [s], and as
        `exit_overrun.overruns` and `armed_on_people.inside` need them.

    Returns
    -------
    polars.DataFrame
        By site and time: ``site``, ``area``, ``person``, ``mode``, ``at``, ``local``, ``late``
        (an alarm or an error at exit), ``again`` (armed once more soon after somebody disarmed),
        ``left_inside`` (somebody inside set an alarm off and disarmed), ``recent`` (an alarm
        within ``recent_closing_s``), ``timed``, ``delay_s``, ``delay_listed``, ``exit_s`` (from
        the arming to the last opening or movement on the way out; null where the log tells none,
        or writes the arming at the end of the exit time).
    """
    told = ground.occurrences.lazy()
    arms = (
        told.filter(
            (pl.col("kind") == Kind.ARM)
            & ~pl.col("aside")
            & (pl.col("act") == pl.col("occurrence"))
        )
        .select("site", "area", "person", "mode", "local", at="placed")
        .sort("site", "at")
        .collect()
    )
    late = exit_overrun.overruns(ground, settings).filter(~pl.col("aside"))
    bad = asof(late.select("site", wrong="at"), arms.select("site", "at"), "wrong", "at")
    bad = bad.select("site", "at", late=pl.lit(value=True)).drop_nulls().unique()
    stayed = inside(ground, settings).select("site", "timed", at="armed").unique(["site", "at"])
    disarms = told.filter(pl.col("kind") == Kind.DISARM).select("site", off="placed")
    near = asof(arms, disarms.collect(), "at", "off")
    earlier = asof(near, arms.select("site", before="at"), "off", "before", strict=True)
    again = (seconds(pl.col("at") - pl.col("off")) <= settings.exit_again_s) & (
        seconds(pl.col("off") - pl.col("before")) <= settings.exit_again_s + 300
    )
    alarms = told.filter(
        pl.col("trip"), pl.col("phase") == Phase.BEGIN, ~pl.col("life_safety")
    ).select("site", alarm="placed")
    soon = asof(earlier, alarms.collect(), "at", "alarm", strategy="forward")
    recent = seconds(pl.col("alarm") - pl.col("at")) <= settings.recent_closing_s
    return (
        soon.with_columns(
            again=again.fill_null(value=False), recent=recent.fill_null(value=False)
        )
        .join(bad, on=["site", "at"], how="left", maintain_order="left")
        .join(
            stayed.rename({"timed": "by_timer"}), on=["site", "at"], how="left",
            maintain_order="left",
        )
        .with_columns(
            late=pl.col("late").fill_null(value=False),
            left_inside=pl.col("by_timer").is_not_null(),
            timed=pl.coalesce("by_timer", pl.col("mode") == Mode.TIMED).fill_null(value=False),
        )
        .drop("off", "before", "alarm", "by_timer")
        .join(_ways_out(arms, ground, settings), on=["site", "at"], how="left",
              maintain_order="left")
        .join(
            context.sites.select("site", told="exit_delay_s").unique("site", keep="first"),
            on="site", how="left", maintain_order="left",
        )
        .with_columns(
            delay_s=pl.col("told").fill_null(settings.exit_delay_s),
            delay_listed=pl.col("told").is_not_null(),
        )
        .drop("told")
    )  # fmt: skip


def _ways_out(arms: pl.DataFrame, ground: Ground, settings: Settings) -> pl.DataFrame:
    """Give the seconds from each arming to the last movement on the way out."""
    start = ground.powers.filter(
        pl.col("power") == Power.ARM_AT, pl.col("value") == ArmAt.START
    ).select("site")
    route = ground.points.filter("entry_route").select("site", "zone").unique()
    moved = (
        ground.occurrences.lazy()
        .filter(pl.col("kind") == Kind.ACTIVATION, pl.col("phase") == Phase.BEGIN)
        .join(start.lazy(), on="site", how="semi", maintain_order="left")
        .join(route.lazy(), on=["site", "zone"], how="semi", maintain_order="left")
        .select("site", moved="placed")
        .collect()
    )
    took = seconds(pl.col("moved") - pl.col("at"))
    return (
        asof(moved, arms.select("site", "at"), "moved", "at")
        .with_columns(exit_s=took)
        .filter(pl.col("exit_s") <= settings.exit_unsettled_s)
        .group_by("site", "at")
        .agg(pl.col("exit_s").max())
    )
