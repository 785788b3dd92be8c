"""How often devices of each family fail, and what is to be expected: for whoever plans rounds.

Failures are recurrent: a device that was seen to may fail again. What a fleet tells is a value:
`failures` and `watched` of many sites, one below the other, are given to `expected`.
"""

import polars as pl

from eventlab.analysis.battery_life import ANY
from eventlab.analysis.conditions import spells
from eventlab.analysis.found import days, hours
from eventlab.context import Context
from eventlab.ground import Ground
from eventlab.schema import UTC, Kind, Schema
from eventlab.settings import Settings
from eventlab.stats import power_law, rate_interval, shrunk_rates, trend

_POINT = ("site", "zone", "within")
_YEAR_H = 8766.0
KINDS = (Kind.SENSOR_FAULT, Kind.SUPERVISION_LOSS)
"""What tells that a device failed; its battery has a life of its own (`battery_life`)."""

WATCHED: Schema = {
    "site": pl.String(),
    "zone": pl.String(),
    "within": pl.String(),
    "family": pl.String(),
    "since": UTC,
    "years": pl.Float64(),
    "failures": pl.List(pl.Float64()),
}
"""One device: how long it was watched, and when it failed, in years since ``since``."""


def watched(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """Return each device with the time over which it was watched and when it failed.

    Failures that stood no longer than ``unsupervised_h``, or within ``fail_apart_days`` of the one
    before, are no failures of their own: a device that comes and goes failed once. Time that the
    log does not cover is taken out.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        Not needed; families are the detectors of the zone schedule.
    settings : Settings
        ``unsupervised_h`` [h], ``fail_apart_days``.

    Returns
    -------
    polars.DataFrame
        WATCHED columns: every listed point, and every one that failed, of ``family`` its detector,
        or ``any``; sorted.
    """
    del context
    cover = ground.coverage.sort("site", "since").with_columns(
        before=hours(pl.col("until") - pl.col("since")).cum_sum().over("site"),
    )
    cover = cover.with_columns(before=pl.col("before") - hours(pl.col("until") - pl.col("since")))
    site = cover.group_by("site").agg(
        since=pl.col("since").min(),
        years=hours(pl.col("until") - pl.col("since")).sum() / _YEAR_H,
    )
    failed = spells(ground, KINDS, settings).filter(
        pl.col("zone").is_not_null()
        & ((pl.col("hours") > settings.unsupervised_h) | pl.col("open"))
        & ~pl.col("aside")
    )
    gap = pl.col("since") - pl.col("until").cum_max().shift(1).over(_POINT)
    fresh = failed.sort(*_POINT, "since", nulls_last=True).filter(
        (gap > days(settings.fail_apart_days)).fill_null(value=True)
    )
    placed = (
        fresh.select(*_POINT, at="since")
        .sort("at")
        .join_asof(
            cover.select("site", "until", "before", start="since").sort("start"),
            left_on="at",
            right_on="start",
            by="site",
            check_sortedness=False,
        )
        .with_columns(
            year=(pl.col("before") + hours(pl.min_horizontal("at", "until") - pl.col("start")))
            / _YEAR_H
        )
    )
    times = placed.group_by(_POINT).agg(failures=pl.col("year").sort())
    named = ground.points.filter(pl.col("listed") | pl.col("seen")).select(
        *_POINT, family=pl.col("detector").str.to_lowercase().fill_null(ANY)
    )
    return (
        named.join(times, on=list(_POINT), how="left", nulls_equal=True)
        .join(site, on="site")
        .with_columns(pl.col("failures").fill_null([]))
        .select(pl.col(name).cast(kind) for name, kind in WATCHED.items())
        .sort(_POINT, nulls_last=True)
    )


def expected(fleet: pl.DataFrame, years: float = 1.0) -> pl.DataFrame:
    """Say how many failures each family of devices is to be expected to have.

    Parameters
    ----------
    fleet : polars.DataFrame
        WATCHED columns, of as many sites as there are.
    years : float, default 1.0
        How far ahead.

    Returns
    -------
    polars.DataFrame
        A row per family: ``family``, ``devices``, ``years`` (watched, all devices together),
        ``failures``, ``rate`` (failures per device and year, drawn towards that of all families as
        far as few failures ask for), ``rate_low``, ``rate_high`` (exact limits of the family's own
        rate, 95 %), ``shape``, ``shape_low``, ``shape_high`` (of a power law over the time watched,
        devices taken together: above 1 the rate rises; null below two failures), ``trend_p`` (that
        chance alone brings such a trend), ``rising`` (the limits of the shape lie above 1),
        ``expected`` (failures of the family within ``years``).

    Notes
    -----
    Several systems of one kind, each watched to a time of its own: the power law of MIL-HDBK-189,
    with times as shares of each one's own watch, so that those watched for less count for less
    (`stats.power_law`); rates drawn together by `stats.shrunk_rates`.
    """
    counted = fleet.with_columns(n=pl.col("failures").list.len().cast(pl.Int64))
    told = (
        counted.group_by("family")
        .agg(
            devices=pl.len().cast(pl.Int64),
            years=pl.col("years").sum(),
            failures=pl.col("n").sum(),
        )
        .filter(pl.col("years") > 0)
        .sort("family")
    )
    if told.is_empty():
        return told.with_columns(
            *(pl.lit(None, pl.Float64).alias(name) for name in _NUMBERS),
            rising=pl.lit(value=False),
        )
    drawn = shrunk_rates(told["failures"], told["years"])
    own = rate_interval(told["failures"], told["years"])
    named = told.with_columns(
        number=pl.int_range(pl.len(), dtype=pl.Int64),
        rate=pl.Series(drawn.rate, dtype=pl.Float64),
        rate_low=pl.Series(own.low, dtype=pl.Float64),
        rate_high=pl.Series(own.high, dtype=pl.Float64),
    )
    each = (
        counted.filter(pl.col("n") > 0)
        .explode("failures")
        .with_columns(share=(pl.col("failures") / pl.col("years")).clip(1e-9, 1.0))
        .join(named.select("family", "number"), on="family")
    )
    law = power_law(each["share"], 1.0, each["number"])
    tested = trend(each["share"], 1.0, each["number"])
    laws = pl.DataFrame(
        {
            "number": law.group,
            "shape": law.shape,
            "shape_low": law.shape_low,
            "shape_high": law.shape_high,
            "trend_p": tested.hdbk_p,
        }
    ).with_columns(pl.exclude("number").fill_nan(None))
    few = pl.col("failures") < 2
    return (
        named.join(laws, on="number", how="left", maintain_order="left")
        .with_columns(
            pl.when(~few).then(pl.col(name)).alias(name)
            for name in ("shape", "shape_low", "shape_high", "trend_p")
        )
        .with_columns(
            rising=(pl.col("shape_low") > 1).fill_null(value=False),
            expected=pl.col("rate") * pl.col("devices") * years,
        )
        .drop("number")
    )


_NUMBERS = (
    *("rate", "rate_low", "rate_high", "shape", "shape_low", "shape_high", "trend_p"),
    "expected",
)
