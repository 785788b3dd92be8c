"""What the screens show, as small frames: the list of sites, one site, its nights."""

from dataclasses import dataclass
from datetime import datetime, timedelta

import polars as pl

from eventlab.context.sun import rise_set
from eventlab.lab.standing import Standing
from eventlab.report import coverage_sentence
from eventlab.schema import LIFE_SAFETY, LOST_PROTECTION, Pattern, Phase
from eventlab.settings import Settings

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
    """

    site: str
    name: str
    time_zone: str
    sentence: str
    powers: pl.DataFrame
    overview: dict[str, object]
    findings: pl.DataFrame
    points: pl.DataFrame


@dataclass(frozen=True)
class Raster:
    """The nights of a site: each from local noon to noon, hours 12 to 36.

    Parameters
    ----------
    armed : polars.DataFrame
        ``night``, ``start_h``, ``end_h``, ``mode``, ``area``.
    aside : polars.DataFrame
        ``night``, ``start_h``, ``end_h``, ``reason``.
    sun : polars.DataFrame
        ``night``, ``sunset_h``, ``sunrise_h``; empty where the place is not known.
    marks : polars.DataFrame
        ``id``, ``night``, ``hour``, ``local``, ``zone``, ``zone_name``, ``kind``, ``cause``,
        ``probability``, ``text``, ``life_safety``.
    """

    armed: pl.DataFrame
    aside: pl.DataFrame
    sun: pl.DataFrame
    marks: pl.DataFrame


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
        ``leading_pattern``, ``on_test``, ``standing_lost``, ``alarms``, ``alarms_30d``,
        ``trend`` (alarms of the last 26 weeks), ``rate_30d`` (per 30 armed days), ``points``,
        ``newest``, ``known``.
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
    stands = standing.findings.filter("standing")
    lost = stands.filter(pl.col("pattern").is_in(list(LOST_PROTECTION)))
    joins = [
        lost.group_by("site").agg(
            standing_lost=pl.len().cast(pl.Int64),
            on_test=(pl.col("pattern") == Pattern.LEFT_ON_TEST).any(),
        ),
        standing.findings.group_by("site", maintain_order=True).agg(
            leading=pl.col("statement").first(), leading_pattern=pl.col("pattern").first()
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
            pl.col("standing_lost", "alarms", "alarms_30d", "points").fill_null(0),
            pl.col("on_test").fill_null(value=False),
            pl.col("trend").fill_null(pl.lit([0] * WEEKS, pl.List(pl.Int64))),
            rate_30d=pl.when(pl.col("armed_hours") > 0).then(
                pl.col("alarms").fill_null(0) / pl.col("armed_hours") * 720
            ),
            newest=pl.col("last"),
            known=(pl.col("last") >= fresh).fill_null(value=False),
        )
        .drop("last", "armed_hours")
        .sort(
            ["on_test", "standing_lost", "alarms", "site"],
            descending=[True, True, True, False],
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
        points=_points(standing, site),
    )


def _points(standing: Standing, site: str) -> pl.DataFrame:
    ground = standing.ground
    here = pl.col("site") == site
    alarms = (
        ground.occurrences.filter(here & pl.col("trip"))
        .group_by("zone")
        .agg(
            alarms=pl.len().cast(pl.Int64),
            nights=pl.col("night").n_unique().cast(pl.Int64),
            last=pl.col("local").max(),
        )
    )
    hours = ground.exposure.filter(here).group_by("zone").agg(pl.col("hours").sum())
    return (
        ground.points.filter(here)
        .join(alarms, on="zone", how="left")
        .join(hours, on="zone", how="left")
        .with_columns(
            pl.col("alarms", "nights").fill_null(0),
            rate_30d=pl.when(pl.col("hours") > 0).then(
                pl.col("alarms").fill_null(0) / pl.col("hours") * 720
            ),
        )
        .sort("alarms", pl.col("zone").cast(pl.Int64, strict=False), descending=[True, False])
        .drop("site")
    )


def raster(standing: Standing, site: str, since: datetime | None, until: datetime | None) -> Raster:
    """Lay the nights of a site side by side.

    Parameters
    ----------
    standing : Standing
        What was found out.
    site : str
        Which site.
    since, until : datetime, optional
        Only nights that touch this span, UTC.

    Returns
    -------
    Raster
        Frames to draw.
    """
    ground = standing.ground
    here = pl.col("site") == site
    known = ground.sites.filter(here)
    if known.is_empty():
        return Raster(_NO_SPANS, _NO_SPANS, _NO_SUN, _NO_MARKS)
    time_zone = known["time_zone"][0] or "UTC"
    low = since or known["first"][0]
    high = until or known["last"][0]
    armed = _by_night(
        ground.armed.filter(here & pl.col("known")), time_zone, low, high, ["mode", "area"]
    )
    aside = _by_night(ground.aside.filter(here), time_zone, low, high, ["reason"])
    return Raster(
        armed, aside, _sun(standing, site, time_zone, low, high), _marks(standing, site, low, high)
    )


_NO_SPANS = pl.DataFrame(
    schema={
        "night": pl.Date,
        "start_h": pl.Float64,
        "end_h": pl.Float64,
        "mode": pl.String,
        "area": pl.String,
        "reason": pl.String,
    }
)
_NO_SUN = pl.DataFrame(schema={"night": pl.Date, "sunset_h": pl.Float64, "sunrise_h": pl.Float64})
_NO_MARKS = pl.DataFrame(
    schema={
        "id": pl.Int64,
        "night": pl.Date,
        "hour": pl.Float64,
        "local": pl.Datetime("us"),
        "zone": pl.String,
        "zone_name": pl.String,
        "kind": pl.String,
        "cause": pl.String,
        "probability": pl.Float64,
        "text": pl.String,
        "life_safety": pl.Boolean,
    }
)


def _local(column: str, time_zone: str) -> pl.Expr:
    return pl.col(column).dt.convert_time_zone(time_zone).dt.replace_time_zone(None)


def _night(column: str) -> pl.Expr:
    return pl.col(column).dt.offset_by("-12h").dt.date()


def _hour(column: str, night: str = "night") -> pl.Expr:
    since = pl.col(column) - pl.col(night).cast(pl.Datetime("us"))
    return since.dt.total_seconds() / 3600


def _by_night(
    spans: pl.DataFrame, time_zone: str, low: datetime, high: datetime, keep: list[str]
) -> pl.DataFrame:
    """Cut spans of time at each local noon."""
    inside = spans.filter(
        (pl.col("since") < high) & (pl.col("until").is_null() | (pl.col("until") > low))
    ).with_columns(
        pl.max_horizontal("since", pl.lit(low)).alias("since"),
        pl.min_horizontal(pl.col("until").fill_null(high), pl.lit(high)).alias("until"),
    )
    noon = pl.col("night").cast(pl.Datetime("us"))
    return (
        inside.with_columns(a=_local("since", time_zone), b=_local("until", time_zone))
        .with_columns(night=pl.date_ranges(_night("a"), _night("b")))
        .explode("night")
        .with_columns(
            start_h=(
                (pl.max_horizontal("a", noon.dt.offset_by("12h")) - noon).dt.total_seconds() / 3600
            ),
            end_h=(
                (pl.min_horizontal("b", noon.dt.offset_by("36h")) - noon).dt.total_seconds() / 3600
            ),
        )
        .filter(pl.col("end_h") > pl.col("start_h"))
        .select("night", "start_h", "end_h", *keep)
        .sort("night", "start_h")
    )


def _sun(
    standing: Standing, site: str, time_zone: str, low: datetime, high: datetime
) -> pl.DataFrame:
    place = standing.context.sites.filter(
        (pl.col("site") == site)
        & pl.col("latitude").is_not_null()
        & pl.col("longitude").is_not_null()
    )
    if place.is_empty():
        return _NO_SUN
    days = pl.date_range(
        low.date() - timedelta(days=1), high.date() + timedelta(days=1), eager=True
    )
    times = rise_set(place, days).with_columns(
        up=_local("sunrise", time_zone), down=_local("sunset", time_zone)
    )
    risen = times.select(night=_night("up"), up="up").drop_nulls()
    set_ = times.select(night=_night("down"), down="down").drop_nulls()
    return (
        set_.join(risen, on="night", how="full", coalesce=True)
        .unique("night")
        .select("night", sunset_h=_hour("down"), sunrise_h=_hour("up"))
        .sort("night")
    )


def _marks(standing: Standing, site: str, low: datetime, high: datetime) -> pl.DataFrame:
    """Give each alarm its place in its night and the likeliest cause of its episode."""
    ground = standing.ground
    here = (pl.col("site") == site) & pl.col("placed").is_between(low, high)
    living = pl.col("kind").is_in(list(LIFE_SAFETY)) & (pl.col("phase") != Phase.END)
    alarms = (
        ground.occurrences.filter(here & (pl.col("trip") | living))
        .with_columns(_area=pl.col("area").fill_null(""))
        .sort("placed")
    )
    episodes = (
        standing.episodes.filter(pl.col("site") == site)
        .select(
            "since", _area=pl.col("area").fill_null(""), cause="cause", probability="probability"
        )
        .sort("since")
    )
    named = ground.points.filter(pl.col("site") == site).select("zone", zone_name="name")
    caused = alarms.join_asof(
        episodes,
        left_on="placed",
        right_on="since",
        by="_area",
        strategy="backward",
        check_sortedness=False,
    )
    return (
        caused.join(named.unique("zone"), on="zone", how="left")
        .sort("placed")
        .select(
            id="occurrence",
            night="night",
            hour=_hour("local"),
            local="local",
            zone="zone",
            zone_name="zone_name",
            kind=pl.col("kind").cast(pl.String),
            cause="cause",
            probability="probability",
            text="text",
            life_safety="life_safety",
        )
    )
