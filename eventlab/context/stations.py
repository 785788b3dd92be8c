"""Which weather is whose: a site's own, or that of the nearest station."""

from dataclasses import dataclass

import polars as pl

from eventlab.context.context import Context
from eventlab.schema import WEATHER, formatted

EARTH_KM = 6371.0088
"""Mean radius of the Earth (IUGG)."""

NEAREST = {"site": pl.String(), "station": pl.String(), "distance_km": pl.Float64()}


@dataclass(frozen=True)
class Stations:
    """The weather of each site, each series of it once.

    Parameters
    ----------
    nearest : polars.DataFrame
        ``site, station, distance_km``: sites without weather of their own, with their nearest
        station; null where none is near enough, or the place of the site is not told.
    sources : polars.DataFrame
        ``site, source``: which series tells a site's weather; sites of one station share one.
    weather : polars.DataFrame
        ``source`` and WEATHER columns, by source and time. Hours that nobody measured are not
        in it.
    """

    nearest: pl.DataFrame
    sources: pl.DataFrame
    weather: pl.DataFrame


def at_sites(context: Context, *, within_km: float) -> Stations:
    """Give each site its weather: its own rows, else the nearest station, else rows for all.

    Parameters
    ----------
    context : Context
        Sites and weather.
    within_km : float
        A station farther away tells nothing of a site [km].

    Returns
    -------
    Stations
        Distances along the great circle.
    """
    weather = context.weather
    told = weather.select("site").drop_nulls().unique()
    rest = context.sites.join(told, on="site", how="anti").select("site", "latitude", "longitude")
    nearest = nearest_stations(rest, weather, within_km=within_km)
    # Stations that no site is near to are most of them, and are not looked at any further.
    own, placed = pl.col("site").is_not_null(), pl.col("latitude").is_not_null()
    station = pl.col("station").fill_null("")
    series = (
        weather.lazy()
        .filter(own | ~placed | station.is_in(nearest["station"].drop_nulls().implode()))
        .with_columns(
            source=pl.when(own)
            .then(formatted("site {}", "site"))
            .when(placed)
            .then(formatted("station {}", station))
            .otherwise(pl.lit("all"))
        )
        .select("source", *WEATHER)
        .collect()
    )
    named = pl.concat(
        [
            told.with_columns(source=formatted("site {}", "site")),
            nearest.select(
                "site",
                source=pl.when(pl.col("station").is_not_null())
                .then(formatted("station {}", "station"))
                .otherwise(pl.lit("all")),
            ),
        ]
    )
    there = series["source"].unique()
    used = named.filter(pl.col("source").is_in(there.implode())).sort("site")
    if used["source"].n_unique() < there.len():
        series = series.join(used, on="source", how="semi", maintain_order="left")
    return Stations(nearest, used, series if _in_order(series) else _sorted(series))


def _sorted(series: pl.DataFrame) -> pl.DataFrame:
    return series.sort("source", "at", maintain_order=True)


def _in_order(series: pl.DataFrame) -> bool:
    """Tell whether rows stand by series and time, as a store gives what sites have of their own."""
    source, at = pl.col("source"), pl.col("at")
    first = (source != source.shift()).fill_null(value=True)
    told = series.select((first | (at >= at.shift())).all() & (source >= source.shift()).all())
    return bool(told.item())


def nearest_stations(
    sites: pl.DataFrame, weather: pl.DataFrame, *, within_km: float
) -> pl.DataFrame:
    """Find the nearest station of each site.

    Parameters
    ----------
    sites : polars.DataFrame
        ``site, latitude, longitude`` [deg]; the place may be null.
    weather : polars.DataFrame
        WEATHER rows; stations are those whose place is told.
    within_km : float
        The farthest that counts [km].

    Returns
    -------
    polars.DataFrame
        ``NEAREST``, one row for each site; of two stations as near the first by name.
    """
    stations = (
        weather.filter(pl.col("site").is_null())
        .select("station", _lat="latitude", _lon="longitude")
        .drop_nulls()
        .unique("station", keep="last")
    )
    places = (pl.col(name) for name in ("latitude", "longitude", "_lat", "_lon"))
    pairs = sites.drop_nulls().join(stations, how="cross")
    pairs = pairs.with_columns(distance_km=great_circle_km(*places))
    found = (
        pairs.filter(pl.col("distance_km") <= within_km)
        .sort("site", "distance_km", "station")
        .unique("site", keep="first", maintain_order=True)
    )
    joined = sites.select("site").join(
        found.select("site", "station", "distance_km"), on="site", how="left", maintain_order="left"
    )
    return joined.select(*NEAREST).cast(NEAREST)  # type: ignore[arg-type]  # names to types


def great_circle_km(lat: pl.Expr, lon: pl.Expr, lat_2: pl.Expr, lon_2: pl.Expr) -> pl.Expr:
    """Return the distance of two places along the great circle [km].

    Parameters
    ----------
    lat, lon, lat_2, lon_2 : polars.Expr
        Degrees north and east.

    Returns
    -------
    polars.Expr
        By the haversine formula on a sphere (Sinnott 1984, from memory): within 0.6 % of the
        ellipsoid.
    """
    phi, phi_2 = lat.radians(), lat_2.radians()
    half = ((phi_2 - phi) / 2).sin() ** 2 + phi.cos() * phi_2.cos() * (
        (lon_2 - lon).radians() / 2
    ).sin() ** 2
    return 2 * EARTH_KM * half.sqrt().clip(0.0, 1.0).arcsin()
