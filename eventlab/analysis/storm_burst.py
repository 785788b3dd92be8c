"""Several points within seconds, in weather that is strong for the place."""

import polars as pl

from eventlab.analysis.contact import POINT, with_power
from eventlab.analysis.core import trips
from eventlab.analysis.found import asof, evidence, figures, found, line, number, seconds, wall
from eventlab.context import Context, at_sites, great_circle_km
from eventlab.ground import Ground, Power, Restores
from eventlab.schema import Kind, Pattern, Phase, Subject, Timing
from eventlab.settings import Settings
from eventlab.stats import binomial_tail

_NIGHT = ("site", "night")
_HOUR = "1h"


def find(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """Find sites several of whose points trip within seconds in strong wind or rain.

    A burst counts where its hour was windy or wet for that place, or where the mains was lost, or
    points alarmed together, at two other sites near by within the hour; and only where every
    opening of the outer skin that alarmed around it is seen to close again. Mains lost at this
    site alone is no storm. Nothing found here takes a possible intrusion away.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        Weather, where the sites stand, mains losses and bursts anywhere.
    settings : Settings
        ``storm_within_s`` [s], ``storm_points``, ``storm_nights``, ``storm_share``,
        ``storm_rain_mm`` [mm], ``storm_chance``, ``storm_weather_h`` [h], ``stays_open_s``,
        ``confirmation_window_s`` [s], ``weather_within_km``, ``elsewhere_km``.

    Returns
    -------
    polars.DataFrame
        FOUND columns, one row per site; ``p_value`` the chance of so many bursts in such weather.
    """
    rows = trips(ground, settings).filter(
        pl.col("point").is_not_null() & ~pl.col("warm") & (pl.col("timing") != Timing.DOUBTFUL)
    )
    bursts = _bursts(rows, settings)
    if bursts.is_empty():
        return found(bursts, Pattern.STORM_BURST)
    bursts = bursts.join(_left_open(bursts, rows, ground, settings), on="burst", how="left")
    told = _elsewhere(_weathered(bursts, context, settings), context, settings)
    nights = told.sort("site", "at", maintain_order=True).unique(
        [*_NIGHT, "stormy"], keep="first", maintain_order=True
    )
    weather = pl.col("by_weather")
    stormy = pl.col("stormy")
    sites = (
        nights.group_by("site", maintain_order=True)
        .agg(
            bursts=pl.len().cast(pl.Int64),
            weathered=weather.sum().cast(pl.Int64),
            asked=pl.col("share").count().cast(pl.Int64),
            share=pl.col("share").first(),
            shared=(stormy & ~weather).sum().cast(pl.Int64),
            nights=pl.col("night").filter(stormy).n_unique().cast(pl.Int64),
            events=pl.col("alarms").filter(stormy).sum().cast(pl.Int64),
            points=pl.col("points").filter(stormy).max(),
            gust=pl.col("gust_m_s").filter(stormy).max(),
            rain=pl.col("rain_mm").filter(stormy).max(),
            since=pl.col("at").filter(stormy).min(),
            until=pl.col("last").filter(stormy).max(),
            nightly=line(
                pl.lit("on ") + wall(pl.col("local")),
                number(pl.col("points")) + " points" + pl.concat_str(_said(), ignore_nulls=True),
                "alarms within seconds; weather of that hour; every opening closed again",
            )
            .filter(stormy)
            .head(8),
        )
        .with_columns(pl.col("nights").fill_null(0))
    )
    tail = binomial_tail(
        sites["weathered"].to_numpy(),
        sites["asked"].to_numpy(),
        sites["share"].fill_null(1.0).to_numpy(),
    )
    kept = sites.with_columns(p_value=pl.Series(tail)).filter(
        (pl.col("nights") >= settings.storm_nights)
        & (
            (pl.col("p_value") <= settings.storm_chance)
            | (pl.col("shared") >= settings.storm_nights)
        )
    )
    return found(
        kept.with_columns(
            evidence(
                "nightly",
                line(
                    "bursts of several points on other nights",
                    number(pl.col("bursts") - pl.col("nights")),
                    "without such weather, or with an opening that was not seen to close",
                    when=pl.col("bursts") > pl.col("nights"),
                ),
                line(
                    "such weather otherwise",
                    number(pl.col("share") * 100, 1) + " of 100 hours",
                    "the weather of this place; gusts or rain as strong as this",
                    when=pl.col("share").is_not_null(),
                ),
                line(
                    "possible intrusions",
                    "none is taken away by this",
                    "a rule of this tool: weather explains no alarm away",
                ),
            ),
            figures(
                {
                    "nights": pl.col("nights"),
                    "points": pl.col("points"),
                    "gust": pl.col("gust"),
                    "rain": pl.col("rain"),
                    "shared": pl.col("shared"),
                }
            ),
            standing=pl.lit(value=False),
            looks=pl.lit(1, pl.Int64),
            subject_kind=pl.lit(str(Subject.SITE)),
            subject="site",
        ),
        Pattern.STORM_BURST,
    )


def _said() -> list[pl.Expr]:
    gust = pl.lit(", gusts of ") + number(pl.col("gust_m_s"), 1) + " m/s"
    rain = pl.lit(", ") + number(pl.col("rain_mm"), 1) + " mm of rain"
    return [
        pl.when(pl.col("windy")).then(gust),
        pl.when(pl.col("wet")).then(rain),
        pl.when(~pl.col("by_weather")).then(pl.col("there")),
    ]


def _bursts(rows: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Return the bursts: alarms of several points, each within seconds of the one before."""
    gap = seconds(pl.col("at") - pl.col("at").shift(1).over("site"))
    near = gap <= pl.max_horizontal(pl.lit(settings.storm_within_s), "grain")
    return (
        rows.sort("site", "at", "occurrence")
        .with_columns(burst=(~near.fill_null(value=False)).cum_sum())
        .group_by("site", "burst", maintain_order=True)
        .agg(
            pl.col("at", "local", "night").first(),
            last=pl.col("at").last(),
            alarms=pl.len().cast(pl.Int64),
            points=pl.col("point").n_unique().cast(pl.Int64),
        )
        .filter(pl.col("points") >= settings.storm_points)
    )


def _left_open(
    bursts: pl.DataFrame, rows: pl.DataFrame, ground: Ground, settings: Settings
) -> pl.DataFrame:
    """Say of each burst whether an opening of the outer skin may have stayed open around it."""
    around = pl.duration(seconds=int(settings.confirmation_window_s))
    place = pl.col("within").fill_null("").alias("in")
    key = ["site", "zone", "in"]
    skin = (
        rows.filter("outer")
        .select(*POINT, "at", place)
        .join(bursts.select("site", "burst", begun="at", over="last"), on="site")
        .filter(
            (pl.col("at") >= pl.col("begun") - around) & (pl.col("at") <= pl.col("over") + around)
        )
    )
    kinds = [Kind.INTRUSION_ALARM, Kind.ENTRY_EXIT_ALARM, Kind.ACTIVATION]
    closed = (
        ground.occurrences.lazy()
        .filter(pl.col("kind").is_in(kinds) & (pl.col("phase") == Phase.END))
        .select("site", "zone", place, closed="placed")
        .join(with_power(ground, Power.RESTORES, Restores.LIVE).lazy(), on="site", how="semi")
        .join(skin.lazy().select(key).unique(), on=key, how="semi")
        .collect()
    )
    near = asof(skin, closed, "at", "closed", by=key, strategy="forward")
    shut = (seconds(pl.col("closed") - pl.col("at")) <= settings.stays_open_s).fill_null(
        value=False
    )
    return near.group_by("burst").agg(left=(~shut).any())


def _weathered(bursts: pl.DataFrame, context: Context, settings: Settings) -> pl.DataFrame:
    """Add the weather of each burst's hour, and whether it is strong for that place."""
    here = at_sites(
        context.only(bursts["site"].unique().to_list()), within_km=settings.weather_within_km
    )
    weather = here.weather.select(
        "source", pl.coalesce("gust_m_s", "wind_m_s").alias("gust_m_s"), "rain_mm", hour="at"
    )
    high = 1 - settings.storm_share
    windy = pl.col("gust_m_s") >= pl.col("gust_m_s").quantile(high).over("source")
    heavy = pl.max_horizontal(
        pl.col("rain_mm").quantile(high).over("source"), pl.lit(settings.storm_rain_mm)
    )
    strong = (
        weather.filter(pl.len().over("source") >= settings.storm_weather_h)
        .with_columns(
            windy=windy.fill_null(value=False),
            wet=(pl.col("rain_mm") >= heavy).fill_null(value=False),
        )
        .with_columns(share=(pl.col("windy") | pl.col("wet")).mean().over("source"))
    )
    placed = bursts.join(here.sources, on="site", how="left", maintain_order="left")
    hit = asof(placed, strong, "at", "hour", by=["source"])
    fresh = (pl.col("at") - pl.col("hour") < pl.duration(hours=1)).fill_null(value=False)
    return hit.with_columns(
        pl.when(fresh).then(pl.col("gust_m_s", "rain_mm", "share")),
        windy=fresh & pl.col("windy").fill_null(value=False),
        wet=fresh & pl.col("wet").fill_null(value=False),
    )


def _elsewhere(bursts: pl.DataFrame, context: Context, settings: Settings) -> pl.DataFrame:
    """Say which bursts are a storm's: by their weather, or by what other sites near by had then."""
    places = (
        context.sites.select("site", "latitude", "longitude")
        .drop_nulls()
        .unique("site", keep="first")
    )
    there = context.outages.rename({"site": "other", "at": "lost"})
    own = bursts.select("site", "burst", "at").join(places, on="site")
    both = ("latitude", "longitude", "latitude_right", "longitude_right")
    shared = (
        pl.concat(
            own.with_columns(hour=pl.col("at").dt.truncate(_HOUR) + pl.duration(hours=step))
            for step in (-1, 0, 1)
        )
        .join(there.with_columns(hour=pl.col("lost").dt.truncate(_HOUR)), on="hour")
        .filter(
            (pl.col("site") != pl.col("other"))
            & (seconds(pl.col("lost") - pl.col("at")).abs() <= 3600)
            & (great_circle_km(*(pl.col(name) for name in both)) <= settings.elsewhere_km)
        )
        .group_by("burst")
        .agg(
            others=pl.col("other").n_unique(),
            mains=(pl.col("kind") == Kind.MAINS_LOSS).any(),
            bursts=(pl.col("kind") != Kind.MAINS_LOSS).any(),
        )
        .filter(pl.col("others") >= 2)
        .with_columns(
            there=pl.when(pl.col("mains") & pl.col("bursts"))
            .then(pl.lit(", mains lost and points in alarm together at other sites near by"))
            .when("mains")
            .then(pl.lit(", mains lost at other sites near by"))
            .otherwise(pl.lit(", points in alarm together at other sites near by"))
        )
        .drop("mains", "bursts")
    )
    kept = ~pl.col("left").fill_null(value=False)
    return bursts.join(shared, on="burst", how="left", maintain_order="left").with_columns(
        by_weather=(pl.col("windy") | pl.col("wet")) & kept,
        stormy=(pl.col("windy") | pl.col("wet") | pl.col("others").is_not_null()) & kept,
    )
