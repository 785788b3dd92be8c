"""Devices that are no longer heard."""

import polars as pl

from eventlab.analysis.conditions import lasted, most_within, spells
from eventlab.analysis.found import evidence, figures, found, line, number, seconds, wall
from eventlab.analysis.kept import kept
from eventlab.analysis.lasting import gathered, shown
from eventlab.context import Context
from eventlab.ground import Ground
from eventlab.schema import LIFE_SAFETY, TRIPS, Kind, Pattern, Phase
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
        ``still_days`` [days]; as for `in_waves`.

    Returns
    -------
    polars.DataFrame
        FOUND columns, one row per device, those still lost first; life-safety points too. A
        device that was lost once and soon heard again is a record. What several devices lost at
        once has in common is told once, of the site (``radio``).
    """
    del context
    lost = in_waves(ground, settings).filter(~pl.col("as_one"))
    if lost.is_empty():
        return found(lost, Pattern.UNSUPERVISED)
    weak = gathered(
        lost,
        ground,
        settings,
        key=_KEY,
        long_h=settings.unsupervised_h,
        repeats=settings.unsupervised_repeats,
        line=line(
            pl.lit("lost ") + wall(pl.col("local")),
            lasted("still lost when the log ends"),
            "supervision-loss rows; the loss began up to one supervision period before",
        ),
        more=[pl.col("together").max()],
    )
    if weak.is_empty():
        return found(weak, Pattern.UNSUPERVISED)
    low = spells(ground, [Kind.DEVICE_BATTERY_LOW], settings).select(
        *_KEY, low="since", low_local="local"
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
                "lines",
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
                    **shown(settings.unsupervised_days),
                    "losses": pl.col("events"),
                    "together": pl.col("together"),
                    "battery_low": pl.col("low_local").is_not_null(),
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


@kept
def in_waves(ground: Ground, settings: Settings) -> pl.DataFrame:
    """Return each loss of a device, and the wave of losses that it belongs to.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    settings : Settings
        ``lost_together_s`` [s], ``unsupervised_h`` [h], ``unsupervised_days``,
        ``radio_devices``, ``radio_waves``.

    Returns
    -------
    polars.DataFrame
        As `losses`, without short ones in time set aside, with ``wave`` (number of the wave inside
        its site), ``together`` (other devices in it), ``long`` (enough of it were lost for longer
        than the bar), ``again`` (enough such waves within the window) and ``as_one``: what is told
        of the wave says all of this loss; never of a life-safety point, nor of one that stays lost
        alone.
    """
    lost = losses(ground, settings)
    lost = lost.filter(~pl.col("aside") | (pl.col("hours") > settings.unsupervised_h))
    gap = seconds(pl.col("since") - pl.col("since").shift(1).over("site"))
    many = (pl.col("zone").n_unique().over("site", "wave")).cast(pl.Int64)
    lasting = (pl.col("hours") > settings.unsupervised_h).fill_null(value=False)
    lost = (
        lost.sort("site", "since", maintain_order=True)
        .with_columns(wave=(gap.fill_null(0) > settings.lost_together_s).cum_sum().over("site"))
        .with_columns(
            together=many - 1,
            wide=many >= settings.radio_devices,
            lasting=lasting,
            began=pl.col("since").first().over("site", "wave"),
        )
        .with_columns(
            long=pl.col("wide")
            & (pl.col("lasting").sum().over("site", "wave") >= settings.radio_devices),
            stays=pl.col("open").mean().over("site", "wave") > 0.5,
        )
    )
    waves = lost.filter("wide").unique(["site", "wave"], keep="first", maintain_order=True)
    counted = waves.select(
        "site",
        "wave",
        most=most_within(waves, ["site"], settings.unsupervised_days * 86400, at="began"),
    )
    often = counted.group_by("site").agg(often=pl.col("most").max() >= settings.radio_waves)
    again = pl.col("wide") & pl.col("often").fill_null(value=False)
    told = pl.col("again") | pl.col("long")
    alone = pl.col("lasting") & (~pl.col("long") | (pl.col("open") & ~pl.col("stays")))
    return (
        lost.join(often, on="site", how="left", maintain_order="left")
        .with_columns(again=again)
        .with_columns(as_one=told & ~alone & ~pl.col("life_safety"))
        .drop("often", "lasting", "stays")
    )


def _heard(lost: pl.DataFrame, ground: Ground) -> pl.DataFrame:
    """Close losses of devices that told something later: whatever speaks is not lost.

    How long they were lost is not known: they may have been back long before they spoke. A
    life-safety point stays lost until its own restore is told.
    What comes with the loss, or before it is told again, may be how a panel tells the loss.
    """
    if lost.is_empty():
        return lost
    key = ["site", "zone"]
    same = pl.col("within").is_null() | (pl.col("within") == pl.col("told_area"))
    still = (
        lost.filter(pl.col("open") & ~pl.col("life_safety"))
        .select(*_KEY, "since")
        .join(
            ground.events.lazy()
            .filter((pl.col("kind") == Kind.SUPERVISION_LOSS) & (pl.col("phase") == Phase.BEGIN))
            .select(*key, told="placed", told_area="area")
            .collect(),
            on=key,
        )
        .filter((pl.col("told") >= pl.col("since")) & same)
        .group_by(*_KEY, "since")
        .agg(told=pl.col("told").max())
    )
    later = (
        still.join(
            ground.events.lazy()
            .filter(
                pl.col("kind").is_in([*TRIPS, *LIFE_SAFETY, Kind.ACTIVATION])
                & (pl.col("phase") == Phase.BEGIN)
            )
            .select(*key, heard="placed", told_area="area")
            .collect(),
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
