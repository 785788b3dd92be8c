"""The nights of a site as frames to draw: armed time, the sun, and each alarm in its place."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

import polars as pl

from eventlab.context.sun import rise_set
from eventlab.errors import NotFound
from eventlab.lab.standing import Standing
from eventlab.schema import LIFE_SAFETY, Phase


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
        ``id``, ``night``, ``hour``, ``local``, ``zone``, ``within``, ``zone_name``, ``kind``,
        ``cause``, ``probability``, ``text``, ``life_safety``.
    gaps : polars.DataFrame
        ``night``, ``start_h``, ``end_h``: time that no log covers.
    """

    armed: pl.DataFrame
    aside: pl.DataFrame
    sun: pl.DataFrame
    marks: pl.DataFrame
    gaps: pl.DataFrame


def raster(
    standing: Standing,
    site: str,
    since: datetime | None,
    until: datetime | None,
    point: Mapping[str, Any] | None = None,
) -> Raster:
    """Lay the nights of a site side by side.

    Parameters
    ----------
    standing : Standing
        What was found out.
    site : str
        Which site.
    since, until : datetime, optional
        Only nights that touch this span, UTC.
    point : mapping, optional
        Only the alarms of this point (``zone``, ``within``), over the armed time of its areas
        (``areas``).

    Returns
    -------
    Raster
        Frames to draw.
    """
    ground = standing.ground
    here = pl.col("site") == site
    known = ground.sites.filter(here)
    if known.is_empty():
        return Raster(_NO_SPANS, _NO_SPANS, _NO_SUN, _NO_MARKS, _NO_SPANS)
    time_zone = known["time_zone"][0] or "UTC"
    low = since or known["first"][0]
    high = until or known["last"][0]
    spans = ground.armed.filter(here & pl.col("known"))
    marks = _marks(standing, site, low, high)
    if point is not None:
        marks = marks.filter(
            pl.col("zone") == point["zone"],
            pl.col("within").eq_missing(pl.lit(point["within"], pl.String)),
        )
        if point["areas"]:
            spans = spans.filter(pl.col("area").is_null() | pl.col("area").is_in(point["areas"]))
    armed = _by_night(spans, time_zone, low, high, ["mode", "area"])
    aside = _by_night(ground.aside.filter(here), time_zone, low, high, ["reason"])
    covered = ground.coverage.filter(here).sort("since")
    between = covered.select(since="until", until=pl.col("since").shift(-1)).filter(
        pl.col("until") > pl.col("since")
    )
    return Raster(
        armed,
        aside,
        _sun(standing, site, time_zone, low, high),
        marks,
        _by_night(between, time_zone, low, high, []),
    )


def around(standing: Standing, site: str, occurrence: int) -> tuple[datetime, datetime]:
    """Give the half hours before and after an alarm.

    Parameters
    ----------
    standing : Standing
        What was found out.
    site : str
        Which site.
    occurrence : int
        Number of the alarm.

    Returns
    -------
    tuple of datetime
        From and until, UTC.

    Raises
    ------
    NotFound
        Where there is no such alarm.
    """
    one = standing.ground.occurrences.filter(
        (pl.col("site") == site) & (pl.col("occurrence") == occurrence)
    )
    if one.is_empty():
        raise NotFound(f"there is no alarm {occurrence} at site {site}")
    middle: datetime = one["placed"][0]
    half = timedelta(minutes=30)
    return middle - half, middle + half


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
        "within": pl.String,
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
    named = ground.points.filter(pl.col("site") == site).select("zone", "within", zone_name="name")
    caused = alarms.join_asof(
        episodes,
        left_on="placed",
        right_on="since",
        by="_area",
        strategy="backward",
        check_sortedness=False,
    )
    return (
        caused.join(
            named.unique(["zone", "within"]), on=["zone", "within"], how="left", nulls_equal=True
        )
        .sort("placed")
        .select(
            id="occurrence",
            night="night",
            hour=_hour("local"),
            local="local",
            zone="zone",
            within="within",
            zone_name="zone_name",
            kind=pl.col("kind").cast(pl.String),
            cause="cause",
            probability="probability",
            text="text",
            life_safety="life_safety",
        )
    )
