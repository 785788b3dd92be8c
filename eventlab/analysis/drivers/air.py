"""What the air did at each site, hour by hour, and how high that is for the place."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import polars as pl

from eventlab.analysis.drivers.grid import HOURS, STEPS, Grid
from eventlab.context import Context, at_sites
from eventlab.context.sun import position
from eventlab.schema import formatted
from eventlab.settings import Settings

Floats = npt.NDArray[np.float64]
Numbers = npt.NDArray[np.int64]
Places = dict[str, tuple[float, float]]

_HOUR_US = 3_600_000_000
_PAST_H = 2
"""Over so many hours air warms or cools fast [h]."""
_WET_H = (6, 48)
"""A damp joint follows the rain of so many hours before (common practice) [h]."""
_WET_TOLD = 36
"""Of those hours so many must have been told."""

MEASURES = ("hot", "cold", "warming", "cooling", "wind", "rain", "wet")
"""Each a number that is higher where there is more of it."""

APART = dict.fromkeys(MEASURES, "far") | {"wind": "apart", "rain": "apart"}
"""Heat and wet hold for days: of them fewer alarms count (columns of ``Series.hits``)."""

SUNLESS = "sunless"
"""Above nothing in hours in which the weather contradicts the sun: rain, closed cloud, no light."""

NEAR_DAYS = {"wind": 90, "rain": 90, "wet": 90}
"""Days before and after within which the same hour is compared; the whole log for the rest."""


@dataclass(frozen=True)
class Air:
    """Hourly values of each source of weather.

    Parameters
    ----------
    of_site : numpy.ndarray of int, shape (sites,)
        Which source tells a site's weather; -1 where none does.
    first : int
        The first hour, hours since 1970 UTC.
    values : dict of str to numpy.ndarray of float, shape (sources, hours)
        By measure; not a number where nobody measured.
    """

    of_site: Numbers
    first: int
    values: dict[str, Floats]

    def at(self, measure: str, site: Numbers, utc: Numbers) -> Floats:
        """Give a measure at moments [us UTC] of sites; not a number where it is not told."""
        return self.of_hours(measure, self.hours(site, utc))

    def hours(self, site: Numbers, utc: Numbers) -> Numbers:
        """Find the hours of moments [us UTC] of sites in the tables; -1 for what is outside."""
        many = self.values[SUNLESS].shape[1]
        source, hour = self.of_site[site], utc // _HOUR_US - self.first
        told = (source >= 0) & (hour >= 0) & (hour < many)
        return np.where(told, source * many + hour, -1)

    def of_hours(self, measure: str, hours: Numbers) -> Floats:
        """Give a measure at what ``hours`` gave; not a number where it is not told."""
        return np.where(hours >= 0, self.values[measure].ravel()[hours], np.nan)

    def sunless(self, site: Numbers, utc: Numbers) -> npt.NDArray[np.bool_]:
        """Say at which moments [us UTC] of sites the weather contradicts the sun."""
        return np.asarray(self.at(SUNLESS, site, utc) > 0)

    def hours_of_days(self, site: int, grid: Grid) -> Numbers:
        """Find each hour of each day of a site's grid in the tables, flat."""
        where = np.array([site])
        steps = np.arange(HOURS) * (STEPS // HOURS)
        utc = grid.utc(where, np.arange(grid.days)[:, None], steps)
        return self.hours(where, utc).ravel()


def air(context: Context, sites: list[str], settings: Settings) -> Air | None:
    """Lay out the weather of some sites by hours.

    Parameters
    ----------
    context : Context
        Sites and weather.
    sites : list of str
        Which.
    settings : Settings
        ``weather_within_km``; ``sun_rain_mm``, ``sun_cloud_oktas``, ``sun_light_share``.

    Returns
    -------
    Air or None
        None where nothing is told for any of them. Several values in an hour are one: their mean,
        of gusts the strongest, of rain the sum. Wind is the gust where gusts are told.
    """
    if context.weather.is_empty():
        return None
    stations = at_sites(context, within_km=settings.weather_within_km)
    used = stations.sources.filter(pl.col("site").is_in(sites))
    told = stations.weather.join(used.select("source").unique(), on="source", how="semi")
    if told.is_empty():
        return None
    used, told = _apart(used, told)
    hourly = _hourly(told).with_columns(pl.coalesce("gust_m_s", "wind_m_s").alias("wind"))
    names = hourly["source"].unique(maintain_order=True)
    place = pl.DataFrame({"source": names}).with_row_index("place")
    placed = hourly.join(place, on="source", how="left", maintain_order="left")
    least, most = hourly.select(low=pl.col("hour").min(), high=pl.col("hour").max()).row(0)
    shape = (len(names), int(most) - int(least) + 1)
    column = {"hot": "temperature_c", "wind": "wind", "rain": "rain_mm",
              "cloud": "cloud_oktas", "light": "ghi_w_m2"}  # fmt: skip
    values = {}
    for measure, name in column.items():
        table = np.full(shape, np.nan)
        row, hour = placed["place"].to_numpy(), placed["hour"].to_numpy() - least
        table[row, hour] = placed[name].cast(pl.Float64).fill_null(np.nan).to_numpy()
        values[measure] = table
    values["cold"] = -values["hot"]
    values["warming"] = _rise(values["hot"])
    values["cooling"] = -values["warming"]
    values["wet"] = _wet(values["rain"])
    cloud, light = values.pop("cloud"), values.pop("light")
    clear = _clear(_places(used, told, context.sites), names, int(least), light)
    # What is not told contradicts nothing: comparisons with it are false.
    with np.errstate(invalid="ignore"):
        grey = (values["rain"] >= settings.sun_rain_mm) | (cloud >= settings.sun_cloud_oktas)
        grey |= light < settings.sun_light_share * clear
    values[SUNLESS] = grey.astype(np.float64)
    owner = dict(used.select("site", "source").iter_rows())
    number = {name: n for n, name in enumerate(names)}
    of_site = np.array([number.get(owner.get(site, ""), -1) for site in sites], dtype=np.int64)
    return Air(of_site, int(least), values)


def _hourly(told: pl.DataFrame) -> pl.DataFrame:
    """Make one of several values in an hour; most weather has no more than one."""
    rows = told.with_columns(hour=pl.col("at").dt.epoch("us") // _HOUR_US)
    again = pl.col("source", "hour") == pl.col("source", "hour").shift()
    if not rows.select(pl.all_horizontal(again).any()).item():
        return rows
    return rows.group_by("source", "hour", maintain_order=True).agg(
        pl.col("temperature_c", "wind_m_s", "cloud_oktas", "ghi_w_m2").mean(),
        pl.col("gust_m_s").max(),
        pl.when(pl.col("rain_mm").count() > 0).then(pl.col("rain_mm").sum()).alias("rain_mm"),
    )


_NOWHERE = "all"
"""The series that tells of all sites and has no place of its own."""


def _apart(used: pl.DataFrame, told: pl.DataFrame) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Give each site a copy of light that has no place: how much is much depends on where."""
    nowhere = pl.col("source") == _NOWHERE
    shared = told.filter(nowhere)
    if shared["ghi_w_m2"].null_count() == shared.height:
        return used, told
    here = formatted("all at {}", "site")
    used = used.with_columns(source=pl.when(nowhere).then(here).otherwise("source"))
    mine = used.filter(pl.col("source").str.starts_with("all at ")).select("source")
    copies = mine.join(shared.drop("source"), how="cross")
    return used, pl.concat([told.filter(~nowhere), copies.select(told.columns)])


def _places(used: pl.DataFrame, told: pl.DataFrame, sites: pl.DataFrame) -> Places:
    """Say where each series was measured: at its station, else at the site that it tells of."""
    stations = told.select("source", "latitude", "longitude").drop_nulls()
    own = used.select("site", "source").join(sites, on="site").select(stations.columns)
    both = pl.concat([stations.unique("source", keep="last", maintain_order=True), own])
    named = both.drop_nulls().unique("source", keep="first", maintain_order=True)
    return {source: (latitude, longitude) for source, latitude, longitude in named.iter_rows()}


def _clear(place: Places, names: pl.Series, first: int, light: Floats) -> Floats:
    """Give the least light that an hour of clear sky would bring each source [W/m2].

    By the lower sun of the two ends of the hour, so that dusk is never taken for cloud; not a
    number where no light or place is told. Haurwitz 1945, Journal of Meteorology 2, 154-166
    (formula as in the reference library, checked by a test).
    """
    clear = np.full(light.shape, np.nan)
    told = np.flatnonzero(np.isfinite(light).any(axis=1))
    if not len(told):
        return clear
    edges = (first + np.arange(light.shape[1] + 1)) * _HOUR_US
    for number in told:
        if names[int(number)] in place:
            _, height = position(edges.astype("datetime64[us]"), *place[names[int(number)]])
            rise = np.sin(np.radians(np.minimum(height[:-1], height[1:])))
            with np.errstate(divide="ignore", over="ignore"):
                sky = 1098 * rise * np.exp(-0.057 / np.maximum(rise, 1e-9))
            clear[number] = np.where(rise > 0, sky, np.nan)
    return clear


def _rise(table: Floats) -> Floats:
    rise = np.full(table.shape, np.nan)
    rise[:, _PAST_H:] = table[:, _PAST_H:] - table[:, :-_PAST_H]
    return rise


def _wet(rain: Floats) -> Floats:
    """Add up the rain of the hours before, where enough of them were told."""
    low, high = _WET_H
    told = np.cumsum(np.pad(~np.isnan(rain), ((0, 0), (high + 1, 0))), axis=1)
    sums = np.cumsum(np.pad(np.nan_to_num(rain), ((0, 0), (high + 1, 0))), axis=1)
    width = rain.shape[1]
    since, until = slice(0, width), slice(high - low, high - low + width)
    enough = told[:, until] - told[:, since] >= _WET_TOLD
    return np.where(enough, np.round(sums[:, until] - sums[:, since], 6), np.nan)
