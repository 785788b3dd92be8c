"""Alarms that a panel writes again at disarm."""

import polars as pl

from eventlab.ground.places import Places, spread
from eventlab.schema import LIFE_SAFETY, TRIPS, Kind, Phase
from eventlab.settings import Settings

ALARMS = frozenset(TRIPS | LIFE_SAFETY | {Kind.ENVIRONMENT_ALARM})
"""Kinds of which episodes are made."""


def remembered(
    rows: pl.DataFrame, acts: pl.DataFrame, known: Places, settings: Settings
) -> pl.DataFrame:
    """Find the alarms that are memory: told again within seconds after the disarm.

    The point already alarmed since the disarm before; the row stands in order after the disarm
    and within ``memory_s`` of it (one step of a coarser clock where that is longer).

    Parameters
    ----------
    rows : polars.DataFrame
        Numbered events, twins and repeats left out; with ``point``.
    acts : polars.DataFrame
        The disarms among them.
    known : Places
        The places.
    settings : Settings
        ``memory_s``.

    Returns
    -------
    polars.DataFrame
        ``n`` of the memory row, ``into`` the ``n`` of the alarm it remembers.
    """
    kinds = list(ALARMS)
    alarms = rows.filter(pl.col("kind").is_in(kinds) & (pl.col("phase") != Phase.END)).select(
        *("n", "s", "placed", "area", "grain"),
        zone=pl.col("zone").fill_null(""),
        family=pl.when(pl.col("zone").is_null())
        .then(pl.col("kind").cast(pl.String))
        .otherwise(pl.lit("")),
    )
    disarms = acts.filter(pl.col("kind") == Kind.DISARM).select("n", "s", "placed", "area")
    near = alarms.join_asof(
        disarms.select("s", "n", disarmed="placed"), on="n", by="s", check_sortedness=False
    )
    within = pl.duration(
        microseconds=(pl.max_horizontal(pl.lit(settings.memory_s), "grain") * 1e6).cast(pl.Int64)
    )
    near = near.filter(pl.col("placed") - pl.col("disarmed") <= within)
    if near.is_empty():
        return pl.DataFrame(schema={"n": pl.Int64(), "into": pl.Int64()})
    wide = spread(near.drop("disarmed"), known)
    ends = (
        spread(disarms, known)
        .select("k", disarm="n", disarmed="placed")
        .sort("disarm")
        .with_columns(before=pl.col("disarm").shift(1).over("k").fill_null(-1))
    )
    since = wide.sort("n").join_asof(
        ends, left_on="n", right_on="disarm", by="k", check_sortedness=False
    )
    since = since.filter(pl.col("placed") - pl.col("disarmed") <= within)
    return (
        since.sort("disarm")
        .join_asof(
            alarms.select("s", "zone", "family", into="n").sort("into"),
            left_on="disarm",
            right_on="into",
            by=["s", "zone", "family"],
            check_sortedness=False,
        )
        .filter(pl.col("into") > pl.col("before"))
        .group_by("n", maintain_order=True)
        .agg(pl.col("into").max())
    )
