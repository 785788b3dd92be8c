"""Alarm days and the hours at risk behind them: the unit of every comparison over time.

Alarms of one night, and spells of some nights, follow each other; a night with any alarm counts
once, and where independence is needed a point rests for some nights after each that counted.
"""

import numpy as np
import polars as pl

from eventlab.analysis import kept as remembered
from eventlab.ground import Ground
from eventlab.ground.intervals import intersect
from eventlab.ground.nights import at_home
from eventlab.meaning.clock import to_wall
from eventlab.schema import Kind

POINT = ("site", "zone", "within")
_NOON = "12h"


@remembered.kept
def alarm_days(ground: Ground) -> pl.DataFrame:
    """List the nights on which each point raised an alarm while it was at risk.

    Tampers and life-safety points are left out.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.

    Returns
    -------
    polars.DataFrame
        ``site, zone, within, area, night, at`` (the first), ``alarms``; by point and night.
    """
    counted = (
        pl.col("trip")
        & pl.col("at_risk")
        & (pl.col("kind") != Kind.TAMPER_ALARM)
        & pl.col("zone").is_not_null()
        & ~pl.col("life_safety")
    )
    return (
        ground.occurrences.filter(counted)
        .group_by(*POINT, "night")
        .agg(
            pl.col("area").drop_nulls().first(),
            at=pl.col("placed").min(),
            alarms=pl.len().cast(pl.Int64),
        )
        .sort(*POINT, "night", nulls_last=True)
    )


def thinned(days: pl.DataFrame, rest: int) -> pl.DataFrame:
    """Keep of each point the first alarm day, and then the first after so many days, and so on.

    Parameters
    ----------
    days : polars.DataFrame
        As `alarm_days` gives them.
    rest : int
        Nights from one that is kept to the next that may be.

    Returns
    -------
    polars.DataFrame
        The rows kept, with ``point``: a number for each point, ascending.
    """
    if days.is_empty():
        return days.with_columns(point=pl.lit(0, pl.Int64))
    numbered = days.with_columns(
        point=pl.struct(POINT).rle_id().cast(pl.Int64), day=pl.col("night").to_physical()
    )
    point = numbered["point"].to_numpy()
    # A column of whole numbers: its largest is one, which the type does not say.
    stride = int(numbered["day"].max()) + rest + 1  # type: ignore[arg-type]
    axis = point * stride + numbered["day"].to_numpy().astype(np.int64)
    follows = np.searchsorted(axis, axis + rest)
    kept = np.zeros(axis.size, dtype=bool)
    here = np.flatnonzero(np.diff(point, prepend=-1))
    # All points step on together, each from what it kept to what it keeps next.
    while here.size:
        kept[here] = True
        there = follows[here]
        inside = there < axis.size
        here = there[inside][point[there[inside]] == point[here[inside]]]
    return numbered.drop("day").filter(pl.Series(kept))


def by_night(spans: pl.DataFrame, ground: Ground, by: tuple[str, ...]) -> pl.DataFrame:
    """Add up hours by night, from local noon to noon.

    Parameters
    ----------
    spans : polars.DataFrame
        ``site``, ``since``, ``until`` and the key columns; apart.
    ground : Ground
        Time zones of the sites.
    by : tuple of str
        Key columns.

    Returns
    -------
    polars.DataFrame
        Keys, ``night``, ``hours`` on the wall clock; sorted.
    """
    zones = ground.sites.select("site", home=pl.col("time_zone").fill_null("UTC"))
    local = spans.join(zones, on="site", how="left")
    local = to_wall(to_wall(local, "since", "home", "a"), "until", "home", "b").select(
        *by, "a", "b"
    )
    first = pl.col("a").dt.offset_by(f"-{_NOON}").dt.date()
    last = (pl.col("b") - pl.duration(microseconds=1)).dt.offset_by(f"-{_NOON}").dt.date()
    dated = local.with_columns(night=first, last=last)
    one = dated.filter(pl.col("night") == pl.col("last"))
    more = (
        dated.filter(pl.col("night") < pl.col("last"))
        .with_columns(night=pl.date_ranges("night", "last"))
        .explode("night")
    )
    noon = pl.col("night").cast(pl.Datetime("us")).dt.offset_by(_NOON)
    length = pl.min_horizontal("b", noon.dt.offset_by("24h")) - pl.max_horizontal("a", noon)
    return (
        pl.concat([one, more.select(one.columns)])
        .group_by(*by, "night")
        .agg(hours=length.dt.total_microseconds().sum() / 3.6e9)
        .filter(pl.col("hours") > 0)
        .sort(*by, "night", nulls_last=True)
    )


