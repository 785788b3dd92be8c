"""How long the cells of devices last, and how long those in service have left.

What cells do is learned from a fleet: `lives` of many sites, one below the other, are a value that
`remaining` is given, so that a site is told the same whichever others it is looked at with.
"""

import polars as pl

from eventlab.analysis.conditions import spells
from eventlab.analysis.found import ends
from eventlab.context import Context
from eventlab.ground import Ground
from eventlab.schema import UTC, Health, Kind, Schema
from eventlab.settings import Settings
from eventlab.stats import Weibull, failing, remaining_time, weibull

_POINT = ("site", "zone", "within")
_DAY_US = 86_400_000_000
ANY = "any"
"""The family of all devices together."""

LIFE: Schema = {
    "site": pl.String(),
    "zone": pl.String(),
    "within": pl.String(),
    "family": pl.String(),
    "since": UTC,
    "entry_days": pl.Float64(),
    "leaving_days": pl.Float64(),
    "failed": pl.Boolean(),
    "last": pl.Boolean(),
}
"""One cell: ``since`` it was put in, the age from which on the log watches it, the age at which it
was told low (``failed``) or the log ends, and whether it is the last one seen of its device."""


def lives(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """Return the cells of which it is known when they were put in.

    A cell is put in when its device was installed, as the zone schedule tells, or when a low
    battery that was told ended. Lows that come back within ``battery_window_days`` are one: a weak
    cell that comes and goes was not replaced.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        The zone schedule: when devices were installed, which are radio devices, their detector.
    settings : Settings
        ``battery_window_days``.

    Returns
    -------
    polars.DataFrame
        LIFE columns. Devices whose first cell nobody dated come in with their second one.
    """
    low = spells(ground, [Kind.DEVICE_BATTERY_LOW], settings).filter(pl.col("zone").is_not_null())
    apart = pl.col("since") - pl.col("until").shift(1).over(_POINT)
    again = (apart <= pl.duration(days=settings.battery_window_days)).fill_null(value=False)
    failures = (
        low.sort(*_POINT, "since", nulls_last=True)
        .with_columns(number=(~again).cum_sum().over(_POINT))
        .group_by(*_POINT, "number", maintain_order=True)
        .agg(
            low=pl.col("since").first(),
            replaced=pl.when(pl.col("ended_by").last() == "end").then(pl.col("until").last()),
        )
    )
    listed = _devices(ground, context)
    log = ground.coverage.group_by("site").agg(start=pl.col("since").min())
    log = log.join(ends(ground), on="site")
    first = listed.filter(pl.col("installed").is_not_null()).select(
        *_POINT,
        since=pl.col("installed").cast(pl.Datetime("us")).dt.replace_time_zone("UTC"),
        number=pl.lit(1, pl.UInt32),
    )
    later = failures.filter(pl.col("replaced").is_not_null()).select(
        *_POINT, since="replaced", number=pl.col("number").cast(pl.UInt32) + 1
    )
    begun = pl.concat([first, later])
    told = failures.select(*_POINT, "low", number=pl.col("number").cast(pl.UInt32))
    full = (
        begun.join(told, on=[*_POINT, "number"], how="left", nulls_equal=True)
        .join(log, on="site")
        .join(listed.select(*_POINT, "family"), on=list(_POINT), how="left", nulls_equal=True)
    )
    age = [_days(pl.col(c) - pl.col("since")) for c in ("start", "low", "end")]
    return (
        full.with_columns(
            pl.col("family").fill_null(ANY),
            entry_days=age[0].clip(0),
            leaving_days=pl.coalesce(age[1], age[2]),
            failed=pl.col("low").is_not_null(),
            last=pl.col("number") == pl.col("number").max().over(_POINT),
        )
        .filter(pl.col("leaving_days") > pl.col("entry_days"))
        .select(pl.col(name).cast(kind) for name, kind in LIFE.items())
        .sort(*_POINT, "since", nulls_last=True)
    )


def remaining(
    ground: Ground, context: Context, settings: Settings, fleet: pl.DataFrame | None = None
) -> pl.DataFrame:
    """Say how long the cell of each device may still last.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        As for `lives`.
    settings : Settings
        ``battery_fleet_min``, ``battery_ahead_days``, ``battery_overdue``,
        ``battery_window_days``.
    fleet : polars.DataFrame, optional
        LIFE columns of all sites of the store; only those of ``ground`` where left out.

    Returns
    -------
    polars.DataFrame
        A row for each device with a cell of its own (listed as radio, or ever told low):
        ``site``, ``zone``, ``within``, ``family``, ``since`` (when its cell was put in; null where
        nobody knows), ``age_days``, ``low`` (it is told low now), ``left_days`` (median of what is
        left), ``left_low``, ``left_high`` (how well that median is known, 95 %), ``early_days``,
        ``late_days`` (one cell in ten is low sooner, or later), ``chance`` (to be low within
        ``battery_ahead_days``), ``learned_from`` (family, or ``any``), ``cells``, ``failed`` (of
        the family), ``overdue`` (low now, or ``chance`` of ``battery_overdue`` and more),
        ``health``: ``not well`` where overdue, ``well`` where not, ``not recorded`` where its age
        or its family is not known.

    Notes
    -----
    A Weibull law per family, with late entry and cells that still last: `stats.weibull`.
    """
    own = lives(ground, context, settings)
    laws = _laws(own if fleet is None else fleet, settings)
    stands = (
        spells(ground, [Kind.DEVICE_BATTERY_LOW], settings)
        .filter("open")
        .select(_POINT)
        .unique()
        .with_columns(low=pl.lit(value=True))
    )
    ever = spells(ground, [Kind.DEVICE_BATTERY_LOW], settings).select(_POINT).unique()
    listed = _devices(ground, context)
    devices = listed.filter(pl.col("radio")).select(_POINT)
    devices = pl.concat([devices, ever.filter(pl.col("zone").is_not_null())]).unique()
    current = own.filter(pl.col("last") & ~pl.col("failed")).select(
        *_POINT, "since", age_days="leaving_days"
    )
    told = (
        devices.join(
            listed.select(*_POINT, "family"), on=list(_POINT), how="left", nulls_equal=True
        )
        .join(current, on=list(_POINT), how="left", nulls_equal=True)
        .join(stands, on=list(_POINT), how="left", nulls_equal=True)
        .with_columns(
            pl.col("family").fill_null(ANY),
            pl.col("low").fill_null(value=False),
        )
        .sort(_POINT, nulls_last=True)
    )
    parts = [_left(some, laws, settings) for _, some in told.group_by("family")]
    columns = {name: pl.Float64() for name in _LEFT} | {
        "learned_from": pl.String(), "cells": pl.Int64(), "failed": pl.Int64(),
    }  # fmt: skip
    full = (
        pl.concat(parts)
        if parts
        else told.with_columns(
            pl.lit(None, dtype=kind).alias(name) for name, kind in columns.items()
        )
    )
    overdue = pl.col("low") | (pl.col("chance") >= settings.battery_overdue)
    return (
        full.with_columns(overdue=overdue.fill_null(value=False))
        .with_columns(
            health=pl.when("overdue")
            .then(pl.lit(str(Health.NOT_WELL)))
            .when(pl.col("chance").is_not_null())
            .then(pl.lit(str(Health.WELL)))
            .otherwise(pl.lit(str(Health.NOT_RECORDED)))
        )
        .sort(_POINT, nulls_last=True)
    )


_LEFT = ("left_days", "left_low", "left_high", "early_days", "late_days", "chance")


def _laws(fleet: pl.DataFrame, settings: Settings) -> dict[str, tuple[Weibull, int]]:
    """Fit a law to each family with enough failures, and one to all together."""
    found = {}
    families = {ANY: fleet} | {
        str(name): some for (name,), some in fleet.group_by("family") if name != ANY
    }
    for name, some in families.items():
        if some["failed"].sum() < settings.battery_fleet_min:
            continue
        law = weibull(some["entry_days"], some["leaving_days"], some["failed"])
        if law is not None:
            found[name] = (law, some.height)
    return found


def _left(
    some: pl.DataFrame, laws: dict[str, tuple[Weibull, int]], settings: Settings
) -> pl.DataFrame:
    """Add what is left to devices of one family."""
    name = some["family"][0]
    name = name if name in laws else ANY
    if name not in laws:
        none = [pl.lit(None, dtype=pl.Float64).alias(one) for one in _LEFT]
        return some.with_columns(
            *none,
            learned_from=pl.lit(None, dtype=pl.String),
            cells=pl.lit(None, dtype=pl.Int64),
            failed=pl.lit(None, dtype=pl.Int64),
        )
    law, cells = laws[name]
    age = some["age_days"].to_numpy().astype(float)
    middle = remaining_time(law, age)
    values = dict(
        zip(
            _LEFT,
            (
                *(middle.time, middle.low, middle.high),
                remaining_time(law, age, 0.1).time,
                remaining_time(law, age, 0.9).time,
                failing(law, age, settings.battery_ahead_days),
            ),
            strict=True,
        )
    )
    series = [pl.Series(key, value, dtype=pl.Float64) for key, value in values.items()]
    return some.with_columns(*series).with_columns(
        pl.col(_LEFT).fill_nan(None),
        learned_from=pl.lit(name),
        cells=pl.lit(cells, dtype=pl.Int64),
        failed=pl.lit(law.failed, dtype=pl.Int64),
    )


def _devices(ground: Ground, context: Context) -> pl.DataFrame:
    """Return what is known of each device: family, whether by radio, when installed."""
    link = context.zones.select(
        "site", "zone", radio=pl.col("link").str.contains("(?i)radio|wireless")
    )
    return (
        ground.points.select(*_POINT, "installed", family=pl.col("detector").str.to_lowercase())
        .join(link.unique(["site", "zone"], keep="last"), on=["site", "zone"], how="left")
        .with_columns(pl.col("radio").fill_null(value=False))
    )


def _days(span: pl.Expr) -> pl.Expr:
    return span.dt.total_microseconds() / _DAY_US
