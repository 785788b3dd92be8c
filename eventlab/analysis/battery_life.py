"""How long the cells of devices last, and how long those in service have left.

What cells do is learned from a fleet: `lives` of many sites, one below the other, are a value that
`remaining` is given, so that a site is told the same whichever others it is looked at with.
"""

import polars as pl

from eventlab.analysis.cell_lives import ANY, LIFE, POINT, devices, lives
from eventlab.analysis.conditions import spells
from eventlab.context import Context
from eventlab.ground import Ground
from eventlab.schema import Health, Kind, Schema
from eventlab.settings import Settings
from eventlab.stats import Weibull, failing, remaining_time, survival, weibull

__all__ = ["ANY", "IN_SERVICE", "LIFE", "families", "in_service", "left", "lives", "remaining"]

IN_SERVICE: Schema = {
    **dict.fromkeys((*POINT, "family"), pl.String()),
    "since": pl.Datetime("us", "UTC"),
    "age_days": pl.Float64(),
    "low": pl.Boolean(),
}
"""What ``in_service`` gives of each device."""


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
        A row for each device with a cell of its own (listed as radio, or ever told low): the
        columns of `in_service`, with ``left_days`` (median of what is left), ``left_low``,
        ``left_high`` (how well that median is known, 95 %), ``early_days``, ``late_days`` (one
        cell in ten is low sooner, or later), ``chance`` (to be low within
        ``battery_ahead_days``), ``life_days`` (half of such cells last longer, from new),
        ``life_low``, ``life_high`` (half of them lie between), ``learned_from`` (family, or
        ``any``), ``cells``, ``failed`` (of the family), ``overdue`` (low now, or ``chance`` of
        ``battery_overdue`` and more), ``health``: ``not well`` where overdue, ``well`` where not,
        ``not recorded`` where its age or its family is not known.

    Notes
    -----
    A Weibull law per family, with late entry and cells that still last: `stats.weibull`.
    """
    known = lives(ground, context, settings) if fleet is None else fleet
    return left(in_service(ground, context, settings), known, settings)


def in_service(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """Return the devices with a cell of their own, listed as radio, or ever told low.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        As for `lives`.
    settings : Settings
        As for `lives`.

    Returns
    -------
    polars.DataFrame
        ``site``, ``zone``, ``within``, ``family``, ``since`` (when its cell was put in; null where
        nobody knows), ``age_days``, ``low`` (it is told low now).
    """
    own = lives(ground, context, settings)
    stands = (
        spells(ground, [Kind.DEVICE_BATTERY_LOW], settings)
        .filter("open")
        .select(POINT)
        .unique()
        .with_columns(low=pl.lit(value=True))
    )
    ever = spells(ground, [Kind.DEVICE_BATTERY_LOW], settings).select(POINT).unique()
    listed = devices(ground, context)
    own_cell = listed.filter(pl.col("radio")).select(POINT)
    own_cell = pl.concat([own_cell, ever.filter(pl.col("zone").is_not_null())]).unique()
    current = own.filter(pl.col("last") & ~pl.col("failed")).select(
        *POINT, "since", age_days="leaving_days"
    )
    return (
        own_cell.join(listed.select(*POINT, "family"), on=list(POINT), how="left", nulls_equal=True)
        .join(current, on=list(POINT), how="left", nulls_equal=True)
        .join(stands, on=list(POINT), how="left", nulls_equal=True)
        .with_columns(
            pl.col("family").fill_null(ANY),
            pl.col("low").fill_null(value=False),
        )
        .sort(POINT, nulls_last=True)
    )


def left(cells: pl.DataFrame, fleet: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Say how long the cells of devices may still last, by what a fleet tells.

    Parameters
    ----------
    cells : polars.DataFrame
        As `in_service` gives them.
    fleet : polars.DataFrame
        LIFE columns, of as many sites as there are.
    settings : Settings
        As for `remaining`.

    Returns
    -------
    polars.DataFrame
        As `remaining`.
    """
    laws = _laws(fleet, settings)
    parts = [_left(some, laws, settings) for _, some in cells.group_by("family")]
    columns = {name: pl.Float64() for name in (*_LEFT, *_LIFE)} | {
        "learned_from": pl.String(), "cells": pl.Int64(), "failed": pl.Int64(),
    }  # fmt: skip
    full = (
        pl.concat(parts)
        if parts
        else cells.with_columns(
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
        .sort(POINT, nulls_last=True)
    )


def families(fleet: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Say how long the cells of each family of devices last, as a fleet shows it.

    Parameters
    ----------
    fleet : polars.DataFrame
        LIFE columns, of as many sites as there are.
    settings : Settings
        ``battery_fleet_min``.

    Returns
    -------
    polars.DataFrame
        A row per family, and one of all together (``any``): ``family``, ``sites``, ``cells``,
        ``failed`` (told low), ``changed`` (before that), ``life_days`` (half last longer),
        ``life_low``, ``life_high`` (half of the cells lie between), ``middle_low``,
        ``middle_high`` (how well that half is known, 95 %), ``seen_days`` (the same half without a
        law; null where more than half still last). Fewer than ``battery_fleet_min`` told low say
        nothing: null.

    Notes
    -----
    A Weibull law (`stats.weibull`); beside it Kaplan and Meier's estimate (`stats.survival`).
    """
    laws = _laws(fleet, settings)
    rows = []
    for name, some in _by_family(fleet).items():
        told: dict[str, object] = {
            "family": name,
            "sites": some["site"].n_unique(),
            "cells": some.height,
            "failed": int(some["failed"].sum()),
            "changed": some.filter(~pl.col("failed") & ~pl.col("last")).height,
        }
        if name in laws:
            law = laws[name][0]
            middle = remaining_time(law, [0.0])
            seen = survival(some["entry_days"], some["leaving_days"], some["failed"])
            half = seen.time[seen.share <= 0.5]
            told |= _life(law) | {
                "middle_low": float(middle.low[0]),
                "middle_high": float(middle.high[0]),
                "seen_days": float(half[0]) if half.size else None,
            }
        rows.append(told)
    schema = dict.fromkeys(("sites", "cells", "failed", "changed"), pl.Int64)
    numbers = dict.fromkeys((*_LIFE, "middle_low", "middle_high", "seen_days"), pl.Float64)
    return pl.DataFrame(rows, schema={"family": pl.String, **schema, **numbers}).sort(
        pl.col("family") == ANY, "family"
    )


_LEFT = ("left_days", "left_low", "left_high", "early_days", "late_days", "chance")
_LIFE = ("life_days", "life_low", "life_high")


def _by_family(fleet: pl.DataFrame) -> dict[str, pl.DataFrame]:
    own = {str(name): some for (name,), some in fleet.group_by("family") if name != ANY}
    return own | {ANY: fleet} if fleet.height else {}


def _life(law: Weibull) -> dict[str, float]:
    """Give the ages that half, three and one of four cells reach."""
    shares = zip(_LIFE, (0.5, 0.25, 0.75), strict=True)
    return {name: float(remaining_time(law, [0.0], share).time[0]) for name, share in shares}


def _laws(fleet: pl.DataFrame, settings: Settings) -> dict[str, tuple[Weibull, int]]:
    """Fit a law to each family with enough failures, and one to all together."""
    found = {}
    for name, some in _by_family(fleet).items():
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
        none = [pl.lit(None, dtype=pl.Float64).alias(one) for one in (*_LEFT, *_LIFE)]
        return some.with_columns(
            *none,
            learned_from=pl.lit(None, dtype=pl.String),
            cells=pl.lit(None, dtype=pl.Int64),
            failed=pl.lit(None, dtype=pl.Int64),
        )
    law, cells = laws[name]
    age = some["age_days"].to_numpy().astype(float)
    middle = remaining_time(law, age)
    values = (
        *(middle.time, middle.low, middle.high),
        remaining_time(law, age, 0.1).time,
        remaining_time(law, age, 0.9).time,
        failing(law, age, settings.battery_ahead_days),
    )
    told = {
        key: pl.Series(key, value, dtype=pl.Float64)
        for key, value in zip(_LEFT, values, strict=True)
    }
    return some.with_columns(**told).with_columns(
        pl.col(_LEFT).fill_nan(None),
        *(pl.lit(value).alias(key) for key, value in _life(law).items()),
        learned_from=pl.lit(name),
        cells=pl.lit(cells, dtype=pl.Int64),
        failed=pl.lit(law.failed, dtype=pl.Int64),
    )
