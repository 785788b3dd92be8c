"""The frames as they leave this room: names instead of numbers, columns in order."""

import polars as pl

from eventlab.ground import intervals
from eventlab.ground.ground import Ground

OCCURRENCE = (
    *("site", "occurrence", "at", "placed", "timing", "grain", "kind", "phase", "mode", "area"),
    *("zone", "within", "person", "person_name", "path", "text", "code", "rows", "witnesses"),
    *("source", "row", "memory_rows", "night", "local", "state", "armed_mode", "aside"),
    *("life_safety", "trip", "at_risk", "act"),
)
EPISODE = (
    *("site", "episode", "area", "since", "until", "alarms", "points", "first_zone", "kinds"),
    *("armed_at", "armed_by", "disarmed_at", "disarmed_by", "disarm_after_s", "cancelled"),
    *("confirmed", "aside", "life_safety", "night", "standing", "state", "doubtful"),
    *("first_occurrence", "last"),
)
ARMED = (
    *("site", "area", "since", "until", "mode", "person", "settled_since", "disarmed_by"),
    *("known", "period"),
)
POINT = (
    *("site", "zone", "within", "area", "areas", "area_rule", "use", "detector", "name"),
    *("armed_in", "installed", "listed", "seen", "life_safety", "entry_route", "all_hours"),
    *("trip_limit", "limit_basis"),
)


def publish(
    events: pl.DataFrame,
    told: pl.DataFrame,
    power: pl.DataFrame,
    spoken: pl.DataFrame,
    watched: pl.DataFrame,
    recorded: pl.DataFrame,
    runs: pl.DataFrame,
    aside: pl.DataFrame,
    points: pl.DataFrame,
    hours: pl.DataFrame,
    spans: pl.DataFrame,
    removed: pl.DataFrame,
    episodes: pl.DataFrame,
    values: pl.DataFrame,
    clocks: pl.DataFrame,
) -> Ground:
    """Give the frames their public shape.

    Parameters
    ----------
    events, told, power, spoken, watched, recorded, runs, aside, points, hours, spans, removed,
    episodes, values, clocks : polars.DataFrame
        As the modules of this room give them, with site and point numbers.

    Returns
    -------
    Ground
        The frames with names, sorted by site and time.
    """
    names = values["site"]
    within = points["within"]
    apart = (
        within.gather(told["point"])
        if within.null_count() < within.len()
        else pl.lit(None, dtype=pl.String)
    )

    def named(frame: pl.DataFrame) -> pl.DataFrame:
        return frame.with_columns(site=names.gather(frame["s"]))

    known = runs.filter("known")
    reach = spoken.group_by("s", "witness").agg(pl.col("since").min(), pl.col("until").max())
    cover = intervals.unite(spoken, ["s"])
    of_point = points.select("point", "s", "zone", "within", "area")
    armed_hours = intervals.total(intervals.unite(known, ["s"]), ["s"], "armed_hours")
    sharing = (
        hours.join(of_point, on="point")
        .select("s", "base")
        .unique()
        .sort("base")
        .with_columns(own=pl.col("base") - pl.col("base").min().over("s"))
    )
    return Ground(
        events=events,
        occurrences=told.with_columns(within=apart).select(OCCURRENCE),
        powers=named(power.join(reach, on=["s", "witness"], how="left"))
        .with_columns(pl.col("witness").cast(pl.String))
        .select("site", "witness", "power", "value", "figure", "since", "until")
        .sort("site", "witness", "power"),
        coverage=named(cover).select("site", "since", "until"),
        watched=named(watched).select("site", "since", "until"),
        recorded=named(recorded).select("site", "since", "until"),
        armed=named(runs)
        .with_columns(period=pl.col("period").rank("dense").over("s", "area").cast(pl.Int32))
        .sort("s", "since", "area")
        .select(ARMED),
        aside=named(aside).select("site", "area", "since", "until", "reason", "ended"),
        points=points.select(POINT),
        exposure=named(hours.join(of_point, on="point", how="left").join(sharing, on=["s", "base"]))
        .select(
            *("site", "zone", "within", "area", "hours", "periods", "basis", "part"),
            *("left_out_h", "removed_h"),
            base="own",
        )
        .sort("site", "zone", "within"),
        bases=named(spans.join(sharing, on="base"))
        .sort("base", "since")
        .select("site", base="own", since="since", until="until"),
        removed=named(removed.join(of_point, on="point", how="left"))
        .select("site", "zone", "within", "since", "until", "reason")
        .sort("site", "zone", "within", "since", "until", "reason"),
        episodes=episodes.select(EPISODE),
        clocks=clocks,
        sites=values.join(armed_hours, on="s", how="left", maintain_order="left").select(
            *("site", "time_zone", "first", "last", "covered_hours"),
            pl.col("armed_hours").fill_null(0.0),
            *("arming_reliable", "contradiction_share", "now"),
        ),
    )