def positions(kept: pl.DataFrame, ground: Ground, rest: int) -> pl.DataFrame:
    """Say which share of its time at risk had passed at each alarm day that is kept.

    Time in which a point rests after an alarm day is no time at risk.

    Parameters
    ----------
    kept : polars.DataFrame
        As `thinned` gives them.
    ground : Ground
        What every analysis stands on.
    rest : int
        As in `thinned`.

    Returns
    -------
    polars.DataFrame
        ``point``, ``share``, by point and time; points without hours are left out.
    """
    key = ["site", "base"]
    bases = ground.exposure.select(*POINT, "base")
    placed = kept.select("point", *POINT, "night").join(
        bases, on=list(POINT), how="left", nulls_equal=True
    )
    shared = _summed(by_night(ground.bases, ground, ("site", "base")), key)
    own = _summed(_taken(placed, ground), ["point"])

    def passed(days: int) -> pl.DataFrame:
        """Give the hours before the start of the night so many days on, and those in it."""
        wanted = placed.with_columns(night=pl.col("night").dt.offset_by(f"{days}d"))
        whole, less = _passed(wanted, shared, key), _passed(wanted, own, ["point"])
        return whole.select(start=whole["start"] - less["start"], own=whole["own"] - less["own"])

    here, next_, back = passed(0), passed(1), passed(rest)
    resting = back["start"] - next_["start"]
    totals = (_totals(shared, key), _totals(own, ["point"]).rename({"whole": "less"}))
    return (
        placed.with_columns(at=here["start"] + here["own"] / 2, resting=resting)
        .join(totals[0], on=key, how="left", maintain_order="left")
        .join(totals[1], on="point", how="left", maintain_order="left")
        .with_columns(
            live=pl.col("at") - (pl.col("resting").cum_sum() - pl.col("resting")).over("point"),
            total=pl.col("whole")
            - pl.col("less").fill_null(0.0)
            - pl.col("resting").sum().over("point"),
        )
        .filter(pl.col("total") > _NOTHING_H)
        .select("point", share=(pl.col("live") / pl.col("total")).clip(0.0, 1.0))
    )


_NOTHING_H = 1e-6


def _taken(placed: pl.DataFrame, ground: Ground) -> pl.DataFrame:
    """Give the hours at risk, by night, that bypasses and the like take from single points."""
    named = placed.select("point", *POINT, "base").unique("point")
    removed = ground.removed.join(named, on=list(POINT), nulls_equal=True)
    at_risk = (
        removed.select("point", "site", "base")
        .unique("point")
        .join(ground.bases, on=["site", "base"])
    )
    lost = intersect(removed, at_risk, ["point"])
    return by_night(lost.join(named.select("point", "site"), on="point"), ground, ("point",))


def _summed(hours: pl.DataFrame, key: list[str]) -> pl.DataFrame:
    """Add, to hours by night, those before each night."""
    return hours.with_columns(before=(pl.col("hours").cum_sum() - pl.col("hours")).over(key))


def _totals(hours: pl.DataFrame, key: list[str]) -> pl.DataFrame:
    return hours.group_by(key).agg(whole=pl.col("hours").sum())


def _passed(wanted: pl.DataFrame, hours: pl.DataFrame, key: list[str]) -> pl.DataFrame:
    """Give the hours before the start of each night asked for, and those in it."""
    seen = hours.select(*key, "hours", "before", night="night", seen="night").sort("night")
    there = pl.col("seen") == pl.col("night")
    return (
        wanted.select(*key, "night")
        .with_row_index("row")
        .sort("night")
        .join_asof(seen, on="night", by=key, check_sortedness=False)
        .sort("row")
        .select(
            start=pl.when(there)
            .then("before")
            .otherwise(pl.col("before") + pl.col("hours"))
            .fill_null(0.0),
            own=pl.when(there).then("hours").fill_null(0.0),
        )
    )


def home_night(moments: pl.DataFrame, ground: Ground) -> pl.DataFrame:
    """Add local wall time and night to rows with ``site`` and ``placed``."""
    known = ground.sites.with_row_index("s").select("site", "s", "time_zone")
    numbered = moments.join(
        known.select("site", "s"), on="site", how="inner", maintain_order="left"
    )
    return at_home(numbered, known["time_zone"]).drop("s")
