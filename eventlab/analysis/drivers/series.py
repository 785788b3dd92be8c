"""What is screened: the alarms of each point that nothing ordinary accounts for, one a day."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import polars as pl

from eventlab.analysis.core import trips
from eventlab.analysis.drivers.areas import others
from eventlab.analysis.found import asof
from eventlab.ground import Basis, Ground, State, intervals
from eventlab.schema import Kind, Phase
from eventlab.settings import Settings

Numbers = npt.NDArray[np.int64]

POINT = ["site", "zone", "within"]
KEY = [*POINT, "family"]

ALARM, TAMPER = "alarm", "tamper"
"""Families of rows of a point: alarms need an armed area, tampers are told at all hours."""

APART_DAYS = {"apart": 3, "far": 4, "once": 14}
"""Neighbouring days are alike: of weather, and of weeks of the month, few of them are asked."""

_MOST = 120
"""Days of one point that are looked at; more tell nothing that these do not."""


@dataclass(frozen=True)
class Series:
    """What is screened.

    Parameters
    ----------
    series : polars.DataFrame
        One row each, by ``number``: ``site, zone, within, family, area, row`` (of ``spans``),
        ``alarms`` (rows behind it), ``days`` (with any), ``facing``, ``first`` (only the first trip
        of an armed period may be told).
    hits : polars.DataFrame
        One alarm of each day of each series, by series and day: ``number, row, at, local, night,
        apart, far, once`` (kept also where one in three, four, 14 days is asked).
    spans : polars.DataFrame
        Time at risk, apart and sorted: ``row, site, since, until``.
    acts : polars.DataFrame
        When other areas than those of a row were opened and closed: ``row, kind, acted``.
    """

    series: pl.DataFrame
    hits: pl.DataFrame
    spans: pl.DataFrame
    acts: pl.DataFrame


def gathered(
    ground: Ground,
    settings: Settings,
    facing: pl.DataFrame,
    least: int,
    *,
    most: int = _MOST,
) -> Series:
    """Gather the alarms of all points that are worth screening, and the time each was at risk.

    Left out is what belongs to people at entry and exit, what happened while the point was not at
    risk or its time is doubtful, points of which nothing tells when they were armed, and every
    life-safety point.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    settings : Settings
        ``episode_gap_s`` [s] and what ``core.trips`` needs.
    facing : polars.DataFrame
        ``site, zone, facing_deg``.
    least : int
        Fewest days with an alarm.
    most : int
        Days of one point that are looked at.

    Returns
    -------
    Series
        Of points with at least so many days.

    Notes
    -----
    The unit of evidence is the day: of each day one alarm, of the first of each burst, drawn by a
    hash of its time (never the first of the day, which would move the hour).
    """
    heads = _heads(pl.concat([_alarms(ground, settings), _tampers(ground)]), settings)
    daily = _drawn(heads, ["night"], 0)
    many_days = daily.group_by(KEY).agg(days=pl.len().cast(pl.Int64))
    enough = many_days.filter(pl.col("days") >= least)
    rows, spans = at_risk(ground, enough)
    series = (
        enough.join(rows, on=KEY, nulls_equal=True)
        .join(heads.group_by(KEY).agg(alarms=pl.col("many").sum()), on=KEY, nulls_equal=True)
        .join(facing, on=["site", "zone"], how="left")
        .join(_only_first(ground), on=POINT, how="left", nulls_equal=True)
        .with_columns(first=pl.col("first").fill_null(value=False) & (pl.col("family") == ALARM))
        .sort(KEY, nulls_last=True)
        .with_row_index("number")
        .with_columns(pl.col("number").cast(pl.Int64))
    )
    hits = daily.join(
        series.select(*KEY, "number", "row"), on=KEY, nulls_equal=True, maintain_order="left"
    )
    few = hits.sort("number", "draw").filter(pl.int_range(pl.len()).over("number") < most)
    for name, days in APART_DAYS.items():
        part = pl.col("night").dt.epoch("d") // days
        one = _drawn(few.with_columns(part=part), ["part"], days)
        few = few.join(
            one.select("number", "at", pl.lit(value=True).alias(name)),
            on=["number", "at"],
            how="left",
        ).with_columns(pl.col(name).fill_null(value=False))
    columns = ["number", "row", "at", "local", "night", *APART_DAYS]
    acts = others(ground, series.filter(pl.col("family") == ALARM).select(*POINT, "row"))
    return Series(series, few.sort("number", "at").select(columns), spans, acts)


def _only_first(ground: Ground) -> pl.DataFrame:
    """Say of which points no more than the first trip of an armed period may be told.

    That is listed; or no point of the site ever trips twice, so that its panel may let none.
    """
    armed = (pl.col("state") == State.ARMED) & pl.col("trip") & pl.col("at_risk")
    tripped = ground.occurrences.filter(armed).select(POINT).unique()
    points = ground.points.filter(pl.col("zone").is_not_null()).select(
        *POINT, "trip_limit", "limit_basis"
    )
    # A point that tripped has a basis where it never tripped twice, or piles up at a limit.
    again = points.join(tripped, on=POINT, how="semi", nulls_equal=True).filter(
        pl.col("limit_basis").is_null() | (pl.col("limit_basis") == "seen")
    )
    repeats = pl.col("site").is_in(again["site"].unique().implode())
    return points.select(
        *POINT,
        first=(pl.col("trip_limit") == 1) & ((pl.col("limit_basis") == "listed") | ~repeats),
    )


def _alarms(ground: Ground, settings: Settings) -> pl.DataFrame:
    ordinary = trips(ground, settings).filter(pl.col("zone").is_not_null())
    told = ground.occurrences.filter(pl.col("trip") & pl.col("at_risk"))
    return (
        told.join(ordinary.select("site", "occurrence"), on=["site", "occurrence"], how="semi")
        .select(*POINT, "at", "local", "night", family=pl.lit(ALARM))
        .drop_nulls("at")
    )


def _tampers(ground: Ground) -> pl.DataFrame:
    return ground.occurrences.filter(
        pl.col("kind").is_in([Kind.TAMPER, Kind.TAMPER_ALARM])
        & (pl.col("phase") == Phase.BEGIN)
        & pl.col("zone").is_not_null()
        & pl.col("at").is_not_null()
        & (pl.col("timing") != "doubtful")
        & ~pl.col("aside")
        & ~pl.col("life_safety")
    ).select(*POINT, "at", "local", "night", family=pl.lit(TAMPER))


def _heads(rows: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Keep the first of each burst, with how many rows it stands for and its draw."""
    line = rows.sort(*KEY, "at", nulls_last=True)
    gap = (pl.col("at") - pl.col("at").shift(1)).dt.total_seconds()
    same = pl.all_horizontal(pl.col(c).eq_missing(pl.col(c).shift(1)) for c in KEY)
    fresh = ~(same & (gap <= settings.episode_gap_s)).fill_null(value=False)
    bursts = (
        line.with_columns(burst=fresh.cum_sum())
        .group_by("burst", maintain_order=True)
        .agg(*(pl.col(c).first() for c in [*KEY, "at", "local", "night"]), many=pl.len())
        .drop("burst")
    )
    return bursts.with_columns(draw=pl.Series(_mixed(bursts["at"], 0)))


