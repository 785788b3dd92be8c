"""Marks and shades of the day raster: families, bins, and what each says."""

from typing import Any

import polars as pl

from dashboards.palette import FAMILIES, FAMILY_OF, LIFE_SAFETY, UNEXPLAINED
from eventlab.schema import EVENT, formatted
from eventlab.schema import LIFE_SAFETY as LIFE_SAFETY_KINDS

MOST_MARKS = 5000
"""More marks than this are binned: a browser draws about so many without waiting."""

STEPS = ((1, 0.5), (1, 1.0), (2, 1.0), (4, 1.0), (7, 2.0), (14, 3.0), (28, 4.0), (56, 6.0))
"""Nights and hours that one binned mark stands for; the first that is few enough is used."""


def with_family(marks: pl.DataFrame) -> pl.DataFrame:
    """Add the cause family of each mark; life safety stands above every cause.

    Parameters
    ----------
    marks : polars.DataFrame
        ``kind``, ``cause`` String; ``life_safety`` Boolean where the point is one.

    Returns
    -------
    polars.DataFrame
        The same with ``family``; the cause of a life-safety alarm is taken out.
    """
    life = pl.col("kind").cast(pl.String).is_in(sorted(LIFE_SAFETY_KINDS))
    if "life_safety" in marks.columns:
        life |= pl.col("life_safety").fill_null(value=False)
    named = pl.col("cause").replace_strict(
        FAMILY_OF, default=UNEXPLAINED.key, return_dtype=pl.String
    )
    return marks.with_columns(
        family=pl.when(life).then(pl.lit(LIFE_SAFETY.key)).otherwise(named),
        cause=pl.when(~life).then("cause"),
        probability=pl.when(~life).then("probability"),
    )


def bins(marks: pl.DataFrame) -> pl.DataFrame:
    """Bring many marks together, each family by itself, until at most ``MOST_MARKS`` are left.

    Parameters
    ----------
    marks : polars.DataFrame
        ``night``, ``hour``, ``family``.

    Returns
    -------
    polars.DataFrame
        ``night``, ``hour``, ``family``, ``many``, ``say``, ``id`` (null).
    """
    few = marks
    for step_nights, step_hours in STEPS:
        origin = marks["night"].min()
        few = (
            marks.group_by(
                (
                    pl.lit(origin)
                    + pl.duration(
                        days=(pl.col("night") - pl.lit(origin)).dt.total_days()
                        // step_nights
                        * step_nights
                    )
                ).alias("night"),
                ((pl.col("hour") / step_hours).floor() * step_hours + step_hours / 2).alias("hour"),
                "family",
            )
            .agg(many=pl.len().cast(pl.Int64))
            .sort("night", "hour", "family")
        )
        if few.height <= MOST_MARKS:
            break
    words = {family.key: family.word for family in FAMILIES}
    return few.with_columns(
        id=pl.lit(None, pl.Int64),
        say=formatted(
            "<b>{} alarms</b><br>{}", "many", pl.col("family").replace_strict(words, default="")
        ),
    )


def spans(raster: Any) -> pl.DataFrame:
    """Put the shades of a raster into one frame.

    Parameters
    ----------
    raster : Raster
        The lab's; ``gaps`` where it tells what its log does not cover.

    Returns
    -------
    polars.DataFrame
        ``night``, ``start_h``, ``end_h``, ``what``: ``armed``, ``part``, ``aside``, ``gap``.
    """
    shades = [
        raster.armed.select(
            "night",
            "start_h",
            "end_h",
            what=pl.when(pl.col("mode").cast(pl.String) == "part")
            .then(pl.lit("part"))
            .otherwise(pl.lit("armed")),
        ),
        raster.aside.select("night", "start_h", "end_h", what=pl.lit("aside")),
    ]
    gaps = getattr(raster, "gaps", None)
    if gaps is not None:
        shades.append(gaps.select("night", "start_h", "end_h", what=pl.lit("gap")))
    return pl.concat(shades, how="vertical_relaxed").sort("what", "night", "start_h")


def with_held(spans: pl.DataFrame, held: pl.DataFrame) -> pl.DataFrame:
    """Lay the time in which a condition lasted over other shades."""
    lasted = held.select("night", "start_h", "end_h", what=pl.lit("held"))
    return pl.concat([spans, lasted.cast(dict(spans.schema))])


def no_events() -> pl.DataFrame:
    """Return no events at all."""
    return pl.DataFrame(schema=EVENT)


def say() -> pl.Expr:
    """Say a mark in the lines that hovering shows: when, where, what, explained by what."""
    words = {family.key: family.word for family in FAMILIES}
    where = pl.concat_str(
        pl.lit("point "), "zone", pl.concat_str(pl.lit(", "), "zone_name"), ignore_nulls=True
    )
    lines = [
        formatted("<b>{}</b>", pl.col("local").dt.strftime("%-d %b %Y, %H:%M:%S")),
        pl.when(pl.col("zone").is_not_null()).then(_plain(where)),
        _plain(pl.col("kind").cast(pl.String).str.replace_all("-", " ")),
        pl.col("family").replace_strict(words, default="", return_dtype=pl.String),
    ]
    return pl.concat_str(lines, separator="<br>", ignore_nulls=True)


def _plain(text: pl.Expr) -> pl.Expr:
    # Plots read a few tags in their texts, links too; what a log says is data.
    escaped = text.str.replace_all("&", "&amp;", literal=True)
    escaped = escaped.str.replace_all("<", "&lt;", literal=True)
    return escaped.str.replace_all(">", "&gt;", literal=True)


def hours(spans: pl.DataFrame) -> float:
    """Sum the time that spans cover [h]; where they overlap each hour counts once."""
    told = spans.sort("night", "start_h").with_columns(
        before=pl.col("end_h").cum_max().shift(1).over("night").fill_null(0.0)
    )
    fresh = pl.col("end_h") - pl.max_horizontal("start_h", "before")
    return float(told.select(fresh.clip(lower_bound=0).sum()).item() or 0)
