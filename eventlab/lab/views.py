"""What the screens show, as small frames: the list of sites, and one site."""

from dataclasses import dataclass
from datetime import datetime, timedelta

import polars as pl

from eventlab.analysis import listed
from eventlab.lab.standing import Standing
from eventlab.report import coverage_sentence, odds_from
from eventlab.schema import LIFE_SAFETY, LOST_PROTECTION, Pattern, Phase
from eventlab.settings import Settings

POINT = ["zone", "within"]
"""A point of a site; its area is part of its name where numbers restart with each area."""

WEEKS = 26
"""Weeks of the line that shows where alarms are going."""


@dataclass(frozen=True)
class SiteView:
    """What stands above a site's page.

    Parameters
    ----------
    site, name, time_zone : str
        Which site.
    sentence : str
        What its log covers and what it can show.
    powers : polars.DataFrame
        What the log can show: ``witness``, ``power``, ``value``, ``figure``.
    overview : dict
        The site's row of the list of sites.
    findings : polars.DataFrame
        Columns of ``schema.FINDING``.
    points : polars.DataFrame
        One row a point: alarms, nights, hours at risk, rate per 30 armed days, last alarm.
    odds_from : str
        What the probabilities of causes are from.
    """

    site: str
    name: str
    time_zone: str
    sentence: str
    powers: pl.DataFrame
    overview: dict[str, object]
    findings: pl.DataFrame
    points: pl.DataFrame
    odds_from: str = ""


def overview(standing: Standing, settings: Settings, now: datetime) -> pl.DataFrame:
    """List the sites, where protection is missing first.

    Parameters
    ----------
    standing : Standing
        What was found out.
    settings : Settings
        After how many days without a log nothing is known.
    now : datetime
        The time as of which is told, UTC.

    Returns
    -------
    polars.DataFrame
        One row a site: ``site``, ``name``, ``trade``, ``latitude``, ``longitude``, ``leading``,
        ``leading_pattern``, ``leading_settle`` (how it is best begun), ``findings``,
        ``intrusion`` (a possible one), ``on_test``, ``standing_lost``, ``alarms``, ``alarms_30d``,
        ``trend`` (alarms of the last 26 weeks). Findings are those that stand in a list over so
        many sites (`analysis.listed`);
        ``rate_30d`` (per 30 armed days), ``points``, ``newest``, ``known``.
    """
    ground, context = standing.ground, standing.context
    trips = ground.occurrences.filter(pl.col("trip")).select("site", "placed")
    newest = ground.sites["last"].max()
    base = (
        ground.sites.select("site", "last", "armed_hours")
        .join(
            context.sites.select("site", "name", "trade", "latitude", "longitude"),
            on="site",
            how="full",
            coalesce=True,
        )
        .with_columns(name=pl.coalesce("name", "site"))
    )
    told = listed(standing.findings, base.height, settings)
    stands = told.filter("standing")
    lost = stands.filter(pl.col("pattern").is_in(list(LOST_PROTECTION)))
    joins = [
        lost.group_by("site").agg(
            standing_lost=pl.len().cast(pl.Int64),
            on_test=(pl.col("pattern") == Pattern.LEFT_ON_TEST).any(),
        ),
        told.group_by("site", maintain_order=True).agg(
            leading=pl.col("statement").first(),
            leading_pattern=pl.col("pattern").first(),
            leading_settle=pl.col("settle").first(),
            findings=pl.len().cast(pl.Int64),
            intrusion=(pl.col("pattern") == Pattern.POSSIBLE_INTRUSION).any(),
        ),
        trips.group_by("site").agg(
            alarms=pl.len().cast(pl.Int64),
            alarms_30d=(pl.col("placed") > now - timedelta(days=30)).sum().cast(pl.Int64),
        ),
        _trend(trips, newest),
        ground.points.group_by("site").agg(points=pl.len().cast(pl.Int64)),
    ]
    for frame in joins:
        base = base.join(frame, on="site", how="left")
    fresh = now - timedelta(days=settings.unknown_after_days)
    return (
        base.with_columns(
            pl.col("standing_lost", "alarms", "alarms_30d", "points", "findings").fill_null(0),
            pl.col("on_test", "intrusion").fill_null(value=False),
            pl.col("trend").fill_null(pl.lit([0] * WEEKS, pl.List(pl.Int64))),
            rate_30d=pl.when(pl.col("armed_hours") > 0).then(
                pl.col("alarms").fill_null(0) / pl.col("armed_hours") * 720
            ),
            newest=pl.col("last"),
            known=(pl.col("last") >= fresh).fill_null(value=False),
        )
        .drop("last", "armed_hours")
        .sort(
            ["on_test", "standing_lost", "intrusion", "findings", "rate_30d", "site"],
            descending=[True, True, True, True, True, False],
            nulls_last=True,
        )
    )


