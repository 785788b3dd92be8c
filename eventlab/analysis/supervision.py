"""Devices that are no longer heard."""

import polars as pl

from eventlab.analysis.conditions import lasted, most_within, spells
from eventlab.analysis.found import days, ends, evidence, figures, found, line, number, wall
from eventlab.context import Context
from eventlab.ground import Ground
from eventlab.schema import LIFE_SAFETY, TRIPS, Kind, Pattern, Phase, Subject
from eventlab.settings import Settings

_KEY = ("site", "zone", "within")


def find(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """Find devices that were lost for long, or again and again.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        Not needed.
    settings : Settings
        ``unsupervised_h`` [h], ``unsupervised_repeats`` within ``unsupervised_days``,
        ``lost_together_s`` [s], ``still_days`` [days].

    Returns
    -------
    polars.DataFrame
        FOUND columns, one row per device, those still lost first; life-safety points too. A
        device that was lost once and soon heard again is a record.
    """
    del context
    lost = losses(ground, settings)
    long = pl.col("hours") > settings.unsupervised_h
    lost = lost.filter(~pl.col("aside") | long)
    if lost.is_empty():
        return found(lost, Pattern.UNSUPERVISED)
    lost = _together(lost, settings).with_columns(
        most=most_within(lost, _KEY, settings.unsupervised_days * 86400, at="since")
    )
    low = spells(ground, [Kind.DEVICE_BATTERY_LOW], settings).select(
        *_KEY, low="since", low_local="local"
    )
    weak = (
        lost.join(ends(ground), on="site", how="left")
        .group_by(_KEY, maintain_order=True)
        .agg(
            pl.col("area").drop_nulls().first(),
            pl.col("end").first(),
            first=pl.col("since").first(),
            until=pl.col("until").last(),
            open_since=pl.col("since").filter(pl.col("open")).last(),
            open_local=pl.col("local").filter(pl.col("open")).last(),
            open_h=pl.col("hours").filter(pl.col("open")).last(),
            longest=pl.col("hours").max(),
            longest_since=pl.col("since").filter(pl.col("hours") == pl.col("hours").max()).first(),
            events=pl.len().cast(pl.Int64),
            most=pl.col("most").max(),
            together=pl.col("together").max(),
            life_safety=pl.col("life_safety").any(),
            ends_told=pl.col("ends_told").first(),
            losses=line(
                pl.lit("lost ") + wall(pl.col("local")),
                lasted("still lost when the log ends"),
                "supervision-loss rows; the loss began up to one supervision period before",
            ).head(8),
        )
    )
    stands = pl.col("open_since").is_not_null()
    repeats = pl.col("most") >= settings.unsupervised_repeats
    recent = pl.col("end") - pl.col("until") <= days(settings.still_days)
    weak = weak.filter((pl.col("longest") > settings.unsupervised_h) | repeats).with_columns(
        standing=stands | (repeats & recent),
        since=pl.when(stands)
        .then("open_since")
        .otherwise(pl.when(repeats).then("first").otherwise("longest_since")),
        subject_kind=pl.when(pl.col("zone").is_null())
        .then(pl.lit(str(Subject.SITE)))
        .otherwise(pl.lit(str(Subject.ZONE))),
        subject=pl.coalesce("zone", "site"),
    )
    low_before = (
        weak.join(low, on=_KEY, nulls_equal=True)
        .filter(pl.col("low") <= pl.col("until"))
        .group_by(_KEY)
        .agg(pl.col("low_local").sort_by("low").last())
    )
    weak = weak.join(low_before, on=_KEY, how="left", nulls_equal=True)
    return found(
        weak.with_columns(
            evidence(
                "losses",
                line(
                    "lost within ten minutes of this one",
                    number(pl.col("together")) + " other devices",
                    "several at once point to their receiver or its supply",
                    when=pl.col("together") >= 2,
                ),
                line(
                    "battery of this device told low",
                    wall(pl.col("low_local")),
                    "device-battery-low rows",
                    when=pl.col("low_local").is_not_null(),
                ),
            ),
            figures(
                {
                    "open_h": pl.col("open_h"),
                    "longest_h": pl.col("longest"),
                    "losses": pl.col("events"),
                    "within": pl.col("most"),
                    "window_days": pl.lit(settings.unsupervised_days),
                    "repeats": repeats,
                    "together": pl.col("together"),
                    "battery_low": pl.col("low_local").is_not_null(),
                    "life_safety": pl.col("life_safety"),
                    "ends_told": pl.col("ends_told"),
                }
            ),
        ).sort(~pl.col("standing"), maintain_order=True),
        Pattern.UNSUPERVISED,
    )


def losses(ground: Ground, settings: Settings) -> pl.DataFrame:
    """Return each time that a device was not heard.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    settings : Settings
        As in `conditions.spells`.

    Returns
    -------
    polars.DataFrame
        As `conditions.spells`; ``ended_by`` is ``heard`` where the device told something later,
        and how long it was lost is not known.
    """
    return _heard(spells(ground, [Kind.SUPERVISION_LOSS], settings), ground)


def _heard(lost: pl.DataFrame, ground: Ground) -> pl.DataFrame:
    """Close losses of devices that told something later: whatever speaks is not lost.

    How long they were lost is not known: they may have been back long before they spoke. A
    life-safety point stays lost until its own restore is told.
    What comes with the loss, or before it is told again, may be how a panel tells the loss.
    """
    key = ["site", "zone"]
    same = pl.col("within").is_null() | (pl.col("within") == pl.col("told_area"))
    still = (
        lost.filter(pl.col("open") & ~pl.col("life_safety"))
        .select(*_KEY, "since")
        .join(
            ground.events.filter(
                (pl.col("kind") == Kind.SUPERVISION_LOSS) & (pl.col("phase") == Phase.BEGIN)
            ).select(*key, told="placed", told_area="area"),
            on=key,
        )
        .filter((pl.col("told") >= pl.col("since")) & same)
        .group_by(*_KEY, "since")
        .agg(told=pl.col("told").max())
    )
    later = (
        still.join(
            ground.events.filter(
                pl.col("kind").is_in([*TRIPS, *LIFE_SAFETY, Kind.ACTIVATION])
                & (pl.col("phase") == Phase.BEGIN)
            ).select(*key, heard="placed", told_area="area"),
            on=key,
        )
        .filter((pl.col("heard") > pl.col("told") + pl.duration(hours=1)) & same)
        .group_by(*_KEY, "since")
        .agg(pl.col("heard").min())
    )
    joined = lost.join(later, on=[*_KEY, "since"], how="left", nulls_equal=True)
    heard = pl.col("heard").is_not_null()
    return joined.with_columns(
        open=pl.col("open") & ~heard,
        until=pl.coalesce("heard", "until"),
        ended_by=pl.when(heard).then(pl.lit("heard")).otherwise("ended_by"),
        hours=pl.when(~heard).then("hours"),
    ).drop("heard")


def _together(lost: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Count the other devices of the site that were lost in the same spell of minutes."""
    gap = (pl.col("since") - pl.col("since").shift(1).over("site")).dt.total_seconds()
    return (
        lost.sort("site", "since")
        .with_columns(wave=(gap.fill_null(0) > settings.lost_together_s).cum_sum().over("site"))
        .with_columns(together=pl.col("zone").n_unique().over("site", "wave").cast(pl.Int64) - 1)
        .drop("wave")
    )