def _drawn(rows: pl.DataFrame, by: list[str], salt: int) -> pl.DataFrame:
    """Draw one row of each group by a hash of its time."""
    key = [*KEY, *by]
    return (
        rows.with_columns(lot=pl.Series(_mixed(rows["at"], salt)))
        .sort(*key, "lot", "at", nulls_last=True)
        .unique(key, keep="first", maintain_order=True)
        .drop("lot")
    )


def _mixed(at: pl.Series, salt: int) -> npt.NDArray[np.uint64]:
    """Mix the second of each moment to a number without order (Stafford's variant 13)."""
    number = (at.dt.epoch("s").to_numpy() + salt * 0x9E3779B9).astype(np.uint64)
    for shift, factor in ((30, 0xBF58476D1CE4E5B9), (27, 0x94D049BB133111EB)):
        number = (number ^ (number >> np.uint64(shift))) * np.uint64(factor)
    return number ^ (number >> np.uint64(31))


def at_risk(ground: Ground, series: pl.DataFrame) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Lay out the time at risk behind each series; points that share it share a row.

    What a trip limit takes away after a trip is left in: the day's trip is drawn from the whole
    of the day.
    """
    alarms = series.filter(pl.col("family") == ALARM).select(KEY)
    known = ground.exposure.filter(pl.col("basis") != Basis.CALENDAR).select(*POINT, "base", "area")
    based = alarms.join(known, on=POINT, nulls_equal=True)
    taken = ground.removed.filter(pl.col("reason") != "trip-limit")
    touched = based.join(taken.select(POINT).unique(), on=POINT, how="semi", nulls_equal=True)
    plain = based.join(touched.select(KEY), on=KEY, how="anti", nulls_equal=True)
    sharing = plain.select("site", "base").unique().sort("site", "base").with_row_index("row")
    shared = sharing.join(ground.bases, on=["site", "base"], maintain_order="left")
    own = touched.sort(KEY, nulls_last=True).with_row_index("row", offset=len(sharing))
    alone = intervals.subtract(
        own.select("row", "site", "base", *POINT[1:])
        .join(ground.bases, on=["site", "base"])
        .select("row", "since", "until"),
        own.select("row", *POINT).join(taken, on=POINT, nulls_equal=True),
        ["row"],
    ).join(own.select("row", "site"), on="row")
    lids = series.filter(pl.col("family") == TAMPER).select(KEY)
    watching = (
        lids.select("site")
        .unique()
        .sort("site")
        .with_row_index("row", offset=len(sharing) + len(own))
    )
    watched = watching.join(ground.watched, on="site", maintain_order="left")
    column = ["row", "site", "since", "until"]
    spans = pl.concat([part.select(column) for part in (shared, alone, watched)])
    of_lids = lids.join(watching, on="site").join(
        ground.exposure.select(*POINT, "area"), on=POINT, how="left", nulls_equal=True
    )
    rows = pl.concat(
        [
            part.select(*KEY, "area", pl.col("row").cast(pl.Int64))
            for part in (plain.join(sharing, on=["site", "base"]), own, of_lids)
        ]
    )
    return rows, spans.sort("row", "since").with_columns(pl.col("row").cast(pl.Int64))


def since_begun(hits: pl.DataFrame, spans: pl.DataFrame) -> Numbers:
    """Say how long each point had been at risk when it alarmed [s]; -1 where that is not known.

    Parameters
    ----------
    hits : polars.DataFrame
        ``row``, ``at``.
    spans : polars.DataFrame
        ``row``, ``since``, ``until``.

    Returns
    -------
    numpy.ndarray of int
        One per hit.
    """
    near = asof(hits.select("row", "at"), spans.select("row", begun="since"), "at", "begun",
                by=["row"])  # fmt: skip
    return (
        near.select((pl.col("at") - pl.col("begun")).dt.total_seconds().fill_null(-1))
        .to_series()
        .to_numpy()
    )