def _trend(trips: pl.DataFrame, newest: object) -> pl.DataFrame:
    """Count the alarms of each of the last weeks before the newest row of all logs."""
    if not isinstance(newest, datetime):
        return pl.DataFrame(schema={"site": pl.String, "trend": pl.List(pl.Int64)})
    age = (pl.lit(newest) - pl.col("placed")).dt.total_days() // 7
    weeks = pl.DataFrame({"week": range(WEEKS)}, schema={"week": pl.Int64})
    counted = (
        trips.with_columns(week=WEEKS - 1 - age)
        .filter(pl.col("week") >= 0)
        .group_by("site", "week")
        .agg(n=pl.len().cast(pl.Int64))
    )
    return (
        counted.select("site")
        .unique()
        .join(weeks, how="cross")
        .join(counted, on=["site", "week"], how="left")
        .sort("site", "week")
        .group_by("site")
        .agg(trend=pl.col("n").fill_null(0))
    )


def site_view(standing: Standing, site: str, settings: Settings, now: datetime) -> SiteView:
    """Put together what stands above a site's page.

    Parameters
    ----------
    standing : Standing
        What was found out.
    site : str
        Which site.
    settings : Settings
        The settings in force.
    now : datetime
        The time as of which is told, UTC.

    Returns
    -------
    SiteView
        With empty frames where the log tells nothing.
    """
    here = pl.col("site") == site
    row = overview(standing, settings, now).filter(here).to_dicts()
    zone = standing.ground.sites.filter(here)["time_zone"].to_list()
    return SiteView(
        site=site,
        name=str(row[0]["name"]) if row else site,
        time_zone=zone[0] if zone else "UTC",
        sentence=coverage_sentence(standing.ground, site),
        powers=standing.ground.powers.filter(here).drop("site"),
        overview=row[0] if row else {},
        findings=standing.findings.filter(here),
        points=points_of(standing, site),
        odds_from=odds_from(standing.context.calibration),
    )


def points_of(standing: Standing, site: str) -> pl.DataFrame:
    """List the points of a site with their alarms and hours at risk, most alarms first."""
    ground = standing.ground
    here = pl.col("site") == site
    # Calls of life safety are in no count of alarms; when the last one came is told all the same.
    calls = pl.col("kind").is_in(list(LIFE_SAFETY)) & (pl.col("phase") != Phase.END)
    alarms = (
        ground.occurrences.filter(here & (pl.col("trip") | calls))
        .group_by(POINT)
        .agg(
            alarms=pl.col("trip").sum().cast(pl.Int64),
            nights=pl.col("night").filter("trip").n_unique().cast(pl.Int64),
            last=pl.col("local").max(),
        )
    )
    hours = ground.exposure.filter(here).group_by(POINT).agg(pl.col("hours", "left_out_h").sum())
    return (
        ground.points.filter(here)
        .join(alarms, on=POINT, how="left", nulls_equal=True)
        .join(hours, on=POINT, how="left", nulls_equal=True)
        .with_columns(
            pl.col("alarms", "nights").fill_null(0),
            rate_30d=pl.when(pl.col("hours") > 0).then(
                pl.col("alarms").fill_null(0) / pl.col("hours") * 720
            ),
        )
        .sort("alarms", pl.col("zone").cast(pl.Int64, strict=False), descending=[True, False])
        .drop("site")
    )
