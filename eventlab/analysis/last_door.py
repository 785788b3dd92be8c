"""A final door that does not latch: it opens by itself soon after closing and stays open."""

import polars as pl

from eventlab.analysis.found import (
    asof,
    begun,
    ends,
    evidence,
    figures,
    found,
    grains,
    line,
    number,
    seconds,
    told_s,
    wall,
)
from eventlab.analysis.overruns import goes_on
from eventlab.context import Context
from eventlab.ground import Ground, Power, Restores
from eventlab.schema import TRIPS, Kind, Pattern, Phase, Subject, Use
from eventlab.settings import Settings


def find(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """Find final doors that open by themselves after closing and stay open until someone comes.

    Such an alarm has no second point. Wind opens a door at any hour and shuts it again; a
    possible intrusion that is told of such a night stands beside this, whatever its cause.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        Not needed.
    settings : Settings
        ``unlatched_from_s``, ``unlatched_until_s``, ``unlatched_back_s`` [s], ``unlatched_min``
        within ``overrun_days``, ``unlatched_share``, ``still_days``.

    Returns
    -------
    polars.DataFrame
        FOUND columns, one row per door, of logs that tell ends of alarms as they happen.
    """
    del context
    held = _held_open(ground, settings)
    if held.is_empty():
        return found(held, Pattern.LAST_DOOR_UNLATCHED)
    soon = pl.col("armed_s").is_between(settings.unlatched_from_s, settings.unlatched_until_s)
    doors = (
        held.with_columns(soon=soon.fill_null(value=False))
        .join(grains(ground), on="site", how="left")
        .sort("site", "zone", "since")
        .group_by("site", "zone", maintain_order=True)
        .agg(
            pl.col("area").drop_nulls().first(),
            held=pl.len().cast(pl.Int64),
            grain=pl.col("grain").max(),
            since=pl.col("since").filter("soon").first(),
            until=pl.col("since").filter("soon").last(),
            events=pl.col("soon").sum().cast(pl.Int64),
            half_s=pl.col("armed_s").filter("soon").median(),
            stood_h=pl.col("stood_h").filter("soon").median(),
            latest=line(
                wall(pl.col("local")),
                told_s(pl.col("armed_s"), pl.col("grain"))
                + " after closing, then open for "
                + number(pl.col("stood_h"), 1)
                + " h",
                "alarm of that night and its end",
            )
            .filter("soon")
            .tail(5),
        )
        .filter(
            pl.col("events") >= settings.unlatched_min,
            pl.col("events") >= settings.unlatched_share * pl.col("held"),
            pl.col("until") - pl.col("since")
            <= pl.duration(days=int(settings.overrun_days))
            * (pl.col("events") / settings.unlatched_min),
        )
    )
    if doors.is_empty():
        return found(doors, Pattern.LAST_DOOR_UNLATCHED)
    low, high = settings.unlatched_from_s / 60, settings.unlatched_until_s / 60
    return found(
        doors.join(ends(ground), on="site", how="left", maintain_order="left").with_columns(
            evidence(
                line(
                    "opened after closing and stayed open until someone came",
                    number(pl.col("events"))
                    + " of "
                    + number(pl.col("held"))
                    + " times that it stood open while armed",
                    f"{low:.0f} to {high:.0f} min after closing, and no second point (settings)",
                ),
                "latest",
            ),
            figures(
                {
                    "n": pl.col("events"),
                    "held": pl.col("held"),
                    "half_s": pl.col("half_s"),
                    "stood_h": pl.col("stood_h"),
                    "grain": pl.col("grain"),
                }
            ),
            standing=goes_on(settings),
            subject_kind=pl.lit(str(Subject.ZONE)),
            subject="zone",
        ),
        Pattern.LAST_DOOR_UNLATCHED,
    )


def _held_open(ground: Ground, settings: Settings) -> pl.DataFrame:
    """Return the alarms of final doors alone that lasted until somebody came."""
    live = ground.powers.filter(
        pl.col("power") == Power.RESTORES, pl.col("value") == Restores.LIVE
    ).select("site")
    reliable = ground.sites.filter(pl.col("arming_reliable").fill_null(value=False))
    doors = ground.points.filter(
        pl.col("entry_route") & (pl.col("use").is_null() | (pl.col("use") == Use.ENTRY)),
        ~pl.col("life_safety"),
    ).select("site", first_zone="zone")
    alone = (
        ground.episodes.filter(
            pl.col("points").list.len() == 1,
            ~pl.col("life_safety"),
            ~pl.col("aside"),
            ~pl.col("doubtful"),
            pl.col("disarmed_at").is_not_null(),
        )
        .join(live.unique(), on="site", how="semi")
        .join(reliable.select("site"), on="site", how="semi")
        .join(doors.unique(), on=["site", "first_zone"], how="semi")
        .select(
            *("site", "episode", "area", "since", "disarmed_at", "first_occurrence"),
            zone="first_zone",
            armed_s=seconds(pl.col("since") - pl.col("armed_at")),
        )
    )
    if alone.is_empty():
        return alone
    told = ground.occurrences.lazy().filter(pl.col("kind").is_in([*TRIPS, Kind.ACTIVATION]))
    shut = (
        told.filter(pl.col("phase") == Phase.END)
        .select("site", "zone", shut="placed")
        .join(alone.lazy().select("site", "zone"), on=["site", "zone"], how="semi")
        .collect()
    )
    near = asof(alone, shut, "since", "shut", by=["site", "zone"], strategy="forward")
    stood = seconds(pl.col("disarmed_at") - pl.col("shut")) <= settings.unlatched_back_s
    near = near.filter(stood, seconds(pl.col("disarmed_at") - pl.col("since")) > 900)
    other = (
        told.filter((pl.col("phase") == Phase.BEGIN) & pl.col("trip"))
        .select("site", other_zone="zone", other="placed")
        .join(near.lazy().select("site"), on="site", how="semi")
        .collect()
    )
    crowd = (
        near.select("site", "episode", "zone", "since", "disarmed_at")
        .join(other, on="site")
        .filter(
            pl.col("other") > pl.col("since"),
            pl.col("other") < pl.col("disarmed_at"),
            pl.col("other_zone").ne_missing(pl.col("zone")),
        )
    )
    return (
        near.join(crowd, on=["site", "episode"], how="anti")
        .join(begun(near, ground), on=["site", "first_occurrence"], how="left")
        .with_columns(stood_h=seconds(pl.col("shut") - pl.col("since")) / 3600)
    )
