"""Conditions that stood for long, stand still, or came again and again: one row per subject."""

from collections.abc import Sequence

import polars as pl

from eventlab.analysis.conditions import most_within
from eventlab.analysis.found import days, ends
from eventlab.ground import Ground
from eventlab.schema import Subject
from eventlab.settings import Settings


def gathered(
    stood: pl.DataFrame,
    ground: Ground,
    settings: Settings,
    *,
    key: Sequence[str],
    long_h: float,
    line: pl.Expr,
    more: Sequence[pl.Expr] = (),
    repeats: float | None = None,
) -> pl.DataFrame:
    """Gather the spells of each subject, and keep what is worth a person's time.

    Kept are subjects with a spell longer than ``long_h``, one that still stands included, or with
    ``repeats`` spells within ``unsupervised_days``. Short ones in time set aside are left out.

    Parameters
    ----------
    stood : polars.DataFrame
        As `conditions.spells` gives them.
    ground : Ground
        What every analysis stands on.
    settings : Settings
        ``unsupervised_days``, ``still_days``.
    key : sequence of str
        Columns of a subject: ``site``, ``zone``, and so on.
    long_h : float
        The bar [h].
    line : polars.Expr
        A line of evidence for each spell.
    more : sequence of polars.Expr
        Further columns, aggregated over the spells of a subject.
    repeats : float, optional
        How many within the window are too many; no number is where left out.

    Returns
    -------
    polars.DataFrame
        A row per subject: ``key``, ``area``, ``since``, ``until``, ``standing``, ``events``,
        ``open_h``, ``longest_h`` [h], ``open_local``, ``within_window``, ``repeats``,
        ``life_safety``, ``ends_told``, ``lines``, ``subject_kind``, ``subject``; those that stand
        first.
    """
    long = pl.col("hours") > long_h
    some = stood.filter(~pl.col("aside") | long)
    some = some.with_columns(
        most=most_within(some, key, settings.unsupervised_days * 86400, at="since")
    )
    is_open, lasts = pl.col("open"), pl.col("hours")
    told = (
        some.join(ends(ground), on="site", how="left")
        .group_by(key, maintain_order=True)
        .agg(
            *more,
            pl.col("area").drop_nulls().first(),
            pl.col("end").first(),
            first=pl.col("since").first(),
            until=pl.col("until").last(),
            open_since=pl.col("since").filter(is_open).last(),
            open_local=pl.col("local").filter(is_open).last(),
            open_h=lasts.filter(is_open).last(),
            longest_h=lasts.max(),
            longest_since=pl.col("since").filter(lasts == lasts.max()).first(),
            events=pl.len().cast(pl.Int64),
            within_window=pl.col("most").max(),
            life_safety=pl.col("life_safety").any(),
            ends_told=pl.col("ends_told").first(),
            lines=line.head(8),
        )
    )
    stands = pl.col("open_since").is_not_null()
    again = (pl.col("within_window") >= repeats) if repeats else pl.lit(value=False)
    recent = pl.col("end") - pl.col("until") <= days(settings.still_days)
    zone = pl.col("zone").is_not_null() if "zone" in key else pl.lit(value=False)
    name = pl.coalesce("zone", "site") if "zone" in key else pl.col("site")
    return (
        told.filter((pl.col("longest_h") > long_h) | again)
        .with_columns(
            repeats=again,
            standing=stands | (again & recent),
            since=pl.when(stands)
            .then("open_since")
            .otherwise(pl.when(again).then("first").otherwise("longest_since")),
            subject_kind=pl.when(zone)
            .then(pl.lit(str(Subject.ZONE)))
            .otherwise(pl.lit(str(Subject.SITE))),
            subject=name,
        )
        .drop("first", "longest_since", "open_since", "end")
        .sort(~pl.col("standing"), maintain_order=True)
    )


def shown(window_days: float) -> dict[str, pl.Expr]:
    """Give the figures that every such finding has for its sentence."""
    return {
        "open_h": pl.col("open_h"),
        "longest_h": pl.col("longest_h"),
        "times": pl.col("events"),
        "within": pl.col("within_window"),
        "window_days": pl.lit(window_days),
        "repeats": pl.col("repeats"),
        "life_safety": pl.col("life_safety"),
        "ends_told": pl.col("ends_told"),
    }
